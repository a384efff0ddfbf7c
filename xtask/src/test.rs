//! `cargo xtask test`: sets up, runs every test and check there is, and closes with a table and
//! one line of counts.
//!
//! Every step runs even when an earlier one failed, except that nothing can run without a build.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};

use crate::outcome::Outcome;
use crate::run::{self, Ended, Show, clock};
use crate::setup::{self, Options, Tools};
use crate::{checks, demo, documents, python, tidy};

/// CI ends a run after 90 minutes without a word; before that we close ourselves, with the table.
const WHOLE_LIMIT: Duration = Duration::from_secs(80 * 60);

/// A step that has run, or was left out.
struct Row {
    name: String,
    end: End,
}

/// How a step ended.
enum End {
    Ran(Duration, Outcome),
    /// Left out, and by what.
    LeftOut(String),
}

/// A step before it runs.
struct Step<'a> {
    name: &'a str,
    /// Left out by `--fast`.
    slow: bool,
    /// The tools without which it is left out, where their absence was allowed.
    needs: &'a [&'a str],
}

/// What every step needs to know.
struct Course {
    root: PathBuf,
    fast: bool,
    /// What may be missing, by `--without`.
    without: Vec<String>,
    tools: Tools,
    began: Instant,
    rows: Vec<Row>,
}

/// `cargo xtask test [--fast] [--without NAME]…`.
///
/// # Errors
/// When `without` names nothing that is known, or not even a summary could be made.
pub fn command(fast: bool, without: Vec<String>, options: Options) -> Result<bool> {
    let began = Instant::now();
    let root = crate::root();
    let mut known: Vec<String> = setup::TOOLS.map(String::from).into();
    known.extend(python::optional(&root)?);
    if let Some(unknown) = without.iter().find(|name| !known.contains(name)) {
        bail!(
            "--without {unknown}: there is no tool of that name; there are {}",
            known.join(", ")
        );
    }
    let tools = setup::for_tests(&root, options);
    let mut course = Course {
        root,
        fast,
        without,
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

/// A step that always runs.
const fn quick(name: &str) -> Step<'_> {
    Step {
        name,
        slow: false,
        needs: &[],
    }
}

/// A step that `--fast` leaves out.
const fn slow<'a>(name: &'a str, needs: &'a [&'a str]) -> Step<'a> {
    Step {
        name,
        slow: true,
        needs,
    }
}

impl Course {
    fn run(&mut self) {
        self.step(quick("tools"), |course| Ok(course.tools_there()));
        self.rules();
        let Some(program) = self.build() else {
            println!("Without a build nothing else can run.");
            return;
        };
        let root = self.root.clone();
        self.step(quick("documents"), |_| {
            documents::problems(&root, Some(&program)).map(Outcome::of_problems)
        });
        self.step(quick("lints"), |course| {
            let lints = ["clippy", "--workspace", "--all-targets", "--", "-D"];
            course.program(&[&lints[..], &["warnings"]].concat(), 30)
        });
        self.step(quick("tests"), Course::tests);
        self.step(slow("tests in documentation", &[]), |course| {
            let mut tests = Command::new(crate::cargo());
            tests.args(["test", "--workspace", "--doc", "--no-fail-fast"]);
            Ok(Outcome::of_tests(&course.gathered(&mut tests, 20)?))
        });
        self.step(slow("documentation", &[]), |course| {
            let mut doc = Command::new(crate::cargo());
            doc.args(["doc", "--workspace", "--no-deps", "--quiet"]);
            let doc = doc.env("RUSTDOCFLAGS", "-D warnings");
            Ok(Outcome::of_program(&course.gathered(doc, 20)?))
        });
        self.demo_and_checks(&program);
        if std::env::var_os("CI").is_some() {
            self.step(quick("nothing left behind"), |_| left_behind(&root));
        }
    }

    /// What can be judged without a build.
    fn rules(&mut self) {
        let root = self.root.clone();
        self.step(quick("formatting"), |course| {
            // Only the names of files; `cargo fmt --all` mends them.
            course.program(&["fmt", "--all", "--check", "--", "-l"], 5)
        });
        for (name, problems) in tidy::RULES {
            self.step(quick(name), |_| problems(&root).map(Outcome::of_problems));
        }
    }

    fn build(&mut self) -> Option<PathBuf> {
        let built = self.step(quick("build"), |course| {
            course.program(&demo::BUILD_ALL, 60)
        });
        let program = demo::binary(&self.root);
        if let Err(error) = &program {
            println!("{error:#}");
        }
        program.ok().filter(|_| built)
    }

    /// The demo, and all that looks at it or at the program from outside.
    fn demo_and_checks(&mut self, program: &Path) {
        let root = self.root.clone();
        let folder = root.join("out/test-demo");
        self.step(slow("demo", &[]), |course| {
            let ended = demo::afresh(program, &folder, course.limit(15))?;
            if !ended.good {
                return Ok(Outcome::of_program(&ended));
            }
            println!("the demo took {} min", clock(ended.took));
            Ok(Outcome::of_problems(demo::problems(&folder)?))
        });
        self.step(
            slow("pages of the demo", &["browser", "python"]),
            |course| {
                // What is looked at may not change what the checks look at.
                let looked_at = root.join("out/test-demo-pages");
                copy_folder(&folder, &looked_at)?;
                let mut pages = Command::new(crate::cargo());
                // The whole workspace, as the tests before: fewer packages would have shared ones built anew.
                pages.args(["test", "--quiet", "--workspace"]);
                pages.args(["--test", "pages_browser", "fit_to_be_looked_at"]);
                pages.env("BAREBULB_DEMO", &looked_at);
                pages.env("BAREBULB_REQUIRE_CHROMIUM", "1");
                // For people to look at, too.
                pages.env("BAREBULB_SCREENSHOTS", root.join("out/screens"));
                Ok(Outcome::of_tests(&course.gathered(&mut pages, 15)?))
            },
        );
        // Every reader of foreign bytes, a few seconds each; longer by hand.
        self.step(slow("fuzz", &["ffmpeg"]), |course| {
            let mut fuzz = Command::new(program.with_file_name("fuzz"));
            Ok(Outcome::of_check(&course.gathered(fuzz.arg("8"), 10)?))
        });
        for check in &checks::CHECKS {
            let name = format!("check: {}", check.name);
            let step = Step {
                name: &name,
                slow: check.slow,
                needs: check.needs,
            };
            self.step(step, |course| {
                let python = course.tools.python.as_deref();
                let python = python.context("there is no Python environment to run it in")?;
                let mut command = check.command(&root, python, program, &folder);
                Ok(Outcome::of_check(
                    &course.gathered(&mut command, check.minutes)?,
                ))
            });
        }
    }

    /// Runs one step and keeps its row; true when nothing in it failed.
    fn step(&mut self, step: Step<'_>, work: impl FnOnce(&Course) -> Result<Outcome>) -> bool {
        let missing = step
            .needs
            .iter()
            .find(|name| self.lacks(name) && self.may_lack(name));
        let end = if step.slow && self.fast {
            End::LeftOut("--fast".to_owned())
        } else if let Some(name) = missing {
            End::LeftOut(format!("--without {name}"))
        } else {
            println!("\n── {}", step.name);
            let began = Instant::now();
            let outcome =
                work(self).unwrap_or_else(|error| Outcome::of_problems(vec![format!("{error:#}")]));
            for problem in &outcome.problems {
                println!("{}: {problem}", step.name);
            }
            End::Ran(began.elapsed(), outcome)
        };
        let good = match &end {
            End::Ran(_, outcome) => outcome.failed == 0,
            End::LeftOut(_) => true,
        };
        self.rows.push(Row {
            name: step.name.to_owned(),
            end,
        });
        good
    }

    /// What is missing without leave.
    fn tools_there(&self) -> Outcome {
        let problems = self.tools.lacking.iter();
        Outcome::of_problems(
            problems
                .filter(|lacking| !self.may_lack(&lacking.name))
                .map(|lacking| {
                    let name = &lacking.name;
                    format!("{}; `--without {name}` goes on all the same", lacking.says)
                })
                .collect(),
        )
    }

    fn lacks(&self, name: &str) -> bool {
        self.tools.lacking.iter().any(|it| it.name == name)
    }

    fn may_lack(&self, name: &str) -> bool {
        self.without.iter().any(|it| it == name)
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
        // Tests that need these step aside without them, unless told that they are there.
        for (name, variable) in [
            ("ffmpeg", "BAREBULB_REQUIRE_FFMPEG"),
            ("browser", "BAREBULB_REQUIRE_CHROMIUM"),
        ] {
            if !(self.lacks(name) && self.may_lack(name)) {
                tests.env(variable, "1");
            }
        }
        Ok(Outcome::of_tests(&self.gathered(&mut tests, 40)?))
    }

    /// Cargo as one thing that goes well or not.
    fn program(&self, arguments: &[&str], minutes: u64) -> Result<Outcome> {
        let mut cargo = Command::new(crate::cargo());
        let ended = self.gathered(cargo.args(arguments), minutes)?;
        Ok(Outcome::of_program(&ended))
    }

    fn gathered(&self, command: &mut Command, minutes: u64) -> Result<Ended> {
        command.current_dir(&self.root);
        run::gathered(command, self.limit(minutes), Show::Live)
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
            match &row.end {
                End::Ran(took, outcome) => {
                    let (well, badly) = (outcome.passed, outcome.failed);
                    let took = clock(*took);
                    println!("{:24} {took:>7}  {well:>6}  {badly:>6}", row.name);
                    passed += well;
                    failed += badly;
                }
                End::LeftOut(by) => println!("{:24} left out by {by}", row.name),
            }
        }
        println!("{:24} {:>7}", "in all", clock(self.began.elapsed()));
        for lacking in &self.tools.lacking {
            if self.may_lack(&lacking.name) {
                println!("without {}: {}", lacking.name, lacking.says);
            }
        }
        for row in &self.rows {
            if let End::Ran(_, outcome) = &row.end {
                for problem in &outcome.problems {
                    println!("{}: {problem}", row.name);
                }
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
