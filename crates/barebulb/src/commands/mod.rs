//! One file per command.

pub mod assemble;
pub mod coverage;
pub mod day;
pub mod demo;
pub mod document;
pub mod kit;
pub mod listen;
pub mod new;
pub mod next;
pub mod open;
pub mod plan;
pub mod playback;
pub mod pocket;
pub mod scout;
pub mod sky;
pub mod sync;

use crate::End;
use crate::screen::Screen;
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
