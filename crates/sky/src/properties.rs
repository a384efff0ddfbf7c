//! What holds of every day anywhere, over drawn places and dates.

use crate::{
    Bands, Day, Event, Horizon, Place, Question, What, When, Zone, clock, day, days, look, report,
};
use jiff::Timestamp;
use proptest::prelude::*;

fn seconds(at: When) -> i64 {
    at.at.as_second()
}

/// What a person with a sextant would do: look every minute.
fn by_looking(place: &Place, found: &Day, level: f64) -> Vec<bool> {
    let mut passes = Vec::new();
    let mut before = None;
    let mut at = seconds(found.starts);
    while at <= seconds(found.ends) {
        let sun = look(place, Timestamp::from_second(at).unwrap())
            .unwrap()
            .sun;
        let above = sun.altitude_deg >= level;
        if before.is_some_and(|before| before != above) {
            passes.push(above);
        }
        before = Some(above);
        at += 60;
    }
    passes
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Events come in order, rises and sets take turns, and none is missed that shows when looked
    /// for every minute.
    #[test]
    fn every_day_holds_together(
        latitude in -90.0..90.0_f64,
        longitude in -180.0..180.0_f64,
        offset in 0..75_000_i64,
        zone in prop::sample::select(vec!["UTC", "Asia/Kolkata", "Europe/Lisbon", "Pacific/Apia"]),
    ) {
        let place = Place::new(latitude, longitude).unwrap();
        let zone = Zone::named(zone).unwrap();
        let first = jiff::civil::date(1900, 1, 1);
        let on = first.saturating_add(jiff::Span::new().days(offset - offset % 3));
        let Ok(found) = day(&place, &zone, on, &Bands::default()) else {
            // The one day that Samoa left out.
            return Ok(());
        };
        prop_assert!(found.events.windows(2).all(|pair| pair[0].at <= pair[1].at));
        prop_assert!(found.events.iter().all(|event| (found.starts..found.ends).contains(&event.at)));
        prop_assert!(found.events.iter().all(|event| event.at.to_string().parse::<Timestamp>().is_ok()));
        for (rise, set) in [
            (What::Sunrise, What::Sunset),
            (What::CivilDawn, What::CivilDusk),
            (What::NauticalDawn, What::NauticalDusk),
            (What::AstronomicalDawn, What::AstronomicalDusk),
            (What::Moonrise, What::Moonset),
        ] {
            let turns: Vec<What> = found
                .events
                .iter()
                .map(|event| event.what)
                .filter(|what| [rise, set].contains(what))
                .collect();
            prop_assert!(turns.windows(2).all(|pair| pair[0] != pair[1]), "{:?}", turns);
        }
        for (rise, set, level) in [
            (What::Sunrise, What::Sunset, crate::SUNRISE_DEG),
            (What::AstronomicalDawn, What::AstronomicalDusk, -18.0),
        ] {
            let ours: Vec<&Event> = found
                .events
                .iter()
                .filter(|event| [rise, set].contains(&event.what))
                .collect();
            let seen = by_looking(&place, &found, level);
            // Two passages within a minute of each other do not show.
            if ours.windows(2).all(|pair| seconds(pair[1].at) - seconds(pair[0].at) > 120) {
                let ours: Vec<bool> = ours.iter().map(|event| event.what == rise).collect();
                prop_assert_eq!(ours, seen);
            }
        }
        for interval in found.golden_hour.iter().chain(&found.blue_hour) {
            prop_assert!(interval.from <= interval.to);
            prop_assert!(found.starts <= interval.from && interval.to <= found.ends);
        }
    }

    /// Whatever is asked within range is answered, and the answer can be written.
    #[test]
    fn every_question_has_an_answer(
        latitude in prop::sample::select(vec![-90.0, -89.999, -66.6, -23.44, 0.0, 40.0, 66.5, 90.0]),
        longitude in prop::sample::select(vec![-180.0, -77.0, 0.0, 13.4, 180.0]),
        offset in 0..73_000_i64,
        second in 0..86_400_i64,
        bearing_deg in 0.0..=360.0_f64,
        pairs in prop::collection::vec((0.0..=360.0_f64, 0.0..=90.0_f64), 0..6),
    ) {
        let start = jiff::civil::date(1900, 1, 1);
        let asked = Question {
            place: Place::new(latitude, longitude).unwrap(),
            date: start.saturating_add(jiff::Span::new().days(offset)),
            at: jiff::civil::Time::midnight() + jiff::SignedDuration::from_secs(second),
            horizon: Horizon::new(&pairs).unwrap(),
            bearing_deg: Some(bearing_deg),
            zone: Zone::named("Europe/Lisbon").unwrap(),
            bands: Bands::default(),
        };
        let answer = report(&asked).unwrap();
        prop_assert!((0.0..=1.0).contains(&answer.moon.at.illuminated_fraction));
        prop_assert!(answer.light.total_lux > 0.0 && answer.light.total_lux < 150e3);
        prop_assert!((0.0..=360.0).contains(&answer.sun.at.azimuth_deg));
        for pair in answer.direct_sun.windows(2) {
            prop_assert!(pair[0].to <= pair[1].from);
        }
        let text = serde_json::to_string(&answer).unwrap();
        prop_assert!(!text.contains("NaN") && text.len() > 500);
        let phases: Vec<_> = answer.moon.next_phases.iter().map(|one| one.at).collect();
        prop_assert!(phases.windows(2).all(|pair| pair[0] < pair[1]) && phases[0] >= answer.at);
    }

    /// Nothing that is typed makes the readers stumble.
    #[test]
    fn any_text_is_read_or_refused(text in "[-0-9:,.a-zA-Z/ é]{0,16}") {
        let _ = (clock(&text), text.parse::<Horizon>().is_ok());
    }

    /// A month is its days.
    #[test]
    fn many_days_are_the_same_as_one_by_one(
        latitude in -90.0..90.0_f64,
        longitude in -180.0..180.0_f64,
        offset in 0..70_000_i64,
    ) {
        let place = Place::new(latitude, longitude).unwrap();
        let zone = Zone::named("Europe/Lisbon").unwrap();
        let start = jiff::civil::date(1900, 1, 1);
        let first = start.saturating_add(jiff::Span::new().days(offset));
        let month = days(&place, &zone, first, 12, &Bands::default()).unwrap();
        for found in &month {
            let alone = day(&place, &zone, found.date, &Bands::default()).unwrap();
            let plain = |day: &Day| -> Vec<What> { day.events.iter().map(|event| event.what).collect() };
            prop_assert_eq!(plain(found), plain(&alone));
            for (a, b) in found.events.iter().zip(&alone.events) {
                prop_assert!((seconds(a.at) - seconds(b.at)).abs() <= 1);
            }
        }
    }
}
