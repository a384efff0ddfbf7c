//! Runs another program within a time limit, shows what it prints as it prints it, and reads the
//! counts that test runners close with.
//!
//! It decides nothing about what to run; that is `setup`'s, `test`'s, `demo`'s and `bench`'s work.

use std::io::{BufRead, BufReader, IsTerminal, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use anyhow::{Context, Result};

/// How a program ended.
#[derive(Debug)]
pub struct Ended {
    /// True when it left with status 0 within the limit.
    pub good: bool,
    /// In words for a person: "exit status: 1", or that the limit was reached.
    pub how: String,
    /// Everything it printed on standard output and standard error, in order of arrival; empty
    /// when it was attached to our own.
    pub output: String,
    /// Wall time.
    pub took: Duration,
}

/// Whether what a program prints is passed on while it runs.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Show {
    /// Passed on line by line.
    Live,
    /// Only gathered.
    Quietly,
}

/// Runs `command` with no standard input, gathering what it prints.
///
/// # Errors
/// When the program cannot be started. A program that fails or outlasts `limit` is no error here:
/// see [`Ended::good`].
pub fn gathered(command: &mut Command, limit: Duration, show: Show) -> Result<Ended> {
    let began = Instant::now();
    command.stdin(Stdio::null());
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    // Without a terminal nobody can press Ctrl-C, so the child may have a process group of its
    // own, and a limit then ends its children too. With one, Ctrl-C must reach them all.
    let own_group = !std::io::stdin().is_terminal();
    #[cfg(unix)]
    if own_group {
        std::os::unix::process::CommandExt::process_group(command, 0);
    }
    let mut child = start(command)?;
    let (sender, lines) = channel();
    let mut readers = 0;
    if let Some(pipe) = child.stdout.take() {
        pass_lines(pipe, sender.clone());
        readers += 1;
    }
    if let Some(pipe) = child.stderr.take() {
        pass_lines(pipe, sender.clone());
        readers += 1;
    }
    drop(sender);
    let mut output = String::new();
    let (status, in_time) = collect(
        &mut child,
        &lines,
        readers,
        began + limit,
        own_group,
        |line| {
            if show == Show::Live {
                println!("{line}");
            }
            output.push_str(line);
            output.push('\n');
        },
    )?;
    Ok(ended(status, in_time, limit, output, began))
}

/// Runs `command` on our own terminal: it can ask, draw its progress and be interrupted.
///
/// # Errors
/// When the program cannot be started.
pub fn attached(command: &mut Command, limit: Duration) -> Result<Ended> {
    let began = Instant::now();
    let mut child = start(command)?;
    let mut in_time = true;
    let status = loop {
        if let Some(status) = child.try_wait()? {
            break status;
        }
        if in_time && began.elapsed() > limit {
            in_time = false;
            stop(&mut child, false);
        }
        std::thread::sleep(Duration::from_millis(50));
    };
    Ok(ended(status, in_time, limit, String::new(), began))
}

/// The full path of `program` on PATH, if it is there.
pub fn find(program: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let endings: &[&str] = if cfg!(windows) {
        &[".exe", ".cmd"]
    } else {
        &[""]
    };
    std::env::split_paths(&path)
        .flat_map(|folder| {
            endings
                .iter()
                .map(move |ending| folder.join(format!("{program}{ending}")))
        })
        .find(|file| is_program(file))
}

/// Passed and failed, as the output of a test runner tells them; `None` when it holds no count.
///
/// Reads the lines of `cargo test` (added up over its test programs), of nextest, and the plain
/// `N passed, N failed`, of which the last one counts.
pub fn counts(output: &str) -> Option<(usize, usize)> {
    let mut cargo: Option<(usize, usize)> = None;
    let mut nextest = None;
    let mut plain = None;
    for line in output.lines().map(str::trim) {
        if let Some(rest) = line.strip_prefix("test result: ") {
            let rest = rest.split_once(". ").map_or("", |(_, numbers)| numbers);
            let (passed, failed) = cargo.unwrap_or_default();
            cargo = Some((
                passed + number_before(rest, ';', &["passed"]),
                failed + number_before(rest, ';', &["failed"]),
            ));
        } else if let Some((_, rest)) = line
            .strip_prefix("Summary [")
            .and_then(|rest| rest.split_once(" run: "))
        {
            let bad = ["failed", "timed", "exec"];
            nextest = Some((
                number_before(rest, ',', &["passed"]),
                number_before(rest, ',', &bad),
            ));
        } else if let Some((passed, failed)) = plain_count(line) {
            plain = Some((passed, failed));
        }
    }
    nextest.or(cargo).or(plain)
}

/// A length of time as minutes and seconds, `2:07`.
pub fn clock(took: Duration) -> String {
    let seconds = took.as_secs_f64().round() as u64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

fn start(command: &mut Command) -> Result<Child> {
    #[cfg(windows)]
    see_winget_links(command);
    command
        .spawn()
        .with_context(|| format!("could not start `{}`", command.get_program().display()))
}

/// winget puts links to what it installs into a folder that a terminal opened before does not
/// have on its PATH.
#[cfg(windows)]
fn see_winget_links(command: &mut Command) {
    let (Some(local), Some(path)) = (std::env::var_os("LOCALAPPDATA"), std::env::var_os("PATH"))
    else {
        return;
    };
    let links = PathBuf::from(local).join("Microsoft/WinGet/Links");
    if let Ok(path) = std::env::join_paths(std::env::split_paths(&path).chain([links])) {
        command.env("PATH", path);
    }
}

fn ended(
    status: ExitStatus,
    in_time: bool,
    limit: Duration,
    output: String,
    began: Instant,
) -> Ended {
    let how = if in_time {
        status.to_string()
    } else {
        format!("stopped after its limit of {} min", clock(limit))
    };
    Ended {
        good: in_time && status.success(),
        how,
        output,
        took: began.elapsed(),
    }
}

/// One line, or `None` when a pipe has closed.
type Line = Option<String>;

fn pass_lines(pipe: impl Read + Send + 'static, sender: Sender<Line>) {
    std::thread::spawn(move || {
        let mut reader = BufReader::new(pipe);
        let mut bytes = Vec::new();
        while matches!(reader.read_until(b'\n', &mut bytes), Ok(count) if count > 0) {
            let line = String::from_utf8_lossy(&bytes);
            let line = line.trim_end_matches(['\n', '\r']).to_owned();
            if sender.send(Some(line)).is_err() {
                return;
            }
            bytes.clear();
        }
        // The receiver may have given up on us; then there is nobody to tell.
        let _ = sender.send(None);
    });
}

fn collect(
    child: &mut Child,
    lines: &Receiver<Line>,
    mut open: usize,
    deadline: Instant,
    own_group: bool,
    mut take: impl FnMut(&str),
) -> Result<(ExitStatus, bool)> {
    let mut in_time = true;
    let mut left: Option<(ExitStatus, Instant)> = None;
    loop {
        match lines.recv_timeout(Duration::from_millis(100)) {
            Ok(Some(line)) => take(&line),
            Ok(None) => open = open.saturating_sub(1),
            Err(_) => {}
        }
        if left.is_none() {
            left = child.try_wait()?.map(|status| (status, Instant::now()));
        }
        if let Some((status, since)) = left {
            // A grandchild may keep a pipe open after the child has left: wait a little, not for
            // ever.
            if open == 0 || since.elapsed() > Duration::from_secs(5) {
                return Ok((status, in_time));
            }
        } else if in_time && Instant::now() > deadline {
            in_time = false;
            stop(child, own_group);
        }
    }
}

/// Asks a child to leave, and ends it when it has not after five seconds.
fn stop(child: &mut Child, own_group: bool) {
    let id = child.id();
    if cfg!(windows) {
        let id = id.to_string();
        let _ = Command::new("taskkill")
            .args(["/T", "/F", "/PID", &id])
            .status();
        return;
    }
    let target = if own_group {
        format!("-{id}")
    } else {
        id.to_string()
    };
    let _ = Command::new("kill").args(["-TERM", "--", &target]).status();
    let began = Instant::now();
    while began.elapsed() < Duration::from_secs(5) {
        if matches!(child.try_wait(), Ok(Some(_))) {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let _ = Command::new("kill").args(["-KILL", "--", &target]).status();
    let _ = child.kill();
}

fn is_program(file: &Path) -> bool {
    let Ok(about) = std::fs::metadata(file) else {
        return false;
    };
    #[cfg(unix)]
    let may_run = std::os::unix::fs::PermissionsExt::mode(&about.permissions()) & 0o111 != 0;
    #[cfg(not(unix))]
    let may_run = true;
    about.is_file() && may_run
}

/// Adds up the numbers that stand right before one of `words` in a list.
fn number_before(list: &str, between: char, words: &[&str]) -> usize {
    list.split(between)
        .filter_map(|part| {
            let mut parts = part.split_whitespace();
            let number = parts.next()?.parse::<usize>().ok()?;
            parts
                .next()
                .is_some_and(|word| words.contains(&word))
                .then_some(number)
        })
        .sum()
}

fn plain_count(line: &str) -> Option<(usize, usize)> {
    let (passed, failed) = line.split_once(", ")?;
    let passed = passed.strip_suffix(" passed")?.parse().ok()?;
    let failed = failed.strip_suffix(" failed")?.parse().ok()?;
    Some((passed, failed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_of_each_runner() {
        let cases = [
            (
                "running 2 tests\ntest result: ok. 2 passed; 0 failed; 1 ignored; 0 measured\n\
                 test result: FAILED. 5 passed; 3 failed; 0 ignored",
                Some((7, 3)),
            ),
            (
                "     Summary [   1.205s] 9 tests run: 7 passed (1 slow, 1 leaky), 1 failed, \
                 1 timed out, 4 skipped",
                Some((7, 2)),
            ),
            (
                "    Summary [   0.005s] 1 test run: 1 passed, 0 skipped",
                Some((1, 0)),
            ),
            (
                "3 passed, 0 failed\nsome more\n14 passed, 2 failed\n",
                Some((14, 2)),
            ),
            ("14 passed, 2 failed of many", None),
            ("nothing to count", None),
        ];
        for (output, want) in cases {
            assert_eq!(counts(output), want, "{output}");
        }
    }

    #[test]
    fn minutes_and_seconds() {
        assert_eq!(clock(Duration::from_millis(127_400)), "2:07");
        assert_eq!(clock(Duration::from_millis(59_600)), "1:00");
    }

    #[cfg(unix)]
    #[test]
    fn gathers_both_pipes_and_the_status() {
        let mut command = Command::new("sh");
        command.args(["-c", "echo out; echo err >&2; exit 3"]);
        let ended = gathered(&mut command, Duration::from_secs(20), Show::Quietly).unwrap();
        assert!(!ended.good);
        assert!(ended.output.contains("out\n") && ended.output.contains("err\n"));
        assert!(ended.how.contains('3'), "{}", ended.how);
    }

    #[cfg(unix)]
    #[test]
    fn a_program_over_its_limit_is_stopped() {
        let mut command = Command::new("sleep");
        command.arg("60");
        let ended = gathered(&mut command, Duration::from_millis(200), Show::Quietly).unwrap();
        assert!(!ended.good && ended.how.contains("limit"));
    }

    #[test]
    fn a_missing_program_is_one_sentence() {
        let mut command = Command::new("no-program-of-this-name");
        let error = gathered(&mut command, Duration::from_secs(1), Show::Quietly).unwrap_err();
        assert_eq!(
            error.to_string(),
            "could not start `no-program-of-this-name`"
        );
    }
}
