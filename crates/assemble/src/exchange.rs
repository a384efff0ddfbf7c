//! One shot exchanged for another over the same stretch, all others staying.

use crate::answer::Terms;
use crate::material::Kind;
use crate::objective::{Objective, Seg, TOUCH_S, repeats};

/// The best shot to stand in place of shot `n` among those `wanted`, by its worth in place. It breaks
/// no rule against the other shots; black can always stand.
pub fn best(
    objective: &Objective,
    segs: &[Seg],
    n: usize,
    wanted: &dyn Fn(&Seg) -> bool,
) -> Option<(Seg, Terms)> {
    let pieces: Vec<(usize, f64, f64)> = segs
        .iter()
        .enumerate()
        .filter(|(m, _)| *m != n)
        .filter_map(|(_, seg)| objective.piece(seg))
        .collect();
    let mut tried = segs.to_vec();
    let mut best: Option<(Seg, Terms)> = None;
    for seg in others(objective, &segs[n]) {
        let fits = || {
            objective
                .piece(&seg)
                .is_none_or(|piece| pieces.iter().all(|other| !repeats(&piece, other)))
        };
        if !wanted(&seg) || !fits() || !in_order(objective, segs, n, &seg) {
            continue;
        }
        tried[n] = seg;
        let joined = |m: usize| {
            tried[m]
                .source
                .zip(tried[m - 1].source)
                .is_some_and(|(b, a)| objective.no_cut(a, b))
        };
        if (n > 0 && joined(n)) || (n + 1 < tried.len() && joined(n + 1)) {
            continue;
        }
        let terms = in_place(objective, &tried, n);
        if best.is_none_or(|(_, most)| terms.total() > most.total()) {
            best = Some((seg, terms));
        }
    }
    best
}

/// The worth of shot `n` with what it does to the two cuts after it.
pub fn in_place(objective: &Objective, segs: &[Seg], n: usize) -> Terms {
    let mut terms = objective.own(&segs[n]).and(&objective.cut(segs, n));
    for after in n + 1..segs.len().min(n + 3) {
        let cut = objective.cut(segs, after);
        let next = after == n + 1;
        terms = terms.and(&Terms {
            same_setup: if next { cut.same_setup } else { 0.0 },
            near_framing: if next { cut.near_framing } else { 0.0 },
            // The cut right after looks back past this shot.
            recent: if next { 0.0 } else { cut.recent },
            ..Terms::default()
        });
    }
    terms
}

/// Everything else that could be shown over the frames of `seg`, black last.
fn others(objective: &Objective, seg: &Seg) -> Vec<Seg> {
    let mut others = Vec::new();
    for (index, source) in objective.sources[..objective.free].iter().enumerate() {
        let at = objective.grid.at_s[seg.from];
        match &source.kind {
            Kind::Synced { lo, hi, .. } => {
                if *lo <= seg.from && seg.to <= *hi {
                    others.push(Seg {
                        source: Some(index),
                        start: source.take_s(at, at, 0.0),
                        ..*seg
                    });
                }
            }
            Kind::Free { starts } => {
                others.extend(
                    starts
                        .iter()
                        .map(|start| Seg {
                            source: Some(index),
                            start: *start,
                            ..*seg
                        })
                        .filter(|seg| {
                            objective
                                .piece(seg)
                                .is_some_and(|(_, _, end)| end <= source.usable.1 + TOUCH_S)
                        }),
                );
            }
        }
    }
    others.push(Seg {
        source: None,
        start: 0.0,
        ..*seg
    });
    others
}

/// Whether `seg` in place of shot `n` keeps the states of unlocked shots from running backwards.
fn in_order(objective: &Objective, segs: &[Seg], n: usize, seg: &Seg) -> bool {
    let state = |seg: &Seg| {
        seg.source
            .filter(|source| !objective.locked(*source))
            .and_then(|source| objective.sources[source].state)
    };
    let Some(here) = state(seg) else { return true };
    segs[..n]
        .iter()
        .filter_map(state)
        .all(|before| before <= here)
        && segs[n + 1..]
            .iter()
            .filter_map(state)
            .all(|after| after >= here)
}
