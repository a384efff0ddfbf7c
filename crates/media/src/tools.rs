//! ffmpeg and ffprobe: found, and new enough.

use crate::Error;
use std::path::PathBuf;

/// ffmpeg and ffprobe, found and new enough (4.4).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tools {
    pub(crate) ffmpeg: PathBuf,
    pub(crate) ffprobe: PathBuf,
    version: String,
}

impl Tools {
    /// Finds both: where `BAREBULB_FFMPEG` and `BAREBULB_FFPROBE` say, otherwise on the `PATH`.
    ///
    /// # Errors
    /// [`Error::Missing`], [`Error::TooOld`], [`Error::Killed`].
    pub fn find() -> Result<Self, Error> {
        Err(Error::Cancelled)
    }

    /// The version as ffmpeg writes it.
    pub fn version(&self) -> &str {
        &self.version
    }
}
