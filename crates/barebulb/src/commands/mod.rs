//! One file per command.

pub mod assemble;
pub mod coverage;
pub mod day;
pub mod demo;
pub mod document;
pub mod kit;
pub mod listen;
pub mod new;
pub mod open;
pub mod plan;
pub mod playback;
pub mod pocket;
pub mod scout;
pub mod sky;
pub mod sync;

use crate::End;
use crate::screen::Screen;
use model::{Project, TakeId};
use steps::Trouble;

/// Says what could not be done, and gives the end that tells of it.
fn tell(trouble: &[Trouble], screen: &Screen) -> End {
    for one in trouble {
        screen.trouble(&one.file, &one.says);
    }
    if trouble.is_empty() {
        End::Done
    } else {
        End::Partly
    }
}

/// The take called `text`, or a sentence with what there is.
fn take_id(project: &Project, text: &str) -> anyhow::Result<TakeId> {
    if let Some(take) = project.takes.iter().find(|take| take.id.as_str() == text) {
        return Ok(take.id.clone());
    }
    let known: Vec<&str> = project
        .takes
        .iter()
        .take(12)
        .map(|take| take.id.as_str())
        .collect();
    let more = if project.takes.len() > 12 {
        ", …"
    } else {
        ""
    };
    if known.is_empty() {
        anyhow::bail!(
            "there is no take `{text}`: the project has no takes yet; bring them in with `barebulb sync DIR FOLDER`"
        );
    }
    anyhow::bail!(
        "there is no take `{text}`; there are {}{more}",
        known.join(", ")
    )
}
