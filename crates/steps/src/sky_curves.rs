//! The sky over each place through a day, as curves: how high sun and moon stand, which light that is, and when
//! the street has sun.

use crate::night::zone;
use crate::practice::Customs;
use crate::{Error, Job};
use model::{ClockTime, Day, DayId, Place, PlaceId};
use schedule::Clocks;
use sky::What;

/// How far the sun is below the horizon, as the light of it is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Daylight {
    /// The sun is up.
    Day,
    /// Down to −6°.
    Civil,
    /// Down to −12°.
    Nautical,
    /// Down to −18°.
    Astronomical,
    /// Below that.
    Night,
}

/// The sky over one place from midnight to midnight, or from noon to noon. Times are minutes after the midnight
/// of its date as a clock shows them, counted on past midnight.
#[derive(Clone, Debug)]
pub struct SkyCurve {
    /// Which place.
    pub place: PlaceId,
    /// Which day of the project; none when a date was asked for.
    pub day: Option<DayId>,
    /// The date.
    pub date: String,
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
    /// Which light it is, from the date's midnight over two days, without a gap.
    pub daylight: Vec<(Daylight, [f64; 2])>,
    /// Golden hours of these days.
    pub golden_hour: Vec<[f64; 2]>,
    /// Blue hours of these days.
    pub blue_hour: Vec<[f64; 2]>,
    /// When the sun reaches the street; none where it is not known what stands around.
    pub direct_sun: Option<Vec<[f64; 2]>>,
    /// What happens in these days, in order.
    pub events: Vec<(f64, What)>,
}

/// Minutes between two points of a curve.
const STEP_MIN: i64 = 10;
/// Half a day: where the day of an evening's call begins and ends.
const NOON_MIN: i64 = 12 * 60;

impl Job {
    /// The sky over every place whose position and zone are known, on `date` or else on each of the project's days.
    /// A day called in the afternoon or later is drawn from noon to noon; a date without a day as the first day is.
    ///
    /// # Errors
    /// When the date, a zone or a position is none.
    pub fn sky_curves(&self, date: Option<&str>) -> Result<Vec<SkyCurve>, Error> {
        let project = self.project();
        let bands = Customs::of(&project.practice).bands;
        let days: Vec<(&str, Option<&Day>)> = match date {
            Some(date) => vec![(date, project.days.iter().find(|day| day.date == date))],
            None => project
                .days
                .iter()
                .map(|day| (day.date.as_str(), Some(day)))
                .collect(),
        };
        let mut out = Vec::new();
        for place in &project.places {
            for (on, day) in &days {
                let (Some(position), Some(name)) = (place.position_deg, zone(project, place, *day))
                else {
                    continue;
                };
                let call = day
                    .or(project.days.first())
                    .map_or(ClockTime::default(), |day| day.call);
                let from = if i64::from(call.minutes()) >= NOON_MIN {
                    NOON_MIN
                } else {
                    0
                };
                let mut curve = curve(place, position, name, on, &bands, from)?;
                curve.day = day.filter(|_| date.is_none()).map(|day| day.id.clone());
                out.push(curve);
            }
        }
        Ok(out)
    }
}

/// Minutes passed as a clock shows them.
fn shown(clocks: Clocks, passed: f64) -> f64 {
    let whole = passed.floor();
    clocks.shown(whole as i64) as f64 + (passed - whole)
}

fn curve(
    place: &Place,
    [latitude, longitude]: [f64; 2],
    zone: &str,
    on: &str,
    bands: &sky::Bands,
    from: i64,
) -> Result<SkyCurve, Error> {
    let at = sky::Place::new(latitude, longitude)?;
    let zone = sky::Zone::named(zone)?;
    let date = sky::date(on)?;
    let clocks = crate::day::clocks(&zone, date)?;
    let shows = |when: sky::When| -> Result<f64, Error> {
        Ok(shown(clocks, zone.minutes_since(date, when)?))
    };
    let listed = |all: &mut dyn Iterator<Item = sky::Interval>| -> Result<Vec<[f64; 2]>, Error> {
        let mut out: Vec<[f64; 2]> = Vec::new();
        for one in all {
            let (from, to) = (shows(one.from)?, shows(one.to)?);
            match out.last_mut() {
                // Within a minute: a midnight between two days.
                Some(last) if from <= last[1] + 1.0 => last[1] = last[1].max(to),
                _ if from < to => out.push([from, to]),
                _ => {}
            }
        }
        Ok(out)
    };
    let days = sky::days(&at, &zone, date, 2, bands)?;
    let mut events = Vec::new();
    for event in days.iter().flat_map(|day| &day.events) {
        events.push((shows(event.at)?, event.what));
    }
    let direct_sun = if place.horizon_deg.is_empty() {
        None
    } else {
        let pairs: Vec<(f64, f64)> = place.horizon_deg.iter().map(|[a, e]| (*a, *e)).collect();
        let horizon = sky::Horizon::new(&pairs)?;
        let mut all = Vec::new();
        for day in &days {
            all.extend(sky::direct_sun(&at, &zone, day.date, &horizon)?);
        }
        Some(listed(&mut all.into_iter())?)
    };
    let look = |passed: i64| -> Result<sky::Look, Error> {
        Ok(sky::look(&at, zone.after_minutes(date, passed)?.at)?)
    };
    let (mut sun, mut moon) = (Vec::new(), Vec::new());
    let mut reached = f64::NEG_INFINITY;
    for passed in (from..=from + 2 * NOON_MIN).step_by(STEP_MIN as usize) {
        let minute = shown(clocks, passed as f64);
        // Where clocks go back an hour comes twice, and is drawn once.
        if minute <= reached {
            continue;
        }
        reached = minute;
        let look = look(passed)?;
        sun.push([minute, look.sun.altitude_deg]);
        moon.push([minute, look.moon.altitude_deg]);
    }
    let middle = look(from + NOON_MIN)?.moon;
    Ok(SkyCurve {
        place: place.id.clone(),
        day: None,
        date: on.to_owned(),
        of_min: [from as f64, (from + 2 * NOON_MIN) as f64],
        sun,
        moon,
        moon_lit: middle.illuminated_fraction,
        moon_waxing: middle.waxing,
        northern: latitude >= 0.0,
        daylight: daylight(look(0)?.sun.altitude_deg, &events),
        golden_hour: listed(&mut days.iter().flat_map(|day| day.golden_hour.clone()))?,
        blue_hour: listed(&mut days.iter().flat_map(|day| day.blue_hour.clone()))?,
        direct_sun,
        events,
    })
}

/// The light from a midnight at which the sun stands at `altitude_deg` over two days, by what happens in them.
fn daylight(altitude_deg: f64, events: &[(f64, What)]) -> Vec<(Daylight, [f64; 2])> {
    let [civil, nautical, astronomical] = sky::TWILIGHTS_DEG;
    let mut now = match altitude_deg {
        deg if deg > sky::SUNRISE_DEG => Daylight::Day,
        deg if deg > civil => Daylight::Civil,
        deg if deg > nautical => Daylight::Nautical,
        deg if deg > astronomical => Daylight::Astronomical,
        _ => Daylight::Night,
    };
    let mut since = 0.0;
    let mut out = Vec::new();
    let end = f64::from(ClockTime::MOST_MINUTES);
    for (at, what) in events {
        let next = match what {
            What::Sunrise => Daylight::Day,
            What::CivilDawn | What::Sunset => Daylight::Civil,
            What::NauticalDawn | What::CivilDusk => Daylight::Nautical,
            What::AstronomicalDawn | What::NauticalDusk => Daylight::Astronomical,
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
    use model::Project;

    fn job(date: &str, call: &str) -> (tempfile::TempDir, Job) {
        let dir = tempfile::tempdir().expect("a folder");
        let mut place = Place::new(PlaceId::new("stairs").expect("an id"), "Stairs");
        place.position_deg = Some([41.1413, -8.6131]);
        let mut day = Day::new(
            DayId::new("night").expect("an id"),
            date,
            call.parse().expect("a clock"),
        );
        day.zone = Some("Europe/Lisbon".into());
        let project = Project {
            places: vec![place],
            days: vec![day],
            ..Project::default()
        };
        let job = Job::create(dir.path(), &project).expect("a project");
        (dir, job)
    }

    #[test]
    fn an_evening_is_drawn_from_noon_to_noon() {
        let (_dir, job) = job("2026-11-20", "16:00");
        let all = job.sky_curves(None).expect("curves");
        let one = &all[0];
        assert_eq!(one.of_min, [720.0, 2160.0]);
        assert_eq!(one.sun.len(), 145);
        // Sunset in Porto on 20 November is at 17:10 by the almanac of the sun (NOAA), to a minute or two.
        let (at, _) = one
            .events
            .iter()
            .find(|(_, what)| *what == What::Sunset)
            .expect("a sunset");
        assert!((at - 1030.0).abs() < 2.0, "{at}");
        assert!(one.direct_sun.is_none());
        // The light follows without a gap, and the sun agrees with it.
        let mut reached = 0.0;
        for (light, [from, to]) in &one.daylight {
            assert_eq!(*from, reached);
            reached = *to;
            for [at, deg] in one
                .sun
                .iter()
                .filter(|[at, _]| *at > from + 1.0 && *at < to - 1.0)
            {
                let up = *deg > sky::SUNRISE_DEG;
                assert_eq!(up, *light == Daylight::Day, "{at} {deg}");
            }
        }
        assert_eq!(reached, f64::from(ClockTime::MOST_MINUTES));
    }

    #[test]
    fn a_morning_is_drawn_from_midnight_and_other_dates_alike() {
        let (_dir, job) = job("2026-11-20", "08:00");
        let all = job.sky_curves(Some("2026-06-21")).expect("curves");
        assert_eq!(all[0].of_min, [0.0, 1440.0]);
        assert_eq!((all[0].date.as_str(), &all[0].day), ("2026-06-21", &None));
        assert!(job.sky_curves(Some("soon")).is_err());
    }

    #[test]
    fn an_hour_that_comes_twice_is_drawn_once() {
        let (_dir, job) = job("2026-10-24", "17:00");
        let all = job.sky_curves(None).expect("curves");
        let rises = all[0].sun.windows(2).all(|pair| pair[0][0] < pair[1][0]);
        assert!(rises);
        assert_eq!(all[0].sun.len(), 145 - 6);
    }
}
