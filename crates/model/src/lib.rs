//! The project document: every noun of the trade as a plain type, with units and exact time.
//!
//! It knows nothing of files, clocks, screens or other crates of ours. Everybody else speaks in
//! its words.

pub mod cut;
pub mod edit;
pub mod ids;
pub mod noun;
pub mod plan;
pub mod plan_file;
pub mod project;
pub mod song;
pub mod take;
pub mod time;
pub mod validate;
pub mod weights;

pub use cut::{Cut, Lock, Shot};
pub use edit::{Correction, Edit, Refusal};
pub use ids::{NoteId, PlaceId, SetupId, TakeId};
pub use plan::{Brief, Fit, Framing, Idea, Person, Place, Purpose, Reference, Setup, Wish};
pub use project::{FORMAT, Project};
pub use song::{Bar, Corrections, LyricLine, MarkedSection, MediaFile, Section, Song, SongMap};
pub use take::{
    Alternative, HandPlacement, Picture, PictureTrack, PlacedTake, Placement, Rating, Run, Take,
};
pub use time::{FrameRate, Length, Offset, SongTime, Stretch, TICKS_PER_SECOND};
pub use weights::Weights;
