//! One child process: never a shell, never waited for without end, never left behind.
//!
//! Standard input is closed unless asked for, both outputs are drained by threads of their own, so
//! that no pipe can fill and block. A job that is dropped is killed. On Unix the child gets a
//! process group of its own: Ctrl-C at the terminal reaches this program, which then decides.

use crate::confine::{self, Reach};
use crate::{Error, KeepGoing};
use model::FrameRate;
use std::ffi::{OsStr, OsString};
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{
    Receiver, RecvTimeoutError, SyncSender, TryRecvError, TrySendError, sync_channel,
};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long a child may give nothing before it is taken for stuck. Long, because a sleeping disk
/// or a slow network share can take half a minute to answer.
pub(crate) const STALL: Duration = Duration::from_secs(120);

/// How often a wait looks up to see whether to go on.
pub(crate) const TICK: Duration = Duration::from_millis(30);

/// How much of what a child says is kept, in bytes: the end counts.
const KEPT_STDERR: usize = 8192;

/// The program of a child.
#[derive(Clone, Copy)]
pub(crate) struct Program<'a> {
    /// `ffmpeg` or `ffprobe`.
    pub name: &'static str,
    /// Where it is.
    pub path: &'a Path,
    /// Whether it is held to the files that it is told of.
    pub held: bool,
}

/// What the child's standard output is for.
pub(crate) enum Out {
    /// Nothing comes.
    Nothing,
    /// Pieces of this many bytes (the last may be shorter), with room for `ahead` of them.
    Pieces { bytes: usize, ahead: usize },
}

/// A running child.
pub(crate) struct Job {
    child: Child,
    program: &'static str,
    /// What it does, as a verb: `read`, `write`.
    doing: &'static str,
    /// The file it works on, as the user wrote it.
    path: String,
    pieces: Option<Receiver<Result<Vec<u8>, std::io::Error>>>,
    feed: Option<SyncSender<Vec<u8>>>,
    feeder: Option<JoinHandle<()>>,
    said: Arc<Mutex<Vec<u8>>>,
    listener: Option<JoinHandle<()>>,
    last_sign: Instant,
}

impl Job {
    /// Starts `program` with `arguments`, to do `doing` with `path`. With `feed_ahead`, frames can be
    /// fed to its standard input, so many waiting at a time.
    pub(crate) fn start(
        program: Program,
        arguments: &[OsString],
        doing: &'static str,
        path: &Path,
        out: Out,
        feed_ahead: Option<usize>,
    ) -> Result<Self, Error> {
        let mut command = Command::new(program.path);
        command
            .args(arguments)
            .stdin(if feed_ahead.is_some() {
                Stdio::piped()
            } else {
                Stdio::null()
            })
            .stdout(match out {
                Out::Nothing => Stdio::null(),
                Out::Pieces { .. } => Stdio::piped(),
            })
            .stderr(Stdio::piped());
        // ffmpeg would otherwise read a report setting and write a log file into the working folder.
        command.env_remove("FFREPORT");
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let said = Arc::new(Mutex::new(Vec::new()));
        let (mut child, listener) = spawn(command, program, arguments, Arc::clone(&said))?;
        let pieces = match (out, child.stdout.take()) {
            (Out::Pieces { bytes, ahead }, Some(pipe)) => {
                let (give, take) = sync_channel(ahead.max(1));
                std::thread::spawn(move || read_pieces(pipe, bytes.max(1), &give));
                Some(take)
            }
            _ => None,
        };
        let (feed, feeder) = match (feed_ahead, child.stdin.take()) {
            (Some(ahead), Some(mut pipe)) => {
                let (give, take) = sync_channel::<Vec<u8>>(ahead.max(1));
                let feeder = std::thread::spawn(move || {
                    // A child that ended early shows in its exit status, not here.
                    while let Ok(bytes) = take.recv() {
                        if pipe.write_all(&bytes).is_err() {
                            break;
                        }
                    }
                });
                (Some(give), Some(feeder))
            }
            _ => (None, None),
        };
        Ok(Self {
            child,
            program: program.name,
            doing,
            path: path.display().to_string(),
            pieces,
            feed,
            feeder,
            said,
            listener: Some(listener),
            last_sign: Instant::now(),
        })
    }

    /// The next piece of output; `None` when the child has ended well.
    pub(crate) fn next(&mut self, keep_going: &dyn Fn() -> bool) -> Result<Option<Vec<u8>>, Error> {
        loop {
            let Some(pieces) = &self.pieces else {
                return Ok(None);
            };
            // A piece that is already there is taken without asking: asking may cost more.
            let got = match pieces.try_recv() {
                Ok(piece) => Ok(piece),
                Err(TryRecvError::Disconnected) => Err(RecvTimeoutError::Disconnected),
                Err(TryRecvError::Empty) => pieces.recv_timeout(TICK),
            };
            if !keep_going() {
                return Err(Error::Cancelled);
            }
            match got {
                Ok(Ok(piece)) => {
                    self.last_sign = Instant::now();
                    return Ok(Some(piece));
                }
                Ok(Err(source)) => {
                    return Err(Error::Io {
                        path: self.path.clone(),
                        done: "read",
                        source,
                    });
                }
                Err(RecvTimeoutError::Timeout) => self.check_sign()?,
                Err(RecvTimeoutError::Disconnected) => {
                    self.pieces = None;
                    self.wait(keep_going)?;
                    return Ok(None);
                }
            }
        }
    }

    /// Hands `bytes` to the child's standard input.
    pub(crate) fn feed(
        &mut self,
        bytes: Vec<u8>,
        keep_going: &dyn Fn() -> bool,
    ) -> Result<(), Error> {
        let mut bytes = bytes;
        loop {
            let Some(feed) = &self.feed else {
                return Ok(());
            };
            match feed.try_send(bytes) {
                Ok(()) => {
                    self.last_sign = Instant::now();
                    return Ok(());
                }
                Err(TrySendError::Full(back)) => {
                    bytes = back;
                    if !keep_going() {
                        return Err(Error::Cancelled);
                    }
                    self.check_sign()?;
                    std::thread::sleep(Duration::from_millis(2));
                }
                Err(TrySendError::Disconnected(_)) => {
                    // It ended before its input did: its status says why.
                    self.feed = None;
                    self.wait(keep_going)?;
                    return Err(self.refused("it ended before it had everything".into()));
                }
            }
        }
    }

    /// Closes the child's input and waits until it has ended well.
    pub(crate) fn finish(mut self, keep_going: &dyn Fn() -> bool) -> Result<(), Error> {
        self.feed = None;
        while self.next(keep_going)?.is_some() {}
        self.wait(keep_going)
    }

    /// Waits for the end and judges the exit status.
    fn wait(&mut self, keep_going: &dyn Fn() -> bool) -> Result<(), Error> {
        self.feed = None;
        self.last_sign = Instant::now();
        let status = loop {
            match self.child.try_wait() {
                Ok(Some(status)) => break status,
                Ok(None) => {
                    if !keep_going() {
                        return Err(Error::Cancelled);
                    }
                    self.check_sign()?;
                    std::thread::sleep(Duration::from_millis(3));
                }
                Err(source) => {
                    return Err(Error::Io {
                        path: self.program.to_owned(),
                        done: "waited for",
                        source,
                    });
                }
            }
        };
        if let Some(feeder) = self.feeder.take() {
            let _ = feeder.join();
        }
        if status.success() && self.doing != "write" {
            return Ok(());
        }
        // What it said is complete once its error pipe has closed. A grandchild may hold that open,
        // so the wait is bounded.
        let until = Instant::now() + Duration::from_millis(500);
        while self.listener.as_ref().is_some_and(|l| !l.is_finished()) && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(2));
        }
        // Some writers inside ffmpeg go on when the disk is full, and end as if all were well.
        if status.success() && !self.said().contains("No space left on device") {
            return Ok(());
        }
        Err(self.judge(status))
    }

    /// What the child said so far, the last few kilobytes.
    pub(crate) fn said(&self) -> String {
        let said = self.said.lock().unwrap_or_else(PoisonError::into_inner);
        String::from_utf8_lossy(&said).into_owned()
    }

    fn check_sign(&self) -> Result<(), Error> {
        if self.last_sign.elapsed() > STALL {
            return Err(Error::Stalled {
                program: self.program,
                path: self.path.clone(),
                seconds: STALL.as_secs(),
            });
        }
        Ok(())
    }

    /// The error that an exit status and the last words amount to.
    fn judge(&self, status: ExitStatus) -> Error {
        let said = self.said();
        let path = self.path.clone();
        if said.contains("No space left on device") {
            return Error::DiskFull { path };
        }
        if killed(status, &said) {
            return Error::Killed {
                program: self.program,
                path,
            };
        }
        if said.contains("moov atom not found") {
            return Error::Unfinished { path };
        }
        // The message names the file already.
        let sentence = last_words(&said.replace(&format!("file:{path}: "), ""));
        if self.doing == "read" && said.contains("Invalid data found when processing input") {
            return Error::NotMedia {
                path,
                said: sentence,
            };
        }
        if sentence.is_empty() {
            return self.refused(format!("it ended with {status} and said nothing"));
        }
        self.refused(sentence)
    }

    fn refused(&self, said: String) -> Error {
        Error::Refused {
            program: self.program,
            doing: self.doing,
            path: self.path.clone(),
            said,
        }
    }
}

/// Starts `command` in a thread of its own, which then keeps what the child says: held to what the child may
/// touch, that thread is good for nothing else, and the child ends when it does.
fn spawn(
    mut command: Command,
    program: Program,
    arguments: &[OsString],
    said: Arc<Mutex<Vec<u8>>>,
) -> Result<(Child, JoinHandle<()>), Error> {
    confine::bound(&mut command);
    let reach = program.held.then(|| Reach::of(program.path, arguments));
    let (give, take) = sync_channel(1);
    let listener = std::thread::spawn(move || {
        let held = reach.map_or(Ok(()), |reach| {
            confine::hold_this_thread(&reach).map_err(std::io::Error::other)
        });
        let mut pipe = None;
        let started = held.and_then(|()| command.spawn()).map(|mut child| {
            pipe = child.stderr.take();
            child
        });
        // Nobody waits only where the program is at its end.
        let _ = give.send(started);
        if let Some(pipe) = pipe {
            keep_the_end(pipe, &said);
        }
    });
    let started = take.recv().map_err(std::io::Error::other).flatten();
    let child = started.map_err(Error::io(program.path, "started"))?;
    Ok((child, listener))
}

impl Drop for Job {
    fn drop(&mut self) {
        self.feed = None;
        if !matches!(self.child.try_wait(), Ok(Some(_))) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

/// Runs a child to its end and gives its whole output, at most `most` bytes of it.
pub(crate) fn capture(
    program: Program,
    arguments: &[OsString],
    path: &Path,
    most: usize,
    keep_going: KeepGoing,
) -> Result<Vec<u8>, Error> {
    let out = Out::Pieces {
        bytes: 1 << 16,
        ahead: 4,
    };
    let mut job = Job::start(program, arguments, "read", path, out, None)?;
    let mut all = Vec::new();
    while let Some(piece) = job.next(keep_going)? {
        if all.len() + piece.len() > most {
            return Err(job.refused(format!("its answer is longer than {most} bytes")));
        }
        all.extend_from_slice(&piece);
    }
    Ok(all)
}

/// Arguments in which there is no space, as they would be typed.
pub(crate) fn words(line: &str) -> Vec<OsString> {
    line.split_whitespace().map(OsString::from).collect()
}

/// Arguments that take frames of this size and rate, 8-bit planar YUV 4:2:0, from standard input.
pub(crate) fn raw_frames([width, height]: [u32; 2], rate: FrameRate) -> Vec<OsString> {
    words(&format!(
        "-y -f rawvideo -pix_fmt yuv420p -video_size {width}x{height} -framerate {rate} -i pipe:0"
    ))
}

/// Arguments as ffmpeg takes them.
pub(crate) fn arguments<I, S>(list: I) -> Vec<OsString>
where
    I: IntoIterator<Item = S>,
    S: AsRef<OsStr>,
{
    list.into_iter().map(|a| a.as_ref().to_owned()).collect()
}

/// Whether someone ended it. ffmpeg catches the polite signals, cleans up and exits with 255; a
/// shell in between reports 128 and the signal's number.
fn killed(status: ExitStatus, said: &str) -> bool {
    #[cfg(unix)]
    if std::os::unix::process::ExitStatusExt::signal(&status).is_some() {
        return true;
    }
    match status.code() {
        Some(130 | 137 | 143) => true,
        Some(255) => said.trim().is_empty() || said.contains("received signal"),
        _ => false,
    }
}

/// The last two lines of what was said that tell something, as the end of a sentence.
fn last_words(said: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    for line in said.lines().rev() {
        let line = strip_origin(line.trim());
        if line.is_empty() || line == "Conversion failed!" || words.iter().any(|w| w == line) {
            continue;
        }
        words.push(line.chars().take(200).collect());
        if words.len() == 2 {
            break;
        }
    }
    words.reverse();
    words.join("; ").trim_end_matches('.').to_owned()
}

/// Without the `[part @ 0x55d0c8]` that ffmpeg puts before its lines.
fn strip_origin(line: &str) -> &str {
    let mut line = line;
    while line.starts_with('[') && line.contains(" @ 0x") {
        match line.split_once("] ") {
            Some((_, rest)) => line = rest,
            None => break,
        }
    }
    line
}

fn keep_the_end(mut pipe: impl Read, said: &Mutex<Vec<u8>>) {
    let mut piece = [0u8; 2048];
    while let Ok(count @ 1..) = pipe.read(&mut piece) {
        let mut said = said.lock().unwrap_or_else(PoisonError::into_inner);
        said.extend_from_slice(&piece[..count]);
        let over = said.len().saturating_sub(KEPT_STDERR);
        said.drain(..over);
    }
}

fn read_pieces(mut pipe: impl Read, bytes: usize, give: &SyncSender<std::io::Result<Vec<u8>>>) {
    loop {
        let mut piece = vec![0u8; bytes];
        let mut filled = 0;
        let mut ended = false;
        while filled < bytes {
            match pipe.read(&mut piece[filled..]) {
                Ok(0) => {
                    ended = true;
                    break;
                }
                Ok(count) => filled += count,
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                Err(error) => {
                    let _ = give.send(Err(error));
                    return;
                }
            }
        }
        piece.truncate(filled);
        if filled > 0 && give.send(Ok(piece)).is_err() || ended {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn last_words_are_those_that_tell() {
        let said = "[h264 @ 0x55] late\n[mov,mp4 @ 0x1234] moov atom not found\nfile:x.mp4: Invalid data found when processing input\n";
        assert_eq!(
            last_words(said),
            "moov atom not found; file:x.mp4: Invalid data found when processing input"
        );
        assert_eq!(last_words(""), "");
        assert_eq!(last_words("\n[a @ 0x1] [b @ 0x2] x.\n"), "x");
    }

    #[cfg(unix)]
    fn shell(script: &str, out: Out, feed: Option<usize>) -> Job {
        let arguments = arguments(["-c", script]);
        Job::start(
            Program {
                name: "ffmpeg",
                path: Path::new("/bin/sh"),
                held: false,
            },
            &arguments,
            "read",
            Path::new("some file"),
            out,
            feed,
        )
        .unwrap()
    }

    #[cfg(unix)]
    #[test]
    fn a_flood_on_both_pipes_does_not_block() {
        // More than any pipe buffer, on the error pipe first.
        let script = "head -c 3000000 /dev/zero >&2; head -c 1000001 /dev/zero";
        let mut job = shell(
            script,
            Out::Pieces {
                bytes: 1000,
                ahead: 2,
            },
            None,
        );
        let mut total = 0;
        while let Some(piece) = job.next(&|| true).unwrap() {
            total += piece.len();
        }
        assert_eq!(total, 1_000_001);
        assert!(job.said().len() <= KEPT_STDERR);
    }

    #[cfg(unix)]
    #[test]
    fn causes_are_told_apart() {
        let run = |script: &str| {
            let job = shell(script, Out::Nothing, None);
            job.finish(&|| true).unwrap_err()
        };
        assert!(matches!(run("kill -9 $$"), Error::Killed { .. }));
        assert!(matches!(run("kill -15 $$"), Error::Killed { .. }));
        assert!(matches!(run("exit 255"), Error::Killed { .. }));
        assert!(matches!(
            run("echo 'x: No space left on device' >&2; exit 1"),
            Error::DiskFull { .. }
        ));
        assert!(matches!(
            run("echo '[mov @ 0x1] moov atom not found' >&2; exit 1"),
            Error::Unfinished { .. }
        ));
        let error = run("echo '[x @ 0x1] no such encoder' >&2; exit 1");
        assert_eq!(
            error.to_string(),
            "`ffmpeg` could not read `some file`: no such encoder"
        );
    }

    #[cfg(unix)]
    #[test]
    fn cancelling_kills_at_once() {
        let began = Instant::now();
        let mut job = shell(
            "sleep 30",
            Out::Pieces {
                bytes: 10,
                ahead: 1,
            },
            None,
        );
        assert!(matches!(job.next(&|| false), Err(Error::Cancelled)));
        drop(job);
        // Not a timed test of speed: without the kill this would take half a minute.
        assert!(began.elapsed() < Duration::from_secs(15));
    }

    #[cfg(unix)]
    #[test]
    fn feeding_one_that_ended_says_why() {
        let mut job = shell("echo full of it >&2; exit 3", Out::Nothing, Some(1));
        let error = loop {
            if let Err(error) = job.feed(vec![0; 100_000], &|| true) {
                break error;
            }
        };
        assert!(error.to_string().contains("full of it"), "{error}");
    }

    #[test]
    fn a_path_is_never_an_option() {
        assert_eq!(confine::url(Path::new("-i")), OsString::from("file:-i"));
        assert_eq!(
            confine::url(Path::new("a:b%d.mp4")),
            OsString::from("file:a:b%d.mp4")
        );
    }
}
