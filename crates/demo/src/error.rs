//! What can go wrong while the demo is drawn.

use std::path::PathBuf;

/// Why a take could not be drawn.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The caller asked to stop; nothing is left under the final name.
    #[error("stopped while drawing {file}; nothing was left behind under that name")]
    Stopped {
        /// The take's file.
        file: String,
    },
    /// A file could not be written.
    #[error("could not write {}: {cause}; check that the folder exists and has room", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system or the encoder said.
        cause: String,
    },
}
