//! What can be cut to: the takes as sources of shots, each with its rules.
//!
//! A take where the song was heard gives one *synced* source per run: it can be shown only where it
//! was heard. A b-roll take gives one *free* source: it can be shown anywhere, from a set of starting
//! points in it. A take without a setup counts as a setup of its own, and as b-roll when the song was
//! not heard in it.

use crate::answer::{Note, Question};
use crate::grid::{Grid, unit};
use crate::track::{Measured, NEUTRAL, Ranks};
use model::{PlacedTake, Purpose, Rating, Run, Setup, SongTime, Stretch};
use std::collections::BTreeMap;

/// How much take must be left before and after a shot for it to have handles, in seconds: twelve
/// frames at 24 fps (common practice).
pub const HANDLE_S: f64 = 0.5;
/// Distance between the points where a shot of a free source may start in its take, seconds; more
/// in takes longer than [`MOST_STARTS`] of them.
pub const START_STEP_S: f64 = 1.0;
/// A free source has at most about so many starting points.
pub const MOST_STARTS: usize = 60;
/// Speeds at which a take can be shown; anything else is a mistake in the placement.
pub const SPEEDS: std::ops::RangeInclusive<f64> = 0.05..=20.0;

/// How a take is shown.
#[derive(Clone, Debug)]
pub enum Kind {
    /// Where it was heard.
    Synced {
        /// The run, its unusable numbers made harmless.
        run: Run,
        /// Which run of the take.
        index: usize,
        /// First point a shot of it may start at.
        lo: usize,
        /// Last point a shot of it may end at.
        hi: usize,
    },
    /// Anywhere, starting at one of these seconds into the take.
    Free {
        /// Where it may start, rising.
        starts: Vec<f64>,
    },
}

/// Something to cut to.
#[derive(Clone, Debug)]
pub struct Source {
    /// Index of the take.
    pub take: usize,
    /// How it is shown.
    pub kind: Kind,
    /// Its setup among all setups and takes without one.
    pub group: usize,
    /// Index of its setup, when it is one of the plan's.
    pub setup: Option<usize>,
    /// What it is for.
    pub purpose: Purpose,
    /// Performer state; `None` where no performer need be recognised: b-roll of the first state.
    pub state: Option<u32>,
    /// Rating as a number, 0 to 1.
    pub rating: f64,
    /// Trust in the placement, 0 to 1.
    pub confidence: f64,
    /// The part of the take that can be shown, seconds.
    pub usable: (f64, f64),
    /// Song seconds per take second, without drift: what a timeline is told.
    pub speed: f64,
    /// Song seconds per take second, with drift: what is reckoned with.
    pub pace: f64,
    /// Whether the lips fit.
    pub in_sync: bool,
}

impl Source {
    /// Seconds into the take shown at `song_s` by a shot that starts at `from_s` on the song and
    /// `start` in the take. For a synced source the shot's start does not matter.
    pub fn take_s(&self, song_s: f64, from_s: f64, start: f64) -> f64 {
        match &self.kind {
            Kind::Synced { run, .. } => run.take_s_at(song_s),
            Kind::Free { .. } => start + (song_s - from_s) / self.pace,
        }
    }
}

/// All there is to cut to.
#[derive(Clone, Debug)]
pub struct Material {
    /// What may be chosen.
    pub sources: Vec<Source>,
    /// Picture measures by take.
    pub measured: Vec<Option<Measured>>,
    /// Setup groups by take.
    pub groups: Vec<usize>,
    /// How many groups there are.
    pub group_count: usize,
    /// What a person should know.
    pub notes: Vec<Note>,
}

/// The setup of a take in the plan.
pub fn setup_of<'a>(q: &Question<'a>, take: &PlacedTake) -> Option<(usize, &'a Setup)> {
    let id = take.setup.as_ref()?;
    q.setups.iter().enumerate().find(|(_, s)| s.id == *id)
}

/// What a take is for: as its setup says; without one, performance when the song was heard in it.
pub fn purpose(q: &Question, take: &PlacedTake) -> Purpose {
    match setup_of(q, take) {
        Some((_, setup)) => setup.purpose,
        None if take.placement.matched() => Purpose::Performance,
        None => Purpose::BRoll,
    }
}

/// The part of a take that can be shown, in seconds.
pub fn usable(take: &PlacedTake) -> (f64, f64) {
    let end = take.length.seconds();
    match &take.picture {
        Some(picture) if picture.length.seconds() > 0.0 => {
            let start = if picture.start_s.is_finite() {
                picture.start_s
            } else {
                0.0
            };
            let from = start.clamp(0.0, end);
            (from, (start + picture.length.seconds()).clamp(from, end))
        }
        _ => (0.0, end),
    }
}

/// Song seconds per take second at which a take is shown where the song does not matter. A take from
/// a setup with a camera rate of its own, whose file still has that rate, is shown frame for frame at
/// the rate of the cut; a file that plays slowly already, and everything else, is shown as it is.
pub fn free_speed(q: &Question, take: &PlacedTake) -> f64 {
    let shot_rate = setup_of(q, take).and_then(|(_, setup)| setup.shot_rate);
    let file_rate = take.picture.as_ref().map(|picture| picture.rate);
    match (shot_rate, file_rate) {
        (Some(shot), Some(file)) if (file.fps() / shot.fps() - 1.0).abs() < 0.01 => shot
            .over(q.rate)
            .value()
            .clamp(*SPEEDS.start(), *SPEEDS.end()),
        _ => 1.0,
    }
}

/// The performer state that counts for the order of states.
pub fn counted_state(q: &Question, take: &PlacedTake) -> Option<u32> {
    match setup_of(q, take) {
        Some((_, setup)) if setup.purpose == Purpose::BRoll && take.state == 0 => None,
        None if !take.placement.matched() && take.state == 0 => None,
        _ => Some(take.state),
    }
}

/// Rating as a number.
pub fn rating_value(rating: Rating) -> f64 {
    match rating {
        Rating::NoGood => 0.0,
        Rating::Unrated => 0.3,
        Rating::Usable => 0.6,
        Rating::Circled => 1.0,
    }
}

/// A run whose numbers can be reckoned with, or `None`.
pub fn sound_run(run: &Run, usable: (f64, f64)) -> Option<Run> {
    let speed = run.true_speed();
    if !SPEEDS.contains(&speed) || !SPEEDS.contains(&run.speed) {
        return None;
    }
    let (start, end) = (run.take_start.seconds(), run.take_end.seconds());
    (end.min(usable.1) > start.max(usable.0)).then(|| Run {
        confidence: if run.confidence.is_nan() {
            0.0
        } else {
            unit(run.confidence)
        },
        ..*run
    })
}

/// The part of the song over which `run` can be shown, in seconds.
pub fn on_song(run: &Run, usable: (f64, f64)) -> (f64, f64) {
    (
        run.song_s_at(run.take_start.seconds().max(usable.0)),
        run.song_s_at(run.take_end.seconds().min(usable.1)),
    )
}

impl Material {
    /// Gathers what can be cut to on `grid`. Free sources get at most `most_starts` starting points.
    pub fn of(q: &Question, grid: &Grid, most_starts: usize) -> Self {
        let mut names = BTreeMap::new();
        let groups: Vec<usize> = q
            .takes
            .iter()
            .map(|take| {
                let name = match &take.setup {
                    Some(setup) => (true, setup.as_str()),
                    None => (false, take.id.as_str()),
                };
                let next = names.len();
                *names.entry(name).or_insert(next)
            })
            .collect();
        let ranks = Ranks::of(q.takes);
        let measured = q
            .takes
            .iter()
            .map(|take| Measured::of(take.track.as_ref()?, &ranks))
            .collect();
        let any_picture = q.takes.iter().any(|take| take.picture.is_some());
        let mut material = Self {
            sources: Vec::new(),
            measured,
            group_count: names.len(),
            groups,
            notes: Vec::new(),
        };
        for (index, take) in q.takes.iter().enumerate() {
            if take.rating == Rating::NoGood {
                continue;
            }
            if any_picture && take.picture.is_none() {
                let text = format!("`{}` has no picture and is not used", take.id);
                material.note(take, text);
                continue;
            }
            material.add_synced(q, grid, index);
            material.add_free(q, index, most_starts);
        }
        material
    }

    fn note(&mut self, take: &PlacedTake, text: String) {
        self.notes.push(Note {
            text,
            bars: None,
            take: Some(take.id.clone()),
        });
    }

    /// Take `index` as a source that is shown as `kind`.
    fn source(&self, q: &Question, index: usize, kind: Kind, [speed, pace]: [f64; 2]) -> Source {
        let take = &q.takes[index];
        let confidence = match &kind {
            Kind::Synced { run, .. } if take.placement.alternatives.is_empty() => run.confidence,
            Kind::Synced { run, .. } => run.confidence * 0.5,
            Kind::Free { .. } => 1.0,
        };
        Source {
            take: index,
            in_sync: matches!(kind, Kind::Synced { .. }),
            kind,
            group: self.groups[index],
            setup: setup_of(q, take).map(|(index, _)| index),
            purpose: purpose(q, take),
            state: counted_state(q, take),
            rating: rating_value(take.rating),
            confidence,
            usable: usable(take),
            speed,
            pace,
        }
    }

    /// Take `index` where it was heard.
    fn add_synced(&mut self, q: &Question, grid: &Grid, index: usize) {
        let take = &q.takes[index];
        let usable = usable(take);
        let half = grid.frame_s / 2.0 + 1e-6;
        for (which, run) in take.placement.runs.iter().enumerate() {
            let Some(run) = sound_run(run, usable) else {
                let text = format!(
                    "run {} of `{}` can't be used: it lies outside the take, or its speed {} is none that can be shown",
                    which + 1,
                    take.id,
                    run.speed
                );
                self.note(take, text);
                continue;
            };
            let (from, to) = on_song(&run, usable);
            let lo = grid.at_s.partition_point(|t| *t < from - half);
            let hi = grid
                .at_s
                .partition_point(|t| t.min(grid.song_s) <= to + half);
            if hi > lo + 1 {
                let kind = Kind::Synced {
                    run,
                    index: which,
                    lo,
                    hi: hi - 1,
                };
                let source = self.source(q, index, kind, [run.speed, run.true_speed()]);
                self.sources.push(source);
            }
        }
    }

    /// Take `index` where it may be shown anywhere.
    fn add_free(&mut self, q: &Question, index: usize, most_starts: usize) {
        let take = &q.takes[index];
        let unknown_setup = take.setup.is_some() && setup_of(q, take).is_none();
        if purpose(q, take) == Purpose::BRoll && !unknown_setup {
            let starts = starts(usable(take), most_starts);
            if !starts.is_empty() {
                let speed = free_speed(q, take);
                let source = self.source(q, index, Kind::Free { starts }, [speed; 2]);
                self.sources.push(source);
            }
        } else if !take.placement.matched() {
            let why = match &take.setup {
                Some(setup) if unknown_setup => {
                    format!("the plan has no setup `{setup}` to say what it is for")
                }
                _ => "its setup is for performance".into(),
            };
            let text = format!(
                "the song was not heard in `{}`, and {why}; it is not used",
                take.id
            );
            self.note(take, text);
        }
    }

    /// Mean sharpness, exposure and movement (as rank) over a piece of a take.
    pub fn means(&self, take: usize, from_s: f64, to_s: f64) -> [f64; 3] {
        match &self.measured[take] {
            Some(measured) if to_s > from_s => measured.means(from_s, to_s),
            _ => [NEUTRAL; 3],
        }
    }
}

/// Where shots of a free take may start: at its very start, and then, a handle in, at even steps.
fn starts((from, to): (f64, f64), most: usize) -> Vec<f64> {
    let length = to - from;
    if length <= 0.0 {
        return Vec::new();
    }
    let step = START_STEP_S.max(length / most.max(1) as f64);
    let mut starts = vec![from];
    let mut k = 0;
    while HANDLE_S + f64::from(k) * step < length {
        starts.push(from + HANDLE_S + f64::from(k) * step);
        k += 1;
    }
    starts
}

/// What the plan and the wishes say of showing a take in a section, 0 to 1.
///
/// Two parts, averaged where both are said: the setup (1 when a wish for the section names it, 0 when
/// a wish names others; without such a wish 1 when the plan puts the setup here by name, ½ when the
/// setup is for the whole song or unknown, 0 when the plan puts it elsewhere) and the purpose (1 when
/// it is the one wished for, else 0).
pub fn intent(
    q: &Question,
    source: &Source,
    planned: &[Vec<Stretch>],
    section: usize,
    at: SongTime,
) -> f64 {
    let mut parts = (0.0, 0.0);
    let mut named = None;
    if let Some(here) = q.map.sections.get(section) {
        for wish in q.wishes {
            if !q.map.sections_called(&wish.section).contains(&here.at) {
                continue;
            }
            if !wish.setups.is_empty() {
                let id = &q.takes[source.take].setup;
                let hit = id.as_ref().is_some_and(|id| wish.setups.contains(id));
                named = Some(named.unwrap_or(false) || hit);
            }
            if let Some(purpose) = wish.purpose {
                parts.0 += f64::from(u8::from(purpose == source.purpose));
                parts.1 += 1.0;
            }
        }
    }
    parts.0 += match (named, source.setup) {
        (Some(hit), _) => f64::from(u8::from(hit)),
        (None, None) => 0.5,
        (None, Some(setup)) if q.setups[setup].is_over_all() => 0.5,
        (None, Some(setup)) => f64::from(u8::from(planned[setup].iter().any(|s| s.holds(at)))),
    };
    parts.1 += 1.0;
    parts.0 / parts.1
}

/// The stretches each setup is planned over by name; empty for those planned over the whole song.
pub fn planned(q: &Question) -> Vec<Vec<Stretch>> {
    q.setups
        .iter()
        .map(|setup| {
            if setup.is_over_all() {
                Vec::new()
            } else {
                q.map.planned(setup)
            }
        })
        .collect()
}
