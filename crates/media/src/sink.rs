//! Raw frames and sound written as a movie file.

use crate::{Error, Tools};
use model::FrameRate;
use std::path::{Path, PathBuf};

/// What movie file to write.
#[derive(Clone, Debug, PartialEq)]
pub struct SinkSpec {
    /// Width of a frame in pixels, even.
    pub width: u32,
    /// Height of a frame in pixels, even.
    pub height: u32,
    /// Frames per second.
    pub rate: FrameRate,
    /// Whether frames are grey (one plane of `width × height`) instead of planar YUV 4:2:0.
    pub gray: bool,
    /// ffmpeg's name of the encoder: `libx264`, `mpeg4`, `mjpeg`, `prores_ks`.
    pub codec: String,
    /// Further encoder options, each as ffmpeg takes it: `["-crf", "23"]`.
    pub codec_options: Vec<String>,
    /// Clockwise quarter turns to show it upright, in degrees: 0, 90, 180 or 270.
    pub rotation_deg: u32,
    /// Timecode of the first frame, `01:00:00:00`.
    pub timecode: Option<String>,
    /// The sound tracks, in order; none is allowed.
    pub audio: Vec<SinkAudio>,
}

/// One sound track of a movie to write.
#[derive(Clone, Debug, PartialEq)]
pub struct SinkAudio {
    /// The sound.
    pub source: SinkSound,
    /// ffmpeg's name of the encoder: `aac`, `pcm_s16le`.
    pub codec: String,
}

/// Where the sound of a movie comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum SinkSound {
    /// A file that ffmpeg can read.
    File(PathBuf),
    /// Samples, full scale ±1.0, one vector per channel.
    Samples {
        /// Samples per second.
        rate_hz: u32,
        /// One vector per channel, all of the same length.
        channels: Vec<Vec<f32>>,
    },
}

/// A movie file being written. Dropped before [`VideoSink::finish`], it leaves nothing behind.
#[derive(Debug)]
pub struct VideoSink {}

impl VideoSink {
    /// Begins a movie at `path`; its ending decides the container (`.mp4`, `.mov`, `.mkv`).
    ///
    /// # Errors
    /// A spec out of range, a folder that cannot be written to, an encoder that is not there.
    pub fn create(_path: &Path, _spec: &SinkSpec, _tools: &Tools) -> Result<Self, Error> {
        Err(Error::Cancelled)
    }

    /// Adds one frame.
    ///
    /// # Errors
    /// A frame of the wrong size, and what ffmpeg refuses.
    pub fn push_frame(&mut self, _frame: &[u8]) -> Result<(), Error> {
        Err(Error::Cancelled)
    }

    /// Closes the movie and gives it its name.
    ///
    /// # Errors
    /// What ffmpeg or the system refuses.
    pub fn finish(self) -> Result<(), Error> {
        Err(Error::Cancelled)
    }
}
