//! From placed takes to the first assembly: what is on screen when, chosen exactly.
//!
//! [`assemble`] finds the cut with the highest value of a stated objective, over every way of cutting
//! on the beat grid between every take that can be shown there. [`why`] tells of one bar what spoke for
//! its shot and against the runner-up. [`measure`] turns small grey frames into the picture measures
//! that the objective reads. The weights stand in [`model::Weights`], the fixed limits as constants in
//! [`grid`], [`material`] and [`objective`], the formulas in `docs/assembly.md`.
//!
//! # The objective
//! The sum, over all shots, of
//! - per beat: intent (wish and plan), rating, sharpness, exposure, movement against energy, voice, trust in the placement;
//! - per shot: how far its length is from what the energy asks for, handles;
//! - per cut: off the bar, same setup, near-identical framing, a setup seen a moment ago;
//! - for black: its beats.
//!
//! # What no cut does
//! Show a take marked no good, or a synced take where it was not heard (to half a frame); show a piece
//! of a take twice; let the performer's state run backwards; cut from a shot to its own continuation.
//! Locks stand above all of these: they are kept, and a note says what they break.
//!
//! # Conventions
//! Times are song seconds or take seconds as named; frames count from 0 at the song's first sample.
//! Nothing here reads files or clocks, and the same question always has the same answer.

pub mod answer;
pub mod bans;
#[cfg(test)]
mod behaviour;
pub mod by_hand;
pub mod error;
mod exchange;
#[cfg(test)]
mod exhaustive;
pub mod grid;
pub mod locks;
pub mod material;
mod notes;
pub mod objective;
#[cfg(test)]
mod oracle;
pub mod picture;
#[cfg(test)]
mod questions;
pub mod repeats;
pub mod search;
pub mod track;
mod why;

pub use answer::{Answer, Choice, Note, Question, Terms, Why};
pub use error::Error;
pub use picture::{GrayFrame, Meter, measure};
pub use why::why;

use grid::Grid;
use locks::OnFrames;
use material::{Kind, MOST_STARTS, Material};
use model::{Length, Purpose, Rating, Shot, Weights};
use objective::{Objective, Seg};
use search::Search;

/// The largest weight.
pub const MOST_WEIGHT: f64 = 1000.0;
/// Nodes of the programme at most; a longer song is cut on every second, fourth … beat. Bounds the
/// memory of a search to some 250 MB.
const MOST_NODES: usize = 8_000_000;
/// Numbers that one search goes through at most, with the same consequence.
const MOST_SIZE: usize = 200_000_000;
/// Worths of free shots kept at most; beyond, free takes get fewer starting points.
const MOST_FREE: usize = 6_000_000;

/// The best cut for `q`.
///
/// When `keep_going` turns false the best cut found so far is given, not proven.
///
/// # Errors
/// A weight that is no weight, a lock whose take is missing, locks that overlap, or
/// [`Error::Stopped`] when stopped before there was any cut.
pub fn assemble(q: &Question, keep_going: &dyn Fn() -> bool) -> Result<Answer, Error> {
    assemble_within(q, repeats::WORK, keep_going)
}

/// [`assemble`] with a bound on the work: how many numbers all searches together go through.
///
/// # Errors
/// As [`assemble`].
pub fn assemble_within(
    q: &Question,
    work: usize,
    keep_going: &dyn Fn() -> bool,
) -> Result<Answer, Error> {
    let (locks, mut notes) = prepare(q)?;
    if q.rate.frames_to_hold(q.map.length) <= 0 {
        return Ok(Answer {
            shots: Vec::new(),
            score: 0.0,
            terms: Vec::new(),
            proven: true,
            bound: 0.0,
            notes,
        });
    }
    let objective = set(q, &locks, &[], &mut notes);
    let search = Search::new(&objective);
    let found = repeats::best(&search, work, keep_going).ok_or(Error::Stopped)?;
    notes.extend(notes::on_cut(&objective, &found.segs));
    if !found.proven {
        notes.push(Note {
            text: format!(
                "a better cut may exist: this one is worth {:.2}, and no cut is worth more than {:.2}",
                found.score, found.bound
            ),
            bars: None,
            take: None,
        });
    }
    Ok(Answer {
        shots: found.segs.iter().map(|seg| shot(&objective, seg)).collect(),
        score: found.score,
        terms: objective.terms(&found.segs),
        proven: found.proven,
        bound: found.bound,
        notes,
    })
}

/// Checks the question and brings its locks onto frames.
fn prepare<'a>(q: &Question<'a>) -> Result<(Vec<OnFrames<'a>>, Vec<Note>), Error> {
    for (name, value) in weights(q.weights) {
        if !(0.0..=MOST_WEIGHT).contains(&value) {
            return Err(Error::Weight {
                name,
                value,
                most: MOST_WEIGHT,
            });
        }
    }
    let mut notes = notes::on_question(q);
    let (locks, more) = locks::on_frames(q)?;
    notes.extend(more);
    Ok((locks, notes))
}

fn weights(w: &Weights) -> [(&'static str, f64); 14] {
    [
        ("wish", w.wish),
        ("rating", w.rating),
        ("sharpness", w.sharpness),
        ("exposure", w.exposure),
        ("movement", w.movement),
        ("voice", w.voice),
        ("length", w.length),
        ("on_the_bar", w.on_the_bar),
        ("same_setup", w.same_setup),
        ("near_framing", w.near_framing),
        ("recent", w.recent),
        ("handles", w.handles),
        ("confidence", w.confidence),
        ("black", w.black),
    ]
}

/// Sets the objective, on a grid as fine as can be searched.
fn set<'a>(
    q: &Question<'a>,
    locks: &[OnFrames],
    extra: &[i64],
    notes: &mut Vec<Note>,
) -> Objective<'a> {
    let edges: Vec<i64> = locks
        .iter()
        .flat_map(|lock| [lock.from, lock.to])
        .chain(extra.iter().copied())
        .collect();
    let free_takes = q
        .takes
        .iter()
        .filter(|take| {
            take.rating != Rating::NoGood && material::purpose(q, take) == Purpose::BRoll
        })
        .count();
    let mut thin = 1;
    let (grid, material) = loop {
        let grid = Grid::new(q.map, q.rate, q.wishes, &edges, thin);
        let points = grid.frames.len();
        let spans: usize = grid.reach.iter().enumerate().map(|(i, j)| j - i).sum();
        let most_starts = MOST_FREE / (spans.max(1) * free_takes.max(1));
        let material = Material::of(q, &grid, most_starts.clamp(1, MOST_STARTS));
        let lines = material.sources.len() + locks.len() + 1;
        let groups = material.group_count + 1;
        let nodes = points.saturating_mul(lines).saturating_mul(groups);
        let size = spans.saturating_mul(lines).saturating_mul(groups);
        if (nodes <= MOST_NODES && size <= MOST_SIZE) || thin >= 64 {
            break (grid, material);
        }
        thin *= 2;
    };
    if thin > 1 {
        notes.push(Note {
            text: format!(
                "so long a song with so many takes is cut only on every {thin}th beat; shorten it or rate takes no good for finer cuts"
            ),
            bars: None,
            take: None,
        });
    }
    notes.extend(material.notes.iter().cloned());
    let (held, more) = locks::held(q, &grid, &material, locks);
    notes.extend(more);
    Objective::new(*q, grid, material, held)
}

/// A stretch as the cut's shot.
fn shot(objective: &Objective, seg: &Seg) -> Shot {
    let mut shot = Shot {
        extra: Default::default(),
        from_frame: objective.grid.frames[seg.from],
        to_frame: objective.grid.frames[seg.to],
        take: None,
        take_start: Length::ZERO,
        speed: 1.0,
        in_sync: false,
        locked: false,
    };
    if let Some(index) = seg.source {
        let source = &objective.sources[index];
        shot.take = Some(objective.q.takes[source.take].id.clone());
        shot.take_start = match &source.kind {
            Kind::Free { .. } if objective.locked(index) => {
                objective.held[index - objective.free].take_start
            }
            _ => Length::nearest_to_seconds(seg.start),
        };
        shot.speed = source.speed;
        shot.in_sync = source.in_sync;
        shot.locked = objective.locked(index);
    }
    shot
}
