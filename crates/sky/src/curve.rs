//! The sky over a place through a day as curves, to be drawn: how high sun and moon stand, which light that is, and
//! when the street has sun.

use crate::civil::{When, Zone};
use crate::day::{Bands, Interval, SUNRISE_DEG, TWILIGHTS_DEG, What};
use crate::direct::direct_sun;
use crate::error::Error;
use crate::place::{Horizon, Place};
use crate::position::look;
use crate::search::days;
use jiff::civil::Date;

/// What light the sky gives, in the order in which one lies over the other: golden and blue hour over the rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Daylight {
    /// The sun is up.
    Day,
    /// Down to −6°.
    CivilTwilight,
    /// Down to −12°.
    NauticalTwilight,
    /// Down to −18°.
    AstronomicalTwilight,
    /// Below that.
    Night,
    /// The sun is low.
    GoldenHour,
    /// The sun is a little below the horizon.
    BlueHour,
}

impl Daylight {
    /// In words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::CivilTwilight => "civil twilight",
            Self::NauticalTwilight => "nautical twilight",
            Self::AstronomicalTwilight => "astronomical twilight",
            Self::Night => "night",
            Self::GoldenHour => "golden hour",
            Self::BlueHour => "blue hour",
        }
    }
}

/// The sky over one place from midnight to midnight, or from noon to noon. Times are minutes after the midnight
/// of its date as a clock shows them, counted on past midnight.
#[derive(Clone, Debug, Default)]
pub struct Curve {
    /// From when to when the curves run.
    pub of_min: [f64; 2],
    /// Times with the sun's altitude, degrees, every ten minutes.
    pub sun: Vec<[f64; 2]>,
    /// The same of the moon.
    pub moon: Vec<[f64; 2]>,
    /// Share of the moon's disc that is lit in the middle of the curves, 0 to 1.
    pub moon_lit: f64,
    /// Whether that grows.
    pub moon_waxing: bool,
    /// Whether the place is north of the equator: there a waxing moon is lit on the right.
    pub northern: bool,
    /// Day, twilights and night from the date's midnight over two days, without a gap, then the golden and blue
    /// hours that lie over them.
    pub light: Vec<(Daylight, [f64; 2])>,
    /// When the sun reaches the street; none where it is not known what stands around.
    pub direct_sun: Option<Vec<[f64; 2]>>,
    /// What happens in these days, in order.
    pub events: Vec<(f64, What)>,
}

/// Minutes between two points of a curve.
const STEP_MIN: i64 = 10;
/// Minutes of a day.
const DAY_MIN: i64 = 24 * 60;

/// The sky over `at` on `date`, drawn from `from_min` minutes after its midnight over a day.
///
/// # Errors
/// When the date is outside [`crate::YEARS`] or was left out.
pub fn curve(
    at: &Place,
    zone: &Zone,
    date: Date,
    bands: &Bands,
    horizon: Option<&Horizon>,
    from_min: i64,
) -> Result<Curve, Error> {
    let days = days(at, zone, date, 2, bands)?;
    let events: Vec<(f64, What)> = days
        .iter()
        .flat_map(|day| &day.events)
        .map(|event| (event.at.minutes_after(date), event.what))
        .collect();
    let direct_sun = match horizon {
        None => None,
        Some(horizon) => {
            let mut all = Vec::new();
            for day in &days {
                all.extend(direct_sun(at, zone, day.date, horizon)?);
            }
            Some(joined(all.into_iter(), date))
        }
    };
    let moment = |passed: i64| -> Result<When, Error> { zone.after_minutes(date, passed) };
    let (mut sun, mut moon) = (Vec::new(), Vec::new());
    let mut reached = f64::NEG_INFINITY;
    for passed in (from_min..=from_min + DAY_MIN).step_by(STEP_MIN as usize) {
        let when = moment(passed)?;
        let minute = when.minutes_after(date);
        // Where clocks go back an hour comes twice, and is drawn once.
        if minute <= reached {
            continue;
        }
        reached = minute;
        let look = look(at, when.at)?;
        sun.push([minute, look.sun.altitude_deg]);
        moon.push([minute, look.moon.altitude_deg]);
    }
    let middle = look(at, moment(from_min + DAY_MIN / 2)?.at)?.moon;
    let mut light = daylight(look(at, moment(0)?.at)?.sun.altitude_deg, &events);
    let golden = joined(days.iter().flat_map(|day| day.golden_hour.clone()), date);
    let blue = joined(days.iter().flat_map(|day| day.blue_hour.clone()), date);
    light.extend(golden.into_iter().map(|at| (Daylight::GoldenHour, at)));
    light.extend(blue.into_iter().map(|at| (Daylight::BlueHour, at)));
    Ok(Curve {
        of_min: [from_min as f64, (from_min + DAY_MIN) as f64],
        sun,
        moon,
        moon_lit: middle.illuminated_fraction,
        moon_waxing: middle.waxing,
        northern: at.latitude_deg() >= 0.0,
        light,
        direct_sun,
        events,
    })
}

/// Intervals as a clock shows them, what a midnight between two days parts put together.
fn joined(all: impl Iterator<Item = Interval>, date: Date) -> Vec<[f64; 2]> {
    let mut out: Vec<[f64; 2]> = Vec::new();
    for one in all {
        let (from, to) = (one.from.minutes_after(date), one.to.minutes_after(date));
        match out.last_mut() {
            Some(last) if from <= last[1] + 1.0 => last[1] = last[1].max(to),
            _ if from < to => out.push([from, to]),
            _ => {}
        }
    }
    out
}

/// The light from a midnight at which the sun stands at `altitude_deg` over two days, by what happens in them.
fn daylight(altitude_deg: f64, events: &[(f64, What)]) -> Vec<(Daylight, [f64; 2])> {
    let [civil, nautical, astronomical] = TWILIGHTS_DEG;
    let mut now = match altitude_deg {
        deg if deg > SUNRISE_DEG => Daylight::Day,
        deg if deg > civil => Daylight::CivilTwilight,
        deg if deg > nautical => Daylight::NauticalTwilight,
        deg if deg > astronomical => Daylight::AstronomicalTwilight,
        _ => Daylight::Night,
    };
    let mut since = 0.0;
    let mut out = Vec::new();
    let end = (2 * DAY_MIN) as f64;
    for (at, what) in events {
        let next = match what {
            What::Sunrise => Daylight::Day,
            What::CivilDawn | What::Sunset => Daylight::CivilTwilight,
            What::NauticalDawn | What::CivilDusk => Daylight::NauticalTwilight,
            What::AstronomicalDawn | What::NauticalDusk => Daylight::AstronomicalTwilight,
            What::AstronomicalDusk => Daylight::Night,
            _ => continue,
        };
        if *at > since {
            out.push((now, [since, *at]));
        }
        (now, since) = (next, *at);
    }
    if since < end {
        out.push((now, [since, end]));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn porto(date: &str, from_min: i64) -> Curve {
        let at = Place::new(41.1413, -8.6131).expect("a place");
        let zone = Zone::named("Europe/Lisbon").expect("a zone");
        let date = date.parse().expect("a date");
        curve(&at, &zone, date, &Bands::default(), None, from_min).expect("a curve")
    }

    #[test]
    fn an_evening_is_drawn_from_noon_to_noon() {
        let one = porto("2026-11-20", 720);
        assert_eq!(one.of_min, [720.0, 2160.0]);
        assert_eq!(one.sun.len(), 145);
        // Sunset in Porto on 20 November is at 17:10 by the almanac of the sun (NOAA), to a minute or two.
        let sunset = one.events.iter().find(|(_, what)| *what == What::Sunset);
        let (at, _) = sunset.expect("a sunset");
        assert!((at - 1030.0).abs() < 2.0, "{at}");
        assert!(one.direct_sun.is_none());
        // The light follows without a gap, and the sun agrees with it.
        let mut reached = 0.0;
        let below = one.light.iter();
        for (light, [from, to]) in below.take_while(|(light, _)| *light < Daylight::GoldenHour) {
            assert_eq!(*from, reached);
            reached = *to;
            let inside = |at: f64| at > from + 1.0 && at < to - 1.0;
            for [at, deg] in one.sun.iter().filter(|[at, _]| inside(*at)) {
                let up = *deg > SUNRISE_DEG;
                assert_eq!(up, *light == Daylight::Day, "{at} {deg}");
            }
        }
        assert_eq!(reached, 2880.0);
        let over = |light: Daylight| one.light.iter().filter(|(own, _)| *own == light).count();
        assert!(over(Daylight::GoldenHour) >= 2 && over(Daylight::BlueHour) >= 2);
    }

    #[test]
    fn an_hour_that_comes_twice_is_drawn_once() {
        let one = porto("2026-10-24", 720);
        assert!(one.sun.windows(2).all(|pair| pair[0][0] < pair[1][0]));
        assert_eq!(one.sun.len(), 145 - 6);
    }
}
