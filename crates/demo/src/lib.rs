//! An invented song and the takes of an invented shoot, made by code from a seed.
//!
//! [`compose`] gives the song ("Paper Weather" by Ilse Quarry, about two and a half minutes) with
//! everything that is true of it; [`plan`] the plan of its video; [`takes`] what the camera made
//! that night; [`draw_take`] draws one take to a file: picture, and the song as a camera on set
//! would hear it. The same seed gives the same samples and the same frames.
//!
//! It does not listen, sync or cut, knows no project folder and never looks at a clock. All names,
//! words and music are ours.

mod arrange;
mod band;
mod compose;
mod dice;
mod draw;
mod error;
mod kit;
mod mixer;
mod picture;
mod plan;
mod score;
mod set_sound;
mod takes;
mod truth;
mod voice;

pub use compose::{Composed, SONG_RATE_HZ, compose};
pub use draw::{draw_take, frames};
pub use error::Error;
pub use picture::camera::{Camera, FRAME};
pub use picture::counter::{Counter, read_counter};
pub use plan::{lyric_lines, plan};
pub use set_sound::{STRETCH_SLACK_S, set_sound};
pub use takes::{Codec, Heard, Look, TakePlan, Tracks, takes};
pub use truth::{CURVE_STEP_S, RunTruth, SectionTruth, SongTruth, TakeTruth, Truth};

/// Everything true of the demo, for the caller to write as `demo-truth.json`.
pub fn truth(composed: &Composed, takes: &[TakePlan]) -> Truth {
    Truth {
        seed: composed.seed,
        song: composed.truth.clone(),
        takes: takes.iter().map(|take| take.truth.clone()).collect(),
    }
}
