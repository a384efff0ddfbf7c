//! How bright a place is, from what a photograph's camera wrote into it: an estimate with its doubt.
//!
//! The formula stands in [`model::metering`] (ISO 2720, EXIF/APEX).
//!
//! # How far to trust it
//! One stop at the least: exposure is a judgement, and a phone maps tones afterwards. More where
//! sensitivity or time stand at a limit, and at night, when a scene is not meant to look average.
//! These are common practice and stand in [`Practice`]. A meter reading overrides it.

use crate::error::{CONSTANT_K, EXPOSURE_S, Error, F_NUMBER, ISO, REFLECTANCE, STOPS};
use crate::practice::Practice;
use model::{Photo, metering};
use serde::Serialize;

/// What a photograph says of the light at a place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// Mean luminance of what was seen, cd/m².
    pub luminance_cd_m2: f64,
    /// Light falling on it at the reflectance assumed, lux.
    pub lux: f64,
    /// Exposure value at ISO 100 by reflected light: log₂(100 L/K).
    pub ev100: f64,
    /// It may be this many stops brighter or darker.
    pub plus_minus_stops: f64,
    /// Why so many.
    pub doubts: Vec<Doubt>,
}

impl Estimate {
    /// The same of an exposure set by hand: as doubtful as one at the camera's limit.
    fn by_hand(mut self, practice: &Practice) -> Self {
        let limits = [Doubt::SensitivityLimit, Doubt::TimeLimit];
        if !self.doubts.iter().any(|doubt| limits.contains(doubt)) {
            self.plus_minus_stops += practice.photo_limit_stops;
        }
        self.doubts.push(Doubt::ByHand);
        self.doubts.sort_unstable();
        self
    }
}

/// What makes an estimate doubtful.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Doubt {
    /// Automatic exposure and tone mapping, always.
    Automatic,
    /// Sensitivity at or near a limit.
    SensitivityLimit,
    /// Exposure time at or near a limit, or several pictures put together.
    TimeLimit,
    /// Set by hand, not by the camera's meter.
    ByHand,
    /// A night scene.
    Night,
    /// Photographs of one place that say different things.
    Disagree,
}

/// What a photograph's figures say of the light: `exposure_s` seconds at `f_number`, `iso` and
/// `bias_stops` (0 where none is written).
///
/// # Errors
/// [`Error::OutOfRange`] for a figure outside its limits.
pub fn from_photo(
    exposure_s: f64,
    f_number: f64,
    iso: f64,
    bias_stops: f64,
    practice: &Practice,
) -> Result<Estimate, Error> {
    let n = F_NUMBER.check(f_number)?;
    let (t, s) = (EXPOSURE_S.check(exposure_s)?, ISO.check(iso)?);
    let k = CONSTANT_K.check(practice.constant_k)?;
    let luminance = metering::luminance_cd_m2(t, n, s, STOPS.check(bias_stops)?, k);
    let mut doubts = vec![Doubt::Automatic];
    let mut stops = practice.photo_stops;
    if s >= practice.limit_iso {
        doubts.push(Doubt::SensitivityLimit);
    }
    if t >= practice.limit_s {
        doubts.push(Doubt::TimeLimit);
    }
    if doubts.len() > 1 {
        stops += practice.photo_limit_stops;
    }
    if luminance < practice.night_cd_m2 {
        doubts.push(Doubt::Night);
        stops += practice.photo_night_stops;
    }
    Ok(Estimate {
        luminance_cd_m2: luminance,
        lux: falling(luminance, practice.scene_reflectance)?,
        ev100: (luminance * 100.0 / k).log2(),
        plus_minus_stops: stops,
        doubts,
    })
}

/// What `photo` says of the light; `None` when its camera did not write time, f-number and ISO, or a
/// flash lit it.
///
/// # Errors
/// As [`from_photo`].
pub fn of_photo(photo: &Photo, practice: &Practice) -> Option<Result<Estimate, Error>> {
    let [time, n, iso] = photo.settings().filter(|_| !photo.is_flashed())?;
    let bias = photo.bias_stops.unwrap_or(0.0);
    let estimate = from_photo(time, n, iso, bias, practice);
    Some(estimate.map(|estimate| match photo.exposed_by_hand {
        true => estimate.by_hand(practice),
        false => estimate,
    }))
}

/// The light that falls on a matt surface of `reflectance` and `luminance_cd_m2`, lux: π L/ρ.
///
/// # Errors
/// [`Error::OutOfRange`] for a reflectance outside 0.001 to 1.
pub fn falling(luminance_cd_m2: f64, reflectance: f64) -> Result<f64, Error> {
    Ok(metering::falling_lux(
        luminance_cd_m2,
        REFLECTANCE.check(reflectance)?,
    ))
}

/// What several photographs of one place say together: the middle one (in stops), doubted as the
/// most doubtful of them and by half of what they differ. `None` without any.
pub fn together(estimates: &[Estimate]) -> Option<Estimate> {
    let mut sorted: Vec<&Estimate> = estimates.iter().collect();
    sorted.sort_by(|a, b| a.lux.total_cmp(&b.lux));
    let (first, last) = (sorted.first()?, sorted.last()?);
    let (low, high) = (sorted[(sorted.len() - 1) / 2], sorted[sorted.len() / 2]);
    let middle = |value: fn(&Estimate) -> f64| (value(low) * value(high)).sqrt();
    let own = estimates
        .iter()
        .map(|estimate| estimate.plus_minus_stops)
        .fold(0.0, f64::max);
    let apart = (last.lux / first.lux).log2() / 2.0;
    let mut doubts: Vec<Doubt> = estimates
        .iter()
        .flat_map(|estimate| estimate.doubts.iter().copied())
        .collect();
    if apart > own {
        doubts.push(Doubt::Disagree);
    }
    doubts.sort_unstable();
    doubts.dedup();
    Some(Estimate {
        luminance_cd_m2: middle(|estimate| estimate.luminance_cd_m2),
        lux: middle(|estimate| estimate.lux),
        ev100: (low.ev100 + high.ev100) / 2.0,
        plus_minus_stops: own.max(apart),
        doubts,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exposure::correct_lux;
    use proptest::prelude::*;

    fn photo(t: f64, n: f64, iso: f64, bias: f64) -> Estimate {
        from_photo(t, n, iso, bias, &Practice::default()).unwrap()
    }

    #[test]
    fn by_hand() {
        // Formula: f/2, 1/50 s, ISO 100: L = 12.5 × 4 × 50/100 = 25 cd/m², E = π 25/0.18 = 436.33 lux.
        let got = photo(0.02, 2.0, 100.0, 0.0);
        assert!((got.luminance_cd_m2 - 25.0).abs() < 1e-9);
        assert!((got.lux - 436.332).abs() < 1e-3);
        // APEX: Av 2 + Tv 5.6439 = EV 7.6439 at ISO 100.
        assert!((got.ev100 - 7.6439).abs() < 1e-4);
        assert_eq!(
            (got.plus_minus_stops, got.doubts),
            (1.0, vec![Doubt::Automatic])
        );
    }

    #[test]
    fn more_bias_means_the_scene_was_brighter_than_shown_by_time_and_stop() {
        // One scene, bias +1: the camera opens by a stop, 1/25 s for 1/50 s. Same luminance.
        let (plain, raised) = (photo(0.02, 2.0, 100.0, 0.0), photo(0.04, 2.0, 100.0, 1.0));
        assert!((plain.lux / raised.lux - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_meter_of_its_constants_calls_16_per_cent_correct() {
        // ISO 2720: with K 12.5 and C 250 a correct reflectance is π K/C = 0.157.
        let own = Practice {
            scene_reflectance: std::f64::consts::PI * 12.5 / 250.0,
            ..Practice::default()
        };
        let got = from_photo(0.02, 2.8, 400.0, 0.0, &own).unwrap();
        assert!((got.lux / correct_lux(2.8, 0.02, 400.0, 250.0).unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn night_and_limits_widen_the_doubt() {
        let got = photo(0.1, 1.8, 3200.0, 0.0);
        assert_eq!(got.plus_minus_stops, 3.0);
        assert_eq!(
            got.doubts,
            [
                Doubt::Automatic,
                Doubt::SensitivityLimit,
                Doubt::TimeLimit,
                Doubt::Night
            ]
        );
    }

    #[test]
    fn several_photographs() {
        assert_eq!(together(&[]), None);
        let one = photo(0.02, 2.0, 100.0, 0.0);
        assert_eq!(together(std::slice::from_ref(&one)), Some(one.clone()));
        // Four stops apart: the middle, and two stops either way.
        let bright = photo(0.02 / 16.0, 2.0, 100.0, 0.0);
        let both = together(&[bright, one.clone()]).unwrap();
        assert!((both.lux / (one.lux * 4.0) - 1.0).abs() < 1e-12);
        assert!((both.plus_minus_stops - 2.0).abs() < 1e-12);
        assert!(both.doubts.contains(&Doubt::Disagree));
    }

    #[test]
    fn a_photograph_of_the_document() {
        let read = |json: &str| serde_json::from_str::<Photo>(json).unwrap();
        let file =
            r#""file": {"path": "a.jpg", "hash": "00000000000000000000000000000000", "bytes": 1}"#;
        let whole = read(&format!(
            "{{{file}, \"exposure_s\": 0.02, \"f_number\": 2.0, \"iso\": 100.0}}"
        ));
        let practice = Practice::default();
        assert_eq!(
            of_photo(&whole, &practice),
            Some(Ok(photo(0.02, 2.0, 100.0, 0.0)))
        );
        let part = read(&format!(
            "{{{file}, \"exposure_s\": 0.02, \"f_number\": 2.0}}"
        ));
        assert_eq!(of_photo(&part, &practice), None);
        let by_hand = Photo {
            exposed_by_hand: true,
            ..whole.clone()
        };
        let got = of_photo(&by_hand, &practice).unwrap().unwrap();
        assert_eq!(got.plus_minus_stops, 2.0);
        assert_eq!(got.doubts, [Doubt::Automatic, Doubt::ByHand]);
        // A flash tells of itself.
        let flashed = Photo {
            flash: Some(true),
            ..whole
        };
        assert_eq!(of_photo(&flashed, &practice), None);
    }

    #[test]
    fn nonsense_is_refused() {
        let practice = Practice::default();
        for (t, n, iso, bias) in [
            (0.0, 2.0, 100.0, 0.0),
            (0.02, 0.0, 100.0, 0.0),
            (0.02, 2.0, 0.0, 0.0),
            (0.02, 2.0, 100.0, f64::INFINITY),
        ] {
            assert!(from_photo(t, n, iso, bias, &practice).is_err());
        }
        let no_k = Practice {
            constant_k: 0.0,
            ..practice
        };
        assert!(from_photo(0.02, 2.0, 100.0, 0.0, &no_k).is_err());
    }

    proptest! {
        #[test]
        fn the_middle_lies_within(times in proptest::collection::vec(0.0005f64..0.05, 1..9)) {
            let all: Vec<Estimate> = times.iter().map(|t| photo(*t, 1.8, 200.0, 0.0)).collect();
            let got = together(&all).unwrap();
            let reach = got.plus_minus_stops + 1e-9;
            let (low, high) = all.iter().fold((f64::MAX, 0.0f64), |(low, high), e| (low.min(e.lux), high.max(e.lux)));
            prop_assert!(got.lux >= low * (1.0 - 1e-12) && got.lux <= high * (1.0 + 1e-12));
            // Half the range reaches at least one end from anywhere in it.
            prop_assert!((got.lux / low).log2() <= reach || (high / got.lux).log2() <= reach);
        }
    }
}
