//! Place and date to sky: sun, moon, twilight, moonlight, and when a street has sun.
//!
//! Values in, values out: it reads no clock and no file, and the zones it knows are compiled in.
//! It knows nothing of projects, schedules or screens.
//!
//! # Conventions
//! - Degrees; latitude north, longitude east positive (WGS 84, sea level); azimuth from north
//!   through east, 0 to 360.
//! - Altitudes are airless, of a body's centre, seen from the place; `_refracted_` ones are lifted
//!   by [`refraction_deg`].
//! - Sunrise and sunset: the sun's centre at −50′ ([`SUNRISE_DEG`]). Moonrise and moonset: the moon's
//!   upper limb, by its true radius and distance, at −34′. Twilights end at −6, −12, −18 degrees.
//! - A day is a civil day of a zone: from its first instant to the next day's first, 23 or 25 hours
//!   where clocks change.
//!
//! # What it leaves out
//! Weather, height above the sea, the dip of a sea horizon, eclipses, and the light of towns.
//! Refraction at the horizon varies by minutes of arc with the weather, so no rise or set can be
//! foretold to better than half a minute or so, whatever the digits.
//!
//! # Example
//! ```
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let place = sky::Place::new(41.15, -8.61)?;
//! let zone = sky::Zone::named("Europe/Lisbon")?;
//! let day = sky::day(&place, &zone, "2026-06-21".parse()?, &sky::Bands::default())?;
//! assert_eq!(day.sun.sunset.map(|at| at.clock()), Some("21:11".to_owned()));
//! # Ok(())
//! # }
//! ```

/// A calendar date.
pub use jiff::civil::Date;

mod civil;
mod crossings;
mod curve;
mod day;
mod direct;
mod earth;
mod ephemeris;
mod error;
mod light;
mod moon;
mod phases;
mod place;
mod position;
#[cfg(test)]
mod properties;
mod report;
mod rounded;
mod search;
mod series;
#[cfg(test)]
mod tests;
mod timescale;
mod windows;

pub use civil::{When, Zone, clock};
pub use curve::{Curve, Daylight, curve};
pub use day::{
    Bands, Day, Event, Interval, MoonDay, SUNRISE_DEG, Stays, SunDay, TWILIGHTS_DEG, What,
};
pub use direct::{Bearing, Passing, Shadow, Side, bearing, direct_sun, passings, shadow};
pub use earth::refraction_deg;
pub use error::{Error, YEARS};
pub use light::{NIGHT_SKY_LUX, moonlight_lux, skylight_lux};
pub use moon::parallax_deg;
pub use phases::{Phase, next_phases};
pub use place::{Horizon, Place};
pub use position::{Light, Look, MoonAt, SunAt, look};
pub use report::{Along, Moon, NextPhase, Question, Report, Sun, report};
pub use search::{day, days};
pub use windows::Windows;
