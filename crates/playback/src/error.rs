//! Why no playback file could be made.

use crate::speed::SpeedError;
use model::{FrameRate, Length, Stretch};

/// Causes, each with the value met and the range allowed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A sample rate out of range.
    #[error("the song has {rate_hz} samples per second; playback takes 8000 to 384000")]
    Rate {
        /// The rate met.
        rate_hz: u32,
    },
    /// A song without sound.
    #[error("the song holds no sound, so there is nothing to play; check the file")]
    NoSound,
    /// Channels of unequal length.
    #[error("the song's channels are {first} and {other} samples long; they must be equally long")]
    Channels {
        /// Length of the first channel.
        first: usize,
        /// Length of one that differs.
        other: usize,
    },
    /// A speed that is none, or beyond what can be made.
    #[error(transparent)]
    Speed(#[from] SpeedError),
    /// A stretch that lies wholly outside the song.
    #[error("the stretch {stretch} lies outside the song, which is {length} long")]
    StretchOutside {
        /// The stretch met.
        stretch: Stretch,
        /// How long the song is.
        length: Length,
    },
    /// A file longer than anybody would play.
    #[error(
        "the file would be {length_s:.0} s long; it may have {most_s:.0} s, so take a shorter stretch or silence"
    )]
    TooLong {
        /// Its length in seconds.
        length_s: f64,
        /// The greatest length in seconds.
        most_s: f64,
    },
    /// A tempo to count in at that nobody can play.
    #[error(
        "a count-in at {bpm} beats a minute in bars of {beats_per_bar} is not playable; give 20 to 400 and bars of 1 to 32"
    )]
    CountIn {
        /// Beats a minute.
        bpm: f64,
        /// Beats in a bar.
        beats_per_bar: u32,
    },
    /// A rate that has no linear timecode.
    #[error(
        "there is no linear timecode at {rate} frames a second; it exists at 23.976, 24, 25, 29.97 and 30"
    )]
    TimecodeRate {
        /// The rate met.
        rate: FrameRate,
    },
    /// Too few samples a second to carry timecode.
    #[error(
        "timecode needs {least_hz} samples per second or more, and the song has {rate_hz}; leave it off"
    )]
    TimecodeSampleRate {
        /// The rate met.
        rate_hz: u32,
        /// The least rate.
        least_hz: u32,
    },
    /// The loudness meter refused.
    #[error("loudness could not be measured: {0}")]
    Meter(String),
    /// The caller said to stop.
    #[error("stopped before the playback file was made")]
    Stopped,
}
