//! Photographs from a walk → places, the light found there, and what is still to ask.
//!
//! [`group()`] sorts photographs into places by position, and by time where a position is missing;
//! [`bring_in`] makes of that what the document takes in. [`report()`] says all of a place in one piece,
//! with its light ([`model::metering`]), and [`to_ask`] what nobody has said of it yet.
//!
//! # Conventions
//! - Positions are latitude and longitude in degrees, north and east positive (WGS 84).
//! - Distances are metres on a sphere, within 0.6 % of the ellipsoid's.
//! - Bearings are degrees from north through east.
//! - A stop is a factor of two; an uncertainty of ±1 stop means half to twice as much.
//!
//! # What it does not know
//! Files, EXIF, the sun, the store, other crafts. It does not look at the pictures, corrects no
//! clock, and never moves or merges places that somebody made.

mod ask;
mod bring;
mod distance;
mod group;
mod report;

pub use ask::to_ask;
pub use bring::{BroughtIn, bring_in};
pub use distance::{EARTH_RADIUS_M, distance_m, middle};
pub use group::{Group, Grouping, Options, Walked, group};
pub use report::{PhotoReport, PlaceReport, report};

/// Why photographs could not be grouped.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A distance or time that nothing can be grouped by.
    #[error("{what} of {met} can't be grouped by; write {allowed}")]
    OutOfRange {
        /// What it is.
        what: &'static str,
        /// What was given.
        met: f64,
        /// What is allowed.
        allowed: &'static str,
    },
    /// More than one walk's worth.
    #[error("{met} photographs at once are too many; bring in at most {most} at a time")]
    TooMany {
        /// How many were given.
        met: usize,
        /// The limit.
        most: usize,
    },
}
