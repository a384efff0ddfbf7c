//! The colour of light: chromaticity from a colour temperature, mixtures, and differences.
//!
//! # Conventions
//! - Correlated colour temperature is that of the nearest point of the blackbody locus in CIE 1960
//!   (u, v); Duv is the distance from it, positive towards green (above the locus). Both are found
//!   from the definition itself (ANSI C78.377, CIE 15; the same quantity that Ohno, *Practical use
//!   and calculation of CCT and Duv*, Leukos 10, 2014, approximates by a table): the locus is summed
//!   from Planck's law and the CIE 1931 observer, and the nearest point is found by bisection.
//! - A source of which only kelvin is known is taken to lie on the blackbody locus (Duv 0).
//! - Mixtures add tristimulus values, weighted by lux. Differences in temperature are in mired,
//!   10⁶/kelvin, in which a gel's shift is the same from any source.
//!
//! # Left out
//! Spectra: two sources of one chromaticity can render a skin differently, and a camera sees them
//! differently than the standard observer does.

use crate::error::{CHROMATICITY, DUV, Error, KELVIN, LUX_OR_NONE};
use crate::observer::glow;
use serde::Serialize;

/// The farthest from the locus at which a temperature still means something (CIE 15 gives 5 × 10⁻²
/// in the 1976 diagram; taken here in the 1960 one, where it is a little wider).
pub const MOST_DUV: f64 = 0.05;
/// The locus is searched from 1000 mired (1000 K) …
const MOST_MIRED: f64 = 1000.0;
/// … to 20 mired (50 000 K).
const LEAST_MIRED: f64 = 20.0;
/// Steps of the first look along the locus; its curvature allows no two minima within one.
const STEPS: u32 = 98;

/// A point of the CIE 1931 (x, y) diagram.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Chromaticity {
    /// x.
    pub x: f64,
    /// y.
    pub y: f64,
}

/// A near-white as lamps are labelled.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct White {
    /// Correlated colour temperature, kelvin.
    pub kelvin: f64,
    /// Distance from the blackbody locus in CIE 1960 (u, v); positive is green.
    pub duv: f64,
}

/// What lies between two whites.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// Mired; positive when the second is warmer.
    pub mired: f64,
    /// CIE 1960 (u, v); positive when the second is greener.
    pub duv: f64,
}

impl White {
    /// On the blackbody locus at `kelvin`.
    pub const fn blackbody(kelvin: f64) -> Self {
        Self { kelvin, duv: 0.0 }
    }

    /// Reciprocal colour temperature, 10⁶/kelvin.
    pub fn mired(self) -> f64 {
        1e6 / self.kelvin
    }

    /// Its chromaticity.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] outside 1000 to 40 000 K or ±0.1 Duv.
    pub fn chromaticity(self) -> Result<Chromaticity, Error> {
        let (kelvin, duv) = (KELVIN.check(self.kelvin)?, DUV.check(self.duv)?);
        let on = locus(kelvin);
        Ok(Chromaticity::from_uv([
            on.uv[0] + duv * on.normal[0],
            on.uv[1] + duv * on.normal[1],
        ]))
    }

    /// The white seen through a gel of `mired` (positive warms): the same Duv at 10⁶/(10⁶/K + mired).
    ///
    /// # Errors
    /// [`Error::OutOfRange`] when it or the result is outside 1000 to 40 000 K.
    pub fn through(self, mired: f64) -> Result<Self, Error> {
        let shifted = 1e6 / KELVIN.check(self.kelvin)? + crate::error::MIRED.check(mired)?;
        // Through a gel bluer than infinity there is no temperature left.
        let kelvin = if shifted > 0.0 {
            1e6 / shifted
        } else {
            f64::INFINITY
        };
        Ok(Self {
            kelvin: KELVIN.check(kelvin)?,
            duv: self.duv,
        })
    }

    /// What leads from here to `other`.
    pub fn to(self, other: Self) -> Difference {
        Difference {
            mired: other.mired() - self.mired(),
            duv: other.duv - self.duv,
        }
    }
}

impl Chromaticity {
    /// From CIE 1960 (u, v): x = 3u/(2u − 8v + 4), y = 2v/(2u − 8v + 4).
    pub fn from_uv([u, v]: [f64; 2]) -> Self {
        let scale = 2.0 * u - 8.0 * v + 4.0;
        Self {
            x: 3.0 * u / scale,
            y: 2.0 * v / scale,
        }
    }

    /// As CIE 1960 (u, v): u = 4x/(−2x + 12y + 3), v = 6y/(−2x + 12y + 3).
    pub fn uv(self) -> [f64; 2] {
        let scale = -2.0 * self.x + 12.0 * self.y + 3.0;
        [4.0 * self.x / scale, 6.0 * self.y / scale]
    }

    /// Its correlated colour temperature and Duv.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for coordinates that no light has, [`Error::NoTemperature`] beyond
    /// 1000 to 50 000 K or [`MOST_DUV`] from the locus.
    pub fn white(self) -> Result<White, Error> {
        CHROMATICITY.check(self.x)?;
        CHROMATICITY.check(self.y)?;
        let uv = self.uv();
        let away = |mired: f64| {
            let on = locus(1e6 / mired);
            [uv[0] - on.uv[0], uv[1] - on.uv[1]]
        };
        let step = (MOST_MIRED - LEAST_MIRED) / f64::from(STEPS);
        let square = |[u, v]: [f64; 2]| u * u + v * v;
        let nearest = (0..=STEPS)
            .map(|n| LEAST_MIRED + step * f64::from(n))
            .min_by(|a, b| square(away(*a)).total_cmp(&square(away(*b))))
            .unwrap_or(LEAST_MIRED);
        let [mut low, mut high] = [
            (nearest - step).max(LEAST_MIRED),
            (nearest + step).min(MOST_MIRED),
        ];
        // Along the locus: positive while the nearest point lies at more mired.
        let ahead = |mired: f64| {
            let on = locus(1e6 / mired);
            let [u, v] = away(mired);
            // The tangent towards more mired is the normal turned.
            u * on.normal[1] - v * on.normal[0]
        };
        // An end of the locus is the nearest point when everything lies on one side of it; a hair
        // is left for rounding.
        let none = Error::NoTemperature {
            x: self.x,
            y: self.y,
            most: MOST_DUV,
        };
        if ahead(low) < -1e-9 || ahead(high) > 1e-9 {
            return Err(none);
        }
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if ahead(middle) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        let mired = (low + high) / 2.0;
        let on = locus(1e6 / mired);
        let [u, v] = away(mired);
        let duv = u * on.normal[0] + v * on.normal[1];
        if duv.abs() > MOST_DUV {
            return Err(none);
        }
        Ok(White {
            kelvin: 1e6 / mired,
            duv,
        })
    }
}

/// The colour of sources together, each with its light on the subject in lux. Sources of 0 lux
/// count for nothing.
///
/// # Errors
/// [`Error::NoLight`] when all are dark; as [`White::chromaticity`] and [`Chromaticity::white`].
pub fn mix(sources: &[(f64, White)]) -> Result<White, Error> {
    let mut sum = [0.0; 3];
    for (lux, white) in sources {
        let lux = LUX_OR_NONE.check(*lux)?;
        if lux > 0.0 {
            let Chromaticity { x, y } = white.chromaticity()?;
            sum[0] += lux * x / y;
            sum[1] += lux;
            sum[2] += lux * (1.0 - x - y) / y;
        }
    }
    let total: f64 = sum.iter().sum();
    if sum[1] <= 0.0 {
        return Err(Error::NoLight);
    }
    Chromaticity {
        x: sum[0] / total,
        y: sum[1] / total,
    }
    .white()
}

/// A point of the blackbody locus in CIE 1960 (u, v), and the unit normal towards green.
struct Locus {
    uv: [f64; 2],
    normal: [f64; 2],
}

fn locus(kelvin: f64) -> Locus {
    let (sum, slope) = glow(kelvin);
    let scale = |[x, y, z]: [f64; 3]| x + 15.0 * y + 3.0 * z;
    let (whole, whole_slope) = (scale(sum), scale(slope));
    let per_kelvin = |factor: f64, axis: usize| {
        factor * (slope[axis] * whole - sum[axis] * whole_slope) / (whole * whole)
    };
    let (du, dv) = (per_kelvin(4.0, 0), per_kelvin(6.0, 1));
    let length = du.hypot(dv);
    Locus {
        uv: [4.0 * sum[0] / whole, 6.0 * sum[1] / whole],
        // u falls with temperature everywhere, so this side is up, towards green.
        normal: [dv / length, -du / length],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Values: colour-science 0.4.7, cm = colour.MSDS_CMFS['CIE 1931 2 Degree Standard Observer'].
    // On the locus, every nm from 360 to 830:
    //   w = cm.wavelengths * 1e-9; X = (w**-5 / np.expm1(.014388 / (w * T))) @ cm.values
    //   colour.UCS_to_uv(colour.XYZ_to_UCS(X))
    // Beside it, by a method that stops at 780 nm (1e-5 at 2000 K):
    //   colour.CCT_to_uv(np.array([T, D]), method='Ohno 2013')
    // Temperatures: colour.uv_to_CCT(np.array([u, v]), method='Ohno 2013')
    // Mixtures: colour.xyY_to_XYZ([*colour.UCS_uv_to_xy(uv), lux]) summed, then
    //   colour.UCS_to_uv(colour.XYZ_to_UCS(sum)) and uv_to_CCT as above
    #[test]
    fn the_locus_as_the_reference_library_has_it() {
        for (kelvin, duv, u, v) in [
            (1000.0, 0.0, 0.448_011, 0.354_625),
            (1850.0, 0.0, 0.318_237, 0.359_972),
            (2856.0, 0.0, 0.255_953, 0.349_521),
            (3200.0, 0.0, 0.243_988, 0.344_881),
            (6504.0, 0.0, 0.200_429, 0.310_333),
            (25_000.0, 0.0, 0.182_933, 0.274_073),
            (40_000.0, 0.0, 0.181_692, 0.269_801),
            (2000.0, -0.02, 0.306_804, 0.339_144),
            (3200.0, 0.006, 0.241_555, 0.350_366),
            (4300.0, -0.004, 0.222_618, 0.327_605),
            (5600.0, 0.003, 0.203_837, 0.319_434),
            (10_000.0, 0.01, 0.181_299, 0.297_584),
        ] {
            let within = if duv == 0.0 { 2e-6 } else { 1e-5 };
            let got = White { kelvin, duv }.chromaticity().unwrap().uv();
            assert!(
                (got[0] - u).abs() < within && (got[1] - v).abs() < within,
                "{kelvin} {duv}: {got:?}"
            );
        }
    }

    #[test]
    fn temperatures_as_the_reference_library_has_them() {
        // Stored to 0.1 K and 0.00001; that method interpolates, to some 0.1 K.
        for (u, v, kelvin, duv) in [
            (0.25, 0.35, 2991.5, 0.002_45),
            (0.2, 0.31, 6564.2, 0.000_15),
            (0.2155, 0.334, 4385.3, 0.005_43),
            (0.26, 0.345, 2797.6, -0.005_56),
            (0.23, 0.33, 3926.6, -0.006_38),
            (0.3, 0.36, 2061.6, 0.001_41),
        ] {
            let got = Chromaticity::from_uv([u, v]).white().unwrap();
            assert!(
                (got.kelvin - kelvin).abs() < 0.15 && (got.duv - duv).abs() < 1e-5,
                "{u} {v}: {got:?}"
            );
        }
    }

    #[test]
    fn mixtures_as_the_reference_library_has_them() {
        let white = |kelvin, duv| White { kelvin, duv };
        for (sources, kelvin, duv) in [
            (
                vec![(100.0, white(3200.0, 0.0)), (100.0, white(5600.0, 0.0))],
                4137.6,
                -0.002_59,
            ),
            (
                vec![(50.0, white(2000.0, 0.0)), (150.0, white(6500.0, 0.003))],
                4504.6,
                -0.007_49,
            ),
            (
                vec![(300.0, white(3200.0, 0.0)), (30.0, white(4000.0, 0.012))],
                3265.4,
                0.000_92,
            ),
            (
                vec![
                    (10.0, white(5600.0, -0.005)),
                    (90.0, white(4300.0, 0.02)),
                    (40.0, white(1900.0, 0.0)),
                ],
                3352.1,
                0.005_34,
            ),
        ] {
            let got = mix(&sources).unwrap();
            assert!(
                (got.kelvin - kelvin).abs() < 0.15 && (got.duv - duv).abs() < 1e-5,
                "{got:?}"
            );
        }
    }

    #[test]
    fn the_standard_incandescent_light() {
        // CIE 15, illuminant A: x 0.44758, y 0.40745, blackbody at 2856 K (from memory).
        let a = White::blackbody(2856.0).chromaticity().unwrap();
        assert!(
            (a.x - 0.447_58).abs() < 5e-5 && (a.y - 0.407_45).abs() < 5e-5,
            "{a:?}"
        );
    }

    #[test]
    fn what_has_no_colour_is_refused() {
        assert_eq!(mix(&[]), Err(Error::NoLight));
        assert_eq!(mix(&[(0.0, White::blackbody(3200.0))]), Err(Error::NoLight));
        assert!(White::blackbody(0.0).chromaticity().is_err());
        // A green laser.
        assert!(matches!(
            Chromaticity { x: 0.1, y: 0.8 }.white(),
            Err(Error::NoTemperature { .. })
        ));
        assert!(
            Chromaticity {
                x: f64::NAN,
                y: 0.3
            }
            .white()
            .is_err()
        );
        assert!(White::blackbody(6500.0).through(-300.0).is_err());
    }

    proptest! {
        #[test]
        fn a_white_comes_back(kelvin in 1050.0f64..39_000.0, duv in -0.03f64..0.03) {
            // Nearer than the locus' radius of curvature, the nearest point is the one it came from.
            let got = White { kelvin, duv }.chromaticity().unwrap().white().unwrap();
            prop_assert!((got.mired() - 1e6 / kelvin).abs() < 1e-4, "{:?}", got);
            prop_assert!((got.duv - duv).abs() < 1e-9);
        }

        #[test]
        fn alike_sources_mix_to_themselves(kelvin in 1500.0f64..20_000.0, duv in -0.02f64..0.02, a in 0.1f64..1e4, b in 0.1f64..1e4) {
            let white = White { kelvin, duv };
            let got = mix(&[(a, white), (b, white)]).unwrap();
            prop_assert!((got.mired() - white.mired()).abs() < 1e-4 && (got.duv - duv).abs() < 1e-9);
        }

        #[test]
        fn a_mixture_lies_between(a in 2000.0f64..10_000.0, b in 2000.0f64..10_000.0, share in 0.01f64..0.99) {
            let (a, b) = (White::blackbody(a), White::blackbody(b));
            let got = mix(&[(share, a), (1.0 - share, b)]).unwrap();
            let (low, high) = (a.kelvin.min(b.kelvin), a.kelvin.max(b.kelvin));
            prop_assert!(got.kelvin > low - 1e-3 && got.kelvin < high + 1e-3);
            // The locus is hollow towards the middle: no chord lies on its green side.
            prop_assert!(got.duv < 1e-9);
        }

        #[test]
        fn a_gel_brings_one_white_to_the_other(a in 2000.0f64..12_000.0, b in 2000.0f64..12_000.0) {
            let (a, b) = (White::blackbody(a), White::blackbody(b));
            let after = a.through(a.to(b).mired).unwrap();
            prop_assert!((after.kelvin - b.kelvin).abs() < 1e-6);
        }
    }
}
