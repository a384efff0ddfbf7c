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
    /// This number or less.
    AtMost(f64),
    /// This number or more.
    AtLeast(f64),
}

/// The figures that the report must hold, by JSON pointer, and what each must keep to.
///
/// The F-measures are what listening has to reach on songs with known bars; 20.8 ms is half a frame
/// at 24 frames a second, and a take counts as right only within 100 ms, so that its bound here is
/// the tighter one. The time it took is no figure of these: a busy machine must not fail a test.
/// `cargo xtask bench` shows it.
const FIGURES: [(&str, Bound); 9] = [
    ("/listening/beat_f", Bound::AtLeast(0.85)),
    ("/listening/downbeat_f", Bound::AtLeast(0.65)),
    ("/listening/boundary_f", Bound::AtLeast(0.70)),
    ("/sync/with_song", Bound::AtLeast(12.0)),
    ("/sync/without_song", Bound::AtLeast(1.0)),
    ("/sync/worst_ms", Bound::AtMost(1000.0 / 48.0)),
    ("/cut/shots", Bound::AtLeast(10.0)),
    ("/cut/in_sync_shots", Bound::AtLeast(5.0)),
    ("/cut/worst_shot_of_half_frame", Bound::AtMost(1.0)),
];

/// Pairs of figures that must be equal: all that hold the song are placed, all that do not are left
/// alone, and the cut is as long as the song.
const PAIRS: [(&str, &str); 3] = [
    ("/sync/right", "/sync/with_song"),
    ("/sync/left_alone", "/sync/without_song"),
    ("/cut/frames", "/cut/song_frames"),
];

/// Far longer than anybody looks at the demo.
const OPEN_LIMIT: Duration = Duration::from_secs(30 * 24 * 60 * 60);

/// `cargo xtask demo [DIR] [--no-open]`: ends with the pages, until Ctrl-C, unless `open` is off.
///
/// # Errors
/// When the program could not be built or started.
pub fn command(folder: Option<&str>, open: bool, options: Options) -> Result<bool> {
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
    // A machine that builds and tests has nobody to look.
    if open && std::env::var_os("CI").is_none() {
        println!("\nThe same as pages, in the browser:");
        let mut pages = Command::new(binary(&root)?);
        pages.arg("open").arg(&folder);
        run::attached(&mut pages, OPEN_LIMIT)?;
    }
    Ok(ended.good)
}

/// What builds the program, the tests and the examples at once: apart, the tests' own libraries would change the
/// features of some shared ones and have them built twice. Not ourselves: a program that runs cannot be replaced
/// everywhere.
pub const BUILD_ALL: [&str; 5] = [
    "build",
    "--workspace",
    "--exclude",
    "xtask",
    "--all-targets",
];

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
    let at = |pointer: &str| {
        let found = report.pointer(pointer).and_then(Value::as_f64);
        found.ok_or_else(|| format!("the report has no number at {pointer}"))
    };
    let bound = |&(pointer, bound): &(&str, Bound)| -> Result<(), String> {
        let figure = at(pointer)?;
        match bound {
            Bound::AtMost(most) if figure > most => {
                Err(format!("{pointer} is {figure}, wanted at most {most:.2}"))
            }
            Bound::AtLeast(least) if figure < least => {
                Err(format!("{pointer} is {figure}, wanted at least {least}"))
            }
            _ => Ok(()),
        }
    };
    let pair = |&(one, other): &(&str, &str)| -> Result<(), String> {
        let (first, second) = (at(one)?, at(other)?);
        if first == second {
            return Ok(());
        }
        Err(format!("{one} is {first}, but {other} is {second}"))
    };
    let figures = FIGURES.iter().map(bound);
    let pairs = PAIRS.iter().map(pair);
    figures.chain(pairs).filter_map(Result::err).collect()
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
            "listening": {"beat_f": 0.97, "downbeat_f": 0.97, "boundary_f": 0.9},
            "sync": {
                "with_song": 20, "right": 20, "without_song": 4, "left_alone": 4, "worst_ms": 3.5,
            },
            "cut": {
                "shots": 41, "frames": 3612, "song_frames": 3612, "in_sync_shots": 30,
                "worst_shot_of_half_frame": 0.6,
            },
        })
    }

    #[test]
    fn a_good_report_has_no_problem() {
        assert_eq!(judge(&good()), Vec::<String>::new());
    }

    #[test]
    fn each_figure_out_of_bounds_is_named() {
        let mut report = good();
        report["listening"]["beat_f"] = Value::Null;
        report["cut"]["worst_shot_of_half_frame"] = 1.5.into();
        report["cut"]["frames"] = 3611.into();
        assert_eq!(
            judge(&report),
            [
                "the report has no number at /listening/beat_f",
                "/cut/worst_shot_of_half_frame is 1.5, wanted at most 1.00",
                "/cut/frames is 3611, but /cut/song_frames is 3612",
            ]
        );
    }
}
