//! What is asked of the assembly, and what it answers.

use model::{FrameRate, Lock, PlacedTake, Setup, Shot, SongMap, TakeId, Weights, Wish};
use serde::Serialize;

/// Everything an assembly is made from.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The song as a ruler.
    pub map: &'a SongMap,
    /// The rate of the cut.
    pub rate: FrameRate,
    /// The setups as planned.
    pub setups: &'a [Setup],
    /// What each section wants.
    pub wishes: &'a [Wish],
    /// How much each term counts.
    pub weights: &'a Weights,
    /// What the maker holds fast.
    pub locks: &'a [Lock],
    /// The takes, placed and measured.
    pub takes: &'a [PlacedTake],
}

/// A cut, and how good it is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// The shots, tiling the frames from 0 to the end of the song.
    pub shots: Vec<Shot>,
    /// The objective's value: the sum of all terms.
    pub score: f64,
    /// What each shot adds to it, in the order of `shots`.
    pub terms: Vec<Terms>,
    /// Whether no better cut exists.
    pub proven: bool,
    /// No cut scores higher than this.
    pub bound: f64,
    /// What a person should know.
    pub notes: Vec<Note>,
}

/// What one shot adds to the objective, term by term, weights already multiplied in. The names are
/// those of [`Weights`]; `limits` holds the fixed costs of what is allowed only when unavoidable.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Terms {
    /// The section's wish and the plan, over the shot's beats.
    pub wish: f64,
    /// The maker's rating, over the shot's beats.
    pub rating: f64,
    /// Sharpness, over the shot's beats.
    pub sharpness: f64,
    /// Exposure, over the shot's beats.
    pub exposure: f64,
    /// Movement that agrees with the energy, over the shot's beats.
    pub movement: f64,
    /// Performance where there is voice, b-roll where there is none, over the shot's beats.
    pub voice: f64,
    /// Trust in the placement, over the shot's beats.
    pub confidence: f64,
    /// Black, over the shot's beats.
    pub black: f64,
    /// The shot's length.
    pub length: f64,
    /// Handles.
    pub handles: f64,
    /// The cut into this shot: on the bar or between.
    pub on_the_bar: f64,
    /// The cut into this shot: same setup twice running.
    pub same_setup: f64,
    /// The cut into this shot: near-identical framings.
    pub near_framing: f64,
    /// The cut into this shot: a setup seen a moment ago.
    pub recent: f64,
    /// Fixed costs of what is allowed only when unavoidable: too short, too long, into black, a state
    /// out of order with a lock.
    pub limits: f64,
}

impl Terms {
    /// Every term with its name, in the order they are shown.
    pub fn named(&self) -> [(&'static str, f64); 15] {
        [
            ("wish", self.wish),
            ("rating", self.rating),
            ("sharpness", self.sharpness),
            ("exposure", self.exposure),
            ("movement", self.movement),
            ("voice", self.voice),
            ("confidence", self.confidence),
            ("black", self.black),
            ("length", self.length),
            ("handles", self.handles),
            ("on_the_bar", self.on_the_bar),
            ("same_setup", self.same_setup),
            ("near_framing", self.near_framing),
            ("recent", self.recent),
            ("limits", self.limits),
        ]
    }

    /// Their sum.
    pub fn total(&self) -> f64 {
        self.named().iter().map(|(_, value)| value).sum()
    }

    /// Term by term with `other`.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        Self {
            wish: self.wish + other.wish,
            rating: self.rating + other.rating,
            sharpness: self.sharpness + other.sharpness,
            exposure: self.exposure + other.exposure,
            movement: self.movement + other.movement,
            voice: self.voice + other.voice,
            confidence: self.confidence + other.confidence,
            black: self.black + other.black,
            length: self.length + other.length,
            handles: self.handles + other.handles,
            on_the_bar: self.on_the_bar + other.on_the_bar,
            same_setup: self.same_setup + other.same_setup,
            near_framing: self.near_framing + other.near_framing,
            recent: self.recent + other.recent,
            limits: self.limits + other.limits,
        }
    }
}

/// Something a person should know about a cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Note {
    /// One sentence.
    pub text: String,
    /// First and last bar it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bars: Option<[u32; 2]>,
    /// The take it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub take: Option<TakeId>,
}

/// Why the shots that touch a bar were chosen.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Why {
    /// The bar asked about.
    pub bar: u32,
    /// Each shot that touches it, in order.
    pub choices: Vec<Choice>,
}

/// One shot against the best other one over the same stretch, its neighbours staying.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Choice {
    /// The shot in the cut.
    pub shot: Shot,
    /// What it adds, with what it changes in the cuts after it.
    pub terms: Terms,
    /// The best other shot over the same frames; `None` when there is no other.
    pub runner_up: Option<Shot>,
    /// What that one would add.
    pub runner_up_terms: Option<Terms>,
}
