//! An invented song and the takes of an invented shoot, made by code from a seed.
//!
//! [`compose`] gives the song ("Paper Weather" by Ilse Quarry, about two and a half minutes) with
//! everything that is true of it; [`plan`] the plan of its video, as `plan.toml` has it; [`walk`] what a phone saw
//! of its places the week before, and [`draw_photo`] draws it; [`takes`] what the camera made that night;
//! [`draw_take`] draws one take to a file: picture, and the song as a camera on set would hear it. The same seed gives the same samples and the same frames.
//!
//! It does not listen, sync or cut, knows no project folder and never looks at a clock. All names,
//! words and music are ours.

mod arrange;
mod band;
mod compose;
mod dice;
mod draw;
mod error;
mod mixer;
mod picture;
mod plan;
mod score;
mod set_sound;
mod takes;
mod truth;
mod voice;
mod walk;

pub use compose::{Composed, SONG_RATE_HZ, compose};
pub use draw::{draw_take, frames};
pub use error::Error;
pub use picture::camera::{Camera, FRAME};
pub use picture::counter::{Counter, draw as draw_counter};
pub use picture::frame::Plane;
pub use plan::plan;
pub use set_sound::{STRETCH_SLACK_S, set_sound};
pub use takes::{Codec, Heard, Look, TakePlan, Tracks, takes};
pub use truth::{CURVE_STEP_S, PhotoTruth, RunTruth, SectionTruth, SongTruth, TakeTruth, Truth};
pub use walk::{PhotoPlan, draw_photo};

/// The photographs of the scouting walk through `plan`'s places, and one street more.
pub fn walk(seed: u64, plan: &model::Project) -> Vec<PhotoPlan> {
    let position = |id: &str| {
        plan.places
            .iter()
            .find(|place| place.id.as_str() == id)?
            .position_deg
    };
    walk::photos(seed, &position)
}

/// Everything true of the demo, for the caller to write as `demo-truth.json`.
pub fn truth(composed: &Composed, walk: &[PhotoPlan], takes: &[TakePlan]) -> Truth {
    Truth {
        seed: composed.seed,
        song: composed.truth.clone(),
        photos: walk.iter().map(|photo| photo.truth.clone()).collect(),
        takes: takes.iter().map(|take| take.truth.clone()).collect(),
    }
}
