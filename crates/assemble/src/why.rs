//! Why a bar shows what it shows.

use crate::answer::{Choice, Question, Why};
use crate::error::Error;
use crate::exchange;
use crate::material::Kind;
use crate::objective::{Objective, Seg};
use crate::{prepare, set, shot};
use model::Shot;

/// Why the shots of a cut that touch `bar` were chosen: the terms of each against those of the best
/// other take over the same frames, all other shots staying as they are.
///
/// The terms of both hold, besides the shot's own, what it does to the cuts of the two shots after it,
/// so that their difference is exactly what the exchange would cost.
///
/// # Errors
/// As [`crate::assemble`]; [`Error::NoSuchBar`]; [`Error::NothingInBar`] when the shots don't reach it.
pub fn why(q: &Question, shots: &[Shot], bar: u32) -> Result<Why, Error> {
    let (locks, mut notes) = prepare(q)?;
    let no_bar = || Error::NoSuchBar {
        bar,
        first: q.map.bars.first().map_or(0, |bar| bar.number),
        last: q.map.bars.last().map_or(0, |bar| bar.number),
    };
    let at = q
        .map
        .bars
        .iter()
        .find(|b| b.number == bar)
        .ok_or_else(no_bar)?
        .at;
    let first = q.rate.nearest_frame_to_ticks(at.start().ticks());
    let last = q.rate.nearest_frame_to_ticks(at.end().ticks());
    let edges: Vec<i64> = shots
        .iter()
        .flat_map(|shot| [shot.from_frame, shot.to_frame])
        .collect();
    // The locks that stand in the cut are what counts here, not those set since.
    let standing: Vec<_> = locks
        .into_iter()
        .filter(|lock| {
            shots
                .iter()
                .any(|shot| shot.locked && shot.from_frame == lock.from && shot.to_frame == lock.to)
        })
        .collect();
    let objective = set(q, &standing, &edges, &mut notes);
    let segs: Vec<Seg> = shots
        .iter()
        .filter_map(|shot| seg_of(&objective, shot))
        .collect();
    let choices: Vec<Choice> = (0..segs.len())
        .filter(|n| {
            let frames = &objective.grid.frames;
            frames[segs[*n].from] < last.max(first + 1) && frames[segs[*n].to] > first
        })
        .map(|n| choice(&objective, &segs, n))
        .collect();
    if choices.is_empty() {
        return Err(Error::NothingInBar { bar });
    }
    Ok(Why { bar, choices })
}

/// The stretch a shot of a cut is; `None` when its take has gone or its frames lie outside the song.
fn seg_of(objective: &Objective, shot: &Shot) -> Option<Seg> {
    let from = objective.grid.point(shot.from_frame)?;
    let to = objective
        .grid
        .point(shot.to_frame)
        .filter(|to| *to > from)?;
    let at = objective.grid.at_s[from];
    let start = shot.take_start.seconds();
    let made = |source, start| Seg {
        from,
        to,
        source,
        start,
    };
    let Some(id) = &shot.take else {
        return Some(made(None, 0.0));
    };
    let take = objective.q.takes.iter().position(|take| take.id == *id)?;
    if let Some(index) = objective
        .held
        .iter()
        .position(|held| shot.locked && held.from == from && held.source.take == take)
    {
        return Some(made(
            Some(objective.free + index),
            objective.held[index].start,
        ));
    }
    let near = |source: usize| match &objective.sources[source].kind {
        Kind::Synced { run, .. } => (run.take_s_at(at).max(0.0) - start).abs(),
        Kind::Free { .. } if shot.in_sync => objective.grid.frame_s,
        Kind::Free { .. } => 0.0,
    };
    let source = (0..objective.free)
        .filter(|source| objective.sources[*source].take == take)
        .min_by(|a, b| near(*a).total_cmp(&near(*b)));
    // A take that may not be chosen any more (marked no good since) still explains as black would.
    Some(made(source, source.map_or(0.0, |_| start)))
}

fn choice(objective: &Objective, segs: &[Seg], n: usize) -> Choice {
    let terms = exchange::in_place(objective, segs, n);
    let shown = segs[n].source.map(|source| objective.sources[source].take);
    let best = exchange::best(objective, segs, n, &|seg| {
        seg.source.map(|source| objective.sources[source].take) != shown
    });
    Choice {
        shot: shot(objective, &segs[n]),
        terms,
        runner_up: best.map(|(seg, _)| shot(objective, &seg)),
        runner_up_terms: best.map(|(_, terms)| terms),
    }
}

impl Why {
    /// For a terminal: each shot of the bar beside the runner-up, one line per term that matters.
    pub fn to_text(&self) -> String {
        let mut text = String::new();
        for choice in &self.choices {
            text += &choice_text(choice);
        }
        text
    }
}

fn name(shot: &Shot) -> String {
    shot.take
        .as_ref()
        .map_or_else(|| "black".into(), ToString::to_string)
}

fn choice_text(choice: &Choice) -> String {
    let Choice {
        shot,
        terms,
        runner_up,
        runner_up_terms,
    } = choice;
    let held = if shot.locked { ", locked" } else { "" };
    let mut text = format!(
        "frames {} to {}: {}{held}\n",
        shot.from_frame,
        shot.to_frame,
        name(shot)
    );
    let other = runner_up_terms.unwrap_or_default();
    let header = runner_up
        .as_ref()
        .map_or_else(|| "nothing else".into(), name);
    let wide = [name(shot).chars().count(), header.chars().count(), 8]
        .into_iter()
        .max()
        .unwrap_or(8);
    text += &format!(
        "  {:<14}{:>wide$}  {header:>wide$}  difference\n",
        "",
        name(shot)
    );
    let mut row = |label: &str, mine: f64, theirs: f64| {
        // Adding zero turns -0.00 into 0.00.
        let shown = |x: f64| (x * 100.0).round() / 100.0 + 0.0;
        let (a, b) = (shown(mine), shown(theirs));
        let difference = shown(mine - theirs);
        let beside = match (runner_up, difference == 0.0) {
            (None, _) => format!("{:>wide$}", "-"),
            // What is the same on both sides is not what decided.
            (Some(_), true) => format!("{b:>wide$.2}  {:>10}", "="),
            (Some(_), false) => format!("{b:>wide$.2}  {difference:>+10.2}"),
        };
        text += &format!("  {label:<14}{a:>wide$.2}  {beside}\n");
    };
    for ((label, mine), (_, theirs)) in terms.named().into_iter().zip(other.named()) {
        if mine.abs() >= 0.005 || theirs.abs() >= 0.005 {
            row(&label.replace('_', " "), mine, theirs);
        }
    }
    row("all", terms.total(), other.total());
    if shot.locked {
        text += "  it stands because it is locked, whatever is weighed\n";
    }
    text
}
