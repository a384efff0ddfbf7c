//! The project document: every noun of the trade as a plain type, with units and exact time.
//!
//! It knows nothing of files, clocks, screens or other crates of ours. Everybody else speaks in
//! its words.

pub mod bar;
pub mod clock;
pub mod cut;
pub mod date;
pub mod day;
pub mod describe;
pub mod edit;
pub mod finding;
pub mod ids;
pub mod kit;
pub mod log;
pub mod metering;
pub mod minutes;
pub mod noun;
pub mod path;
pub mod place;
pub mod plan;
pub mod plan_file;
pub mod practice;
pub mod project;
pub mod ratio;
pub mod schema;
pub mod section;
pub mod setup;
pub mod song;
pub mod take;
pub mod text;
pub mod time;
pub mod typed;
pub mod upgrade;
pub mod validate;
pub mod way;
pub mod weights;
pub mod window;

pub use bar::BarWorth;
pub use clock::ClockTime;
pub use cut::{Ban, Cut, Lock, Shot};
pub use date::Date;
pub use day::{AirAt, Day, Slot};
pub use edit::{Correction, Edit, Listed, Refusal};
pub use finding::{About, Finding, Severity};
pub use ids::{DayId, DeviceId, KitId, NoteId, PersonId, PlaceId, SetupId, TakeId, WishId};
pub use kit::{
    Battery, Camera, Card, Charger, Chemistry, Filter, Holding, Inverter, KitItem, Lens, Light,
    Readout, Recording, Sort,
};
pub use log::{LogEntry, LogWhat, PassShot, SetupShot, SoFar, Swapped};
pub use minutes::Minutes;
pub use place::{
    Danger, Hazard, Leave, Mains, Permission, Photo, PhotosAt, Place, Reading, Travel,
};
pub use plan::{Brief, Fit, Idea, Person, Reference, Wish};
pub use practice::Practice;
pub use project::{Document, FORMAT, Project};
pub use ratio::Ratio;
pub use setup::{
    Ambient, Effect, FallsOn, Framing, KitUse, LightUse, Mount, Optics, Purpose, Setup, SkyLight,
};
pub use song::{Bar, Corrections, LyricLine, MarkedSection, MediaFile, Section, Song, SongMap};
pub use take::{
    Alternative, HandPlacement, Picture, PictureTrack, PlacedTake, Placement, Rating, Run, Take,
};
pub use time::{FrameRate, Length, Offset, SongTime, Stretch, TICKS_PER_SECOND};
pub use weights::Weights;

/// The sum of `numbers`; 0 of none, where [`Iterator::sum`] gives −0, which a person would read.
pub fn total(numbers: impl IntoIterator<Item = f64>) -> f64 {
    numbers.into_iter().fold(0.0, |sum, one| sum + one)
}
