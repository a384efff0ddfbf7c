//! What the trade does by custom rather than by standard, in one place and editable.
//!
//! Every value here is common practice. A caller who works otherwise hands in another
//! [`Practice`]; nothing in this crate reads these values from anywhere else.

use crate::gel::{SHEETS, Sheet};
use model::Framing;

/// Customs that a judgement goes by.
#[derive(Clone, Debug, PartialEq)]
pub struct Practice {
    /// Calibration constant C of incident light, lux · s · ISO / f-number squared (ISO 2720: 240 to
    /// 400 for a flat receptor, 250 usual). The light computed here falls on a flat surface.
    pub constant_c: f64,
    /// Shutter angle where none is said, degrees.
    pub shutter_deg: f64,
    /// Where the face is wanted where the setup does not say, stops from correct.
    pub face_stops: f64,
    /// Where the background is wanted where the setup does not say, stops from correct.
    pub background_stops: f64,
    /// How far from its target an exposure may lie before it is told of, stops.
    pub slack_stops: f64,
    /// The least sensitivity a camera is expected to have.
    pub least_iso: f64,
    /// The narrowest shutter angle proposed, degrees: below it movement looks chopped.
    pub least_shutter_deg: f64,
    /// Rates a camera is expected to have where it does not list its own, frames a second.
    pub rates_fps: &'static [f64],
    /// The nearest a light is proposed to stand, metres: nearer it is in the picture, or hot.
    pub least_light_m: f64,
    /// Ambient light from here on is daylight, which does not pulse, lux.
    pub daylight_lux: f64,
    /// How much of a standing grown-up each framing holds from top to bottom, metres: wide, full,
    /// medium, close, detail.
    pub framing_m: [f64; 5],
    /// Inverse square is trusted from this many times a source's size.
    pub sizes_away: f64,
    /// Sources on one subject are told of as mixed beyond this difference, mired.
    pub mixed_mired: f64,
    /// The same across the locus, in CIE 1960 (u, v).
    pub mixed_duv: f64,
    /// A source that gives less than this share of the light on a subject is not told of.
    pub least_share: f64,
    /// Bands and pulsing below this contrast (peak to peak, share of the mean) are taken to be unseen.
    pub seen_contrast: f64,
    /// Pulses a second assumed of a dimmed light that states none, is not hot and does not follow the
    /// mains; 0 assumes none (a guess would be as good as none: 200 Hz to 25 kHz are sold).
    pub led_pulses_hz: f64,
    /// Sheets of colour correction to choose from.
    pub sheets: &'static [Sheet],
    /// A picture enlarged by more than this is told of.
    pub enlarged: f64,
}

impl Default for Practice {
    fn default() -> Self {
        Self::from(&model::Practice::default())
    }
}

impl From<&model::Practice> for Practice {
    fn from(practice: &model::Practice) -> Self {
        Self {
            constant_c: practice.meter_c,
            shutter_deg: practice.shutter_deg,
            face_stops: practice.face_stops,
            background_stops: practice.background_stops,
            slack_stops: practice.slack_stops,
            least_iso: f64::from(practice.least_iso),
            least_shutter_deg: practice.least_shutter_deg,
            rates_fps: &[
                12.0, 16.0, 18.0, 20.0, 24.0, 25.0, 30.0, 36.0, 40.0, 48.0, 50.0, 60.0, 72.0, 75.0,
                96.0, 100.0, 120.0,
            ],
            least_light_m: practice.least_light_m,
            daylight_lux: practice.daylight_lux,
            framing_m: [
                practice.wide_m,
                practice.full_m,
                practice.medium_m,
                practice.close_m,
                practice.detail_m,
            ],
            sizes_away: 5.0,
            mixed_mired: practice.mixed_mired,
            mixed_duv: practice.mixed_duv,
            least_share: 0.1,
            seen_contrast: practice.seen_contrast,
            led_pulses_hz: practice.led_pulses_hz,
            sheets: &SHEETS,
            enlarged: 1.1,
        }
    }
}

impl Practice {
    /// How much of a standing grown-up `framing` holds from top to bottom, metres.
    pub fn height_m(&self, framing: Framing) -> f64 {
        let [wide, full, medium, close, detail] = self.framing_m;
        match framing {
            Framing::Wide => wide,
            Framing::Full => full,
            Framing::Medium => medium,
            Framing::Close => close,
            Framing::Detail => detail,
        }
    }
}
