//! What a person should know: of the question before it is answered, and of the cut made.

use crate::answer::{Note, Question};
use crate::grid::Grid;
use crate::objective::{Objective, Seg};
use model::{SongMap, SongTime};
use std::collections::BTreeSet;

/// First and last bar between two points of the grid.
fn bars(map: &SongMap, grid: &Grid, from: usize, to: usize) -> Option<[u32; 2]> {
    let bar = |at_s: f64| {
        map.bars
            .get(map.bar_index_at(SongTime::nearest_to_seconds(at_s)))
            .map(|bar| bar.number)
    };
    // Half a frame inward, so that a shot that ends with a bar does not touch the next one.
    let half = grid.frame_s / 2.0;
    Some([bar(grid.at_s[from] + half)?, bar(grid.at_s[to] - half)?])
}

/// How bars are written in a sentence.
pub fn in_bars([first, last]: [u32; 2]) -> String {
    if first == last {
        format!("bar {first}")
    } else {
        format!("bars {first} to {last}")
    }
}

/// Wishes that ask for what is not there.
pub fn on_question(q: &Question) -> Vec<Note> {
    let mut notes = Vec::new();
    let mut say = |text: String| {
        notes.push(Note {
            text,
            bars: None,
            take: None,
        });
    };
    for wish in q.wishes {
        if q.map.sections_called(&wish.section).is_empty() {
            let calls: Vec<String> = (0..q.map.sections.len())
                .map(|index| q.map.section_call(index))
                .collect();
            say(format!(
                "a wish names the section `{}`, which the song does not have; it has {}",
                wish.section,
                calls.join(", ")
            ));
        }
        for id in &wish.setups {
            if !q.setups.iter().any(|setup| setup.id == *id)
                && !q.takes.iter().any(|take| take.setup.as_ref() == Some(id))
            {
                say(format!(
                    "the wish for `{}` leans to the setup `{id}`, which the plan does not have",
                    wish.section
                ));
            }
        }
        if let Some(beats) = wish.shot_beats
            && !(beats.is_finite() && beats > 0.0)
        {
            say(format!(
                "the wish for `{}` asks for shots of {beats} beats; it is not heeded, a length is more than 0",
                wish.section
            ));
        }
    }
    notes
}

/// What stands out in a cut: black, states against locks, repetition by locks, doubtful placements.
pub fn on_cut(objective: &Objective, segs: &[Seg]) -> Vec<Note> {
    let (q, grid) = (&objective.q, &objective.grid);
    let mut notes = Vec::new();
    let mut say = |seg: &Seg, take: Option<usize>, text: &dyn Fn(&str) -> String| {
        let at = bars(q.map, grid, seg.from, seg.to);
        let place = at.map_or_else(|| "the song".into(), in_bars);
        notes.push(Note {
            text: text(&place),
            bars: at,
            take: take.map(|take| q.takes[take].id.clone()),
        });
    };
    for seg in segs.iter().filter(|seg| seg.source.is_none()) {
        say(seg, None, &|place| {
            format!("black in {place}: there is nothing to cut to")
        });
    }
    let mut highest: Option<(u32, bool)> = None;
    for seg in segs {
        let Some(source) = seg.source else { continue };
        let Some(state) = objective.sources[source].state else {
            continue;
        };
        let locked = objective.locked(source);
        if let Some((before, by_lock)) = highest
            && state < before
            && (locked || by_lock)
        {
            say(seg, Some(objective.sources[source].take), &|place| {
                format!(
                    "in {place} the performer's state goes back from {before} to {state} because of a lock"
                )
            });
        }
        if highest.is_none_or(|(before, _)| state > before) || locked {
            highest = Some((state, locked));
        }
    }
    let pieces: Vec<_> = segs
        .iter()
        .filter(|seg| seg.source.is_some_and(|source| objective.locked(source)))
        .filter_map(|seg| Some((seg, objective.piece(seg)?)))
        .collect();
    for (n, (seg, piece)) in pieces.iter().enumerate() {
        if pieces[..n]
            .iter()
            .any(|(_, other)| crate::objective::repeats(piece, other))
        {
            say(seg, Some(piece.0), &|place| {
                format!(
                    "the lock in {place} shows a piece of `{}` that another lock shows as well",
                    q.takes[piece.0].id
                )
            });
        }
    }
    let mut told = BTreeSet::new();
    for seg in segs {
        let Some(source) = seg.source.map(|source| &objective.sources[source]) else {
            continue;
        };
        let take = &q.takes[source.take];
        if source.in_sync && !take.placement.alternatives.is_empty() && told.insert(source.take) {
            say(seg, Some(source.take), &|place| {
                format!(
                    "`{}` (first shown in {place}) fits more than one place of the song; check its lips, or place it by hand",
                    take.id
                )
            });
        }
    }
    notes
}
