//! How bright a place was, from how a photograph of it was exposed.
//!
//! The settings a camera chose tell the luminance it saw, and the illuminance that makes 18 % grey so
//! bright ([`model::metering`]). That is only as good as the camera's wish to show an average
//! scene as grey: a phone meters by faces and skies and merges several exposures, so each estimate
//! carries ±1 stop, and ±2 where the settings were at an end of what phones do. A meter's reading
//! takes its place.

use model::metering::{self, GREY, USUAL_K_CD_M2, falling_lux, luminance_cd_m2};
use model::{Photo, Place};
use serde::Serialize;

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

/// The three settings, where all are known and can be.
fn settings(photo: &Photo) -> Option<[f64; 3]> {
    let good = |value: &f64| value.is_finite() && *value > 0.0;
    photo.settings().filter(|all| all.iter().all(good))
}

/// EV at ISO 100 that the camera was set to, its bias left in.
pub fn ev100_of(photo: &Photo) -> Option<f64> {
    let [time, number, iso] = settings(photo)?;
    Some(metering::ev100(time, number, iso))
}

/// The light in a photograph, and what to doubt of it. None without exposure time, f-number and
/// sensitivity, and none where a flash fired. A bias that is not written counts as none.
pub fn estimate(photo: &Photo) -> (Option<Estimate>, Vec<Doubt>) {
    if photo.is_flashed() {
        return (None, vec![Doubt::Flash]);
    }
    let Some([time, number, iso]) = settings(photo) else {
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
pub enum Source {
    /// A meter's reading.
    Meter,
    /// Photographs.
    Photographs,
}

/// The light falling on a place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Light {
    /// Lux.
    pub lux: f64,
    /// How far that may be off, stops either way.
    pub stops_uncertainty: f64,
    /// Where it is known from.
    pub source: Source,
}

/// The light of `place`: what was metered, otherwise what its photographs say. Several that differ,
/// as by day and by night, give the middle (in stops) of a range that holds them all.
pub fn light(place: &Place) -> Option<Light> {
    if let [only] = &place.readings[..] {
        return Some(Light {
            lux: only.lux,
            stops_uncertainty: METER_STOPS,
            source: Source::Meter,
        });
    }
    let metered = place
        .readings
        .iter()
        .map(|reading| (reading.lux.max(METER_FLOOR_LUX), METER_STOPS));
    if let Some(light) = covering(metered, Source::Meter) {
        return Some(light);
    }
    let seen = place.photos.iter().filter_map(|photo| {
        let estimate = estimate(photo).0?;
        Some((estimate.illuminance_lux, estimate.uncertainty_stops))
    });
    covering(seen, Source::Photographs)
}

fn covering(each: impl Iterator<Item = (f64, f64)>, source: Source) -> Option<Light> {
    let (least, most) = each
        .map(|(lux, stops)| (lux.log2() - stops, lux.log2() + stops))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
    Some(Light {
        lux: ((least + most) / 2.0).exp2(),
        stops_uncertainty: (most - least) / 2.0,
        source,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{MediaFile, PlaceId, Reading};

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

    fn near(ours: f64, by_hand: f64) {
        assert!((ours / by_hand - 1.0).abs() < 1e-4, "{ours} {by_hand}");
    }

    // By hand: 12.5 · 1.8² / (1/30 · 800) = 40.5 / 26.667 = 1.51875 cd/m²; · π / 0.18 = 26.507 lux.
    // Sunny 16: 12.5 · 256 / (1/100 · 100) = 3200 cd/m²; 55 850.5 lux, EV log₂(256 · 100) = 14.6439.
    #[test]
    fn luminance_is_as_by_hand() {
        let stairs = estimate(&photo(1.0 / 30.0, 1.8, 800.0, 0.0)).0.unwrap();
        near(stairs.luminance_cd_m2, 1.518_75);
        near(stairs.illuminance_lux, 26.507_2);
        let ev = ev100_of(&photo(1.0 / 30.0, 1.8, 800.0, 0.0)).unwrap();
        near(ev, 3.602_884);
        let sunny = estimate(&photo(0.01, 16.0, 100.0, 0.0)).0.unwrap();
        near(sunny.luminance_cd_m2, 3200.0);
        near(sunny.illuminance_lux, 55_850.54);
        // At K 12.5 a meter of incident light with C = 250 agrees where the reflectance is π K / C =
        // 0.157; at 18 % it reads 250 · 1.8² · 30 / 800 = 30.375 lux, 0.2 stop above ours.
        near(
            30.375 / stairs.illuminance_lux,
            GREY / (std::f64::consts::PI * 12.5 / 250.0),
        );
    }

    // The same grey wall twice: metered at 1/60 s, and with a bias of +1 at 1/30 s. It was as bright.
    #[test]
    fn a_bias_does_not_change_how_bright_it_was() {
        let plain = estimate(&photo(1.0 / 60.0, 2.0, 100.0, 0.0)).0.unwrap();
        let brighter = estimate(&photo(1.0 / 30.0, 2.0, 100.0, 1.0)).0.unwrap();
        let darker = estimate(&photo(1.0 / 240.0, 2.0, 100.0, -2.0)).0.unwrap();
        near(plain.luminance_cd_m2, 30.0);
        near(brighter.luminance_cd_m2, 30.0);
        near(darker.luminance_cd_m2, 30.0);
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
        assert_eq!(one.source, Source::Photographs);
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
        assert_eq!((dark.lux, dark.source), (0.0, Source::Meter));
        place.readings = vec![reading(40.0), reading(10.0)];
        let metered = light(&place).unwrap();
        near(metered.lux, 20.0);
        near(metered.stops_uncertainty, 1.2);
        place.readings.push(reading(0.0));
        assert!(light(&place).unwrap().lux.is_finite());
    }
}
