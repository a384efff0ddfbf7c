//! `cargo xtask picture`: makes the README's pictures anew from a demo, so that they never show
//! what the program does not do.

use std::process::Command;
use std::time::Duration;

use anyhow::{Context, Result, bail};

use crate::setup::Options;
use crate::{demo, run};

/// What the README shows of a preview: twelve frames, one every twelve seconds.
const SHEET: &str = "fps=1/12,scale=320:-2,tile=4x3";

/// Makes the demo in `out/demo` when it is not there, and the pictures from it.
///
/// # Errors
/// When there is no demo, no ffmpeg, or a picture can't be written.
pub fn command(options: Options) -> Result<bool> {
    let root = crate::root();
    let assembly = root.join("out/demo/assembly");
    let strip = assembly.join("v001-strip.svg");
    let preview = assembly.join("v001-preview.mp4");
    let there = strip.is_file() && preview.is_file();
    if !there && !demo::command(None, false, options)? {
        bail!("the demo ended badly, so there is nothing to picture");
    }
    let pictures = root.join("docs/pictures");
    std::fs::create_dir_all(&pictures).context("docs/pictures could not be made")?;
    std::fs::copy(&strip, pictures.join("strip.svg"))
        .with_context(|| format!("{} could not be copied", strip.display()))?;
    let mut sheet = Command::new("ffmpeg");
    sheet
        .args(["-v", "error", "-nostdin", "-y", "-i"])
        .arg(&preview)
        .args(["-vf", SHEET, "-frames:v", "1", "-q:v", "4"])
        .arg(pictures.join("night.jpg"));
    let made = run::attached(&mut sheet, Duration::from_secs(300))?;
    if !made.good {
        bail!("the sheet of frames could not be made ({})", made.how);
    }
    println!("made docs/pictures/strip.svg and docs/pictures/night.jpg");
    Ok(true)
}
