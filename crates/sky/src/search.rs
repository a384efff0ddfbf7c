//! The search behind [`crate::day()`]: everything that happens over a stretch of time, and how it
//! falls into civil days.
//!
//! Altitudes are sampled every half hour over the whole stretch, passages are closed in
//! between samples, and turning points near a threshold are looked at closely.

use crate::civil::{Bounds, Zone};
use crate::crossings::{Crossing, Samples};
use crate::day::{
    Bands, Day, Event, Interval, MoonDay, SUNRISE_DEG, Stays, SunDay, TWILIGHTS_DEG, What,
};
use crate::ephemeris::{Bodies, Ephemeris};
use crate::error::Error;
use crate::moon::RADIUS_KM;
use crate::phases::{self, Phase};
use crate::place::Place;
use crate::timescale::{Instant, timestamp};
use jiff::civil::Date;

/// What refraction lifts the moon's upper limb by when it rises, degrees.
const HORIZON_REFRACTION_DEG: f64 = 34.0 / 60.0;

/// Days between samples.
const STEP: f64 = 30.0 / 1440.0;

/// How near to a threshold a turning point is looked at closely, degrees.
const NEAR_DEG: f64 = 0.05;

/// The sky of one civil day.
///
/// # Errors
/// When the date is outside [`crate::YEARS`] or the zone left it out, or a band is none.
pub fn day(place: &Place, zone: &Zone, date: Date, bands: &Bands) -> Result<Day, Error> {
    let bounds = zone.bounds(date)?;
    check_bands(bands)?;
    Ok(Stretch::over(place, bounds, bands).day(zone, date, bounds))
}

/// The sky of `count` civil days from `first` on; days that the zone left out are not among them.
///
/// # Errors
/// When any date is outside [`crate::YEARS`], or a band is none.
pub fn days(
    place: &Place,
    zone: &Zone,
    first: Date,
    count: usize,
    bands: &Bands,
) -> Result<Vec<Day>, Error> {
    check_bands(bands)?;
    let mut dates = Vec::new();
    let mut date = first;
    for _ in 0..count {
        match zone.bounds(date) {
            Ok(bounds) => dates.push((date, bounds)),
            Err(Error::NoSuchDay { .. }) => {}
            Err(error) => return Err(error),
        }
        date = date.saturating_add(jiff::Span::new().days(1));
    }
    let (Some((_, first)), Some((_, last))) = (dates.first(), dates.last()) else {
        return Ok(Vec::new());
    };
    let whole = Bounds {
        from: first.from,
        to: last.to,
    };
    let stretch = Stretch::over(place, whole, bands);
    let day = |(date, bounds)| stretch.day(zone, date, bounds);
    Ok(dates.into_iter().map(day).collect())
}

fn check_bands(bands: &Bands) -> Result<(), Error> {
    for (low_deg, high_deg) in [bands.golden_deg, bands.blue_deg] {
        let holds = low_deg < high_deg && low_deg >= -90.0 && high_deg <= 90.0;
        if !holds {
            return Err(Error::Band { low_deg, high_deg });
        }
    }
    Ok(())
}

/// Everything found over a stretch of time, in order.
pub(crate) struct Stretch<'a> {
    place: &'a Place,
    ephemeris: Ephemeris,
    events: Vec<(f64, What)>,
    /// Edges of the golden band and of the blue one, and the bands.
    bands: [(Vec<f64>, (f64, f64)); 2],
}

impl<'a> Stretch<'a> {
    /// Looks for everything between two instants.
    pub fn over(place: &'a Place, Bounds { from, to }: Bounds, bands: &Bands) -> Self {
        let ephemeris = Ephemeris::over(from - 2.0 * STEP, to + 3.0 * STEP);
        let sun = |utc: f64| sun_altitude_deg(place, &ephemeris, utc);
        let moon = |utc: f64| moon_clearance_deg(place, &ephemeris, utc);
        let past = |utc: f64| past_meridian(place, &ephemeris, utc);
        // Both bodies at once: reading the ephemeris is the dear part.
        let (sun_samples, moon_samples) = Samples::pair(from, to, STEP, |utc| {
            let (at, bodies) = read(&ephemeris, utc);
            let observer = place.observer();
            let turned = bodies.turned(observer, at);
            let (sun_deg, _) = observer.height(bodies.sun_km, turned);
            (
                sun_deg,
                above_horizon_deg(observer.height(bodies.moon_km, turned)),
            )
        });
        let mut events = Vec::new();
        for (level, rising, setting) in [
            (SUNRISE_DEG, What::Sunrise, What::Sunset),
            (TWILIGHTS_DEG[0], What::CivilDawn, What::CivilDusk),
            (TWILIGHTS_DEG[1], What::NauticalDawn, What::NauticalDusk),
            (
                TWILIGHTS_DEG[2],
                What::AstronomicalDawn,
                What::AstronomicalDusk,
            ),
        ] {
            let found = sun_samples.crossings(level, NEAR_DEG, sun);
            events.extend(named(found, rising, setting));
        }
        let found = moon_samples.crossings(0.0, NEAR_DEG, moon);
        events.extend(named(found, What::Moonrise, What::Moonset));
        // Sine of the hour angle: through zero upwards at noon, downwards at midnight.
        let found = Samples::over(from, to, 4.0 * STEP, past).crossings(0.0, 0.0, past);
        let noons = found.into_iter().filter(|one| one.rising);
        events.extend(noons.map(|one| (one.at, What::SolarNoon)));
        for (phase, at) in phases::between(from, to, |utc| read(&ephemeris, utc)) {
            let what = match phase {
                Phase::NewMoon => What::NewMoon,
                Phase::FirstQuarter => What::FirstQuarter,
                Phase::FullMoon => What::FullMoon,
                Phase::LastQuarter => What::LastQuarter,
            };
            events.push((at, what));
        }
        events.sort_by(|a, b| a.0.total_cmp(&b.0));
        let bands = [bands.golden_deg, bands.blue_deg].map(|band| {
            let edge = |level| sun_samples.crossings(level, NEAR_DEG, sun);
            let mut edges: Vec<f64> = [band.0, band.1]
                .into_iter()
                .flat_map(edge)
                .map(|one| one.at)
                .collect();
            edges.sort_by(f64::total_cmp);
            (edges, band)
        });
        Self {
            place,
            ephemeris,
            events,
            bands,
        }
    }

    /// What of it falls into one civil day.
    pub fn day(&self, zone: &Zone, date: Date, bounds: Bounds) -> Day {
        let start = self.events.partition_point(|(at, _)| *at < bounds.from);
        let end = self.events.partition_point(|(at, _)| *at < bounds.to);
        let event = |&(utc, what): &(f64, What)| Event {
            at: zone.when_within(utc, bounds),
            what,
            azimuth_deg: self.azimuth_deg(utc, what),
        };
        let found = &self.events[start..end];
        let events: Vec<Event> = found.iter().map(event).collect();
        let first = |what| events.iter().find(|one| one.what == what).map(|one| one.at);
        let middle = 0.5 * (bounds.from + bounds.to);
        let stays = |crosses: bool, up: bool| match (crosses, up) {
            (true, _) => Stays::Crosses,
            (false, true) => Stays::Up,
            (false, false) => Stays::Down,
        };
        let (sunrise, sunset) = (first(What::Sunrise), first(What::Sunset));
        let (moonrise, moonset) = (first(What::Moonrise), first(What::Moonset));
        let noon = found.iter().find(|(_, what)| *what == What::SolarNoon);
        let sun = |utc| sun_altitude_deg(self.place, &self.ephemeris, utc);
        let [golden_hour, blue_hour] = self.bands.each_ref().map(|(edges, (low, high))| {
            intervals(edges, bounds, zone, |utc| {
                (*low..=*high).contains(&sun(utc))
            })
        });
        Day {
            date,
            starts: zone.when_within(bounds.from, bounds),
            ends: zone.when(timestamp(bounds.to)),
            sun: SunDay {
                sunrise,
                sunset,
                solar_noon: first(What::SolarNoon),
                civil_dawn: first(What::CivilDawn),
                civil_dusk: first(What::CivilDusk),
                nautical_dawn: first(What::NauticalDawn),
                nautical_dusk: first(What::NauticalDusk),
                astronomical_dawn: first(What::AstronomicalDawn),
                astronomical_dusk: first(What::AstronomicalDusk),
                noon_altitude_deg: noon.map(|(utc, _)| sun(*utc)),
                stays: stays(
                    sunrise.is_some() || sunset.is_some(),
                    sun(middle) >= SUNRISE_DEG,
                ),
            },
            moon: MoonDay {
                moonrise,
                moonset,
                stays: stays(
                    moonrise.is_some() || moonset.is_some(),
                    moon_clearance_deg(self.place, &self.ephemeris, middle) >= 0.0,
                ),
            },
            golden_hour,
            blue_hour,
            events,
        }
    }

    fn azimuth_deg(&self, utc: f64, what: What) -> f64 {
        let (at, bodies) = read(&self.ephemeris, utc);
        let observer = self.place.observer();
        let seen = match what {
            What::Moonrise
            | What::Moonset
            | What::NewMoon
            | What::FirstQuarter
            | What::FullMoon
            | What::LastQuarter => bodies.moon_from(observer, at),
            _ => bodies.sun_from(observer, at),
        };
        seen.azimuth_deg
    }
}

fn named(found: Vec<Crossing>, rising: What, setting: What) -> impl Iterator<Item = (f64, What)> {
    found
        .into_iter()
        .map(move |one| (one.at, if one.rising { rising } else { setting }))
}

/// The stretches of a day where `holds`, which can only change at `edges` (in order).
pub(crate) fn intervals(
    edges: &[f64],
    bounds: Bounds,
    zone: &Zone,
    holds: impl Fn(f64) -> bool,
) -> Vec<Interval> {
    let first = edges.partition_point(|at| *at <= bounds.from);
    let last = edges.partition_point(|at| *at < bounds.to);
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut from = bounds.from;
    for to in edges[first..last.max(first)]
        .iter()
        .copied()
        .chain([bounds.to])
    {
        if holds(0.5 * (from + to)) {
            match found.last_mut() {
                Some(before) if before.1 == from => before.1 = to,
                _ => found.push((from, to)),
            }
        }
        from = to;
    }
    let whole = |(from, to): (f64, f64)| Interval {
        from: zone.when_within(from, bounds),
        to: if to == bounds.to {
            zone.when(timestamp(to))
        } else {
            zone.when_within(to, bounds)
        },
    };
    found.into_iter().map(whole).collect()
}

pub(crate) fn read(ephemeris: &Ephemeris, utc: f64) -> (Instant, Bodies) {
    let at = Instant::from_utc(utc);
    (at, ephemeris.at(at))
}

fn sun_altitude_deg(place: &Place, ephemeris: &Ephemeris, utc: f64) -> f64 {
    let (at, bodies) = read(ephemeris, utc);
    let observer = place.observer();
    observer
        .height(bodies.sun_km, bodies.turned(observer, at))
        .0
}

/// How far the moon's centre stands above where it rises and sets, degrees.
fn moon_clearance_deg(place: &Place, ephemeris: &Ephemeris, utc: f64) -> f64 {
    let (at, bodies) = read(ephemeris, utc);
    let observer = place.observer();
    above_horizon_deg(observer.height(bodies.moon_km, bodies.turned(observer, at)))
}

/// The same from its altitude and distance.
fn above_horizon_deg((altitude_deg, distance_km): (f64, f64)) -> f64 {
    altitude_deg + HORIZON_REFRACTION_DEG + (RADIUS_KM / distance_km).to_degrees()
}

/// Sine of the sun's hour angle, up to a positive factor.
fn past_meridian(place: &Place, ephemeris: &Ephemeris, utc: f64) -> f64 {
    let (at, bodies) = read(ephemeris, utc);
    let observer = place.observer();
    observer.past_meridian_km(bodies.sun_km, bodies.turned(observer, at))
}
