//! What the assembly weighs, in one place. Each weight multiplies a term that is roughly 0 to 1
//! (per beat, per shot or per cut, as said beside it), so that weights compare with each other; 0
//! switches a term off and 1000 is the most. The formulas stand in `docs/assembly.md`.

use serde::{Deserialize, Serialize};

/// How much each term of the assembly's objective counts. Set per project; the defaults are ours.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Weights {
    /// A setup that the section's wish names or the plan puts there, and the purpose wished for, per beat.
    pub wish: f64,
    /// The maker's rating of the take, per beat.
    pub rating: f64,
    /// Sharpness of the picture, per beat.
    pub sharpness: f64,
    /// Exposure: neither crushed nor clipped, neither black nor white, per beat.
    pub exposure: f64,
    /// Movement in the picture that agrees with the song's energy, per beat.
    pub movement: f64,
    /// Performance in sync where there is voice, b-roll where there is none, per beat.
    pub voice: f64,
    /// Against a shot twice or half as long as the energy or a wish asks for, per shot.
    pub length: f64,
    /// Against a cut that falls neither on a section's start nor on a downbeat, per cut.
    pub on_the_bar: f64,
    /// Against the same setup twice running, per cut.
    pub same_setup: f64,
    /// Against a cut between near-identical framings, per cut.
    pub near_framing: f64,
    /// Against a setup that was on screen a moment ago, per cut.
    pub recent: f64,
    /// Against a shot that leaves no handles, per shot.
    pub handles: f64,
    /// Trust in where a take was placed, per beat.
    pub confidence: f64,
    /// Against black, per beat.
    pub black: f64,
    /// Fields a newer version wrote; kept, not read.
    #[serde(flatten)]
    pub extra: crate::noun::Extra,
}

impl Default for Weights {
    fn default() -> Self {
        Self {
            wish: 1.0,
            rating: 1.0,
            sharpness: 0.4,
            exposure: 0.6,
            movement: 0.4,
            voice: 1.2,
            length: 2.0,
            on_the_bar: 0.8,
            same_setup: 4.0,
            near_framing: 1.0,
            recent: 0.8,
            handles: 0.2,
            confidence: 0.5,
            black: 20.0,
            extra: Default::default(),
        }
    }
}

impl Weights {
    /// The names its fields have in files.
    pub const FIELDS: &'static [&'static str] = &[
        "wish",
        "rating",
        "sharpness",
        "exposure",
        "movement",
        "voice",
        "length",
        "on_the_bar",
        "same_setup",
        "near_framing",
        "recent",
        "handles",
        "confidence",
        "black",
    ];

    /// Whether nothing was changed.
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

impl Weights {
    /// Every weight with its name, in the order of the struct.
    pub fn list(&self) -> Vec<(String, f64)> {
        let Ok(serde_json::Value::Object(map)) = serde_json::to_value(self) else {
            return Vec::new();
        };
        map.into_iter()
            .filter(|(name, _)| Self::FIELDS.contains(&name.as_str()))
            // A NaN or an infinity is written as null; it comes back as NaN and fails every range check.
            .map(|(name, value)| (name, value.as_f64().unwrap_or(f64::NAN)))
            .collect()
    }
}
