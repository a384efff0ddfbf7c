//! How much of a person a frame holds: framings and the heights they are called by.
//!
//! The heights are common practice and stand in [`Practice`]; a child, a seated performer or a
//! taste for headroom asks for others.

use crate::error::Error;
use crate::lens;
use crate::practice::Practice;
use model::Framing;

/// Every framing, widest first.
pub const FRAMINGS: [Framing; 5] = [
    Framing::Wide,
    Framing::Full,
    Framing::Medium,
    Framing::Close,
    Framing::Detail,
];

/// What the trade calls a frame that holds `height_m` from top to bottom: the framing whose usual
/// height is nearest by ratio.
pub fn called(height_m: f64, practice: &Practice) -> Framing {
    let off = |framing: &Framing| (height_m / practice.height_m(*framing)).ln().abs();
    FRAMINGS
        .into_iter()
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or_default()
}

/// The framing's word, as in the document.
pub const fn word(framing: Framing) -> &'static str {
    match framing {
        Framing::Wide => "wide",
        Framing::Full => "full",
        Framing::Medium => "medium",
        Framing::Close => "close",
        Framing::Detail => "detail",
    }
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
    lens::distance_m(side_mm, focal_mm, practice.height_m(framing))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_by_height() {
        let practice = Practice::default();
        for framing in FRAMINGS {
            assert_eq!(called(practice.height_m(framing), &practice), framing);
            assert_eq!(
                serde_json::to_value(framing).unwrap(),
                serde_json::json!(word(framing))
            );
        }
        assert_eq!(called(1000.0, &practice), Framing::Wide);
        assert_eq!(called(0.01, &practice), Framing::Detail);
    }

    #[test]
    fn a_distance_and_its_framing_agree() {
        let practice = Practice::default();
        for framing in FRAMINGS {
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
