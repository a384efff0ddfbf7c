//! What a lens shows: the part of the sensor that is delivered, angle of view, field at a distance.
//!
//! # Conventions
//! Sides are width and height. Fields are in the distant-subject form, sensor side × distance ÷
//! focal length, with the distance from the sensor: it shows too much by about focal ÷ distance (2 %
//! for 50 mm at 2.5 m), and more in macro work, which it is not for. Distortion, breathing and the
//! shrinking of a sensor by stabilisation are left out.

use crate::error::{Error, FOCAL_MM, HEIGHT_M, METRES, SIDE_MM, SIDE_PX};
use model::Fit;
use serde::Serialize;

/// The part of the recorded picture that reaches the finished one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Delivered {
    /// Its sides on the sensor, millimetres.
    pub mm: [f64; 2],
    /// Its sides in recorded pixels, exact.
    pub px: [f64; 2],
    /// The same as even whole numbers, rounded down.
    pub even_px: [u32; 2],
    /// Its share of the recorded picture's pixels.
    pub share: f64,
}

impl Delivered {
    /// Its diagonal on the sensor, millimetres.
    pub fn diagonal_mm(&self) -> f64 {
        self.mm[0].hypot(self.mm[1])
    }
}

/// The part of a picture of `frame` pixels recorded from `sensor_mm` that reaches an active picture
/// of the shape `aspect` (width to height): cropped to it, or all of it set inside.
///
/// # Errors
/// [`Error::OutOfRange`] for a side outside its limits.
pub fn delivered(
    sensor_mm: [f64; 2],
    frame: [u32; 2],
    aspect: [u32; 2],
    fit: Fit,
) -> Result<Delivered, Error> {
    let [width_mm, height_mm] = [SIDE_MM.check(sensor_mm[0])?, SIDE_MM.check(sensor_mm[1])?];
    for side in frame.into_iter().chain(aspect) {
        SIDE_PX.check(f64::from(side))?;
    }
    let [width, height] = frame.map(f64::from);
    // Compared crosswise in whole numbers, so that a picture of the shape wanted is not cut at all.
    let across = [0, 1].map(|side| u64::from(frame[side]) * u64::from(aspect[1 - side]));
    let px = match fit {
        Fit::Inside => [width, height],
        Fit::Crop if across[0] > across[1] => [across[1] as f64 / f64::from(aspect[1]), height],
        Fit::Crop => [width, across[0] as f64 / f64::from(aspect[0])],
    };
    Ok(Delivered {
        mm: [width_mm * px[0] / width, height_mm * px[1] / height],
        px,
        // A hair is added against quotients that are whole but for rounding.
        even_px: px.map(|side| ((side + 1e-6) / 2.0) as u32 * 2),
        share: px[0] * px[1] / (width * height),
    })
}

/// The active picture inside a frame handed over: the largest of the shape `active`, in pixels.
pub fn active_px(frame: [u32; 2], active: Option<[u32; 2]>) -> [f64; 2] {
    let [width, height] = frame.map(f64::from);
    match active {
        Some([across, up]) if across > 0 && up > 0 => {
            let aspect = f64::from(across) / f64::from(up);
            [width.min(height * aspect), height.min(width / aspect)]
        }
        _ => [width, height],
    }
}

/// How many times `delivered` is enlarged to fill `active` pixels (or to stand inside them); below 1
/// it is reduced.
pub fn enlargement(delivered: &Delivered, active: [f64; 2], fit: Fit) -> f64 {
    let [across, up] = [active[0] / delivered.px[0], active[1] / delivered.px[1]];
    match fit {
        Fit::Crop => across.max(up),
        Fit::Inside => across.min(up),
    }
}

/// Angle of view over a sensor side, degrees: 2 atan(side / 2f), focused far away.
///
/// # Errors
/// [`Error::OutOfRange`] outside 0.1 to 200 mm and 1 to 3000 mm.
pub fn angle_deg(side_mm: f64, focal_mm: f64) -> Result<f64, Error> {
    let half = SIDE_MM.check(side_mm)? / (2.0 * FOCAL_MM.check(focal_mm)?);
    Ok(2.0 * half.atan().to_degrees())
}

/// What the side holds at a distance, metres.
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits.
pub fn field_m(side_mm: f64, focal_mm: f64, distance_m: f64) -> Result<f64, Error> {
    Ok(SIDE_MM.check(side_mm)? * METRES.check(distance_m)? / FOCAL_MM.check(focal_mm)?)
}

/// From where the side holds `field_m`, metres.
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits.
pub fn distance_m(side_mm: f64, focal_mm: f64, field_m: f64) -> Result<f64, Error> {
    Ok(HEIGHT_M.check(field_m)? * FOCAL_MM.check(focal_mm)? / SIDE_MM.check(side_mm)?)
}

/// With which focal length the side holds `field_m` from `distance_m`, millimetres.
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits.
pub fn focal_mm(side_mm: f64, distance_m: f64, field_m: f64) -> Result<f64, Error> {
    Ok(SIDE_MM.check(side_mm)? * METRES.check(distance_m)? / HEIGHT_M.check(field_m)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn angles_of_the_table() {
        // 2 atan(w/2f), worked out in Python; tolerance 1e-4 degrees.
        for (w, h, f, horizontal, vertical, diagonal) in [
            (36.0f64, 24.0f64, 24.0, 73.7398, 53.1301, 84.0622),
            (36.0, 24.0, 35.0, 54.4322, 37.8493, 63.4400),
            (36.0, 24.0, 50.0, 39.5978, 26.9915, 46.7930),
            (24.89, 18.66, 35.0, 39.1479, 29.8526, 47.9207),
            (24.89, 18.66, 50.0, 27.9538, 21.1397, 34.5597),
            (23.60, 15.60, 35.0, 37.2623, 25.1269, 44.0114),
            (17.30, 13.00, 24.0, 39.6400, 30.3081, 48.5349),
        ] {
            for (side, angle) in [(w, horizontal), (h, vertical), (w.hypot(h), diagonal)] {
                assert!(
                    (angle_deg(side, f).unwrap() - angle).abs() < 1e-4,
                    "{side} {f}"
                );
            }
        }
        // 50 mm on 36 mm at 3 m frames 2160 mm.
        assert!((field_m(36.0, 50.0, 3.0).unwrap() - 2.16).abs() < 1e-12);
    }

    #[test]
    fn crops_of_the_table() {
        // By hand.
        for (frame, aspect, exact, even) in [
            ([3840, 2160], [239, 100], [3840.0, 1606.695], [3840, 1606]),
            ([3840, 2160], [185, 100], [3840.0, 2075.676], [3840, 2074]),
            ([3840, 2160], [1, 1], [2160.0, 2160.0], [2160, 2160]),
            ([3840, 2160], [4, 5], [1728.0, 2160.0], [1728, 2160]),
            ([3840, 2160], [9, 16], [1215.0, 2160.0], [1214, 2160]),
            ([4096, 2160], [239, 100], [4096.0, 1713.808], [4096, 1712]),
            ([4096, 2160], [185, 100], [3996.0, 2160.0], [3996, 2160]),
            ([1920, 1080], [239, 100], [1920.0, 803.347], [1920, 802]),
            ([1920, 1080], [9, 16], [607.5, 1080.0], [606, 1080]),
            ([1920, 1080], [16, 9], [1920.0, 1080.0], [1920, 1080]),
        ] {
            let got = delivered([36.0, 20.25], frame, aspect, Fit::Crop).unwrap();
            assert!(
                (got.px[0] - exact[0]).abs() < 5e-4 && (got.px[1] - exact[1]).abs() < 5e-4,
                "{got:?}"
            );
            assert_eq!(got.even_px, even);
        }
        // 16:9 to 9:16 keeps 31.64 % of the pixels and of the width.
        let got = delivered([32.0, 18.0], [3840, 2160], [9, 16], Fit::Crop).unwrap();
        assert!((got.share - 0.3164).abs() < 5e-5 && (got.mm[0] / 32.0 - 0.3164).abs() < 5e-5);
    }

    #[test]
    fn set_inside_nothing_is_cut() {
        let got = delivered([36.0, 20.25], [3840, 2160], [4, 3], Fit::Inside).unwrap();
        assert_eq!((got.mm, got.share), ([36.0, 20.25], 1.0));
        // 4:3 in HD is 1440 × 1080; all of 3840 × 2160 stands in it at 1440 across.
        let active = active_px([1920, 1080], Some([4, 3]));
        assert_eq!(active, [1440.0, 1080.0]);
        assert_eq!(enlargement(&got, active, Fit::Inside), 0.375);
        let cropped = delivered([36.0, 20.25], [1920, 1080], [9, 16], Fit::Crop).unwrap();
        let tall = active_px([1080, 1920], None);
        assert!((enlargement(&cropped, tall, Fit::Crop) - 1.7778).abs() < 5e-5);
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(angle_deg(36.0, -50.0).is_err() && angle_deg(0.0, 50.0).is_err());
        assert!(delivered([36.0, 24.0], [0, 1080], [16, 9], Fit::Crop).is_err());
        assert!(delivered([36.0, 24.0], [1920, 1080], [16, 0], Fit::Crop).is_err());
        assert!(distance_m(20.0, 50.0, 0.0).is_err());
    }

    proptest! {
        #[test]
        fn distance_focal_and_field_agree(side in 3.0f64..60.0, focal in 4.0f64..600.0, distance in 0.2f64..100.0) {
            let field = field_m(side, focal, distance).unwrap();
            prop_assert!((distance_m(side, focal, field).unwrap() / distance - 1.0).abs() < 1e-12);
            prop_assert!((focal_mm(side, distance, field).unwrap() / focal - 1.0).abs() < 1e-12);
        }

        #[test]
        fn a_crop_has_the_shape_asked_and_fits(w in 16u32..9000, h in 16u32..9000, a in 1u32..400, b in 1u32..400) {
            let got = delivered([36.0, 24.0], [w, h], [a, b], Fit::Crop).unwrap();
            prop_assert!((got.px[0] * f64::from(b) / (got.px[1] * f64::from(a)) - 1.0).abs() < 1e-9);
            prop_assert!(got.px[0] <= f64::from(w) && got.px[1] <= f64::from(h));
            prop_assert!(got.px[0] == f64::from(w) || got.px[1] == f64::from(h));
        }
    }
}
