//! Off-speed: the camera at one rate, the picture shown at another.
//!
//! Shown frame for frame, a pass shot at twice the rate is half as fast on screen, so the song is
//! played on set at shot ÷ shown times its speed for lips to fit.

use crate::error::{Error, SHUTTER_DEG};
use model::{FrameRate, Ratio};
use serde::Serialize;

/// What shooting at one rate and showing at another does.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OffSpeed {
    /// Shot ÷ shown, exact: the speed of the song on set, and how many times slower things are on
    /// screen (below 1: faster).
    pub ratio: Ratio,
    /// Light lost against the shown rate at the same angle, stops: log₂ ratio; negative when gained.
    pub lost_stops: f64,
    /// The part of the way from one frame on screen to the next that is smeared: angle ÷ 360,
    /// whatever the ratio. Slow motion keeps the look of its angle.
    pub smear: f64,
    /// How long the smear of one movement on set is against the shown rate's at the same angle:
    /// 1 ÷ ratio.
    pub blur_kept: f64,
    /// The angle at which the camera's rate has the shown rate's exposure time, light and blur:
    /// angle × ratio. None beyond 360 degrees.
    pub same_blur_deg: Option<f64>,
    /// The angle that a real-time look from this pass would have (frames dropped to the shown
    /// rate): angle ÷ ratio. None below ratio 1, where frames would be missing.
    pub real_time_deg: Option<f64>,
}

/// What shooting at `shot` with `shutter_deg` and showing at `shown` does.
///
/// # Errors
/// [`Error::OutOfRange`] for an angle outside 0.1 to 360 degrees.
pub fn off_speed(shot: FrameRate, shown: FrameRate, shutter_deg: f64) -> Result<OffSpeed, Error> {
    let angle = SHUTTER_DEG.check(shutter_deg)?;
    let ratio = shot.over(shown);
    let by = ratio.value();
    let same = angle * by;
    Ok(OffSpeed {
        ratio,
        lost_stops: by.log2(),
        smear: angle / 360.0,
        blur_kept: 1.0 / by,
        same_blur_deg: (same <= 360.0).then_some(same),
        real_time_deg: (by >= 1.0).then_some(angle / by),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rate(text: &str) -> FrameRate {
        text.parse().unwrap()
    }

    #[test]
    fn speeds_by_the_formula() {
        // Shot over shown, by hand.
        for (shot, shown, exact, decimal) in [
            ("48", "24", "2", 2.0),
            ("60", "24", "5/2", 2.5),
            ("36", "24", "3/2", 1.5),
            ("30", "24", "5/4", 1.25),
            ("120", "24", "5", 5.0),
            ("50", "25", "2", 2.0),
            ("60000/1001", "24000/1001", "5/2", 2.5),
            ("30000/1001", "24000/1001", "5/4", 1.25),
            ("25", "24", "25/24", 1.041_667),
            ("24", "25", "24/25", 0.96),
            ("24000/1001", "24", "1000/1001", 0.999_001),
            ("18", "24", "3/4", 0.75),
        ] {
            let got = off_speed(rate(shot), rate(shown), 180.0).unwrap();
            assert_eq!(got.ratio.to_string(), exact, "{shot} {shown}");
            assert!((got.ratio.value() - decimal).abs() < 5e-7);
        }
    }

    #[test]
    fn light_and_blur() {
        // log2(60/24): 24 to 60 loses 1.3219 stops.
        let got = off_speed(rate("60"), rate("24"), 90.0).unwrap();
        assert!((got.lost_stops - 1.3219).abs() < 5e-5);
        assert_eq!((got.smear, got.blur_kept), (0.25, 0.4));
        assert_eq!(
            (got.same_blur_deg, got.real_time_deg),
            (Some(225.0), Some(36.0))
        );
        assert_eq!(
            off_speed(rate("60"), rate("24"), 180.0)
                .unwrap()
                .same_blur_deg,
            None
        );
        assert_eq!(
            off_speed(rate("18"), rate("24"), 180.0)
                .unwrap()
                .real_time_deg,
            None
        );
        assert!(off_speed(rate("60"), rate("24"), 0.0).is_err());
    }

    proptest! {
        #[test]
        fn there_and_back(a in 1u32..=1000, b in 1u32..=1000, ntsc in any::<bool>()) {
            let shot = FrameRate::new(a * 1000, if ntsc { 1001 } else { 1000 });
            if let (Some(shot), Some(shown)) = (shot, FrameRate::new(b, 1)) {
                let (there, back) = (shot.over(shown), shown.over(shot));
                prop_assert_eq!((there.num(), there.den()), (back.den(), back.num()));
            }
        }
    }
}
