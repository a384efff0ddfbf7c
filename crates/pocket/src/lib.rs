//! The page in the pocket: one file that a phone opens on set, and the log it gives back.
//!
//! [`Pocket`] is everything such a page shows, as plain values; [`page()`] makes it one HTML file
//! that needs nothing else: no network, no other file. [`mod@log`] is how its log comes back.
//! Pure: pictures and sound come in as bytes, times as instants and as text.
//!
//! # What it does not know
//! Files, the document beyond its ids and log, how a day, a light or a sound was computed.

mod base45;
pub mod log;
mod page;
mod sketch;
mod view;

pub use page::{Page, page};
pub use sketch::sketch;
pub use view::{
    BatteryView, Care, Clock, Contact, LateLine, LeftOut, Link, Moment, PassView, PictureView,
    PlaceView, Pocket, SetupView, Sound,
};
