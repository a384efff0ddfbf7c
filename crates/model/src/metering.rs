//! What the settings of an exposure say of the light: reflected light, as cameras meter it.
//!
//! An exposure meter that sees the average luminance L asks for N²/(t S) = L / K (ISO 2720). Turned
//! round, the settings a camera chose tell the luminance it saw, and that of an average scene tells
//! the light that falls on it.
//!
//! That is only as good as the camera's wish to show an average scene as grey: a phone meters by faces and
//! skies and merges several exposures, so each estimate carries ±1 stop, and ±2 where the settings were at an
//! end of what phones do. A meter's reading takes its place. Everybody who speaks of a place's light states
//! what [`light`] gives, with its doubt.

use crate::place::{Photo, Place};
use serde::Serialize;

/// The reflected-light constant K, cd/m² (with seconds and ISO arithmetic speed): ISO 2720 allows
/// 10.6 to 13.4, 12.5 is usual. The choice moves an estimate by at most ±1/4 stop.
pub const USUAL_K_CD_M2: f64 = 12.5;
/// The reflectance of the average scene, the trade's grey card (common practice).
pub const GREY: f64 = 0.18;

/// Average luminance of the scene, cd/m²: K N² / (t S) · 2^bias, for `exposure_s` seconds at
/// `f_number` and `iso`, by a meter of the constant `k_cd_m2`.
///
/// A bias of +1 stop made the camera expose twice as long as its meter asked for, so that the
/// settings alone would speak of a scene half as bright as it was; the factor puts that right. (In
/// APEX values, Tv + Av = Bv + Sv − bias; EXIF.)
pub fn luminance_cd_m2(
    exposure_s: f64,
    f_number: f64,
    iso: f64,
    bias_stops: f64,
    k_cd_m2: f64,
) -> f64 {
    k_cd_m2 * f_number * f_number / (exposure_s * iso) * bias_stops.exp2()
}

/// Illuminance that gives a matt surface of `reflectance` (share) this luminance, lux: E = π L / ρ.
pub fn falling_lux(luminance_cd_m2: f64, reflectance: f64) -> f64 {
    std::f64::consts::PI * luminance_cd_m2 / reflectance
}

/// EV at ISO 100 of a camera's settings: log₂(N² / t · 100 / S).
pub fn ev100(exposure_s: f64, f_number: f64, iso: f64) -> f64 {
    (f_number * f_number / exposure_s * 100.0 / iso).log2()
}

impl Photo {
    /// What its exposure was set to, where all of it is written and can be: seconds, f-number, ISO.
    pub fn settings(&self) -> Option<[f64; 3]> {
        let good = |value: &f64| value.is_finite() && *value > 0.0;
        Some([self.exposure_s?, self.f_number?, self.iso?]).filter(|all| all.iter().all(good))
    }

    /// Whether a flash lit it, so that it says nothing of the light that was there.
    pub fn is_flashed(&self) -> bool {
        self.flash == Some(true)
    }
}

/// How far an estimate may be off, stops: metering modes, tone mapping (common practice).
pub const USUAL_STOPS: f64 = 1.0;
/// The same at an end of the camera's range, or set by hand: it may not have got the exposure it
/// wanted (common practice).
pub const EXTREME_STOPS: f64 = 2.0;
/// Sensitivity from which a phone is at its end (common practice).
pub const HIGH_ISO: f64 = 1600.0;
/// Exposure times, seconds, beyond which a phone is at its end: longer ones are merged from several
/// or cut short by the hand's shake, shorter ones are the shutter's last (common practice).
pub const USUAL_EXPOSURE_S: std::ops::RangeInclusive<f64> = 1.0 / 10_000.0..=1.0 / 15.0;
/// How far a hand-held meter's reading may be off, stops (common practice).
pub const METER_STOPS: f64 = 0.2;
/// Below this a meter shows zero, lux (common practice).
const METER_FLOOR_LUX: f64 = 0.01;

/// What one photograph says of the light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Average luminance of the scene, cd/m².
    pub luminance_cd_m2: f64,
    /// Light falling on it, were it 18 % grey on average, lux.
    pub illuminance_lux: f64,
    /// How far both may be off, stops either way.
    pub uncertainty_stops: f64,
}

/// What there is to say of an estimate, or of why there is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Doubt {
    /// A flash lit it.
    #[error("a flash fired, so it says nothing of the light that is there")]
    Flash,
    /// Sensitivity or time at an end.
    #[error("its camera was at an end of its range, so its light may be 2 stops off")]
    Extreme,
    /// Not metered.
    #[error("its exposure was set by hand, so its light may be 2 stops off")]
    ByHand,
}

/// EV at ISO 100 that the camera was set to, its bias left in.
pub fn ev100_of(photo: &Photo) -> Option<f64> {
    let [time, number, iso] = photo.settings()?;
    Some(ev100(time, number, iso))
}

/// The light in a photograph, and what to doubt of it. None without exposure time, f-number and
/// sensitivity, and none where a flash fired. A bias that is not written counts as none.
pub fn estimate(photo: &Photo) -> (Option<Estimate>, Vec<Doubt>) {
    if photo.is_flashed() {
        return (None, vec![Doubt::Flash]);
    }
    let Some([time, number, iso]) = photo.settings() else {
        return (None, Vec::new());
    };
    let mut doubts = Vec::new();
    if iso >= HIGH_ISO || !USUAL_EXPOSURE_S.contains(&time) {
        doubts.push(Doubt::Extreme);
    }
    if photo.exposed_by_hand {
        doubts.push(Doubt::ByHand);
    }
    let bias = photo.bias_stops.filter(|bias| bias.is_finite());
    let bias = bias.unwrap_or(0.0);
    let luminance_cd_m2 = luminance_cd_m2(time, number, iso, bias, USUAL_K_CD_M2);
    let estimate = Estimate {
        luminance_cd_m2,
        illuminance_lux: falling_lux(luminance_cd_m2, GREY),
        uncertainty_stops: if doubts.is_empty() {
            USUAL_STOPS
        } else {
            EXTREME_STOPS
        },
    };
    (Some(estimate), doubts)
}

/// Where a place's light is known from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LightFrom {
    /// A meter's reading.
    Meter,
    /// Photographs.
    Photographs,
}

/// The light that falls on a place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PlaceLight {
    /// Lux.
    pub lux: f64,
    /// How far that may be off, stops either way.
    pub stops_uncertainty: f64,
    /// Where it is known from.
    pub source: LightFrom,
}

/// The light of `place`: what was metered, otherwise what its photographs say. Several that differ,
/// as by day and by night, give the middle (in stops) of a range that holds them all.
pub fn light(place: &Place) -> Option<PlaceLight> {
    if let [only] = &place.readings[..] {
        return Some(PlaceLight {
            lux: only.lux,
            stops_uncertainty: METER_STOPS,
            source: LightFrom::Meter,
        });
    }
    let metered = place
        .readings
        .iter()
        .map(|reading| (reading.lux.max(METER_FLOOR_LUX), METER_STOPS));
    if let Some(light) = covering(metered, LightFrom::Meter) {
        return Some(light);
    }
    let seen = place.photos.iter().filter_map(|photo| {
        let estimate = estimate(photo).0?;
        Some((estimate.illuminance_lux, estimate.uncertainty_stops))
    });
    covering(seen, LightFrom::Photographs)
}

fn covering(each: impl Iterator<Item = (f64, f64)>, source: LightFrom) -> Option<PlaceLight> {
    let (least, most) = each
        .map(|(lux, stops)| (lux.log2() - stops, lux.log2() + stops))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
    Some(PlaceLight {
        lux: ((least + most) / 2.0).exp2(),
        stops_uncertainty: (most - least) / 2.0,
        source,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{MediaFile, PlaceId, Reading};

    fn near(ours: f64, by_hand: f64) {
        assert!((ours / by_hand - 1.0).abs() < 1e-5, "{ours} {by_hand}");
    }

    // By hand: 12.5 · 1.8² / (1/30 · 800) = 40.5 / 26.667 = 1.51875 cd/m²; · π / 0.18 = 26.507 lux.
    // Sunny 16: 12.5 · 256 / (1/100 · 100) = 3200 cd/m²; 55 850.5 lux, EV log₂(256 · 100) = 14.6439.
    #[test]
    fn luminance_is_as_by_hand() {
        let stairs = luminance_cd_m2(1.0 / 30.0, 1.8, 800.0, 0.0, USUAL_K_CD_M2);
        near(stairs, 1.518_75);
        near(falling_lux(stairs, GREY), 26.507_2);
        near(ev100(1.0 / 30.0, 1.8, 800.0), 3.602_884);
        let sunny = luminance_cd_m2(0.01, 16.0, 100.0, 0.0, USUAL_K_CD_M2);
        near(sunny, 3200.0);
        near(falling_lux(sunny, GREY), 55_850.54);
        near(ev100(0.01, 16.0, 100.0), 14.643_856);
        // EV 0 is f/1 and one second at ISO 100: 0.125 cd/m².
        near(luminance_cd_m2(1.0, 1.0, 100.0, 0.0, USUAL_K_CD_M2), 0.125);
        assert_eq!(ev100(1.0, 1.0, 100.0), 0.0);
    }

    // The same grey wall three times: metered at 1/60 s, with a bias of +1 at 1/30 s, with −2 at
    // 1/240 s. It was as bright.
    #[test]
    fn a_bias_does_not_change_how_bright_it_was() {
        for (time, bias) in [(1.0 / 60.0, 0.0), (1.0 / 30.0, 1.0), (1.0 / 240.0, -2.0)] {
            near(luminance_cd_m2(time, 2.0, 100.0, bias, USUAL_K_CD_M2), 30.0);
        }
    }

    fn photo(time: f64, number: f64, iso: f64, bias: f64) -> Photo {
        Photo {
            exposure_s: Some(time),
            f_number: Some(number),
            iso: Some(iso),
            bias_stops: Some(bias),
            ..Photo::new(MediaFile {
                path: "a.jpg".into(),
                hash: "0".repeat(32),
                bytes: 1,
                extra: Default::default(),
            })
        }
    }

    // By hand: 12.5 · 1.8² / (1/30 · 800) = 40.5 / 26.667 = 1.51875 cd/m²; · π / 0.18 = 26.507 lux.
    #[test]
    fn a_photograph_tells_the_light_it_was_taken_by() {
        let stairs = estimate(&photo(1.0 / 30.0, 1.8, 800.0, 0.0)).0.unwrap();
        near(stairs.luminance_cd_m2, 1.518_75);
        near(stairs.illuminance_lux, 26.507_2);
        near(
            ev100_of(&photo(1.0 / 30.0, 1.8, 800.0, 0.0)).unwrap(),
            3.602_884,
        );
        // At K 12.5 a meter of incident light with C = 250 agrees where the reflectance is π K / C =
        // 0.157; at 18 % it reads 250 · 1.8² · 30 / 800 = 30.375 lux, 0.2 stop above ours.
        near(
            30.375 / stairs.illuminance_lux,
            GREY / (std::f64::consts::PI * 12.5 / 250.0),
        );
    }

    #[test]
    fn doubts_widen_or_take_the_estimate() {
        let at = |change: &dyn Fn(&mut Photo)| {
            let mut photo = photo(1.0 / 60.0, 2.0, 100.0, 0.0);
            change(&mut photo);
            let (estimate, doubts) = estimate(&photo);
            (estimate.map(|e| e.uncertainty_stops), doubts)
        };
        assert_eq!(at(&|_| ()), (Some(1.0), vec![]));
        assert_eq!(
            at(&|p| p.iso = Some(1600.0)),
            (Some(2.0), vec![Doubt::Extreme])
        );
        assert_eq!(
            at(&|p| p.exposure_s = Some(0.25)),
            (Some(2.0), vec![Doubt::Extreme])
        );
        assert_eq!(
            at(&|p| p.exposure_s = Some(1e-5)),
            (Some(2.0), vec![Doubt::Extreme])
        );
        assert_eq!(
            at(&|p| p.exposed_by_hand = true),
            (Some(2.0), vec![Doubt::ByHand])
        );
        assert_eq!(at(&|p| p.flash = Some(true)), (None, vec![Doubt::Flash]));
        assert_eq!(at(&|p| p.flash = Some(false)), (Some(1.0), vec![]));
        for none in [
            None,
            Some(0.0),
            Some(-1.0),
            Some(f64::NAN),
            Some(f64::INFINITY),
        ] {
            assert_eq!(at(&|p| p.exposure_s = none), (None, vec![]));
            assert_eq!(at(&|p| p.f_number = none), (None, vec![]));
            assert_eq!(at(&|p| p.iso = none), (None, vec![]));
        }
        assert_eq!(at(&|p| p.bias_stops = None), (Some(1.0), vec![]));
    }

    #[test]
    fn a_place_is_lit_as_metered_or_else_as_photographed() {
        let mut place = Place::new(PlaceId::new("a").unwrap(), "a");
        assert_eq!(light(&place), None);
        place.photos = vec![photo(1.0 / 60.0, 2.0, 100.0, 0.0)];
        let one = light(&place).unwrap();
        near(one.lux, 523.598_8);
        near(one.stops_uncertainty, 1.0);
        assert_eq!(one.source, LightFrom::Photographs);
        // Four stops darker at night: two in the middle, and three either way to hold both.
        place.photos.push(photo(1.0 / 30.0, 2.0, 800.0, 0.0));
        let two = light(&place).unwrap();
        near(two.lux, 523.598_8 / 4.0);
        near(two.stops_uncertainty, 3.0);
        let reading = |lux| Reading {
            lux,
            at: None,
            kelvin: None,
            remark: String::new(),
            extra: Default::default(),
        };
        place.readings = vec![reading(0.0)];
        let dark = light(&place).unwrap();
        assert_eq!((dark.lux, dark.source), (0.0, LightFrom::Meter));
        place.readings = vec![reading(40.0), reading(10.0)];
        let metered = light(&place).unwrap();
        near(metered.lux, 20.0);
        near(metered.stops_uncertainty, 1.2);
        place.readings.push(reading(0.0));
        assert!(light(&place).unwrap().lux.is_finite());
    }
}
