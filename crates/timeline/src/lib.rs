//! The cut as others read it: OpenTimelineIO, an edit list, captions, and a listing.
//!
//! Values in, text out. It knows nothing of files, clocks, screens or other crafts.
//!
//! # Conventions
//! - *Record* is the cut's side, counted in whole frames of the cut from 0, which is the first
//!   sample of the song. Its timecode starts at 01:00:00:00 (common practice).
//! - *Source* is the take's side, counted in the take's own frames from 0, the first frame of the file.
//! - The *time scalar* of a shot is take seconds per record second: ½ shows a pass made to
//!   double-speed playback at half speed. It is the inverse of [`model::Shot::speed`].
//! - 29.97 and 59.94 are counted drop-frame on the record side, so that labels keep to the clock.
//!
//! # What it leaves out
//! Transitions, several picture tracks, and picture changes other than speed.

pub mod edit;
pub mod edl;
pub mod error;
pub mod listing;
pub mod otio;
pub mod place;
#[cfg(test)]
mod properties;
pub mod ratio;
mod reel;
pub mod timecode;
pub mod url;
pub mod webvtt;

pub use edit::{Edit, SongRef, TakeRef, Written};
pub use edl::edl;
pub use error::{Error, Note};
pub use listing::{Listing, listing};
pub use otio::otio;
pub use place::{PlacedShot, placed_shots};
pub use ratio::Ratio;
pub use timecode::{Counting, Timecode, TimecodeError};
pub use webvtt::webvtt;
