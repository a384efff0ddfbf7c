//! Civil time, the even time of the theories, and the turning of the earth.
//!
//! Three scales: UTC as clocks keep it, TT in which sun and moon are computed, and UT1, the
//! earth's turning. It knows no zones; see `civil`.
//!
//! TT − UTC is 32.184 s and the leap seconds so far (from 1972); UT1 is TT − ΔT. No leap second is
//! foreseen after the last one: in 2022 the General Conference on Weights and Measures decided to
//! let UT1 − UTC grow past a second from 2035 at the latest (resolution 4). Before 1972 civil time
//! was kept close to UT1 and is taken as UT1.

use jiff::Timestamp;

/// Seconds in a day.
pub(crate) const DAY_S: f64 = 86_400.0;

/// 2000-01-01 12:00 in Unix seconds; days are counted from here.
const J2000_UNIX_S: i64 = 946_728_000;

/// The same as a Julian date, and as a modified one.
pub(crate) const J2000_JD: f64 = 2_451_545.0;
const J2000_MJD: f64 = 51_544.5;

/// One instant in the three scales, each in days from noon of 2000-01-01 of that scale.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Instant {
    pub tt: f64,
    pub ut1: f64,
}

impl Instant {
    /// From UTC days.
    pub fn from_utc(utc: f64) -> Self {
        match leap_seconds(utc) {
            Some(leap) => {
                let tt = utc + (32.184 + leap) / DAY_S;
                Self {
                    tt,
                    ut1: tt - delta_t_s(tt) / DAY_S,
                }
            }
            None => Self {
                tt: utc + delta_t_s(utc) / DAY_S,
                ut1: utc,
            },
        }
    }

    /// Julian centuries of TT from 2000.
    pub fn centuries(self) -> f64 {
        self.tt / 36_525.0
    }
}

/// UTC days of a timestamp.
pub(crate) fn utc_days(at: Timestamp) -> f64 {
    let seconds = at.as_second() - J2000_UNIX_S;
    (seconds as f64 + f64::from(at.subsec_nanosecond()) * 1e-9) / DAY_S
}

/// The timestamp nearest to a whole second.
pub(crate) fn timestamp(utc: f64) -> Timestamp {
    let seconds = (utc * DAY_S).round() as i64 + J2000_UNIX_S;
    Timestamp::from_second(seconds).unwrap_or_default()
}

/// ΔT = TT − UT1 in seconds, for TT days; linear between the years of [`DELTA_T_S`].
///
/// Against the daily values of the same source it is off by 0.09 s at most (1990 to 2025).
pub(crate) fn delta_t_s(tt: f64) -> f64 {
    let years = (tt + 0.5) / 365.25 + f64::from(2000 - FIRST_YEAR);
    let last = (DELTA_T_S.len() - 1) as f64;
    let years = years.clamp(0.0, last - 1e-9);
    let before = years as usize;
    let share = years - before as f64;
    DELTA_T_S[before] + share * (DELTA_T_S[before + 1] - DELTA_T_S[before])
}

/// TAI − UTC in seconds, or none before 1972.
fn leap_seconds(utc: f64) -> Option<f64> {
    let mjd = utc + J2000_MJD;
    // Nearly every date asked for lies after the last.
    if mjd >= LEAP_MJD[LEAP_MJD.len() - 1] {
        return Some((9 + LEAP_MJD.len()) as f64);
    }
    let index = LEAP_MJD.partition_point(|start| *start <= mjd);
    // TAI − UTC was 10 s when leap seconds began.
    (index > 0).then(|| (9 + index) as f64)
}

/// The days from which a further leap second counts, as modified Julian dates (IERS Bulletin C).
const LEAP_MJD: [f64; 28] = [
    41_317.0, 41_499.0, 41_683.0, 42_048.0, 42_413.0, 42_778.0, 43_144.0, 43_509.0, 43_874.0,
    44_239.0, 44_786.0, 45_151.0, 45_516.0, 46_247.0, 47_161.0, 47_892.0, 48_257.0, 48_804.0,
    49_169.0, 49_534.0, 50_083.0, 50_630.0, 51_179.0, 53_736.0, 54_832.0, 56_109.0, 57_204.0,
    57_754.0,
];

const FIRST_YEAR: i32 = 1900;

/// ΔT in seconds on 1 January of 1900 to 2102.
///
/// Measured values of the IERS up to 2025, before 1973 the fit by Stephenson, Morrison and
/// Hohenkerk (Proc. R. Soc. A 472, 2016; addendum 2020); after it their long-term parabola joined
/// on smoothly. Read from the time scale built into skyfield 1.55. Nobody can know the later ones:
/// published forecasts for 2060 lie several seconds apart.
#[rustfmt::skip]
const DELTA_T_S: [f64; 203] = [
    -1.98, -0.75, 0.62, 2.06, 3.51, 4.92, 6.24, 7.49, 8.70, 9.90,
    11.14, 12.43, 13.75, 15.06, 16.32, 17.48, 18.52, 19.44, 20.25, 20.98,
    21.62, 22.19, 22.69, 23.12, 23.49, 23.79, 24.02, 24.20, 24.32, 24.39,
    24.42, 24.41, 24.38, 24.32, 24.24, 24.16, 24.09, 24.04, 24.06, 24.17,
    24.42, 24.83, 25.35, 25.92, 26.51, 27.05, 27.51, 27.89, 28.24, 28.58,
    28.93, 29.32, 29.70, 30.00, 30.20, 30.41, 30.76, 31.34, 32.03, 32.65,
    33.07, 33.36, 33.62, 33.96, 34.44, 35.09, 35.95, 36.93, 37.95, 38.95,
    39.93, 40.95, 42.14, 43.37, 44.48, 45.48, 46.46, 47.52, 48.53, 49.59,
    50.54, 51.38, 52.17, 52.96, 53.79, 54.34, 54.87, 55.32, 55.82, 56.30,
    56.86, 57.57, 58.31, 59.12, 59.98, 60.79, 61.63, 62.30, 62.97, 63.47,
    63.83, 64.09, 64.30, 64.47, 64.57, 64.69, 64.85, 65.15, 65.46, 65.78,
    66.07, 66.32, 66.60, 66.91, 67.28, 67.64, 68.10, 68.59, 68.97, 69.22,
    69.36, 69.36, 69.29, 69.20, 69.18, 69.14, 69.11, 69.10, 69.08, 69.07,
    69.08, 69.09, 69.12, 69.16, 69.20, 69.26, 69.33, 69.41, 69.51, 69.61,
    69.72, 69.85, 69.98, 70.13, 70.28, 70.45, 70.63, 70.81, 71.01, 71.22,
    71.44, 71.67, 71.92, 72.17, 72.43, 72.70, 72.99, 73.28, 73.59, 73.90,
    74.23, 74.57, 74.92, 75.28, 75.64, 76.02, 76.41, 76.82, 77.23, 77.65,
    78.08, 78.52, 78.98, 79.44, 79.92, 80.40, 80.90, 81.40, 81.92, 82.45,
    82.98, 83.53, 84.09, 84.66, 85.24, 85.83, 86.43, 87.04, 87.66, 88.29,
    88.94, 89.59, 90.25, 90.93, 91.61, 92.30, 93.01, 93.72, 94.45, 95.18,
    95.93, 96.68, 97.45,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn delta_t_is_what_was_measured() {
        // IERS: 63.83 s at 2000.0, 66.07 s at 2010.0, 69.36 s at 2020.0.
        for (year, wanted) in [(2000, 63.83), (2010, 66.07), (2020, 69.36)] {
            let tt = f64::from(year - 2000) * 365.25 - 0.5;
            assert!((delta_t_s(tt) - wanted).abs() < 0.02, "{year}");
        }
    }

    #[test]
    fn leap_seconds_begin_when_they_began() {
        let days = |text: &str| utc_days(text.parse().unwrap());
        assert_eq!(leap_seconds(days("1971-12-31T23:59:59Z")), None);
        assert_eq!(leap_seconds(days("1972-01-01T00:00:00Z")), Some(10.0));
        assert_eq!(leap_seconds(days("2016-12-31T23:59:59Z")), Some(36.0));
        assert_eq!(leap_seconds(days("2017-01-01T00:00:00Z")), Some(37.0));
        assert_eq!(leap_seconds(days("2060-01-01T00:00:00Z")), Some(37.0));
    }

    #[test]
    fn civil_time_and_the_earth_keep_together() {
        // UTC is kept within 0.9 s of UT1; to 2040 the forecast stays there.
        let mut at: Timestamp = "1900-01-01T00:00:00Z".parse().unwrap();
        let end: Timestamp = "2040-01-01T00:00:00Z".parse().unwrap();
        while at < end {
            let utc = utc_days(at);
            let apart = (Instant::from_utc(utc).ut1 - utc) * DAY_S;
            assert!(apart.abs() < 0.9, "{at}: {apart}");
            assert_eq!(timestamp(utc), at);
            at += jiff::SignedDuration::from_hours(31 * 24);
        }
    }
}
