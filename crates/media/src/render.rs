//! The cut rendered with the song, to look at.

use crate::{Error, Note, Probe, Tools};
use model::{Fit, FrameRate, Length};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A cut to render.
#[derive(Clone, Debug)]
pub struct PreviewJob {
    /// The shots, in order, without gaps.
    pub shots: Vec<PreviewShot>,
    /// Frames per second.
    pub rate: FrameRate,
    /// Width and height of the frame in pixels; odd numbers are made even.
    pub frame: [u32; 2],
    /// Shape of the active picture, width to height, when it differs from the frame.
    pub active: Option<[u32; 2]>,
    /// How a take of another shape is brought into the active picture.
    pub fit: Fit,
    /// The song's file.
    pub song: PathBuf,
    /// How long the song sounds; after it there is silence, to the cut's end.
    pub song_length: Length,
    /// Where the preview goes (an MP4).
    pub out: PathBuf,
    /// Probes made already; takes not in it are probed.
    pub probes: BTreeMap<PathBuf, Probe>,
}

/// One shot to render.
#[derive(Clone, Debug, PartialEq)]
pub struct PreviewShot {
    /// How many frames of the cut it fills.
    pub frames: i64,
    /// The take's file; `None` is black.
    pub take: Option<PathBuf>,
    /// How far into the take its first frame lies, in seconds.
    pub take_start_s: f64,
    /// Song seconds per take second: one second of the cut uses `1 / speed` seconds of the take.
    pub speed: f64,
    /// Burnt in at the lower left, when given (ASCII; other letters are shown as `?`).
    pub label: Option<String>,
}

/// What was rendered.
#[derive(Clone, Debug, PartialEq)]
pub struct Rendered {
    /// Frames in the file: those of the cut.
    pub frames: i64,
    /// What is worth telling: held frames, cards.
    pub notes: Vec<Note>,
}

/// Renders the cut. Frame `n` of a shot shows the take's frame that covers
/// `take_start_s + n / rate / speed`.
///
/// `progress` is told the share done, 0 to 1, several times a second; once it answers `false`
/// the work stops within a second and leaves nothing behind.
///
/// # Errors
/// [`Error::Cancelled`], [`Error::DiskFull`], and what ffmpeg or the system refuses. A take that
/// cannot be shown is no error: a card with its name stands for it, and a note says why.
pub fn render_preview(
    _job: &PreviewJob,
    _tools: &Tools,
    _progress: &dyn Fn(f32) -> bool,
) -> Result<Rendered, Error> {
    Err(Error::Cancelled)
}
