//! The clock on the wall against minutes that pass: they differ on a day on which clocks are changed.
//!
//! The solver counts minutes that pass since the day's midnight; people write what a clock shows.

use model::ClockTime;
use serde::Serialize;

/// When, in a day and the next, clocks are set on or back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Clocks {
    /// Minutes passed since midnight at which clocks are changed, and by how many minutes they are set on
    /// (back is negative).
    pub change: Option<(i64, i64)>,
}

impl Clocks {
    /// What a clock shows, held within what a day can show.
    pub(crate) fn clock(self, passed: i64) -> ClockTime {
        let shown = self
            .shown(passed)
            .clamp(0, i64::from(ClockTime::MOST_MINUTES));
        ClockTime::from_minutes(shown as u32).unwrap_or_default()
    }

    /// What a clock shows, counted on past midnight, when `passed` minutes have passed.
    pub fn shown(&self, passed: i64) -> i64 {
        match self.change {
            Some((at, by)) if passed >= at => passed + by,
            _ => passed,
        }
    }

    /// How many minutes have passed when a clock shows `shown`. What is shown twice is taken the first
    /// time; what is left out, as the moment of the change.
    pub fn passed(&self, shown: i64) -> i64 {
        match self.change {
            Some((at, by)) if shown >= at => (shown - by).max(at),
            _ => shown,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Clocks;

    #[test]
    fn an_hour_is_missing_in_spring() {
        // At 01:00 clocks go on to 02:00; counted from the evening before, at 25:00.
        let spring = Clocks {
            change: Some((1500, 60)),
        };
        assert_eq!(spring.shown(1499), 1499);
        assert_eq!(spring.shown(1500), 1560);
        assert_eq!(spring.passed(1560), 1500);
        assert_eq!(spring.passed(1590), 1530);
        assert_eq!(spring.passed(1530), 1500, "01:30 is never shown");
    }

    #[test]
    fn an_hour_comes_twice_in_autumn() {
        // At 02:00 clocks go back to 01:00; counted from the evening before, at 26:00.
        let autumn = Clocks {
            change: Some((1560, -60)),
        };
        assert_eq!(autumn.shown(1560), 1500);
        assert_eq!(autumn.passed(1500), 1500, "the first of both");
        assert_eq!(autumn.passed(1560), 1620);
        assert_eq!(autumn.passed(1590), 1650);
    }

    #[test]
    fn most_days_have_no_change() {
        let usual = Clocks::default();
        assert_eq!((usual.shown(1600), usual.passed(1600)), (1600, 1600));
    }
}
