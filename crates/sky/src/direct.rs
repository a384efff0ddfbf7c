//! When direct sun reaches a place past what stands around it, where shadows fall, and how the sun
//! stands to a street.
//!
//! Refraction is that of [`crate::refraction_deg`]; obstructions are directions only, so a place is
//! a point, not a stage.

use crate::civil::Zone;
use crate::crossings::Samples;
use crate::day::{Interval, SUNRISE_DEG};
use crate::earth::{Seen, refraction_deg};
use crate::ephemeris::Ephemeris;
use crate::error::Error;
use crate::place::{Horizon, Place};
use crate::position::SunAt;
use crate::rounded::degrees;
use crate::search::{intervals, read};
use crate::{When, civil::Bounds};
use jiff::civil::Date;
use serde::Serialize;

/// Days between samples: in a minute the sun moves a quarter of a degree, so gaps between two roofs
/// narrower than that can be missed.
const STEP: f64 = 1.0 / 1440.0;

/// Radius of the sun's disc, degrees (the 16′ of the almanacs).
const RADIUS_DEG: f64 = 16.0 / 60.0;

/// Where a shadow falls.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Shadow {
    /// Away from the sun, from north through east.
    #[serde(serialize_with = "degrees")]
    pub azimuth_deg: f64,
    /// Length on level ground of the shadow of something 1 m tall, in metres.
    #[serde(serialize_with = "degrees")]
    pub length_factor: f64,
}

/// From which side light falls on somebody who looks along a bearing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Within 45° of the bearing: into the sun, backlight for a camera that looks along it.
    Ahead,
    /// On the right hand.
    Right,
    /// From behind: frontlight.
    Behind,
    /// On the left hand.
    Left,
}

/// The sun at an instant against the bearing of a street or stair.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bearing {
    /// The bearing, from north through east.
    #[serde(serialize_with = "degrees")]
    pub bearing_deg: f64,
    /// Sun less bearing, −180 to 180, positive to the right.
    #[serde(serialize_with = "degrees")]
    pub sun_relative_deg: f64,
    /// From the street's line, whichever way: 0 along it, 90 across.
    #[serde(serialize_with = "degrees")]
    pub sun_from_line_deg: f64,
    /// The same in words.
    pub light_from: Side,
}

/// The sun passing along a street or square across it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Passing {
    /// When.
    pub at: When,
    /// From which side the light falls then.
    pub light_from: Side,
}

/// The stretches of a day in which direct sun reaches a place.
///
/// It does while the sun is up ([`SUNRISE_DEG`]) and any part of its disc, as seen through air,
/// stands above the obstruction at the azimuth of its centre. Weather is not looked at.
///
/// # Errors
/// As [`crate::day()`].
pub fn direct_sun(
    place: &Place,
    zone: &Zone,
    date: Date,
    horizon: &Horizon,
) -> Result<Vec<Interval>, Error> {
    let bounds = zone.bounds(date)?;
    let sun = Sun::over(place, bounds);
    let clears = |utc: f64| {
        let seen = sun.at(utc);
        let top = seen.altitude_deg + refraction_deg(seen.altitude_deg) + RADIUS_DEG;
        // Whichever hides it more.
        (seen.altitude_deg - SUNRISE_DEG).min(top - horizon.elevation_deg(seen.azimuth_deg))
    };
    let found = Samples::over(bounds.from, bounds.to, STEP, clears).crossings(0.0, 1.0, clears);
    let edges: Vec<f64> = found.into_iter().map(|one| one.at).collect();
    Ok(intervals(&edges, bounds, zone, |utc| clears(utc) >= 0.0))
}

/// Where shadows fall, or none when the sun is down.
pub fn shadow(sun: &SunAt) -> Option<Shadow> {
    let seen = sun.altitude_refracted_deg;
    (sun.altitude_deg > SUNRISE_DEG && seen > 0.0).then(|| Shadow {
        azimuth_deg: (sun.azimuth_deg + 180.0).rem_euclid(360.0),
        length_factor: 1.0 / seen.to_radians().tan(),
    })
}

/// How the sun stands to a bearing.
///
/// # Errors
/// [`Error::Bearing`] outside 0 to 360.
pub fn bearing(sun: &SunAt, bearing_deg: f64) -> Result<Bearing, Error> {
    if !(0.0..=360.0).contains(&bearing_deg) {
        return Err(Error::Bearing { bearing_deg });
    }
    let relative = (sun.azimuth_deg - bearing_deg + 180.0).rem_euclid(360.0) - 180.0;
    Ok(Bearing {
        bearing_deg,
        sun_relative_deg: relative,
        sun_from_line_deg: relative.abs().min(180.0 - relative.abs()),
        light_from: side(relative),
    })
}

/// When in a day the sun, while it is up, stands along a bearing (either end) or square across it.
///
/// # Errors
/// As [`crate::day()`], and [`Error::Bearing`] outside 0 to 360.
pub fn passings(
    place: &Place,
    zone: &Zone,
    date: Date,
    bearing_deg: f64,
) -> Result<Vec<Passing>, Error> {
    if !(0.0..=360.0).contains(&bearing_deg) {
        return Err(Error::Bearing { bearing_deg });
    }
    let bounds = zone.bounds(date)?;
    let sun = Sun::over(place, bounds);
    // Through zero four times in a turn of the azimuth.
    let turned = |utc: f64| (2.0 * (sun.at(utc).azimuth_deg - bearing_deg).to_radians()).sin();
    let found = Samples::over(bounds.from, bounds.to, STEP, turned).crossings(0.0, 0.0, turned);
    let inside = found
        .into_iter()
        .filter(|one| (bounds.from..bounds.to).contains(&one.at));
    let passing = inside.filter_map(|one| {
        let seen = sun.at(one.at);
        (seen.altitude_deg >= SUNRISE_DEG).then(|| Passing {
            at: zone.when_within(one.at, bounds),
            light_from: side((seen.azimuth_deg - bearing_deg + 180.0).rem_euclid(360.0) - 180.0),
        })
    });
    Ok(passing.collect())
}

fn side(relative_deg: f64) -> Side {
    match relative_deg {
        r if r.abs() <= 45.0 => Side::Ahead,
        r if r.abs() >= 135.0 => Side::Behind,
        r if r > 0.0 => Side::Right,
        _ => Side::Left,
    }
}

struct Sun<'a> {
    place: &'a Place,
    ephemeris: Ephemeris,
}

impl<'a> Sun<'a> {
    fn over(place: &'a Place, bounds: Bounds) -> Self {
        let ephemeris = Ephemeris::over(bounds.from - 2.0 * STEP, bounds.to + 3.0 * STEP);
        Self { place, ephemeris }
    }

    fn at(&self, utc: f64) -> Seen {
        let (at, bodies) = read(&self.ephemeris, utc);
        bodies.sun_from(self.place.observer(), at)
    }
}
