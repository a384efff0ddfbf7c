//! A calendar date.

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};
use std::fmt;

/// A date of the Gregorian calendar, years 0 to 9999. In files it is text, year-month-day (ISO 8601).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date(jiff::civil::Date);

impl Date {
    /// As the library of dates has it, for what is worked out from it.
    pub const fn civil(self) -> jiff::civil::Date {
        self.0
    }

    /// Days from here to `other`; negative when that lies before.
    pub fn days_until(self, other: Self) -> i64 {
        i64::from((other.0 - self.0).get_days())
    }

    /// As it is read in English text, `20 November 2026`.
    pub fn in_words(self) -> String {
        self.0.strftime("%-d %B %-Y").to_string()
    }
}

impl From<jiff::civil::Date> for Date {
    fn from(date: jiff::civil::Date) -> Self {
        Self(date)
    }
}

fn none(text: &str) -> String {
    format!("`{text}` is not a date; write year-month-day, such as 2026-10-15")
}

impl fmt::Display for Date {
    /// `2026-11-20`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.0, f)
    }
}

impl std::str::FromStr for Date {
    type Err = String;
    /// Reads year-month-day; month and day may leave out a leading zero.
    fn from_str(text: &str) -> Result<Self, String> {
        let number = |text: &str, digits: std::ops::RangeInclusive<usize>| {
            let good = digits.contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
            good.then(|| text.parse::<i16>().ok()).flatten()
        };
        let read = || {
            let mut parts = text.trim().splitn(3, '-');
            let year = number(parts.next()?, 4..=4)?;
            let month = number(parts.next()?, 1..=2)?;
            let day = number(parts.next()?, 1..=2)?;
            jiff::civil::Date::new(year, month as i8, day as i8).ok()
        };
        read().map(Self).ok_or_else(|| none(text))
    }
}

impl Serialize for Date {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Date {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        // As ISO 8601 and the schema of the plan file have it, though a person may type less.
        let short = text.len() != "2026-10-15".len();
        let read = if short {
            Err(none(&text))
        } else {
            text.parse()
        };
        read.map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::Date;

    #[test]
    fn dates_are_checked_against_the_calendar() {
        for (text, good) in [
            ("2026-02-28", true),
            ("2026-02-29", false),
            ("2024-02-29", true),
            ("1900-02-29", false),
            ("2026-13-01", false),
            ("26-1-1", false),
            ("2026-10-15", true),
            ("2026-6-1", true),
            ("2026-6-999", false),
            ("2026-06-01-01", false),
            ("20261015", false),
            ("", false),
        ] {
            assert_eq!(text.parse::<Date>().is_ok(), good, "{text}");
        }
        let says = "tomorrow".parse::<Date>().unwrap_err();
        assert_eq!(
            says,
            "`tomorrow` is not a date; write year-month-day, such as 2026-10-15"
        );
    }

    #[test]
    fn a_date_is_text_in_files_and_words_in_sentences() {
        let date: Date = serde_json::from_str("\"2026-11-02\"").unwrap();
        assert_eq!(serde_json::to_string(&date).unwrap(), "\"2026-11-02\"");
        assert_eq!(date.in_words(), "2 November 2026");
        assert!(serde_json::from_str::<Date>("\"2026-11-2\"").is_err());
    }

    #[test]
    fn days_are_counted_across_leap_years() {
        let between = |a: &str, b: &str| {
            let date = |text: &str| text.parse::<Date>().unwrap();
            date(a).days_until(date(b))
        };
        // By the calendar: 2026 and 2100 have no leap day, 2024 and 2000 have one.
        assert_eq!(between("2026-10-03", "2026-10-04"), 1);
        assert_eq!(between("2026-10-04", "2026-10-03"), -1);
        assert_eq!(between("2026-02-28", "2026-03-01"), 1);
        assert_eq!(between("2024-02-28", "2024-03-01"), 2);
        assert_eq!(between("2000-02-28", "2000-03-01"), 2);
        assert_eq!(between("2100-02-28", "2100-03-01"), 1);
        assert_eq!(between("2025-12-31", "2026-01-01"), 1);
        // 1970-01-01 to 2026-11-25 are 20,782 days (1,795,564,800 s of Unix time / 86,400).
        assert_eq!(between("1970-01-01", "2026-11-25"), 20_782);
    }
}
