//! `cargo xtask test`: sets up, runs every test and check there is, and closes with a table and
//! one line of counts.
//!
//! Every step runs even when an earlier one failed, except that nothing can run without a build.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use anyhow::{Context, Result};

use crate::outcome::Outcome;
use crate::run::{self, Show, clock};
use crate::setup::{self, Options, Tools};
use crate::{checks, demo, documents, licences, tidy};

/// CI ends a run after 90 minutes without a word; before that we close ourselves, with the table.
const WHOLE_LIMIT: Duration = Duration::from_secs(80 * 60);

/// A step that has run, or was left out.
struct Row {
    name: String,
    took: Option<Duration>,
    outcome: Outcome,
}

/// What every step needs to know.
struct Course {
    root: PathBuf,
    fast: bool,
    tools: Tools,
    began: Instant,
    rows: Vec<Row>,
}

/// `cargo xtask test [--fast]`.
///
/// # Errors
/// When not even a summary could be made.
pub fn command(fast: bool, options: Options) -> Result<bool> {
    let began = Instant::now();
    let root = crate::root();
    let tools = setup::for_tests(&root, options);
    setup::say(&tools);
    let mut course = Course {
        root,
        fast,
        tools,
        began,
        rows: Vec::new(),
    };
    course.run();
    Ok(course.close())
}

/// A copy of a folder in the place of whatever was there.
fn copy_folder(from: &Path, to: &Path) -> Result<()> {
    if to.exists() {
        std::fs::remove_dir_all(to).with_context(|| format!("could not empty {}", to.display()))?;
    }
    let mut todo = vec![(from.to_path_buf(), to.to_path_buf())];
    while let Some((from, to)) = todo.pop() {
        std::fs::create_dir_all(&to).with_context(|| format!("could not make {}", to.display()))?;
        let entries = std::fs::read_dir(&from)
            .with_context(|| format!("could not read {}", from.display()))?;
        for entry in entries.flatten() {
            let (path, target) = (entry.path(), to.join(entry.file_name()));
            if path.is_dir() {
                todo.push((path, target));
            } else {
                std::fs::copy(&path, &target)
                    .with_context(|| format!("could not copy {}", path.display()))?;
            }
        }
    }
    Ok(())
}

impl Course {
    fn run(&mut self) {
        let root = self.root.clone();
        self.step("formatting", false, |course| {
            // Only the names of files; `cargo fmt --all` mends them.
            course.cargo(&["fmt", "--all", "--check", "--", "-l"], 5)
        });
        self.step("architecture", false, |_| {
            tidy::problems(&root).map(Outcome::of_problems)
        });
        let built = self.step("build", false, |course| {
            // The program, the tests and the examples at once: apart, the tests' own libraries
            // would change the features of some shared ones and have them built twice. Not
            // ourselves: a program that runs cannot be replaced everywhere.
            let all = [
                "build",
                "--workspace",
                "--exclude",
                "xtask",
                "--all-targets",
            ];
            course.cargo(&all, 60)
        });
        if !built {
            println!("Without a build nothing else can run.");
            return;
        }
        let program = match demo::binary(&root) {
            Ok(program) => program,
            Err(error) => {
                println!("{error:#}");
                return;
            }
        };
        self.step("documents", false, |_| {
            documents::problems(&root, Some(&program)).map(Outcome::of_problems)
        });
        self.step("licences", false, |_| {
            licences::problems(&root).map(Outcome::of_problems)
        });
        self.step("lints", false, |course| {
            let lints = ["clippy", "--workspace", "--all-targets", "--", "-D"];
            course.cargo(&[&lints[..], &["warnings"]].concat(), 30)
        });
        self.step("tests", false, Course::tests);
        self.step("tests in documentation", true, |course| {
            course.cargo(&["test", "--workspace", "--doc", "--no-fail-fast"], 20)
        });
        self.step("documentation", true, |course| {
            let mut doc = Command::new(crate::cargo());
            doc.args(["doc", "--workspace", "--no-deps", "--quiet"]);
            course.command(doc.env("RUSTDOCFLAGS", "-D warnings"), 20)
        });
        let folder = root.join("out/test-demo");
        self.step("demo", true, |course| {
            let ended = demo::afresh(&program, &folder, course.limit(15))?;
            let mut outcome = Outcome::of_ended(&ended);
            if ended.good {
                println!("the demo took {} min", clock(ended.took));
                outcome = Outcome::of_problems(demo::problems(&folder)?);
            }
            Ok(outcome)
        });
        self.step("pages of the demo", true, |course| {
            // What is looked at may not change what the checks look at.
            let looked_at = root.join("out/test-demo-pages");
            copy_folder(&folder, &looked_at)?;
            let mut pages = Command::new(crate::cargo());
            // The whole workspace, as the tests before: fewer packages would have shared ones built anew.
            pages.args(["test", "--quiet", "--workspace"]);
            pages.args(["--test", "pages_browser", "fit_to_be_looked_at"]);
            pages.env("BAREBULB_DEMO", &looked_at);
            // For people to look at, too.
            pages.env("BAREBULB_SCREENSHOTS", root.join("out/screens"));
            course.command(&mut pages, 15)
        });
        for check in &checks::CHECKS {
            let name = format!("check: {}", check.name);
            self.step(&name, check.slow, |course| {
                let python = course.tools.python.as_deref();
                let python = python.context("there is no Python environment to run it in")?;
                let mut command = check.command(&root, python, &program, &folder);
                let limit = course.limit(check.minutes);
                let ended = run::gathered(&mut command, limit, Show::Live)?;
                Ok(Outcome::of_check(&ended))
            });
        }
        if std::env::var_os("CI").is_some() {
            self.step("nothing left behind", false, |_| left_behind(&root));
        }
    }

    /// Runs one step and keeps its row; true when nothing in it failed.
    fn step(
        &mut self,
        name: &str,
        slow: bool,
        work: impl FnOnce(&Course) -> Result<Outcome>,
    ) -> bool {
        let mut row = Row {
            name: name.to_owned(),
            took: None,
            outcome: Outcome::default(),
        };
        if !(slow && self.fast) {
            println!("\n── {name}");
            let began = Instant::now();
            row.outcome =
                work(self).unwrap_or_else(|error| Outcome::of_problems(vec![format!("{error:#}")]));
            row.took = Some(began.elapsed());
            for problem in &row.outcome.problems {
                println!("{name}: {problem}");
            }
        }
        let good = row.outcome.failed == 0;
        self.rows.push(row);
        good
    }

    /// The tests of all crates: with nextest where it is installed, since it names a test that
    /// hangs (`.config/nextest.toml`), else with cargo's own runner.
    fn tests(&self) -> Result<Outcome> {
        let mut tests = Command::new(crate::cargo());
        if run::find("cargo-nextest").is_some() {
            tests.args(["nextest", "run", "--status-level", "fail"]);
            tests.args(["--show-progress", "none", "--cargo-quiet"]);
        } else {
            tests.args(["test", "--quiet", "--bins", "--lib", "--tests"]);
        }
        tests.args(["--workspace", "--no-fail-fast"]);
        if self.tools.ffmpeg {
            // Tests that need ffmpeg step aside without it, unless told that it is there.
            tests.env("BAREBULB_REQUIRE_FFMPEG", "1");
        }
        if self.tools.browser.is_some() && run::find("chromedriver").is_some() {
            // The same for those that need a browser.
            tests.env("BAREBULB_REQUIRE_CHROMIUM", "1");
        }
        self.command(&mut tests, 40)
    }

    fn cargo(&self, arguments: &[&str], minutes: u64) -> Result<Outcome> {
        self.command(Command::new(crate::cargo()).args(arguments), minutes)
    }

    fn command(&self, command: &mut Command, minutes: u64) -> Result<Outcome> {
        command.current_dir(&self.root);
        let ended = run::gathered(command, self.limit(minutes), Show::Live)?;
        Ok(Outcome::of_ended(&ended))
    }

    /// The limit of a step: its own, or what is left of the whole.
    fn limit(&self, minutes: u64) -> Duration {
        let left = WHOLE_LIMIT.saturating_sub(self.began.elapsed());
        Duration::from_secs(minutes * 60).min(left)
    }

    /// Prints the table and the counts; true when nothing failed.
    fn close(&self) -> bool {
        println!("\n{:24} {:>7}  passed  failed", "step", "min");
        let (mut passed, mut failed) = (0, 0);
        for row in &self.rows {
            let Some(took) = row.took else {
                println!("{:24} left out by --fast", row.name);
                continue;
            };
            println!(
                "{:24} {:>7}  {:>6}  {:>6}",
                row.name,
                clock(took),
                row.outcome.passed,
                row.outcome.failed
            );
            passed += row.outcome.passed;
            failed += row.outcome.failed;
        }
        println!("{:24} {:>7}", "in all", clock(self.began.elapsed()));
        setup::say(&self.tools);
        for row in &self.rows {
            for problem in &row.outcome.problems {
                println!("{}: {problem}", row.name);
            }
        }
        println!("{passed} passed, {failed} failed");
        failed == 0
    }
}

/// In CI the checkout was clean, so that whatever differs now was left by the run: a lock file
/// that was not committed, a snapshot to review, a test that writes into the source.
fn left_behind(root: &Path) -> Result<Outcome> {
    let mut git = Command::new("git");
    git.args(["status", "--porcelain"]).current_dir(root);
    let ended = run::gathered(&mut git, Duration::from_secs(60), Show::Quietly)?;
    Ok(Outcome::of_problems(
        ended.output.lines().map(String::from).collect(),
    ))
}
