//! When a place has which light: the day's sky as windows that a plan can be made with.

use crate::civil::{When, Zone};
use crate::day::{Bands, Event, Interval, SUNRISE_DEG, TWILIGHTS_DEG, What};
use crate::direct::direct_sun;
use crate::error::Error;
use crate::place::{Horizon, Place};
use crate::position::look;
use crate::search::days;
use jiff::civil::Date;
use model::window::{common, joined, without};
use model::{ClockTime, SkyLight};
use std::collections::BTreeMap;

/// The light over a place from the midnight of a date to the end of the next: whole minutes that pass since
/// that midnight, opened at the next one and closed at the last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Windows {
    lights: BTreeMap<SkyLight, Vec<[i64; 2]>>,
    /// While the moon is up.
    moon: Vec<[i64; 2]>,
}

impl Windows {
    /// Over `place`, with what stands up around it.
    ///
    /// # Errors
    /// As [`crate::day()`].
    pub fn over(
        place: &Place,
        horizon: &Horizon,
        zone: &Zone,
        date: Date,
        bands: &Bands,
    ) -> Result<Self, Error> {
        let days = days(place, zone, date, 2, bands)?;
        let first = look(place, zone.after_minutes(date, 0)?.at)?;
        let events: Vec<Event> = days.iter().flat_map(|day| day.events.clone()).collect();
        let passed = |when: When| zone.minutes_since(date, when).unwrap_or(0.0);
        let listed = |all: &mut dyn Iterator<Item = &Interval>| {
            joined(all.map(|one| inside(passed(one.from), passed(one.to))))
        };
        let between = |opens: What, closes: What, open_first: bool| {
            let mut since = open_first.then_some(0.0);
            let mut out = Vec::new();
            for event in &events {
                let at = passed(event.at);
                if event.what == opens {
                    since = since.or(Some(at));
                } else if event.what == closes
                    && let Some(from) = since.take()
                {
                    out.push(inside(from, at));
                }
            }
            out.extend(since.map(|from| inside(from, f64::INFINITY)));
            joined(out)
        };
        let sun = first.sun.altitude_deg;
        let up = between(What::Sunrise, What::Sunset, sun > SUNRISE_DEG);
        let mut direct = Vec::new();
        for day in &days {
            direct.extend(listed(
                &mut direct_sun(place, zone, day.date, horizon)?.iter(),
            ));
        }
        let direct = joined(direct);
        let [civil, _, astronomical] = TWILIGHTS_DEG;
        let moon_first = events.iter().find_map(|event| match event.what {
            What::Moonset => Some(true),
            What::Moonrise => Some(false),
            _ => None,
        });
        let moon_up = moon_first.unwrap_or(first.moon.altitude_deg > 0.0);
        let lights = BTreeMap::from([
            (SkyLight::Shade, without(&up, &direct)),
            (SkyLight::Day, up),
            (SkyLight::DirectSun, direct),
            (
                SkyLight::GoldenHour,
                listed(&mut days.iter().flat_map(|day| &day.golden_hour)),
            ),
            (
                SkyLight::BlueHour,
                listed(&mut days.iter().flat_map(|day| &day.blue_hour)),
            ),
            (
                SkyLight::Night,
                between(What::CivilDusk, What::CivilDawn, sun < civil),
            ),
            (
                SkyLight::FullDark,
                between(
                    What::AstronomicalDusk,
                    What::AstronomicalDawn,
                    sun < astronomical,
                ),
            ),
        ]);
        Ok(Self {
            lights,
            moon: between(What::Moonrise, What::Moonset, moon_up),
        })
    }

    /// When there is `light`.
    pub fn of(&self, light: SkyLight) -> &[[i64; 2]] {
        self.lights.get(&light).map_or(&[], Vec::as_slice)
    }

    /// When there is any of `lights`, at any time where none is named; with `moon`, while the moon is up.
    pub fn any_of(&self, lights: &[SkyLight], moon: bool) -> Vec<[i64; 2]> {
        let windows = match lights {
            [] => vec![inside(0.0, f64::INFINITY)],
            lights => joined(lights.iter().flat_map(|light| self.of(*light)).copied()),
        };
        match moon {
            true => common(&windows, &self.moon),
            false => windows,
        }
    }
}

fn inside(from: f64, to: f64) -> [i64; 2] {
    let end = i64::from(ClockTime::MOST_MINUTES);
    [from.ceil() as i64, (to.floor() as i64).min(end)]
}

impl Zone {
    /// Whether clocks are changed in the two days from `date` on: minutes that pass until then, and by how many
    /// minutes they are set on (back is negative).
    ///
    /// # Errors
    /// When the date is outside [`crate::YEARS`] or was left out.
    pub fn change(&self, date: Date) -> Result<Option<(i64, i64)>, Error> {
        let (mut same, mut other) = (0, i64::from(ClockTime::MOST_MINUTES));
        let by = self.set_on_minutes(date, other)?;
        if by == 0 {
            return Ok(None);
        }
        while other - same > 1 {
            let middle = same + (other - same) / 2;
            match self.set_on_minutes(date, middle)? == by {
                true => other = middle,
                false => same = middle,
            }
        }
        Ok(Some((other, by)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_of_the_clock_are_found() {
        let lisbon = Zone::named("Europe/Lisbon").unwrap();
        let on = |date: &str| lisbon.change(date.parse().unwrap()).unwrap();
        // Source: Directive 2000/84/EC, at 01:00 UTC on the last Sundays of March and October.
        assert_eq!(on("2026-10-24"), Some((26 * 60, -60)));
        assert_eq!(on("2026-10-25"), Some((2 * 60, -60)));
        assert_eq!(on("2026-03-28"), Some((25 * 60, 60)));
        assert_eq!(on("2026-11-20"), None);
    }

    #[test]
    fn lights_of_two_days_tile_them_as_they_should() {
        let porto = Place::new(41.15, -8.61).unwrap();
        let zone = Zone::named("Europe/Lisbon").unwrap();
        let wall = Horizon::new(&[(0.0, 30.0), (180.0, 30.0)]).unwrap();
        let date = "2026-11-20".parse().unwrap();
        let found = Windows::over(&porto, &wall, &zone, date, &Bands::default()).unwrap();
        // Sunset in Porto on 20 November is at 17:10 by the almanac of the sun (NOAA), to a minute or two.
        let [first, second] = found.of(SkyLight::Day) else {
            panic!("{found:?}");
        };
        assert!((first[1] - 1030).abs() <= 2, "{first:?}");
        // The next day's is as good as the same.
        assert!((second[1] - 24 * 60 - first[1]).abs() <= 2);
        // Day is sun or shade, and behind a wall of 30 degrees there is little of the sun in November.
        let sun = found.of(SkyLight::DirectSun);
        assert_eq!(
            without(found.of(SkyLight::Day), sun),
            found.of(SkyLight::Shade)
        );
        // Nothing is both night and day; a light that is not asked for is any time.
        assert!(common(found.of(SkyLight::Night), found.of(SkyLight::Day)).is_empty());
        assert_eq!(found.any_of(&[], false), [[0, 2880]]);
        assert_eq!(found.any_of(&[], true), found.moon);
        let dark = found.any_of(&[SkyLight::Night, SkyLight::BlueHour], false);
        assert_eq!(
            common(&dark, found.of(SkyLight::Night)),
            found.of(SkyLight::Night)
        );
    }
}
