//! Why a song or a take could not be worked on.

/// Causes, each with the value met and the range allowed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A sample rate out of range.
    #[error("{rate_hz} samples per second is no usable rate; it lies between 1000 and 768000")]
    Rate {
        /// The rate met.
        rate_hz: u32,
    },
    /// The song is too short to place anything on it.
    #[error("the song is {length_s:.2} s long; syncing needs at least {least_s} s of it")]
    SongTooShort {
        /// Its length in seconds.
        length_s: f64,
        /// The least length in seconds.
        least_s: f64,
    },
    /// The song is longer than a song.
    #[error(
        "the song is {length_s:.0} s long; syncing takes songs up to {most_s:.0} s, so give the song alone"
    )]
    SongTooLong {
        /// Its length in seconds.
        length_s: f64,
        /// The greatest length in seconds.
        most_s: f64,
    },
    /// Nothing to hear in the song.
    #[error(
        "the song is silent between 250 and 3750 Hz, so no take can be heard against it; check the file"
    )]
    SongSilent,
    /// A take without any audio channel.
    #[error("the take has no audio, so it can only be placed by hand or used as b-roll")]
    NoSound,
    /// The caller said to stop.
    #[error("stopped before the take was placed")]
    Stopped,
}
