//! The song, composed.

use crate::truth::SongTruth;

/// Sample rate of the composed song.
pub const SONG_RATE_HZ: u32 = 48_000;

/// The song and what else is heard on set.
#[derive(Clone, Debug)]
pub struct Composed {
    /// The seed it came from.
    pub seed: u64,
    /// The mixed song: left and right, interleaved, at [`SONG_RATE_HZ`], within ±1.
    pub sound: Vec<f32>,
    /// What is true of it.
    pub truth: SongTruth,
    /// The performer singing along on set, mono, dry, in song time.
    pub(crate) live_voice: Vec<f32>,
    /// Another song that plays in the room in one take, mono.
    pub(crate) other_song: Vec<f32>,
}

/// Composes the song from `seed`. The same seed gives the same samples.
pub fn compose(seed: u64) -> Composed {
    todo!("{seed}")
}
