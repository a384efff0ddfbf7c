//! `cargo xtask demo`: sets up, builds the program, and lets it make its demo; and for the tests,
//! the judgement of the figures that a demo closes with.
//!
//! What the demo is made of is `crates/demo`'s work, and what it prints the program's.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::run::{self, Ended, Show};
use crate::setup::{self, Options};

/// A cold build takes some minutes on two cores; this is for a slow laptop.
const BUILD_LIMIT: Duration = Duration::from_secs(60 * 60);

/// Far above what a demo may take, so that only one that hangs meets it.
const DEMO_LIMIT: Duration = Duration::from_secs(15 * 60);

/// The file in the demo's folder that holds its closing figures.
pub const REPORT: &str = "demo-report.json";

/// What a figure must keep to.
#[derive(Clone, Copy, Debug)]
enum Bound {
    /// This number.
    Is(f64),
    /// This number or less.
    AtMost(f64),
    /// This number or more.
    AtLeast(f64),
}

/// The figures that the report must hold, by JSON pointer, and what each must keep to.
///
/// `/sync` and `/shots` are errors against what was composed; half a frame at 24 fps is 20.9 ms.
/// The beats' bound is what listening has to reach on songs with known bars. The time it took is
/// no figure of these: a busy machine must not fail a test. `cargo xtask bench` shows it.
const FIGURES: [(&str, Bound); 7] = [
    ("/takes/wrong", Bound::Is(0.0)),
    ("/takes/placed", Bound::AtLeast(16.0)),
    ("/sync/worst_error_s", Bound::AtMost(0.5 / 24.0)),
    ("/beats/f_measure", Bound::AtLeast(0.85)),
    ("/shots/count", Bound::AtLeast(10.0)),
    ("/shots/worst_error_s", Bound::AtMost(0.5 / 24.0)),
    ("/cut/frames_over_song", Bound::Is(0.0)),
];

/// `cargo xtask demo [DIR]`.
///
/// # Errors
/// When the program could not be built or started.
pub fn command(folder: Option<&str>, options: Options) -> Result<bool> {
    let root = crate::root();
    let folder = folder.map_or_else(|| root.join("out/demo"), PathBuf::from);
    let tools = setup::for_demo(options);
    setup::say(&tools);
    println!("Building the program (minutes the first time, seconds after that) …");
    let mut build = build_command(&root);
    let built = run::attached(&mut build, BUILD_LIMIT)?;
    if !built.good {
        bail!("the program could not be built ({})", built.how);
    }
    let mut demo = demo_command(&binary(&root)?, &folder)?;
    let ended = run::attached(&mut demo, DEMO_LIMIT)?;
    if !ended.good {
        eprintln!("the demo ended with {}", ended.how);
    }
    Ok(ended.good)
}

/// The command that builds the program.
pub fn build_command(root: &Path) -> Command {
    let mut build = Command::new(crate::cargo());
    build
        .args(["build", "--package", "barebulb"])
        .current_dir(root);
    build
}

/// Makes the demo anew in `folder`, inside the checkout's `out`, showing what it prints.
///
/// # Errors
/// When the folder could not be emptied or the program not be started.
pub fn afresh(program: &Path, folder: &Path, limit: Duration) -> Result<Ended> {
    if folder.exists() {
        std::fs::remove_dir_all(folder)
            .with_context(|| format!("could not empty {}", folder.display()))?;
    }
    run::gathered(&mut demo_command(program, folder)?, limit, Show::Live)
}

/// Where the built program lies, wherever the target folder is.
///
/// # Errors
/// When cargo does not tell.
pub fn binary(root: &Path) -> Result<PathBuf> {
    let metadata = crate::source::metadata(root, &["--no-deps"])?;
    let target = metadata["target_directory"]
        .as_str()
        .context("cargo metadata tells no target folder")?;
    let name = if cfg!(windows) {
        "barebulb.exe"
    } else {
        "barebulb"
    };
    Ok(Path::new(target).join("debug").join(name))
}

/// What is wrong with the closing figures of the demo in `folder`, one sentence each.
///
/// # Errors
/// When there is no report, or it is no JSON.
pub fn problems(folder: &Path) -> Result<Vec<String>> {
    let file = folder.join(REPORT);
    let text = std::fs::read_to_string(&file)
        .with_context(|| format!("could not read {}", file.display()))?;
    let report =
        serde_json::from_str(&text).with_context(|| format!("{} is not JSON", file.display()))?;
    Ok(judge(&report))
}

fn judge(report: &Value) -> Vec<String> {
    FIGURES
        .iter()
        .filter_map(|&(pointer, bound)| {
            let Some(figure) = report.pointer(pointer).and_then(Value::as_f64) else {
                return Some(format!("the report has no number at {pointer}"));
            };
            let (kept, wanted) = match bound {
                Bound::Is(number) => (figure == number, format!("{number}")),
                Bound::AtMost(number) => (figure <= number, format!("at most {number:.4}")),
                Bound::AtLeast(number) => (figure >= number, format!("at least {number}")),
            };
            (!kept).then(|| format!("{pointer} is {figure}, wanted {wanted}"))
        })
        .collect()
}

fn demo_command(program: &Path, folder: &Path) -> Result<Command> {
    if let Some(parent) = folder.parent() {
        std::fs::create_dir_all(parent)
            .with_context(|| format!("could not make {}", parent.display()))?;
    }
    let mut demo = Command::new(program);
    demo.arg("demo").arg(folder);
    Ok(demo)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn good() -> Value {
        serde_json::json!({
            "takes": {"placed": 23, "wrong": 0},
            "sync": {"worst_error_s": 0.004},
            "beats": {"f_measure": 0.97},
            "shots": {"count": 41, "worst_error_s": 0.004},
            "cut": {"frames_over_song": 0},
        })
    }

    #[test]
    fn a_good_report_has_no_problem() {
        assert_eq!(judge(&good()), Vec::<String>::new());
    }

    #[test]
    fn each_figure_out_of_bounds_is_named() {
        let mut report = good();
        report["shots"]["worst_error_s"] = 0.03.into();
        report["cut"]["frames_over_song"] = (-1).into();
        report["beats"] = Value::Null;
        assert_eq!(
            judge(&report),
            [
                "the report has no number at /beats/f_measure",
                "/shots/worst_error_s is 0.03, wanted at most 0.0208",
                "/cut/frames_over_song is -1, wanted 0",
            ]
        );
    }
}
