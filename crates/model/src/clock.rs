//! Time on the clock of a day: hours and minutes, counted on past midnight.

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};
use std::fmt;

/// A clock time of a shooting day, in whole minutes from its midnight.
///
/// A night counts on: half past two in the following morning is 1590. A person reads `02:30 (+1)`; files
/// hold `26:30`; both are read everywhere.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ClockTime(u32);

impl ClockTime {
    /// The last minute a day can hold: the end of the following day.
    pub const MOST_MINUTES: u32 = 48 * 60;

    /// `minutes` after midnight; `None` beyond two days.
    pub const fn from_minutes(minutes: u32) -> Option<Self> {
        if minutes <= Self::MOST_MINUTES {
            Some(Self(minutes))
        } else {
            None
        }
    }

    /// Minutes after the day's midnight.
    pub const fn minutes(self) -> u32 {
        self.0
    }

    /// `minutes` later, at most the end of the following day.
    #[must_use]
    pub fn later(self, minutes: u32) -> Self {
        Self(self.0.saturating_add(minutes).min(Self::MOST_MINUTES))
    }
}

/// A time `minutes` after a day's midnight as a person reads it, to the nearest minute: `18:05`, `02:30 (+1)`
/// on the following day, `23:30 (−1)` on the one before.
pub fn shown(minutes: f64) -> String {
    let whole = minutes.round() as i64;
    let (day, of_day) = (whole.div_euclid(24 * 60), whole.rem_euclid(24 * 60));
    let clock = format!("{:02}:{:02}", of_day / 60, of_day % 60);
    match day {
        0 => clock,
        1.. => format!("{clock} (+{day})"),
        _ => format!("{clock} (−{})", -day),
    }
}

impl fmt::Display for ClockTime {
    /// `18:05`, `02:30 (+1)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&shown(f64::from(self.0)))
    }
}

impl std::str::FromStr for ClockTime {
    type Err = String;
    /// Reads hours and minutes, `6:30`, `26:30` or `2:30 (+1)`, up to `48:00`.
    fn from_str(text: &str) -> Result<Self, String> {
        let digits = |part: &str, most: usize| {
            ((1..=most).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit()))
                .then(|| part.parse::<u32>().ok())
                .flatten()
        };
        let read = || {
            let (clock, days) = match text.split_once('+') {
                Some((clock, days)) => {
                    let days = days.trim().trim_end_matches(')');
                    (clock.trim_end().trim_end_matches('('), digits(days, 1)?)
                }
                None => (text, 0),
            };
            let (hours, minutes) = clock.trim().split_once(':')?;
            let minutes = digits(minutes, 2).filter(|m| *m < 60 && minutes.len() == 2)?;
            Self::from_minutes((days * 24 + digits(hours, 2)?) * 60 + minutes)
        };
        read().ok_or_else(|| {
            format!("`{text}` is not a clock time; write hours and minutes from 00:00 to 48:00, such as 18:05, or 26:30 or 02:30 (+1) for half past two in the following morning")
        })
    }
}

impl Serialize for ClockTime {
    /// `18:05`, `26:30`.
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(&format_args!("{:02}:{:02}", self.0 / 60, self.0 % 60))
    }
}

impl<'de> Deserialize<'de> for ClockTime {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_times_are_read_and_written() {
        for (text, minutes) in [
            ("00:00", 0),
            ("6:30", 390),
            ("18:05", 1085),
            ("26:30", 1590),
            ("48:00", 2880),
        ] {
            assert_eq!(text.parse::<ClockTime>().unwrap().minutes(), minutes);
        }
        for text in [
            "02:30 (+1)",
            "2:30 (+1)",
            " 02:30(+1) ",
            "02:30 +1",
            "26:30 (+0)",
        ] {
            assert_eq!(text.parse::<ClockTime>().unwrap().minutes(), 1590, "{text}");
        }
        let night = ClockTime::from_minutes(1590).unwrap();
        assert_eq!(night.to_string(), "02:30 (+1)");
        assert_eq!(serde_json::to_string(&night).unwrap(), "\"26:30\"");
        assert_eq!(format!("{:<12}|", ClockTime::default()), "00:00       |");
        for bad in [
            "",
            "6",
            "6:3",
            "6:60",
            "48:01",
            "-1:00",
            "6:30:00",
            "６:30",
            "+6:30",
            "02:30 (+2)",
            "02:30 (+)",
            "02:30 (1)",
            "(+1)",
            "02:30 (+1) pm",
        ] {
            assert!(bad.parse::<ClockTime>().is_err(), "{bad}");
        }
    }

    #[test]
    fn a_time_is_shown_by_the_day_it_lies_in() {
        assert_eq!(shown(1085.0), "18:05");
        assert_eq!(shown(1440.0), "00:00 (+1)");
        assert_eq!(shown(1439.6), "00:00 (+1)");
        assert_eq!(shown(1590.0), "02:30 (+1)");
        assert_eq!(shown(2880.0), "00:00 (+2)");
        assert_eq!(shown(-30.0), "23:30 (−1)");
        assert_eq!(shown(f64::NAN), "00:00");
    }
}
