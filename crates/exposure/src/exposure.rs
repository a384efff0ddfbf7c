//! From light on a subject to stops over or under.
//!
//! # What "correct" means
//! An exposure is correct where an incident meter says so: E = C N²/(t S), with the illuminance E in
//! lux, the T-stop N, the exposure time t in seconds, the ISO S and the meter's constant C
//! (ISO 2720: 240 to 400 for a flat receptor, 250 usual; 320 to 540 for a dome, 320 to 340 usual).
//! Between the two usual values lies 0.4 stop, so no figure here is worth more than a third of one.
//! Correct puts a surface of 18 % where the camera's curve expects mid grey. A face is no grey card: by common practice
//! light skin lies about one stop above it and dark skin at it or below, at a correct exposure
//! ([`above_mid_grey`]); a target of 0 shows a face as bright as it is.
//!
//! # Conventions
//! Stops are positive when there is more light than correct.

use crate::error::{
    CONSTANT_C, EXPOSURE_S, Error, ISO, LOSS_STOPS, LUX, RATE_FPS, REFLECTANCE, SHUTTER_DEG, T_STOP,
};
use model::FrameRate;
use model::metering::GREY;
use serde::Serialize;

/// How a camera takes a picture, as far as exposure goes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Taking {
    /// Exposure index (ISO 12232).
    pub iso: f64,
    /// T-stop.
    pub t_stop: f64,
    /// Shutter angle, degrees of 360.
    pub shutter_deg: f64,
    /// The camera's rate.
    pub rate: FrameRate,
    /// Lost in filters, stops.
    pub filter_stops: f64,
    /// The meter's constant C.
    pub constant_c: f64,
}

impl Taking {
    /// How long one exposure lasts, seconds: angle ÷ (360 × rate).
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for an angle outside 0.1 to 360 degrees.
    pub fn exposure_s(&self) -> Result<f64, Error> {
        exposure_s(self.shutter_deg, self.rate.fps())
    }

    /// The light that is correct, lux, filters counted.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a figure outside its limits.
    pub fn correct_lux(&self) -> Result<f64, Error> {
        let bare = correct_lux(self.t_stop, self.exposure_s()?, self.iso, self.constant_c)?;
        Ok(bare * LOSS_STOPS.check(self.filter_stops)?.exp2())
    }

    /// Stops over (positive) or under at `lux`.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a figure outside its limits, 0 lux too.
    pub fn stops(&self, lux: f64) -> Result<f64, Error> {
        Ok((LUX.check(lux)? / self.correct_lux()?).log2())
    }
}

/// How long one exposure lasts at `fps` and `shutter_deg`, seconds.
///
/// # Errors
/// [`Error::OutOfRange`] outside 0.1 to 360 degrees and 1 to 1000 frames a second.
pub fn exposure_s(shutter_deg: f64, fps: f64) -> Result<f64, Error> {
    Ok(SHUTTER_DEG.check(shutter_deg)? / (360.0 * RATE_FPS.check(fps)?))
}

/// The light that is correct, lux: C N²/(t S) (ISO 2720).
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits.
pub fn correct_lux(t_stop: f64, exposure_s: f64, iso: f64, constant_c: f64) -> Result<f64, Error> {
    let n = T_STOP.check(t_stop)?;
    Ok(CONSTANT_C.check(constant_c)? * n * n / (EXPOSURE_S.check(exposure_s)? * ISO.check(iso)?))
}

/// Exposure value of `lux` at `iso`: log₂(E S / C) (ISO 2720).
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits, 0 lux too.
pub fn exposure_value(lux: f64, iso: f64, constant_c: f64) -> Result<f64, Error> {
    Ok((LUX.check(lux)? * ISO.check(iso)? / CONSTANT_C.check(constant_c)?).log2())
}

/// Where a surface of `reflectance` (share, 0.18 is mid grey) lies against mid grey, stops, when its
/// exposure is `stops` from correct: stops + log₂(reflectance / 0.18).
///
/// # Errors
/// [`Error::OutOfRange`] for a reflectance outside 0.001 to 1.
pub fn above_mid_grey(stops: f64, reflectance: f64) -> Result<f64, Error> {
    Ok(stops + (REFLECTANCE.check(reflectance)? / GREY).log2())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::LUX_PER_FOOT_CANDLE;
    use proptest::prelude::*;

    fn at(t_stop: f64, deg: f64, rate: FrameRate, iso: f64) -> Taking {
        Taking {
            iso,
            t_stop,
            shutter_deg: deg,
            rate,
            filter_stops: 0.0,
            constant_c: 250.0,
        }
    }

    #[test]
    fn light_for_a_correct_exposure() {
        // E = C N²/(t S), worked out in Python; C from the ranges of ISO 2720 (as a secondary quotes them).
        for (n, t, iso, flat, dome) in [
            (2.8, 1.0 / 48.0, 800.0, 117.60, 155.23),
            (2.8, 1.0 / 50.0, 400.0, 245.00, 323.40),
            (2.8, 1.0 / 50.0, 100.0, 980.00, 1293.60),
            (4.0, 1.0 / 48.0, 800.0, 240.00, 316.80),
            (1.4, 1.0 / 48.0, 3200.0, 7.35, 9.70),
            (16.0, 1.0 / 100.0, 100.0, 64_000.0, 84_480.0),
        ] {
            assert!((correct_lux(n, t, iso, 250.0).unwrap() - flat).abs() < 0.005);
            assert!((correct_lux(n, t, iso, 330.0).unwrap() - dome).abs() < 0.005);
        }
    }

    #[test]
    fn the_foot_candle_rule_within_a_third_of_a_stop() {
        // A rule of cinematographers (published by a secondary): fc = 25 T²/(ISO t); T4, ISO 800, 1/48 s is 24.
        let rule = 24.0 * LUX_PER_FOOT_CANDLE;
        for c in [250.0, 330.0] {
            let ours = correct_lux(4.0, 1.0 / 48.0, 800.0, c).unwrap();
            assert!((ours / rule).log2().abs() < 1.0 / 3.0);
        }
    }

    #[test]
    fn exposure_values_by_the_formula() {
        // EV = log2(E S/C), worked out in Python.
        for (lux, iso, c, ev) in [
            (81_920.0, 100.0, 250.0, 15.0),
            (250.0, 100.0, 250.0, 6.6439),
            (2500.0, 100.0, 250.0, 9.9658),
            (1000.0, 800.0, 250.0, 11.6439),
            (1000.0, 800.0, 330.0, 11.2433),
            (300.0, 1600.0, 330.0, 10.5064),
        ] {
            assert!((exposure_value(lux, iso, c).unwrap() - ev).abs() < 5e-5);
        }
    }

    #[test]
    fn stops_by_the_formula() {
        // By the formula, worked out in Python: differences against T2.8, 180 degrees, 24 frames, ISO 800.
        let rate = |fps| FrameRate::new(fps, 1).unwrap();
        let base = at(2.8, 180.0, rate(24), 800.0);
        let from = |other: Taking| other.stops(100.0).unwrap() - base.stops(100.0).unwrap();
        for (other, stops) in [
            (
                Taking {
                    iso: 3200.0,
                    ..base
                },
                2.0,
            ),
            (
                Taking {
                    rate: rate(48),
                    ..base
                },
                -1.0,
            ),
            (
                Taking {
                    rate: rate(60),
                    ..base
                },
                -1.3219,
            ),
            (
                Taking {
                    shutter_deg: 90.0,
                    ..base
                },
                -1.0,
            ),
            (
                Taking {
                    shutter_deg: 172.8,
                    ..base
                },
                -0.0589,
            ),
            (
                Taking {
                    filter_stops: 0.5,
                    ..base
                },
                -0.5,
            ),
        ] {
            assert!((from(other) - stops).abs() < 5e-5, "{other:?}");
        }
    }

    #[test]
    fn a_face_of_a_third_lies_a_stop_up() {
        assert!((above_mid_grey(0.0, 0.36).unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(above_mid_grey(-0.5, 0.18), Ok(-0.5));
        assert!(above_mid_grey(0.0, 0.0).is_err());
    }

    #[test]
    fn nonsense_is_refused() {
        let good = at(2.8, 180.0, FrameRate::FPS_25, 800.0);
        for bad in [
            Taking { iso: 0.0, ..good },
            Taking {
                t_stop: 0.0,
                ..good
            },
            Taking {
                shutter_deg: 361.0,
                ..good
            },
            Taking {
                filter_stops: f64::NAN,
                ..good
            },
            Taking {
                constant_c: 0.0,
                ..good
            },
        ] {
            assert!(bad.stops(100.0).is_err(), "{bad:?}");
        }
        assert!(good.stops(0.0).is_err());
        assert!(exposure_s(180.0, 0.0).is_err());
    }

    proptest! {
        #[test]
        fn twice_is_a_stop(iso in 50.0f64..25_600.0, t in 1.0f64..22.0, deg in 5.0f64..180.0, lux in 0.01f64..50_000.0, fps in 1u32..500) {
            let taking = at(t, deg, FrameRate::new(fps, 1).unwrap(), iso);
            let stops = taking.stops(lux).unwrap();
            let twice = [
                (Taking { iso: iso * 2.0, ..taking }, 1.0),
                (Taking { t_stop: t * 2f64.sqrt(), ..taking }, -1.0),
                (Taking { shutter_deg: deg * 2.0, ..taking }, 1.0),
                (Taking { rate: FrameRate::new(fps * 2, 1).unwrap(), ..taking }, -1.0),
            ];
            for (other, by) in twice {
                prop_assert!((other.stops(lux).unwrap() - stops - by).abs() < 1e-9);
            }
            prop_assert!((taking.stops(taking.correct_lux().unwrap()).unwrap()).abs() < 1e-9);
        }
    }
}
