//! What the camera made that night: which takes there are, and what is true of each.

use crate::compose::Composed;
use crate::truth::TakeTruth;
use model::Project;

/// What the take's picture is coded with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Codec {
    /// H.264.
    H264,
    /// MPEG-4 part 2.
    Mpeg4,
    /// Motion JPEG.
    Mjpeg,
}

/// What the take's sound holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tracks {
    /// One channel.
    Mono,
    /// Two channels.
    Stereo,
    /// Two tracks: hum alone on the first, the set on the second.
    HumThenSet,
}

/// What plays on set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard {
    /// The song.
    Song,
    /// The song at another speed with its pitch kept.
    SongPitchKept,
    /// Another song.
    Other,
    /// Nothing.
    Nothing,
}

/// What is wrong with the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Nothing.
    Good,
    /// Focus is behind the subject.
    Soft,
    /// Two stops under.
    Under,
}

/// One take to draw.
#[derive(Clone, Debug)]
pub struct TakePlan {
    /// What is true of it; [`TakeTruth::file`] is its file's name.
    pub truth: TakeTruth,
    /// Picture codec.
    pub codec: Codec,
    /// Sound.
    pub tracks: Tracks,
    /// Sample rate of its sound.
    pub sample_rate_hz: u32,
    /// What plays on set.
    pub heard: Heard,
    /// What is wrong with the picture.
    pub look: Look,
    /// Shot upright on a phone: stored lying, with a rotation of 90°.
    pub upright: bool,
    /// Timecode of its first frame.
    pub start_timecode: String,
}

/// Every take of the night, in the order they were shot.
pub fn takes(composed: &Composed, project: &Project) -> Vec<TakePlan> {
    let _ = (composed, project);
    Vec::new()
}
