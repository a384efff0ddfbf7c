//! New moon, first quarter, full moon, last quarter: when the moon's longitude is 0, 90, 180 and
//! 270 degrees ahead of the sun's.

use crate::ephemeris::Bodies;
use crate::error::Error;
use crate::position::within_years;
use crate::timescale::{Instant, timestamp, utc_days};
use jiff::Timestamp;
use serde::Serialize;

/// A principal phase.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// 0° ahead of the sun.
    NewMoon,
    /// 90° ahead.
    FirstQuarter,
    /// 180° ahead.
    FullMoon,
    /// 270° ahead.
    LastQuarter,
}

const PHASES: [Phase; 4] = [
    Phase::NewMoon,
    Phase::FirstQuarter,
    Phase::FullMoon,
    Phase::LastQuarter,
];

/// The four principal phases after an instant, in order, to the second.
///
/// # Errors
/// [`Error::Year`] outside [`crate::YEARS`].
pub fn next_phases(after: Timestamp) -> Result<[(Phase, Timestamp); 4], Error> {
    within_years(after)?;
    let from = utc_days(after);
    let compute = |utc| {
        let at = Instant::from_utc(utc);
        (at, Bodies::compute(at))
    };
    let mut found = PHASES.map(|phase| (phase, next(phase, from, compute)));
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    Ok(found.map(|(phase, at)| (phase, timestamp(at))))
}

/// Every principal phase between two instants, in UTC days, for bodies that are known between them.
pub(crate) fn between(
    from: f64,
    to: f64,
    bodies: impl Fn(f64) -> (Instant, Bodies) + Copy,
) -> Vec<(Phase, f64)> {
    let mut found = Vec::new();
    let ahead = |utc: f64| ahead_deg(bodies(utc));
    // A phase is 6.6 days from the next at least, and the moon never gains more than 16 degrees a day.
    let mut before = (from, ahead(from));
    let mut done = false;
    while !done {
        let at = (before.0 + 1.0).min(to);
        done = at >= to;
        let now = (at, ahead(at));
        let gained = (now.1 - before.1).rem_euclid(360.0);
        for phase in PHASES {
            let short = (phase.ahead_deg() - before.1).rem_euclid(360.0);
            if short < gained {
                let guess = before.0 + (at - before.0) * short / gained;
                found.push((phase, close_in(phase, guess, from, to, ahead)));
            }
        }
        before = now;
    }
    found
}

impl Phase {
    fn ahead_deg(self) -> f64 {
        90.0 * f64::from(self as u8)
    }
}

/// Newton's method from near by, kept between two instants.
fn close_in(phase: Phase, guess: f64, from: f64, to: f64, ahead: impl Fn(f64) -> f64) -> f64 {
    let mut at = guess.clamp(from, to);
    for _ in 0..12 {
        let short = (phase.ahead_deg() - ahead(at) + 180.0).rem_euclid(360.0) - 180.0;
        let step = short / GAIN;
        at = (at + step).clamp(from, to);
        if step.abs() < 1e-6 {
            break;
        }
    }
    at
}

/// Degrees a day that the moon gains on the sun, in the mean.
const GAIN: f64 = 12.190_749;

fn next(phase: Phase, from: f64, bodies: impl Fn(f64) -> (Instant, Bodies)) -> f64 {
    let ahead = |utc: f64| ahead_deg(bodies(utc));
    // A little back, so that a phase at this very instant counts.
    let short = (phase.ahead_deg() - ahead(from) + 1e-5).rem_euclid(360.0);
    close_in(phase, from + short / GAIN, from - 1.0, from + 40.0, ahead)
}

/// How far the moon is ahead of the sun in longitude, 0 to 360 degrees.
fn ahead_deg((at, bodies): (Instant, Bodies)) -> f64 {
    let longitudes = bodies.longitudes(at);
    (longitudes.moon_deg - longitudes.sun_deg).rem_euclid(360.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(after: &str, phase: Phase, wanted: &str, slack_s: i64) {
        let found = next_phases(after.parse().unwrap()).unwrap();
        let (_, at) = found.into_iter().find(|(one, _)| *one == phase).unwrap();
        let wanted: Timestamp = wanted.parse().unwrap();
        let apart = at.duration_since(wanted).as_secs();
        assert!(apart.abs() <= slack_s, "{at} instead of {wanted}");
    }

    #[test]
    fn phases_as_meeus_49() {
        // 49.a: new moon 1977 Feb 18 03:37:42 TD; ΔT was 47.6 s.
        check(
            "1977-02-01T00:00:00Z",
            Phase::NewMoon,
            "1977-02-18T03:36:54Z",
            20,
        );
        // 49.b: last quarter 2044 Jan 21 23:48:17 TD; TT − UTC 69 s.
        check(
            "2044-01-10T00:00:00Z",
            Phase::LastQuarter,
            "2044-01-21T23:47:08Z",
            20,
        );
    }

    #[test]
    fn phases_as_the_naval_observatory_has_them() {
        for (wanted, phase) in [
            ("1980-01-02T09:02:00Z", Phase::FullMoon),
            ("1980-01-10T11:50:00Z", Phase::LastQuarter),
            ("1980-01-17T21:19:00Z", Phase::NewMoon),
            ("1980-01-24T13:58:00Z", Phase::FirstQuarter),
            ("1980-02-16T08:51:00Z", Phase::NewMoon),
            ("1980-06-12T20:38:00Z", Phase::NewMoon),
            ("1980-12-21T18:08:00Z", Phase::FullMoon),
            ("1980-12-29T06:32:00Z", Phase::LastQuarter),
            ("2018-09-16T23:15:00Z", Phase::FirstQuarter),
            ("2018-09-25T02:52:00Z", Phase::FullMoon),
        ] {
            let at: Timestamp = wanted.parse().unwrap();
            let before = (at - jiff::SignedDuration::from_hours(72)).to_string();
            check(&before, phase, wanted, 60);
        }
    }

    #[test]
    fn phases_of_2026() {
        // skyfield 1.55.
        for (wanted, phase) in [
            ("2026-01-18T19:51:59Z", Phase::NewMoon),
            ("2026-05-31T08:45:12Z", Phase::FullMoon),
            ("2026-08-12T17:36:45Z", Phase::NewMoon),
            ("2026-09-26T16:49:02Z", Phase::FullMoon),
            ("2026-12-30T18:59:30Z", Phase::LastQuarter),
        ] {
            let at: Timestamp = wanted.parse().unwrap();
            let before = (at - jiff::SignedDuration::from_hours(72)).to_string();
            check(&before, phase, wanted, 30);
        }
        let from = utc_days("2026-01-01T00:00:00Z".parse().unwrap());
        let all = between(from, from + 365.0, |utc| {
            let at = Instant::from_utc(utc);
            (at, Bodies::compute(at))
        });
        let full = all.iter().filter(|(one, _)| *one == Phase::FullMoon);
        assert_eq!(full.count(), 13, "two in May");
        assert!(
            all.windows(2)
                .all(|pair| (6.0..9.0).contains(&(pair[1].1 - pair[0].1)))
        );
    }
}
