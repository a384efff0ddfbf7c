//! For every bar of the song: what is there to cut to, as planned and as shot, and where fewer
//! options than wanted.

use model::{PlacedTake, Setup, SetupId, SongMap, TakeId, Wish};
use serde::Serialize;

/// What a bar should have when no wish says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// How many different setups each bar should have to cut to. 3 by default.
    pub wanted: u32,
}

impl Default for Options {
    fn default() -> Self {
        Self { wanted: 3 }
    }
}

/// What there is to cut to, bar by bar.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Coverage {
    /// Every bar, in order.
    pub bars: Vec<BarCoverage>,
    /// Every section, in order.
    pub sections: Vec<SectionCoverage>,
    /// What can be cut anywhere: b-roll without the song.
    pub anywhere: Vec<Anywhere>,
    /// What a person should know, one sentence each.
    pub notes: Vec<String>,
}

/// What there is to cut to in one bar.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BarCoverage {
    /// The bar's number.
    pub number: u32,
    /// Where it starts, seconds.
    pub start_s: f64,
    /// Where it ends, seconds.
    pub end_s: f64,
    /// The section it starts in, as called (`B2`).
    pub section: String,
    /// The setups planned over it.
    pub planned: Vec<SetupId>,
    /// The takes that hold it wholly.
    pub shot: Vec<ShotOption>,
    /// How many different setups are planned.
    pub planned_options: u32,
    /// How many different setups were shot; takes without a setup count each.
    pub shot_options: u32,
    /// How many are wanted.
    pub wanted: u32,
    /// Whether fewer are planned than wanted.
    pub short_planned: bool,
    /// Whether fewer were shot than wanted.
    pub short_shot: bool,
}

/// A take that can be cut to in a bar.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ShotOption {
    /// Its setup, when known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub setup: Option<SetupId>,
    /// The take.
    pub take: TakeId,
}

/// One section in short.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionCoverage {
    /// As called (`B2`).
    pub section: String,
    /// What the maker calls it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// First and last bar that start in it; `None` when no bar does.
    pub bars: Option<[u32; 2]>,
    /// How many options are wanted.
    pub wanted: u32,
    /// Fewest setups planned over one of its bars.
    pub least_planned: u32,
    /// Mean number of setups planned over its bars.
    pub mean_planned: f64,
    /// Fewest setups shot over one of its bars.
    pub least_shot: u32,
    /// Mean number of setups shot over its bars.
    pub mean_shot: f64,
    /// Bars with fewer planned than wanted.
    pub short_planned: Vec<u32>,
    /// Bars with fewer shot than wanted.
    pub short_shot: Vec<u32>,
}

/// Something that can be cut to anywhere: a b-roll take without the song.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Anywhere {
    /// Its setup, when known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub setup: Option<SetupId>,
    /// The take.
    pub take: TakeId,
    /// How long it is, seconds.
    pub length_s: f64,
}

/// What there is to cut to in every bar of `map`.
pub fn coverage(
    map: &SongMap,
    setups: &[Setup],
    wishes: &[Wish],
    takes: &[PlacedTake],
    options: &Options,
) -> Coverage {
    let _ = (map, setups, wishes, takes, options);
    Coverage {
        bars: Vec::new(),
        sections: Vec::new(),
        anywhere: Vec::new(),
        notes: Vec::new(),
    }
}

impl Coverage {
    /// A table for a terminal `width` characters wide.
    pub fn to_text(&self, width: usize) -> String {
        let _ = width;
        String::new()
    }
}
