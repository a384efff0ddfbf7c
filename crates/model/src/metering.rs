//! What the settings of an exposure say of the light: reflected light, as cameras meter it.
//!
//! An exposure meter that sees the average luminance L asks for N²/(t S) = L / K (ISO 2720). Turned
//! round, the settings a camera chose tell the luminance it saw, and that of an average scene tells
//! the light that falls on it. How far to trust either is the business of whoever asks.

use crate::place::Photo;

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
    /// What its exposure was set to, where all of it is written: seconds, f-number, ISO.
    pub fn settings(&self) -> Option<[f64; 3]> {
        Some([self.exposure_s?, self.f_number?, self.iso?])
    }

    /// Whether a flash lit it, so that it says nothing of the light that was there.
    pub fn is_flashed(&self) -> bool {
        self.flash == Some(true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
