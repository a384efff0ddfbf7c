//! A day's sky, or many days': every rise, set, dawn, dusk and noon, in civil days of a zone.
//!
//! Nothing is assumed of a day: it may hold no sunrise, or two, or a sunset before any sunrise. How
//! they are found is in `search`.

use crate::civil::When;
use crate::rounded::{degrees, maybe_degrees};
use jiff::civil::Date;
use serde::Serialize;

/// Airless altitude of the sun's centre at sunrise and sunset, degrees: 34′ of refraction and 16′
/// of radius below level (the convention of almanacs).
pub const SUNRISE_DEG: f64 = -50.0 / 60.0;

/// Of the sun's centre at the outer edges of civil, nautical and astronomical twilight.
pub const TWILIGHTS_DEG: [f64; 3] = [-6.0, -12.0, -18.0];

/// Sun altitudes that people call golden and blue: no standard, common practice, yours to change.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bands {
    /// Airless altitude of the sun's centre, from and to, degrees.
    pub golden_deg: (f64, f64),
    /// Likewise.
    pub blue_deg: (f64, f64),
}

impl Default for Bands {
    fn default() -> Self {
        Self::from(&model::Practice::default())
    }
}

impl From<&model::Practice> for Bands {
    fn from(practice: &model::Practice) -> Self {
        Self {
            golden_deg: (practice.golden_from_deg, practice.golden_to_deg),
            blue_deg: (practice.blue_from_deg, practice.blue_to_deg),
        }
    }
}

/// What happens in the sky.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Sun at −18°, rising.
    AstronomicalDawn,
    /// Sun at −12°, rising.
    NauticalDawn,
    /// Sun at −6°, rising.
    CivilDawn,
    /// Sun at [`SUNRISE_DEG`], rising.
    Sunrise,
    /// Sun's centre on the meridian, on the upper side.
    SolarNoon,
    /// Sun at [`SUNRISE_DEG`], setting.
    Sunset,
    /// Sun at −6°, setting.
    CivilDusk,
    /// Sun at −12°, setting.
    NauticalDusk,
    /// Sun at −18°, setting.
    AstronomicalDusk,
    /// Moon's upper limb, lifted by 34′, at the horizon, rising.
    Moonrise,
    /// Likewise, setting.
    Moonset,
    /// A principal phase.
    NewMoon,
    /// A principal phase.
    FirstQuarter,
    /// A principal phase.
    FullMoon,
    /// A principal phase.
    LastQuarter,
}

/// Something that happens, with the azimuth of the body that it happens to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Event {
    /// When, to the second.
    pub at: When,
    /// What.
    pub what: What,
    /// Of the sun, or of the moon, from north through east.
    #[serde(serialize_with = "degrees")]
    pub azimuth_deg: f64,
}

/// A stretch of time inside a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// Its start, or the day's.
    pub from: When,
    /// Its end, or the day's.
    pub to: When,
}

/// Whether a body is above the horizon in a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stays {
    /// It rises or sets.
    Crosses,
    /// Up all day.
    Up,
    /// Down all day.
    Down,
}

/// The sun's day. Where something happens twice, the first; all are in [`Day::events`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SunDay {
    /// See [`What::Sunrise`].
    pub sunrise: Option<When>,
    /// See [`What::Sunset`].
    pub sunset: Option<When>,
    /// See [`What::SolarNoon`].
    pub solar_noon: Option<When>,
    /// See [`What::CivilDawn`].
    pub civil_dawn: Option<When>,
    /// See [`What::CivilDusk`].
    pub civil_dusk: Option<When>,
    /// See [`What::NauticalDawn`].
    pub nautical_dawn: Option<When>,
    /// See [`What::NauticalDusk`].
    pub nautical_dusk: Option<When>,
    /// See [`What::AstronomicalDawn`].
    pub astronomical_dawn: Option<When>,
    /// See [`What::AstronomicalDusk`].
    pub astronomical_dusk: Option<When>,
    /// Airless altitude at solar noon.
    #[serde(serialize_with = "maybe_degrees")]
    pub noon_altitude_deg: Option<f64>,
    /// Polar day and polar night.
    pub stays: Stays,
}

/// The moon's day; the first of each, as for [`SunDay`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MoonDay {
    /// See [`What::Moonrise`].
    pub moonrise: Option<When>,
    /// See [`What::Moonset`].
    pub moonset: Option<When>,
    /// Whether it rises at all.
    pub stays: Stays,
}

/// A civil day's sky.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Day {
    /// The date.
    pub date: Date,
    /// Its first instant.
    pub starts: When,
    /// The next day's first.
    pub ends: When,
    /// The sun.
    pub sun: SunDay,
    /// The moon.
    pub moon: MoonDay,
    /// Stretches of golden light, in order.
    pub golden_hour: Vec<Interval>,
    /// Stretches of blue light, in order.
    pub blue_hour: Vec<Interval>,
    /// Everything that happens, in order.
    pub events: Vec<Event>,
}
