//! The project document: every noun of the trade as a plain type, with units and exact time.
//!
//! It knows nothing of files, clocks, screens or other crates of ours. Everybody else speaks in
//! its words.

pub mod ids;
pub mod noun;
pub mod song;
pub mod time;

pub use ids::{NoteId, PlaceId, SetupId, TakeId};
pub use song::{Bar, Corrections, LyricLine, MarkedSection, MediaFile, Section, Song, SongMap};
pub use time::{FrameRate, Length, Offset, SongTime, Stretch, TICKS_PER_SECOND};
