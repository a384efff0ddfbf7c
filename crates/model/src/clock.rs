//! Time on the clock of a day: hours and minutes, counted on past midnight.

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};
use std::fmt;

/// A clock time of a shooting day, in whole minutes from its midnight. A night counts on: `26:30`
/// is half past two in the following morning.
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

impl fmt::Display for ClockTime {
    /// `18:05`, `26:30`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}:{:02}", self.0 / 60, self.0 % 60)
    }
}

impl std::str::FromStr for ClockTime {
    type Err = String;
    /// Reads hours and minutes, `6:30` or `26:30`, up to `48:00`.
    fn from_str(text: &str) -> Result<Self, String> {
        let digits = |part: &str, most: usize| {
            ((1..=most).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit()))
                .then(|| part.parse::<u32>().ok())
                .flatten()
        };
        text.trim()
            .split_once(':')
            .and_then(|(hours, minutes)| {
                let minutes = digits(minutes, 2).filter(|m| *m < 60 && minutes.len() == 2)?;
                Self::from_minutes(digits(hours, 2)? * 60 + minutes)
            })
            .ok_or_else(|| {
                format!("`{text}` is not a clock time; write hours and minutes from 00:00 to 48:00, such as 18:05, or 26:30 for half past two in the following morning")
            })
    }
}

impl Serialize for ClockTime {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
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
        assert_eq!(ClockTime::from_minutes(1590).unwrap().to_string(), "26:30");
        for bad in [
            "", "6", "6:3", "6:60", "48:01", "-1:00", "6:30:00", "６:30", "+6:30",
        ] {
            assert!(bad.parse::<ClockTime>().is_err(), "{bad}");
        }
    }
}
