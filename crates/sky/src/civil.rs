//! Dates, times of day and zones as people keep them.
//!
//! Wraps the library `jiff` with the zone database that is compiled in, so that an answer does
//! not depend on the machine.

use crate::error::{Error, YEARS};
use crate::place::Place;
use crate::timescale::{timestamp, utc_days};
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};
use jiff::{SignedDuration, Timestamp};
use model::Finding;
use serde::{Serialize, Serializer};
use std::fmt;

/// A zone of the IANA database.
#[derive(Clone, Debug)]
pub struct Zone {
    name: String,
    rules: TimeZone,
}

/// An instant as a clock of some zone shows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct When {
    /// The instant.
    pub at: Timestamp,
    offset_s: i32,
}

/// A civil day: from its first instant up to the next day's first, in UTC days.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounds {
    pub from: f64,
    pub to: f64,
}

impl Zone {
    /// By its name in the IANA database, such as `Europe/Lisbon` or `UTC`.
    ///
    /// # Errors
    /// [`Error::NoZone`] with the name nearest to it.
    pub fn named(name: &str) -> Result<Self, Error> {
        let database = TimeZoneDatabase::bundled();
        if let Ok(rules) = database.get(name) {
            let name = rules.iana_name().unwrap_or(name).to_owned();
            return Ok(Self { name, rules });
        }
        let typed = name.trim().to_lowercase().replace(' ', "_");
        let score = |known: &str| {
            let known = known.to_lowercase();
            let city = known.rsplit('/').next().unwrap_or(&known);
            let whole = strsim::normalized_damerau_levenshtein(&typed, &known);
            let part = typed.rsplit('/').next().unwrap_or(&typed);
            whole.max(strsim::normalized_damerau_levenshtein(part, city) - 0.05)
        };
        let nearest = database
            .available()
            .map(|known| (score(known.as_str()), known.as_str().to_owned()))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|(score, _)| *score > 0.5)
            .map(|(_, known)| known);
        Err(Error::NoZone {
            name: name.to_owned(),
            nearest,
        })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The date there at an instant.
    pub fn date(&self, at: Timestamp) -> Date {
        self.rules.to_datetime(at).date()
    }

    /// The date there, for seconds since 1970-01-01 00:00 UTC as the system's clock gives them.
    pub fn date_at_unix(&self, seconds: u64) -> Date {
        let at = i64::try_from(seconds).ok().map(Timestamp::from_second);
        self.date(at.and_then(Result::ok).unwrap_or_default())
    }

    /// The instant of a time of day, with a note where clocks were set on or back over it.
    ///
    /// # Errors
    /// When the date is outside [`YEARS`] or was left out.
    pub fn instant(&self, date: Date, time: Time) -> Result<(Timestamp, Option<Finding>), Error> {
        self.bounds(date)?;
        let ambiguous = self.rules.to_ambiguous_timestamp(date.to_datetime(time));
        let kind = ambiguous.offset();
        let Ok(at) = ambiguous.compatible() else {
            return Err(Error::Year { date });
        };
        let clock = time.strftime("%H:%M").to_string();
        let note = match kind {
            AmbiguousOffset::Unambiguous { .. } => None,
            AmbiguousOffset::Fold { .. } => Some(Finding::warning(
                "clock-twice",
                format!(
                    "{clock} comes twice on {date}, as clocks are set back; the first is taken"
                ),
            )),
            AmbiguousOffset::Gap { .. } => Some(Finding::warning(
                "clock-skipped",
                format!(
                    "there is no {clock} on {date}, as clocks are set forward; {} is taken",
                    self.when(at).clock()
                ),
            )),
        };
        Ok((at, note))
    }

    /// An instant as its clocks show it.
    pub fn when(&self, at: Timestamp) -> When {
        When {
            at,
            offset_s: self.rules.to_offset(at).seconds(),
        }
    }

    /// Minutes that pass from the first instant of `date` to `at`.
    ///
    /// # Errors
    /// When the date is outside [`YEARS`] or was left out.
    pub fn minutes_since(&self, date: Date, at: When) -> Result<f64, Error> {
        let first = timestamp(self.bounds(date)?.from);
        Ok((at.at.as_second() - first.as_second()) as f64 / 60.0)
    }

    /// The instant `minutes` after the first one of `date`.
    ///
    /// # Errors
    /// When the date is outside [`YEARS`] or was left out.
    pub fn after_minutes(&self, date: Date, minutes: i64) -> Result<When, Error> {
        let first = timestamp(self.bounds(date)?.from);
        let second = first.as_second().saturating_add(minutes.saturating_mul(60));
        Ok(self.when(Timestamp::from_second(second).unwrap_or(first)))
    }

    /// How many minutes clocks are ahead of where they stood at the first instant of `date`, `minutes` after it:
    /// 0 but for a day on which they are changed.
    ///
    /// # Errors
    /// When the date is outside [`YEARS`] or was left out.
    pub fn set_on_minutes(&self, date: Date, minutes: i64) -> Result<i64, Error> {
        let first = self.after_minutes(date, 0)?;
        let then = self.after_minutes(date, minutes)?;
        Ok(i64::from(then.offset_s - first.offset_s) / 60)
    }

    /// The nearest second inside `bounds`.
    pub(crate) fn when_within(&self, utc: f64, bounds: Bounds) -> When {
        let (first, end) = (timestamp(bounds.from), timestamp(bounds.to));
        let last = end.as_second() - 1;
        let second = timestamp(utc).as_second().min(last).max(first.as_second());
        self.when(Timestamp::from_second(second).unwrap_or(first))
    }

    /// The first instant of a date and of the next.
    pub(crate) fn bounds(&self, date: Date) -> Result<Bounds, Error> {
        if !(YEARS.0..=YEARS.1).contains(&date.year()) {
            return Err(Error::Year { date });
        }
        let start = |date: Date| -> Result<Timestamp, Error> {
            self.rules
                .to_ambiguous_timestamp(date.to_datetime(Time::midnight()))
                .compatible()
                .map_err(|_| Error::Year { date })
        };
        let from = start(date)?;
        let to = start(date.saturating_add(jiff::Span::new().days(1)))?;
        if to <= from || self.date(from) != date {
            return Err(Error::NoSuchDay {
                date,
                zone: self.name.clone(),
            });
        }
        Ok(Bounds {
            from: utc_days(from),
            to: utc_days(to),
        })
    }

    /// Whether the zone and the longitude go together, by the zone's standard time.
    ///
    /// Standard time is the lesser offset of January and July. Real zones stray up to about three
    /// hours from the sun (western China), so a pair is only said to look swapped when it is more
    /// than two and a quarter hours off and the pair the other way round less than one; a wrong sign
    /// likewise.
    /// Zones without a place (`UTC`, `Etc/...`) say nothing. It is a note, never a refusal: a pair
    /// within range is always a place, and somebody may want it.
    pub fn notes(&self, place: &Place, date: Date) -> Vec<Finding> {
        let mut notes = Vec::new();
        let nowhere = self.name.starts_with("Etc/") || !self.name.contains('/');
        let (latitude_deg, longitude_deg) = (place.latitude_deg(), place.longitude_deg());
        let zone_deg = self.standard_offset_s(date.year()) / 240.0;
        let off_h = |longitude: f64| {
            let apart = (zone_deg - longitude).rem_euclid(360.0);
            apart.min(360.0 - apart) / 15.0
        };
        let zone = &self.name;
        let hours = off_h(longitude_deg);
        if !nowhere && hours > 2.25 {
            if longitude_deg.abs() <= 90.0 && off_h(latitude_deg) < 1.0 {
                let says = format!(
                    "latitude {latitude_deg} and longitude {longitude_deg} look swapped: {zone} keeps the hour of longitudes near {zone_deg:.0}"
                );
                notes.push(
                    Finding::warning("looks-swapped", says).mended_by("if they are, exchange them"),
                );
            } else if off_h(-longitude_deg) < 1.0 {
                let says = format!(
                    "longitude {longitude_deg} lies far from {zone}, and {} would fit; west is negative",
                    -longitude_deg
                );
                notes.push(Finding::warning("looks-mirrored", says));
            } else if hours > 3.5 {
                let says =
                    format!("{zone} is {hours:.0} hours off the sun at longitude {longitude_deg}");
                notes.push(
                    Finding::warning("zone-far", says)
                        .mended_by("check the zone and the coordinates"),
                );
            }
        }
        // By then forecasts of the earth's turning differ by a second.
        if date.year() > 2045 {
            notes.push(Finding::note("forecast", format!(
                "the earth's turning in {} is a forecast: times may be off by as much as it errs, a few seconds by 2060, more later", date.year()
            )));
        }
        notes
    }

    fn standard_offset_s(&self, year: i16) -> f64 {
        [1, 7]
            .into_iter()
            .filter_map(|month| Date::new(year, month, 1).ok())
            .filter_map(|date| {
                self.rules
                    .to_timestamp(date.to_datetime(Time::midnight()))
                    .ok()
            })
            .map(|at| f64::from(self.rules.to_offset(at).seconds()))
            .fold(f64::INFINITY, f64::min)
    }
}

impl When {
    /// Hours and minutes, to the nearest as almanacs print them, but never into another date.
    pub fn clock(&self) -> String {
        let local = self.local();
        let half = local.saturating_add(SignedDuration::from_secs(30));
        let shown = if half.date() == local.date() {
            half
        } else {
            local
        };
        shown.strftime("%H:%M").to_string()
    }

    /// Hours, minutes and seconds.
    pub fn clock_s(&self) -> String {
        self.local().strftime("%H:%M:%S").to_string()
    }

    /// What its clock shows, in minutes after the midnight of `date`, counted on past it.
    pub fn minutes_after(&self, date: Date) -> f64 {
        let midnight = date.to_datetime(Time::midnight());
        self.local().duration_since(midnight).as_secs_f64() / 60.0
    }

    /// Seconds since 1970-01-01 00:00 UTC.
    pub fn unix_s(&self) -> i64 {
        self.at.as_second()
    }

    /// The date there.
    pub fn date(&self) -> Date {
        self.local().date()
    }

    /// Whole minutes: RFC 3339 knows no offset with seconds, which local mean times before zones had.
    fn offset(&self) -> Offset {
        let minutes = (f64::from(self.offset_s) / 60.0).round() as i32;
        Offset::from_seconds(minutes * 60).unwrap_or(Offset::UTC)
    }

    fn local(&self) -> DateTime {
        self.offset().to_datetime(self.at)
    }
}

/// RFC 3339, to the second.
impl fmt::Display for When {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let minutes = self.offset().seconds() / 60;
        let sign = if minutes < 0 { '-' } else { '+' };
        let (hours, minutes) = (minutes.abs() / 60, minutes.abs() % 60);
        let local = self.local().strftime("%Y-%m-%dT%H:%M:%S");
        write!(f, "{local}{sign}{hours:02}:{minutes:02}")
    }
}

impl Serialize for When {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// A time of day as it is typed: `18:10` or `18:10:30`.
///
/// # Errors
/// [`Error::NoClock`] when it is none.
pub fn clock(text: &str) -> Result<Time, Error> {
    let none = || Error::NoClock {
        text: text.to_owned(),
    };
    let number = |text: &str| -> Result<i8, Error> {
        let digits = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| text.parse().ok()).flatten().ok_or_else(none)
    };
    let parts: Vec<&str> = text.trim().split(':').collect();
    let (hour, minute, second) = match parts[..] {
        [hour, minute] => (number(hour)?, number(minute)?, 0),
        [hour, minute, second] => (number(hour)?, number(minute)?, number(second)?),
        _ => return Err(none()),
    };
    Time::new(hour, minute, second, 0).map_err(|_| none())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_read_or_refused() {
        assert_eq!(clock("18:10").unwrap(), jiff::civil::time(18, 10, 0, 0));
        assert_eq!(clock("6:05:09").unwrap(), jiff::civil::time(6, 5, 9, 0));
        for text in ["", "18", "24:00", "12:60", "1810", "+1:00", "12:00:00:00"] {
            assert!(clock(text).is_err(), "{text}");
        }
    }

    #[test]
    fn years_beyond_the_tables_are_refused() {
        let lisbon = Zone::named("Europe/Lisbon").unwrap();
        for text in ["0001-01-01", "9999-12-31", "1899-12-31", "2101-01-01"] {
            let found = lisbon.bounds(text.parse().unwrap());
            assert!(matches!(found, Err(Error::Year { .. })), "{text}");
        }
    }

    #[test]
    fn unknown_zones_name_the_nearest() {
        for (typed, wanted) in [
            ("Europe/Lisboa", "Europe/Lisbon"),
            ("lisbon", "Europe/Lisbon"),
            ("Europe/Porot", "Europe/"),
            ("America/New York", "America/New_York"),
            ("Australia/Lord Howe", "Australia/Lord_Howe"),
        ] {
            match Zone::named(typed) {
                Err(Error::NoZone { nearest, .. }) => {
                    let nearest = nearest.unwrap_or_default();
                    assert!(nearest.starts_with(wanted), "{typed}: {nearest}");
                }
                other => panic!("{typed}: {other:?}"),
            }
        }
        assert!(Zone::named("").is_err());
        assert!(Zone::named("qqqqqqqq").is_err());
    }

    #[test]
    fn pairs_that_the_zone_contradicts_are_noted() {
        let notes = |latitude, longitude, zone: &str| {
            let place = Place::new(latitude, longitude).unwrap();
            let date = jiff::civil::date(2026, 6, 21);
            Zone::named(zone).unwrap().notes(&place, date)
        };
        let kinds = |found: &[Finding]| -> Vec<String> {
            found.iter().map(|one| one.kind.to_string()).collect()
        };
        // Porto, London and Oslo the wrong way round.
        for (latitude, longitude, zone) in [
            (-8.61, 41.15, "Europe/Lisbon"),
            (-0.1278, 51.5074, "Europe/London"),
            (10.7522, 59.9139, "Europe/Oslo"),
        ] {
            let found = notes(latitude, longitude, zone);
            assert_eq!(kinds(&found), ["looks-swapped"], "{zone}");
        }
        let found = notes(34.05, 118.24, "America/Los_Angeles");
        assert_eq!(kinds(&found), ["looks-mirrored"]);
        let found = notes(-33.87, 151.2, "Europe/Lisbon");
        assert_eq!(kinds(&found), ["zone-far"]);
        // Places whose zone strays far from the sun, and zones without a place.
        for (latitude, longitude, zone) in [
            (41.15, -8.61, "Europe/Lisbon"),
            (42.88, -8.54, "Europe/Madrid"),
            (39.47, 75.99, "Asia/Shanghai"),
            (64.15, -21.94, "Atlantic/Reykjavik"),
            (-50.34, -72.26, "America/Argentina/Rio_Gallegos"),
            (1.87, -157.4, "Pacific/Kiritimati"),
            (-43.95, -176.55, "Pacific/Chatham"),
            (23.72, -15.93, "Africa/El_Aaiun"),
            (64.5, -165.4, "America/Nome"),
            (51.5, 100.0, "UTC"),
            (51.5, 100.0, "Etc/GMT+7"),
        ] {
            let found = notes(latitude, longitude, zone);
            assert!(found.is_empty(), "{zone}: {found:?}");
        }
    }

    #[test]
    fn days_last_as_long_as_they_do() {
        let hours = |zone: &str, text: &str| {
            let bounds = Zone::named(zone).unwrap().bounds(text.parse().unwrap());
            bounds.map(|one| (one.to - one.from) * 24.0)
        };
        for (zone, day, wanted) in [
            ("Europe/Lisbon", "2026-03-29", 23.0),
            ("Europe/Lisbon", "2026-10-25", 25.0),
            ("Australia/Lord_Howe", "2026-04-05", 24.5),
            ("Australia/Lord_Howe", "2026-10-04", 23.5),
            ("Asia/Kolkata", "2026-10-04", 24.0),
            // Clocks were set on at midnight, so the day began at one.
            ("America/Sao_Paulo", "2018-11-04", 23.0),
        ] {
            let found = hours(zone, day).unwrap();
            assert!((found - wanted).abs() < 1e-6, "{zone} {day}: {found}");
        }
        // Samoa went over the date line and left a day out.
        let found = hours("Pacific/Apia", "2011-12-30");
        assert!(matches!(found, Err(Error::NoSuchDay { .. })), "{found:?}");
    }

    #[test]
    fn times_are_written_with_their_offset() {
        let at: Timestamp = "2026-06-21T12:00:00Z".parse().unwrap();
        for (zone, wanted) in [
            ("Asia/Kolkata", "2026-06-21T17:30:00+05:30"),
            ("America/St_Johns", "2026-06-21T09:30:00-02:30"),
            ("UTC", "2026-06-21T12:00:00+00:00"),
        ] {
            assert_eq!(Zone::named(zone).unwrap().when(at).to_string(), wanted);
        }
        // Local mean time with seconds: the offset is rounded, the instant kept.
        let at: Timestamp = "1905-06-21T12:00:00Z".parse().unwrap();
        let text = Zone::named("Europe/Lisbon").unwrap().when(at).to_string();
        assert_eq!(text.parse::<Timestamp>().unwrap(), at, "{text}");
    }
}
