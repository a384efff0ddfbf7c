//! What the assembly weighs, in one place. Each weight multiplies a term that is roughly 0 to 1
//! (per beat, per shot or per cut, as said beside it), so that weights compare with each other; 0
//! switches a term off and 1000 is the most. The formulas stand in `docs/assembly.md`.

use crate::noun;
use crate::noun::made;

noun! {
    /// How much each term of the assembly's objective counts. Set per project; the usual values are ours.
    pub struct Weights(list: "weights", called: "weights", sparse: true) {
        /// A setup that the section's wish names or the plan puts there, and the purpose wished for, per beat.
        pub wish: f64 = 1.0 => "Wishes".range(0.0, 1000.0).source("ours"),
        /// The maker's rating of the take, per beat.
        pub rating: f64 = 1.0 => "Ratings".range(0.0, 1000.0).source("ours"),
        /// Sharpness of the picture, per beat.
        pub sharpness: f64 = 0.4 => "Sharpness".range(0.0, 1000.0).source("ours"),
        /// Exposure: neither crushed nor clipped, neither black nor white, per beat.
        pub exposure: f64 = 0.6 => "Exposure".range(0.0, 1000.0).source("ours"),
        /// Movement in the picture that agrees with the song's energy, per beat.
        pub movement: f64 = 0.4 => "Movement".range(0.0, 1000.0).source("ours"),
        /// Performance in sync where there is voice, b-roll where there is none, per beat.
        pub voice: f64 = 1.2 => "Voice".range(0.0, 1000.0).source("ours"),
        /// Against a shot twice or half as long as the energy or a wish asks for, per shot.
        pub length: f64 = 2.0 => "Length of a shot".range(0.0, 1000.0).source("ours"),
        /// Against a cut that falls neither on a section's start nor on a downbeat, per cut.
        pub on_the_bar: f64 = 0.8 => "Cuts on the bar".range(0.0, 1000.0).source("ours"),
        /// Against the same setup twice running, per cut.
        pub same_setup: f64 = 4.0 => "Same setup twice running".range(0.0, 1000.0).source("ours"),
        /// Against a cut between near-identical framings, per cut.
        pub near_framing: f64 = 1.0 => "Near-identical framings".range(0.0, 1000.0).source("ours"),
        /// Against a setup that was on screen a moment ago, per cut.
        pub recent: f64 = 0.8 => "Seen a moment ago".range(0.0, 1000.0).source("ours"),
        /// Against a shot that leaves no handles, per shot.
        pub handles: f64 = 0.2 => "Handles".range(0.0, 1000.0).source("ours"),
        /// Trust in where a take was placed, per beat.
        pub confidence: f64 = 0.5 => "Trust in the placement".range(0.0, 1000.0).source("ours"),
        /// Against black, per beat.
        pub black: f64 = 20.0 => "Black".range(0.0, 1000.0).source("ours"),
    }
}

impl Default for Weights {
    fn default() -> Self {
        made(serde_json::json!({}))
    }
}

impl Weights {
    /// Every weight with its name, in the order of the struct.
    pub fn list(&self) -> Vec<(&'static str, f64)> {
        let written = serde_json::to_value(self).unwrap_or_default();
        let value = |field: &crate::describe::Field| match written.get(field.name) {
            None => field.when_unsaid().as_f64(),
            Some(written) => written.as_f64(),
        };
        Self::NOUN
            .fields
            .iter()
            // A NaN or an infinity is written as null; it comes back as NaN and fails every range check.
            .map(|field| (field.name, value(field).unwrap_or(f64::NAN)))
            .collect()
    }
}
