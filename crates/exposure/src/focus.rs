//! What is sharp: hyperfocal distance and depth of field.
//!
//! H = f²/(N c) + f; near = s(H − f)/(H + s − 2f); far = s(H − f)/(H − s), endless from s ≥ H on. s
//! counts from the sensor, in the thin-lens approximation (A. R. Greenleaf's equations). N is the
//! f-number, which is geometry; a T-stop also counts what the glass swallows and would give too
//! much depth.
//!
//! # The circle of confusion
//! What still counts as a point is a custom, not physics: diagonal ÷ 1500 of the part of the sensor
//! that is delivered (common practice), unless the camera states its own.

use crate::error::{CIRCLE_MM, Error, F_NUMBER, FOCAL_MM, SUBJECT_MM};
use serde::Serialize;

/// Circles of confusion to a diagonal (common practice).
pub const CIRCLES_PER_DIAGONAL: f64 = 1500.0;

/// From where to where it is sharp.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Depth {
    /// Nearest that is sharp, millimetres.
    pub near_mm: f64,
    /// Farthest that is sharp, millimetres; none when endless.
    pub far_mm: Option<f64>,
}

impl Depth {
    /// How deep it is, millimetres; none when endless.
    pub fn total_mm(&self) -> Option<f64> {
        self.far_mm.map(|far| far - self.near_mm)
    }
}

/// The distance from which on everything is sharp when the lens is focused there, millimetres.
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits.
pub fn hyperfocal_mm(focal_mm: f64, f_number: f64, circle_mm: f64) -> Result<f64, Error> {
    let f = FOCAL_MM.check(focal_mm)?;
    Ok(f * f / (F_NUMBER.check(f_number)? * CIRCLE_MM.check(circle_mm)?) + f)
}

/// Depth of field with the lens focused at `subject_mm`.
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits, [`Error::WithinFocalLength`] for a subject
/// that is not beyond the focal length.
pub fn depth(
    focal_mm: f64,
    f_number: f64,
    circle_mm: f64,
    subject_mm: f64,
) -> Result<Depth, Error> {
    let h = hyperfocal_mm(focal_mm, f_number, circle_mm)?;
    let s = SUBJECT_MM.check(subject_mm)?;
    if s <= focal_mm {
        return Err(Error::WithinFocalLength {
            subject_mm,
            focal_mm,
        });
    }
    Ok(Depth {
        near_mm: s * (h - focal_mm) / (h + s - 2.0 * focal_mm),
        far_mm: (s < h).then(|| s * (h - focal_mm) / (h - s)),
    })
}

/// The f-number at a T-stop, for a lens that is `widest_f` at its widest T-stop `widest_t`: the glass
/// swallows the same share at every stop. Without a widest f-number the T-stop itself, which is a
/// little too large.
pub fn f_number(t_stop: f64, widest_t: f64, widest_f: Option<f64>) -> f64 {
    match widest_f {
        Some(f) if f > 0.0 && widest_t > 0.0 => t_stop * f / widest_t,
        _ => t_stop,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn depth_of_the_table() {
        // The thin-lens equations (Greenleaf, Photographic Optics, 1950), worked out in Python; tolerance 0.01 mm.
        for (f, n, c, s, h, near, far) in [
            (50.0, 8.0, 0.030, 5000.0, 10_466.67, 3389.37, Some(9527.44)),
            (50.0, 8.0, 0.030, 31_400.0 / 3.0, 10_466.67, 5233.33, None),
            (50.0, 2.8, 0.025, 3000.0, 35_764.29, 2771.11, Some(3270.11)),
            (50.0, 2.8, 0.0254, 3048.0, 35_201.86, 2808.47, Some(3332.19)),
            (35.0, 4.0, 0.029, 2000.0, 10_595.34, 1686.24, Some(2457.22)),
            (24.0, 5.6, 0.020, 1500.0, 5166.86, 1165.50, Some(2103.79)),
            (85.0, 1.4, 0.029, 2000.0, 178_040.67, 1978.71, Some(2021.76)),
        ] {
            let got = depth(f, n, c, s).unwrap();
            assert!((hyperfocal_mm(f, n, c).unwrap() - h).abs() < 0.01);
            assert!((got.near_mm - near).abs() < 0.01, "{got:?}");
            match far {
                Some(far) => assert!((got.far_mm.unwrap() - far).abs() < 0.01),
                // At the hyperfocal distance itself rounding decides between endless and kilometres.
                None => assert!(got.far_mm.is_none_or(|far| far > 1e9)),
            }
        }
    }

    #[test]
    fn the_handbook_example() {
        // US Army photography subcourse SS0507 (published): 2 in at f/8, c 0.002 in, 20.8 ft, without + f.
        let mm = hyperfocal_mm(50.8, 8.0, 0.0508).unwrap() - 50.8;
        assert!((mm / 304.8 - 20.8).abs() < 0.05);
        // Calculator pages (published by secondaries), without + f.
        assert!((hyperfocal_mm(50.0, 8.0, 0.02).unwrap() - 50.0 - 15_625.0).abs() < 0.01);
        assert!((hyperfocal_mm(35.0, 11.0, 0.03).unwrap() - 35.0 - 3712.12).abs() < 0.01);
    }

    #[test]
    fn glass_that_swallows_light() {
        assert!((f_number(4.0, 1.5, Some(1.4)) - 3.7333).abs() < 5e-5);
        assert_eq!(f_number(4.0, 1.5, None), 4.0);
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(hyperfocal_mm(50.0, 0.0, 0.03).is_err());
        assert!(hyperfocal_mm(-50.0, 8.0, 0.03).is_err());
        assert!(hyperfocal_mm(50.0, 8.0, 0.0).is_err());
        assert!(matches!(
            depth(50.0, 8.0, 0.03, 50.0),
            Err(Error::WithinFocalLength { .. })
        ));
        assert!(depth(50.0, 8.0, 0.03, f64::NAN).is_err());
    }

    proptest! {
        #[test]
        fn sharpness_surrounds_the_subject(f in 4.0f64..400.0, n in 1.0f64..22.0, c in 0.003f64..0.05, times in 2.1f64..4000.0) {
            let s = f * times;
            let got = depth(f, n, c, s).unwrap();
            prop_assert!(got.near_mm <= s * (1.0 + 1e-12) && got.near_mm > 0.0);
            if let Some(far) = got.far_mm {
                prop_assert!(far >= s * (1.0 - 1e-12));
            }
            // Stopping down never takes sharpness away.
            let more = depth(f, n * 1.4, c, s).unwrap();
            prop_assert!(more.near_mm <= got.near_mm);
            prop_assert!(more.far_mm.is_none_or(|far| got.far_mm.is_some_and(|before| far >= before)));
        }

        #[test]
        fn at_the_hyperfocal_half_of_it_is_near(f in 4.0f64..400.0, n in 1.0f64..22.0, c in 0.003f64..0.05) {
            let h = hyperfocal_mm(f, n, c).unwrap();
            prop_assert!((depth(f, n, c, h).unwrap().near_mm / (h / 2.0) - 1.0).abs() < 1e-12);
        }
    }
}
