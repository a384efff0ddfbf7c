//! What can stand before and after a cut, told apart as far as cuts can tell.

use super::NEVER;
use crate::material::Kind;
use crate::objective::Objective;

/// What a line shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shows {
    Black,
    /// A synced source or a lock.
    Source(usize),
    /// Any free source of one setup and state; which one, only the shot's own worth decides.
    Any(usize),
}

/// Free sources between which no cut can tell.
#[derive(Clone, Debug)]
pub struct Pool {
    pub group: usize,
    pub state: Option<usize>,
    pub members: Vec<usize>,
}

#[derive(Clone, Copy, Debug)]
pub struct Line {
    pub shows: Shows,
    /// Some source it can show, to ask what cuts are worth; `None` for black.
    pub source: Option<usize>,
    pub group: usize,
    /// The state reached once it is shown: 0 is none.
    pub reached: usize,
    /// Its own state, counted from 1; `None` where it has none.
    pub state: Option<usize>,
}

/// All lines of a objective, and the pools they show.
pub fn lines(objective: &Objective) -> (Vec<Line>, Vec<Pool>) {
    let mut states: Vec<u32> = objective.sources[..objective.free]
        .iter()
        .filter_map(|source| source.state)
        .collect();
    states.sort_unstable();
    states.dedup();
    if states.len() < 2 {
        states.clear();
    }
    let own = |index: usize| {
        objective.sources[index]
            .state
            .filter(|_| !objective.locked(index))
            .and_then(|state| states.binary_search(&state).ok())
            .map(|state| state + 1)
    };
    let mut pools: Vec<Pool> = Vec::new();
    let mut shown = vec![(Shows::Black, None, objective.material.group_count, None)];
    for (index, source) in objective.sources.iter().enumerate() {
        let (group, state) = (source.group, own(index));
        if objective.locked(index) || matches!(source.kind, Kind::Synced { .. }) {
            shown.push((Shows::Source(index), Some(index), group, state));
        } else if let Some(pool) = pools
            .iter_mut()
            .find(|pool| pool.group == group && pool.state == state)
        {
            pool.members.push(index);
        } else {
            shown.push((Shows::Any(pools.len()), Some(index), group, state));
            pools.push(Pool {
                group,
                state,
                members: vec![index],
            });
        }
    }
    let mut lines = Vec::new();
    for (shows, source, group, state) in shown {
        let reached = match state {
            Some(state) => state..=state,
            None => 0..=states.len(),
        };
        lines.extend(reached.map(|reached| Line {
            shows,
            source,
            group,
            reached,
            state,
        }));
    }
    (lines, pools)
}

/// What going from one line to another is worth, by the line after and the line before.
pub fn turns(objective: &Objective, lines: &[Line]) -> Vec<f64> {
    let mut turns = Vec::with_capacity(lines.len() * lines.len());
    for to in lines {
        for from in lines {
            let in_order = match to.state {
                Some(state) => from.reached <= state,
                None => from.reached == to.reached,
            };
            turns.push(match (from.source, to.source) {
                _ if !in_order => NEVER,
                // Black that goes on is no cut; `Pass` carries it on by itself.
                (None, None) => NEVER,
                (Some(a), Some(b)) => {
                    let (same, near) = objective.turn(a, b);
                    same + near
                }
                _ => 0.0,
            });
        }
    }
    turns
}

/// For each line the first one of the same group and state: cuts into both are worth the same, but
/// for the cut from a line into itself.
pub fn alike(lines: &[Line]) -> Vec<usize> {
    lines
        .iter()
        .map(|line| {
            lines
                .iter()
                .position(|other| {
                    (
                        other.group,
                        other.state,
                        other.reached,
                        other.source.is_some(),
                    ) == (line.group, line.state, line.reached, line.source.is_some())
                })
                .unwrap_or(0)
        })
        .collect()
}
