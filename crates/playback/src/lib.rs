//! The sound file for the loudspeaker: a stretch of the song at the speed its setup needs, counted
//! in on the beat, between two sync beeps, with timecode beside it where a recorder takes it.
//!
//! Gives: [`make`], from song samples and the song's beats to the samples of the file, with a
//! [`Layout`] that says where everything in it lies. Pure functions of values: it opens no file,
//! prints nothing, reads no clock, and knows neither the document nor other crafts.
//!
//! # Conventions
//! - Speed is song seconds per second of the file: 2 for 48 frames a second shown at 24.
//! - Samples are planar, full scale ±1; samples that are no numbers count as silence.
//! - The file has the song's sample rate and its first two channels; with timecode, all of the
//!   song's channels as one on the left and the timecode on the right.
//! - The sample at which the stretch starts holds the song sample nearest to the stretch's start.
//!   All other places follow from it exactly, by the speed as a fraction.
//!
//! # The file
//! Silence, head beep, two bars counted in with clicks while the song runs below them (where it has
//! begun; before that the beats go on backwards over silence), the stretch without clicks, a short
//! fade where the song goes on behind it, tail beep, silence.
//!
//! # What it leaves out
//! Resampling to another rate; more than two channels; room or loudspeaker correction. Struck
//! sounds are exact with the pitch kept; soft starts are within a frame of the vocoder (64 ms in
//! the song, weighted to its middle).

mod count_in;
mod error;
mod layout;
mod level;
pub mod ltc;
mod make;
mod report;
mod resample;
mod speed;
mod stretch;
mod tones;

pub use count_in::{BARS, CountIn};
pub use error::Error;
pub use layout::{Click, Course, Layout, Spacing};
pub use level::{CEILING_DBTP, Level, Reading};
pub use make::{Made, Note, Request, Timecode, make};
pub use report::{Report, ReportTimecode, report};
pub use speed::{FOLLOWS_RANGE, KEPT_RANGE, Pitch, Speed, SpeedError};
pub use tones::{ACCENT_HZ, BEAT_HZ, BEEP_HZ};

/// Version of the method, raised whenever a file made from the same request may differ.
pub const VERSION: u32 = 1;
