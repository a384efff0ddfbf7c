//! The Python checks and comparisons under `checks/`: which there are, and how each is asked.
//!
//! What they compare with what, and how close it must be, stands in the scripts.

use std::path::Path;
use std::process::Command;

/// A script under `checks/`.
pub struct Check {
    /// What it is called in the closing table.
    pub name: &'static str,
    /// Its path under `checks/`.
    script: &'static str,
    /// What it is given; `BINARY` stands for the built program, `DEMO` for the folder of the demo
    /// that the same run has made.
    arguments: &'static [&'static str],
    /// The tools it can't do without, as `--without` calls them.
    pub needs: &'static [&'static str],
    /// Left out by `--fast`.
    pub slow: bool,
    /// Its limit, far above what it takes.
    pub minutes: u64,
}

/// What `cargo xtask test` runs.
pub const CHECKS: [Check; 13] = [
    Check {
        name: "timelines",
        script: "timeline/check_timeline.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: false,
        minutes: 5,
    },
    Check {
        name: "scouting",
        script: "scout/check_scout.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: false,
        minutes: 5,
    },
    Check {
        name: "the day",
        script: "schedule/check_schedule.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: true,
        minutes: 15,
    },
    Check {
        name: "sync",
        script: "sync/check_sync.py",
        // Two thirds of its takes, a third of the off-speed ones; all of them when it is called by hand.
        arguments: &["BINARY", "--normal", "70", "--empty", "40", "--speed", "24"],
        needs: &["python"],
        slow: true,
        minutes: 20,
    },
    Check {
        name: "listening",
        script: "listen/score_songs.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: true,
        minutes: 20,
    },
    Check {
        name: "sky",
        script: "sky/check_sky.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: true,
        minutes: 10,
    },
    Check {
        name: "light and power",
        script: "exposure/check_exposure.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: true,
        minutes: 5,
    },
    Check {
        name: "loudness",
        script: "listen/loudness.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: true,
        minutes: 5,
    },
    Check {
        name: "demo's timelines",
        script: "timeline/check_timeline.py",
        arguments: &["DEMO"],
        needs: &["python"],
        slow: true,
        minutes: 5,
    },
    Check {
        name: "song strip in a browser",
        script: "strip/check_strip.py",
        arguments: &["DEMO"],
        needs: &["python", "browser"],
        slow: true,
        minutes: 5,
    },
    Check {
        name: "the plan's schema",
        script: "plan/check_schema.py",
        arguments: &["BINARY", "DEMO"],
        needs: &["python"],
        slow: true,
        minutes: 15,
    },
    Check {
        name: "playback",
        script: "playback/check_playback.py",
        arguments: &["BINARY", "DEMO"],
        needs: &["python"],
        slow: true,
        minutes: 10,
    },
    Check {
        name: "demo's truth",
        script: "demo/check_demo.py",
        arguments: &["BINARY", "DEMO"],
        needs: &["python"],
        slow: true,
        minutes: 5,
    },
];

/// What `cargo xtask bench` runs.
pub const COMPARISONS: [Check; 4] = [
    Check {
        name: "the day",
        script: "schedule/check_schedule.py",
        arguments: &["BINARY", "--count", "0", "--large", "5"],
        needs: &["python"],
        slow: true,
        minutes: 15,
    },
    Check {
        name: "listening",
        script: "listen/compare.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: true,
        minutes: 30,
    },
    Check {
        name: "sync",
        script: "sync/check_sync.py",
        arguments: &["BINARY", "--only", "normal"],
        needs: &["python"],
        slow: true,
        minutes: 30,
    },
    Check {
        name: "playback",
        script: "playback/compare.py",
        arguments: &["BINARY"],
        needs: &["python"],
        slow: true,
        minutes: 30,
    },
];

impl Check {
    /// The command that runs it, in `root` with the Python of the environment.
    pub fn command(&self, root: &Path, python: &Path, binary: &Path, demo: &Path) -> Command {
        let mut command = Command::new(python);
        command.arg(root.join("checks").join(self.script));
        for argument in self.arguments {
            match *argument {
                "BINARY" => command.arg(binary),
                "DEMO" => command.arg(demo),
                plain => command.arg(plain),
            };
        }
        // Lines shall come as they are printed, and no cache be left in the checkout.
        command.env("PYTHONUNBUFFERED", "1");
        command.env("PYTHONDONTWRITEBYTECODE", "1");
        command.current_dir(root);
        command
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn placeholders_become_paths() {
        let check = Check {
            name: "x",
            script: "x/y.py",
            arguments: &["BINARY", "--in", "DEMO"],
            needs: &["python"],
            slow: false,
            minutes: 1,
        };
        let [root, python, binary, demo] = ["r", "p", "b", "d"].map(Path::new);
        let command = check.command(root, python, binary, demo);
        let given: Vec<_> = command.get_args().skip(1).collect();
        assert_eq!(given, ["b", "--in", "d"]);
    }

    #[test]
    fn every_script_is_there() {
        for check in CHECKS.iter().chain(&COMPARISONS) {
            let script = crate::root().join("checks").join(check.script);
            assert!(script.is_file(), "{} is missing", script.display());
        }
    }
}
