//! Light falling on a subject: from candela and distance, dimmed, diffused and summed.
//!
//! # Conventions
//! Illuminance in lux on a surface that faces the source. A loss in stops is positive when light is
//! lost. A level is a share of full output, taken to be proportional to the light (a dimmer's scale
//! need not be).
//!
//! # Left out
//! What walls throw back, a source's fall-off to the sides, the angle at which light meets the
//! surface. A meter reading holds all of these; a sum of sources does not.

use crate::error::{CANDELA, Error, LEVEL, LOSS_STOPS, LUX, METRES, SIZE_M};
use serde::Serialize;

/// A source as it is set.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Beam {
    /// On its axis at full, candela.
    pub candela: f64,
    /// How far from the subject, metres.
    pub distance_m: f64,
    /// Level it is dimmed to, 0 to 1.
    pub level: f64,
    /// Lost in diffusion and gels before it, stops.
    pub loss_stops: f64,
}

impl Beam {
    /// The light it throws on the subject, lux: candela × level × 2^−loss ÷ distance² (inverse
    /// square, a formula that holds beyond about five times the source's size; see [`disc_stops`]).
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a figure outside its limits.
    pub fn lux(&self) -> Result<f64, Error> {
        let distance_m = METRES.check(self.distance_m)?;
        Ok(self.candela_set()? / (distance_m * distance_m))
    }

    /// How far off it throws `lux`, metres.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a figure outside its limits, `lux` of zero too.
    pub fn distance_for(&self, lux: f64) -> Result<f64, Error> {
        Ok((self.candela_set()? / LUX.check(lux)?).sqrt())
    }

    /// The level at which it throws `lux`; above 1 when it can't.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a figure outside its limits.
    pub fn level_for(&self, lux: f64) -> Result<f64, Error> {
        let full = Self {
            level: 1.0,
            ..*self
        };
        Ok(LUX.check(lux)? / full.lux()?)
    }

    /// What it gives on its axis as it is dimmed and diffused.
    fn candela_set(&self) -> Result<f64, Error> {
        Ok(CANDELA.check(self.candela)?
            * LEVEL.check(self.level)?
            * share_left(LOSS_STOPS.check(self.loss_stops)?))
    }
}

/// The share of light left after `stops` are lost.
pub fn share_left(stops: f64) -> f64 {
    (-stops).exp2()
}

/// Stops lost from a distance to a longer one by inverse square: 2 log₂(to/from); negative when nearer.
///
/// # Errors
/// [`Error::OutOfRange`] for a distance outside 0.01 to 10 000 m.
pub fn stops_lost(from_m: f64, to_m: f64) -> Result<f64, Error> {
    Ok(2.0 * (METRES.check(to_m)? / METRES.check(from_m)?).log2())
}

/// How many stops darker an evenly glowing disc `size_m` across is at `distance_m` than inverse
/// square from its far-off candela says: log₂(1 + (size ÷ 2 distance)²).
///
/// Formula for a Lambertian disc on its axis. Five sizes away it is 0.014 stop, which is why
/// common practice trusts inverse square from there; one size away 0.32, half a size 1.0.
///
/// # Errors
/// [`Error::OutOfRange`] for a size outside 0.001 to 100 m or such a distance.
pub fn disc_stops(size_m: f64, distance_m: f64) -> Result<f64, Error> {
    let half = SIZE_M.check(size_m)? / (2.0 * METRES.check(distance_m)?);
    Ok((half * half).ln_1p() / std::f64::consts::LN_2)
}

/// Stops that a neutral density of optical density `density` takes: D / log₁₀ 2.
pub fn density_stops(density: f64) -> f64 {
    density / std::f64::consts::LOG10_2
}

/// The optical density that takes `stops`: stops × log₁₀ 2.
pub fn stops_density(stops: f64) -> f64 {
    stops * std::f64::consts::LOG10_2
}

/// Lux in one foot-candle (square feet in a square metre).
pub const LUX_PER_FOOT_CANDLE: f64 = 10.763_910_4;

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bare(candela: f64, distance_m: f64) -> Beam {
        Beam {
            candela,
            distance_m,
            level: 1.0,
            loss_stops: 0.0,
        }
    }

    #[test]
    fn inverse_square_by_the_formula() {
        // By the inverse square, worked out in Python: 1000 cd at 5 m; stops from one distance to another.
        assert_eq!(bare(1000.0, 5.0).lux(), Ok(40.0));
        for (from, to, stops) in [
            (2.0, 3.0, 1.1699),
            (1.0, std::f64::consts::SQRT_2, 1.0),
            (1.0, 2.8, 2.9709),
        ] {
            assert!((stops_lost(from, to).unwrap() - stops).abs() < 5e-5);
        }
    }

    #[test]
    fn neutral_density_by_the_formula() {
        // Density, stops (D/log10 2) and transmission (10^-D), worked out in Python.
        for (density, stops, left) in [
            (0.3, 0.9966, 0.50119),
            (0.6, 1.9932, 0.25119),
            (0.9, 2.9897, 0.12589),
            (1.2, 3.9863, 0.06310),
            (1.8, 5.9795, 0.01585),
            (3.0, 9.9658, 0.00100),
        ] {
            assert!((density_stops(density) - stops).abs() < 5e-5, "{density}");
            assert!((share_left(density_stops(density)) - left).abs() < 5e-6);
            assert!((stops_density(stops) - density).abs() < 5e-5);
        }
    }

    #[test]
    fn a_disc_by_summing_its_parts() {
        // Slow and plain: rings of a Lambertian disc, cos⁴ law, against inverse square of the whole.
        for (size, distance) in [(1.0, 5.0), (1.0, 1.0), (1.0, 0.5), (0.3, 2.0)] {
            let rings = 20_000;
            let (mut seen, mut far) = (0.0, 0.0);
            for ring in 0..rings {
                let r = size / 2.0 * (f64::from(ring) + 0.5) / f64::from(rings);
                let square = r * r + distance * distance;
                let cos = distance / square.sqrt();
                seen += r * cos * cos / square;
                far += r / (distance * distance);
            }
            let stops = -(seen / far).log2();
            assert!(
                (disc_stops(size, distance).unwrap() - stops).abs() < 1e-6,
                "{size} {distance}"
            );
        }
    }

    #[test]
    fn what_can_not_be_is_refused() {
        assert!(bare(0.0, 1.0).lux().is_err());
        assert!(bare(100.0, 0.0).lux().is_err());
        assert!(bare(100.0, 1.0).distance_for(0.0).is_err());
        assert!(
            Beam {
                level: 1.5,
                ..bare(100.0, 1.0)
            }
            .lux()
            .is_err()
        );
        assert!(
            Beam {
                loss_stops: -1.0,
                ..bare(100.0, 1.0)
            }
            .lux()
            .is_err()
        );
        assert!(disc_stops(-1.0, 1.0).is_err());
    }

    proptest! {
        #[test]
        fn distance_and_level_give_the_light_asked(
            candela in 1.0f64..1e6, distance in 0.1f64..50.0, level in 0.01f64..=1.0, loss in 0.0f64..6.0, stops in -3.0f64..3.0,
        ) {
            let beam = Beam { candela, distance_m: distance, level, loss_stops: loss };
            let wanted = beam.lux().unwrap() * stops.exp2();
            let moved = Beam { distance_m: beam.distance_for(wanted).unwrap(), ..beam };
            prop_assert!((moved.lux().unwrap() / wanted - 1.0).abs() < 1e-9);
            let level = beam.level_for(wanted).unwrap();
            if level <= 1.0 {
                let dimmed = Beam { level, ..beam };
                prop_assert!((dimmed.lux().unwrap() / wanted - 1.0).abs() < 1e-9);
            }
        }
    }
}
