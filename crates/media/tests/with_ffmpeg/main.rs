//! What can only be tested with ffmpeg at hand.
//!
//! Without it every test here is passed over and says so; with `BAREBULB_REQUIRE_FFMPEG=1` its
//! absence is a failure, so that a continuous check cannot be green by leaving them out.

mod bad_files;
mod hostile;
mod impulse;
mod jpegs;
mod measured;
mod phone;
mod probed;
mod rendered;
mod sunk;
mod viewed;

use media::Tools;
use std::path::Path;
use std::process::Command;

/// ffmpeg, or `None` after saying loudly that `test` was passed over.
pub fn tools(test: &str) -> Option<Tools> {
    match Tools::find() {
        Ok(tools) => Some(tools),
        Err(error) => {
            let required = std::env::var_os("BAREBULB_REQUIRE_FFMPEG").is_some_and(|v| v == "1");
            assert!(!required, "{test} needs ffmpeg: {error}");
            eprintln!("skipped: {test}: {error}");
            None
        }
    }
}

fn program(name: &str) -> Command {
    let variable = format!("BAREBULB_{}", name.to_uppercase());
    Command::new(std::env::var_os(variable).unwrap_or_else(|| name.into()))
}

/// Runs ffmpeg as a maker of test files; `false` when it refuses (an encoder it does not have).
pub fn ffmpeg_tries(folder: &Path, arguments: &str) -> bool {
    program("ffmpeg")
        .current_dir(folder)
        .args(["-hide_banner", "-nostdin", "-v", "error", "-y"])
        .args(arguments.split_whitespace())
        .output()
        .is_ok_and(|done| done.status.success())
}

/// Runs ffmpeg as a maker of test files.
pub fn ffmpeg(folder: &Path, arguments: &str) {
    assert!(ffmpeg_tries(folder, arguments), "ffmpeg {arguments}");
}

/// What ffprobe or ffmpeg writes to standard output.
pub fn output_of(name: &str, arguments: &[&str], file: &Path) -> Vec<u8> {
    let mut command = program(name);
    command.args(["-hide_banner", "-v", "error"]);
    if name == "ffmpeg" {
        command.args(["-nostdin", "-i"]).arg(file).args(arguments);
    } else {
        command.args(arguments).arg(file);
    }
    command.output().unwrap().stdout
}
