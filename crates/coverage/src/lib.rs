//! For every bar of the song: what is there to cut to, as planned and as shot, and where there is
//! less than wanted.
//!
//! [`coverage`] lays the setups (as planned) and the placed takes (as shot) against the bars of the
//! song; [`Coverage`] serialises to JSON. [`advise`] says
//! what to plan or shoot next that helps most per minute of shooting.
//!
//! # What counts
//! - *Planned*: a setup counts in a bar when the sections, bars and stretches it names, taken together,
//!   hold at least half of the bar; one that names nothing counts everywhere.
//! - *Shot*: a take counts in a bar when one of its runs holds the whole bar (to [`SLACK_S`]), it has a
//!   picture and is not marked no good. Takes of one setup are one option; takes without a setup are an
//!   option each.
//! - B-roll without the song lies nowhere: it can be cut anywhere, and is listed apart.
//!
//! It does not judge pictures, and does not know what is cut: that is the assembly's.

pub mod advice;
mod bars;
mod plan;
mod worth;

pub use advice::{Advice, Suggestion, Work, advise};
pub use bars::{BarsError, bars_of, ranges, spans, with_bars};
pub use worth::worth;

use model::{Finding, PlacedTake, Purpose, Rating, Setup, SetupId, SongMap, Stretch, TakeId, Wish};
use serde::Serialize;
use std::collections::BTreeSet;

/// How much a run may fall short of a bar on either side and still hold it, in seconds: half a frame
/// at 24 frames per second, which no cut can show.
pub const SLACK_S: f64 = 0.5 / 24.0;

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
    /// Minutes of different setups to cut to per minute of song, as planned: how many there are in a bar ×
    /// the bar's length, summed, ÷ the song's length. 0 for a song without bars.
    pub planned_choice: f64,
    /// The same as shot; takes without a setup count each.
    pub shot_choice: f64,
    /// What can be cut anywhere: b-roll without the song.
    pub anywhere: Vec<Anywhere>,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

impl Coverage {
    /// Whether any take holds a bar.
    pub fn shot_at_all(&self) -> bool {
        self.bars.iter().any(|bar| !bar.shot.is_empty())
    }

    /// The bars with fewer setups to cut to than wanted, as shot or as planned, by number.
    pub fn thin(&self, as_shot: bool) -> Vec<u32> {
        let thin = |bar: &&BarCoverage| match as_shot {
            true => bar.short_shot,
            false => bar.short_planned,
        };
        let bars = self.bars.iter().filter(thin);
        bars.map(|bar| bar.number).collect()
    }
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
    /// The section its middle lies in, as called (`B2`).
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
    /// First and last bar whose middle lies in it; `None` when no bar's does.
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

/// What there is to cut to in every bar of `map`, as planned by `setups` and as shot in `takes`;
/// `wishes` say how many options their sections want.
pub fn coverage(
    map: &SongMap,
    setups: &[Setup],
    wishes: &[Wish],
    takes: &[PlacedTake],
    options: &Options,
) -> Coverage {
    let mut notes = Vec::new();
    let planned = plan::planned(map, setups, &mut notes);
    let wanted = plan::wanted(map, wishes, options.wanted, &mut notes);
    let shown: Vec<(&PlacedTake, Vec<(f64, f64)>)> = takes
        .iter()
        .filter(|take| take.picture.is_some() && take.rating != Rating::NoGood)
        .map(|take| (take, held(take)))
        .collect();
    let anywhere = anywhere(setups, takes);
    for take in takes {
        if let Some(id) = &take.setup
            && !setups.iter().any(|setup| setup.id == *id)
        {
            let says = format!(
                "take `{}` is said to be of the setup `{id}`, which is not in the plan; it counts as an option by that name",
                take.id
            );
            notes.push(Finding::warning("unknown-setup", says).about(&take.id));
        }
    }

    let mut bars = Vec::new();
    let mut section_of = Vec::new();
    for bar in &map.bars {
        let section = plan::section_of(map, bar.at);
        let over: Vec<SetupId> = setups
            .iter()
            .zip(&planned)
            .filter(|(_, planned)| planned.as_ref().is_none_or(|at| bar.is_half_held(at)))
            .map(|(setup, _)| setup.id.clone())
            .collect();
        let shot: Vec<ShotOption> = shown
            .iter()
            .filter(|(_, held)| held.iter().any(|run| holds(*run, bar.at)))
            .map(|(take, _)| ShotOption {
                setup: take.setup.clone(),
                take: take.id.clone(),
            })
            .collect();
        let distinct: BTreeSet<(Option<&SetupId>, Option<&TakeId>)> = shot
            .iter()
            .map(|option| match &option.setup {
                Some(setup) => (Some(setup), None),
                None => (None, Some(&option.take)),
            })
            .collect();
        let wanted = section.map_or(options.wanted, |index| wanted[index]);
        let planned_options = over.len() as u32;
        let shot_options = distinct.len() as u32;
        bars.push(BarCoverage {
            number: bar.number,
            start_s: bar.at.start().seconds(),
            end_s: bar.at.end().seconds(),
            section: section.map_or_else(String::new, |index| map.section_call(index)),
            planned: over,
            shot,
            planned_options,
            shot_options,
            wanted,
            short_planned: planned_options < wanted,
            short_shot: shot_options < wanted,
        });
        section_of.push(section);
    }
    let sections = (0..map.sections.len())
        .map(|index| {
            let own: Vec<&BarCoverage> = bars
                .iter()
                .zip(&section_of)
                .filter(|(_, section)| **section == Some(index))
                .map(|(bar, _)| bar)
                .collect();
            in_short(map, index, &own, wanted[index])
        })
        .collect();
    Coverage {
        planned_choice: choice(&bars, |bar| bar.planned_options),
        shot_choice: choice(&bars, |bar| bar.shot_options),
        bars,
        sections,
        anywhere,
        notes,
    }
}

/// Seconds of options per second of `bars`, which tile the song.
fn choice(bars: &[BarCoverage], options: fn(&BarCoverage) -> u32) -> f64 {
    let length = |bar: &BarCoverage| bar.end_s - bar.start_s;
    let song: f64 = bars.iter().map(length).sum();
    let all: f64 = bars.iter().map(|b| length(b) * f64::from(options(b))).sum();
    if song > 0.0 { all / song } else { 0.0 }
}

fn in_short(map: &SongMap, index: usize, bars: &[&BarCoverage], wanted: u32) -> SectionCoverage {
    let least = |read: fn(&BarCoverage) -> u32| bars.iter().map(|b| read(b)).min().unwrap_or(0);
    let mean = |read: fn(&BarCoverage) -> u32| {
        let sum: u32 = bars.iter().map(|b| read(b)).sum();
        f64::from(sum) / bars.len().max(1) as f64
    };
    let short = |read: fn(&BarCoverage) -> bool| {
        bars.iter().filter(|b| read(b)).map(|b| b.number).collect()
    };
    SectionCoverage {
        section: map.section_call(index),
        name: map.sections[index].name.clone(),
        bars: bars
            .first()
            .zip(bars.last())
            .map(|(first, last)| [first.number, last.number]),
        wanted,
        least_planned: least(|b| b.planned_options),
        mean_planned: mean(|b| b.planned_options),
        least_shot: least(|b| b.shot_options),
        mean_shot: mean(|b| b.shot_options),
        short_planned: short(|b| b.short_planned),
        short_shot: short(|b| b.short_shot),
    }
}

/// The parts of the song a take's runs hold, in song seconds. A run beyond the take's ends counts only
/// as far as there is take.
fn held(take: &PlacedTake) -> Vec<(f64, f64)> {
    let end = take.length.seconds();
    take.placement
        .runs
        .iter()
        .filter(|run| run.true_speed().is_finite() && run.true_speed() > 0.0)
        .map(|run| {
            let last = run.take_end.seconds().min(end);
            (run.song_start.seconds(), run.song_s_at(last))
        })
        .filter(|(from, to)| to > from)
        .collect()
}

fn holds((from, to): (f64, f64), bar: Stretch) -> bool {
    from <= bar.start().seconds() + SLACK_S && to >= bar.end().seconds() - SLACK_S
}

/// B-roll takes in which the song was not heard. A take without a setup counts as one.
fn anywhere(setups: &[Setup], takes: &[PlacedTake]) -> Vec<Anywhere> {
    takes
        .iter()
        .filter(|take| {
            let broll = match &take.setup {
                None => true,
                Some(id) => setups
                    .iter()
                    .any(|setup| setup.id == *id && setup.purpose == Purpose::BRoll),
            };
            broll
                && !take.placement.matched()
                && take.picture.is_some()
                && take.rating != Rating::NoGood
        })
        .map(|take| Anywhere {
            setup: take.setup.clone(),
            take: take.id.clone(),
            length_s: take.length.seconds(),
        })
        .collect()
}

#[cfg(test)]
mod tests;
