//! How much light the sky gives: sun and sky by day and in twilight, the moon by night.
//!
//! For a clear sky over open, level ground; the sources give no uncertainty. Clouds take between a
//! half and nine tenths, walls and trees most of what is left, and in a town lamps outshine the
//! moon: measure where it matters.
//!
//! Source: P. M. Janiczek and J. A. DeYoung, *Computer Programs for Sun and Moon Illuminance*, US
//! Naval Observatory Circular 171 (1987). Coefficients as in Vallado, *Fundamentals of
//! Astrodynamics and Applications*, table 5-1; of three transcriptions one differs in one digit of one
//! coefficient (−1899.93 against −1899.83, which is taken); the circular's own page was not at hand.

/// A moonless clear night, in lux (the circular's floor, from memory).
pub const NIGHT_SKY_LUX: f64 = 0.0005;

/// Altitude from which a row holds, and the cubic in altitude / 90° of the decimal logarithm of lux.
type Row = (f64, [f64; 4]);

const SUN: [Row; 6] = [
    (20.0, [3.74, 3.97, -4.07, 1.47]),
    (5.0, [3.05, 13.28, -45.98, 64.33]),
    (-0.8, [2.88, 22.26, -207.64, 1034.30]),
    (-5.0, [2.88, 21.81, -258.11, -858.36]),
    (-12.0, [2.70, 12.17, -431.69, -1899.83]),
    (-18.0, [13.84, 262.72, 1447.42, 2797.93]),
];

const MOON: [Row; 3] = [
    (20.0, [-1.95, 4.06, -4.24, 1.56]),
    (5.0, [-2.58, 12.58, -42.58, 59.06]),
    (-0.8, [-2.79, 24.27, -252.95, 1321.29]),
];

/// Light of sun and sky on level ground in lux, for the sun's airless altitude in degrees.
///
/// Never below [`NIGHT_SKY_LUX`]. Rows meet within a third.
pub fn skylight_lux(sun_altitude_deg: f64) -> f64 {
    logarithm(&SUN, sun_altitude_deg)
        .map_or(NIGHT_SKY_LUX, |log| 10_f64.powf(log).max(NIGHT_SKY_LUX))
}

/// Light of the moon on level ground in lux, 0 when it is down.
///
/// For its airless altitude as seen from the place, the angle between sun and earth at the moon (0
/// at full moon), and its horizontal parallax, which tells how near it is; all in degrees.
pub fn moonlight_lux(altitude_deg: f64, phase_angle_deg: f64, parallax_deg: f64) -> f64 {
    let Some(full) = logarithm(&MOON, altitude_deg) else {
        return 0.0;
    };
    let phase = -8.68e-3 * phase_angle_deg - 2.2e-9 * phase_angle_deg.powi(4);
    let near = 2.0 * (parallax_deg / 0.951).log10();
    10_f64.powf(full + phase + near)
}

fn logarithm(rows: &[Row], altitude_deg: f64) -> Option<f64> {
    let (_, [a, b, c, d]) = rows.iter().find(|(from, _)| altitude_deg >= *from)?;
    let x = altitude_deg / 90.0;
    Some(a + x * (b + x * (c + x * d)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn anchors_others_publish() {
        // Orders that handbooks agree on: noon sun overhead about 130 klx, horizontal sunlight at
        // sunset 400 to 800 lx, end of civil twilight 3.4 lx, of nautical 0.008 lx.
        for (altitude, low, high) in [
            (90.0, 110e3, 145e3),
            (-0.833, 400.0, 800.0),
            (-6.0, 3.2, 3.6),
            (-12.0, 0.007, 0.0095),
            (-18.0, 0.0005, 0.0007),
            (-40.0, 0.0005, 0.0005),
        ] {
            let found = skylight_lux(altitude);
            assert!((low..=high).contains(&found), "{altitude}: {found}");
        }
        // Full moon overhead 0.25 to 0.3 lx, half moon about a tenth of that.
        let full = moonlight_lux(90.0, 0.0, 0.951);
        assert!((0.25..0.3).contains(&full), "{full}");
        let half = moonlight_lux(90.0, 90.0, 0.951) / full;
        assert!((0.08..0.14).contains(&half), "{half}");
        assert_eq!(moonlight_lux(-1.0, 0.0, 0.951), 0.0);
    }

    #[test]
    fn light_grows_with_altitude_and_rows_meet() {
        let mut before = 0.0;
        for step in -2000..=9000 {
            let found = skylight_lux(f64::from(step) / 100.0);
            assert!(found > before * 0.99, "at {step}: {found} after {before}");
            assert!(before == 0.0 || found < before * 1.33, "at {step}: {found}");
            before = found;
        }
    }
}
