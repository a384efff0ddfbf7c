//! The steps of the job, each joining crafts with the store and the files: take in the song,
//! listen, bring in photographs and takes, place them, count coverage, cut, write the timelines, render the preview.
//!
//! The command line and the pages call these and nothing below them, so that both do the same. A
//! step reads the document, computes (or finds in the cache) what it needs, and makes at most one
//! edit. What it could not do for one take it says and goes on with the others.
//!
//! It knows the crafts, the store and the files. It does not know how anything is shown, and asks
//! nobody anything; whoever calls it passes a [`Progress`] to watch and to stop it.

mod assembly;
mod bare;
mod by_hand;
mod day;
mod error;
mod files;
mod gather;
mod job;
pub mod known;
mod loudspeaker;
mod next;
mod night;
mod pins;
mod planning;
mod pocket;
mod practice;
mod progress;
mod scouting;
mod shoot_log;
mod sky_curves;
mod song;
mod takes;
mod viewing;

/// What a file's reader or maker noted in sentences, as findings of one kind.
pub(crate) fn noted<'a, T: ToString + 'a>(
    kind: &'static str,
    notes: impl IntoIterator<Item = &'a T>,
) -> impl Iterator<Item = model::Finding> {
    let notes = notes.into_iter();
    notes.map(move |note| model::Finding::note(kind, note.to_string()))
}

pub use self::pocket::{PocketMade, PocketOptions, PocketReport, pocket_file};
pub use assembly::{Covered, Made, MadeFiles, PreviewMade, question};
pub use bare::{BareTake, listen_file, sync_files};
pub use by_hand::{ShotAt, back_to, lock_over};
pub use day::{DayOptions, DaysReport, OneDay};
pub use error::{Error, Trouble};
pub use files::{read_at_most, write_text};
pub use gather::{Gathered, TakeState};
pub use job::{Job, now, rescue};
pub use loudspeaker::{PlaybackFile, PlaybackOptions, playback_files};
pub use next::{Known, Next, Standing, Stands, Step, standing};
pub use night::{
    Darkest, DayReport, DaySummary, KitOptions, KitReport, Only, PlaceSky, Summary, from_target,
};
pub use pins::{Pin, pin};
pub use planning::{BarsPlanned, plan_bars, take_advice};
pub use practice::{PracticeValue, practice_values};
pub use progress::{Progress, Quiet};
pub use scouting::{ByHand, ScoutOptions, Scouted};
pub use shoot_log::LogTaken;
pub use sky_curves::SkyCurve;
pub use song::Heard;
pub use takes::{Brought, assign};
pub use viewing::{TakeView, still_path, view_path};
