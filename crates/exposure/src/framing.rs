//! How much of a person a frame holds: framings and the heights they are called by.
//!
//! The heights are common practice and stand in [`Practice`]; a child, a seated performer or a
//! taste for headroom asks for others.

use crate::error::Error;
use crate::lens;
use model::{Framing, Practice};

/// How much of a standing grown-up `framing` holds from top to bottom, metres.
pub fn height_m(framing: Framing, practice: &Practice) -> f64 {
    match framing {
        Framing::Wide => practice.wide_m,
        Framing::Full => practice.full_m,
        Framing::Medium => practice.medium_m,
        Framing::Close => practice.close_m,
        Framing::Detail => practice.detail_m,
    }
}

/// What the trade calls a frame that holds `held_m` from top to bottom: the framing whose usual
/// height is nearest by ratio.
pub fn called(held_m: f64, practice: &Practice) -> Framing {
    let off = |framing: &Framing| (held_m / height_m(*framing, practice)).ln().abs();
    let all = Framing::ALL.iter().copied();
    all.min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or_default()
}

/// How far off a frame of `side_mm` from top to bottom holds `framing`, metres.
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits.
pub fn distance_m(
    framing: Framing,
    side_mm: f64,
    focal_mm: f64,
    practice: &Practice,
) -> Result<f64, Error> {
    lens::distance_m(side_mm, focal_mm, height_m(framing, practice))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_by_height() {
        let practice = Practice::default();
        for &framing in Framing::ALL {
            assert_eq!(called(height_m(framing, &practice), &practice), framing);
        }
        assert_eq!(called(1000.0, &practice), Framing::Wide);
        assert_eq!(called(0.01, &practice), Framing::Detail);
    }

    #[test]
    fn a_distance_and_its_framing_agree() {
        let practice = Practice::default();
        for &framing in Framing::ALL {
            let away = distance_m(framing, 18.66, 50.0, &practice).unwrap();
            let held = lens::field_m(18.66, 50.0, away).unwrap();
            assert_eq!(called(held, &practice), framing);
        }
        // By hand: a medium of 0.9 m on 13 mm with 25 mm stands at 0.9 × 25/13 = 1.731 m.
        let away = distance_m(Framing::Medium, 13.0, 25.0, &practice).unwrap();
        assert!((away - 1.7308).abs() < 1e-4);
        assert!(distance_m(Framing::Medium, 13.0, 0.0, &practice).is_err());
    }
}
