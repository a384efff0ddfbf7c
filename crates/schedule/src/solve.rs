//! From an instance to its answer.

use crate::bound::bound;
use crate::improve::{improve, replay};
use crate::instance::{Error, Instance};
use crate::problem::{Minutes, Problem};
use crate::search::{Bounds, Found, search};
use crate::worth::{Set, each};
use serde::Serialize;

/// How many open setups one day may have for every set of them to be looked at, whatever the windows.
pub const EXACT: u32 = 18;
/// Seconds that whoever has no wish of their own gives a search over so many setups: beyond [`EXACT`] it ends
/// when they are over, below it is done long before.
pub fn usual_seconds(setups: usize) -> u64 {
    match setups > EXACT as usize {
        true => 3,
        false => 60,
    }
}

/// The most labels held at once, 16 bytes each.
const MOST_LABELS: usize = 24_000_000;
/// How many labels of a layer are followed beyond [`EXACT`], pass after pass, while there is time.
const WIDTHS: [usize; 4] = [300, 3_000, 20_000, 120_000];

/// How an answer stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Proven: no day is worth more, none of its worth ends earlier, none of those has fewer moves.
    Best,
    /// A day that keeps every rule; [`Answer::bound`] says how much better one could be.
    Feasible,
    /// Proven: no day holds every must.
    Impossible,
    /// No day was found in the time given, and none was ruled out.
    Unknown,
}

/// A day, and how good it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Answer {
    /// How it stands.
    pub status: Status,
    /// What the chosen setups are worth.
    pub value: u64,
    /// No day is worth more than this.
    pub bound: u64,
    /// When the last setup ends; the call when nothing is shot.
    pub wrap: i64,
    /// How often the place changes between setups.
    pub moves: u32,
    /// When the meal starts, when there is one.
    pub meal_start: Option<i64>,
    /// The chosen setups in order.
    pub order: Vec<Timed>,
    /// Why it is impossible or nothing was found, one sentence each.
    pub reasons: Vec<String>,
}

/// A chosen setup's times, minutes after the day's midnight.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Timed {
    /// Which setup.
    pub id: String,
    /// When its rig, or relight, begins.
    pub start: i64,
    /// When its shoot begins.
    pub shoot_start: i64,
    /// When it ends.
    pub end: i64,
}

/// What the search came to.
pub(crate) struct Outcome {
    pub found: Option<Found>,
    /// Whether nothing better is left.
    pub proven: bool,
    pub bound: u64,
}

/// Chooses and orders the setups of `instance`: all musts, then most value, earliest wrap, fewest moves.
///
/// With up to [`EXACT`] setups the answer is proven unless `stop` ended it; beyond that it is when windows
/// and rules leave few enough sets, and else comes with a bound. `stop` is asked now and then; once it says
/// true the best so far is the answer.
///
/// # Errors
/// What is wrong with the instance.
pub fn solve(instance: &Instance, stop: &dyn Fn() -> bool) -> Result<Answer, Error> {
    let problem = Problem::new(instance)?;
    let outcome = best_day(&problem, stop);
    let Some(found) = outcome.found else {
        let (status, reasons) = match outcome.proven {
            true => {
                let possible = |one: &Instance| can(&Problem::of_checked(one), stop);
                (Status::Impossible, crate::reasons::reasons(instance, &possible))
            }
            false => (
                Status::Unknown,
                vec!["no day that holds every must was found in the time given; give it more, or leave some out".into()],
            ),
        };
        return Ok(Answer {
            status,
            value: 0,
            bound: match status {
                Status::Impossible => 0,
                _ => outcome.bound,
            },
            wrap: i64::from(problem.from),
            moves: 0,
            meal_start: None,
            order: Vec::new(),
            reasons,
        });
    };
    let (order, meal_start) = times(instance, &problem, &found);
    Ok(Answer {
        status: match outcome.proven {
            true => Status::Best,
            false => Status::Feasible,
        },
        value: found.value,
        bound: outcome.bound,
        wrap: i64::from(found.wrap),
        moves: found.moves,
        meal_start,
        order,
        reasons: Vec::new(),
    })
}

/// The best day of a problem that is ready.
pub(crate) fn best_day(problem: &Problem, stop: &dyn Fn() -> bool) -> Outcome {
    let mut best: Option<Found> = None;
    let take = |best: &mut Option<Found>, found: Option<Found>| {
        if let Some(found) = found
            && best.as_ref().is_none_or(|best| found.beats(best))
        {
            *best = Some(found);
        }
    };
    // Setups that can never be begun are not counted.
    let open = each(problem.open())
        .filter(|at| {
            !problem.rigged[*at].starts.is_empty() || !problem.relit[*at].starts.is_empty()
        })
        .count() as u32;
    let few = open <= EXACT;
    if !few {
        // With many setups a narrow search may miss every day that holds the musts: those alone first.
        let only = musts_alone(problem);
        let alone = only.musts & !problem.done;
        if alone != 0 && alone.count_ones() <= EXACT {
            let outcome = best_day(&only, stop);
            match outcome.found {
                Some(found) => best = replay(problem, &found.order),
                None if outcome.proven => return outcome,
                None => {}
            }
        }
    }
    // A narrow pass first: what it finds rules out most of the wide one.
    let widths: &[usize] = match few {
        true => &[200, usize::MAX],
        false => &WIDTHS,
    };
    let mut left_out: Option<u64> = None;
    for width in widths {
        let limits = Bounds {
            width: *width,
            labels: MOST_LABELS,
            stop,
        };
        let searched = search(problem, best.as_ref(), &limits);
        take(&mut best, searched.found);
        if !few && let Some(day) = best.clone() {
            take(&mut best, Some(improve(problem, day, stop)));
        }
        left_out = searched.dropped;
        let worth = best.as_ref().map(|best| best.value);
        // What was dropped and is worth less than the best can't matter.
        let matters = left_out.is_some_and(|most| worth.is_none_or(|worth| most >= worth));
        if !matters || stop() {
            break;
        }
    }
    let worth = best.as_ref().map_or(0, |best| best.value);
    let proven = left_out.is_none_or(|most| best.is_some() && most < worth);
    let bound = match (proven, left_out) {
        (false, Some(most)) => most.min(bound(problem, worth)).max(worth),
        _ => worth,
    };
    Outcome {
        found: best,
        proven,
        bound,
    }
}

/// When each setup of a day found starts, shoots and ends, and when the meal starts.
pub(crate) fn times(
    instance: &Instance,
    problem: &Problem,
    found: &Found,
) -> (Vec<Timed>, Option<i64>) {
    let mut at: Minutes = problem.from;
    let mut class = problem.start_class;
    let mut meal_start = None;
    let mut order = Vec::with_capacity(found.order.len());
    for (nth, setup) in found.order.iter().copied().enumerate() {
        if found.meal_before == Some(nth)
            && let Some(rule) = problem.meal
        {
            meal_start = Some(i64::from(at));
            at += rule.minutes;
        }
        let there = i64::from(at + problem.ways[usize::from(class)][setup]);
        let Some(end) = problem.ends(class, at, setup) else {
            // A day found keeps its windows.
            break;
        };
        let candidate = &instance.setups[setup];
        let first = match problem.rig_stands[usize::from(class)][setup] {
            true => candidate.relight_minutes,
            false => candidate.rig_minutes,
        };
        let end_at = i64::from(end);
        let opens = candidate.access.iter().flatten();
        // The rig begins as soon as one is there and let in, within the window that the end lies in.
        let start = match &candidate.access {
            None => there,
            Some(_) => opens
                .filter(|[_, close]| end_at <= *close)
                .map(|[open, _]| (*open).max(there))
                .filter(|start| start + first + candidate.shoot_minutes <= end_at)
                .min()
                .unwrap_or(there),
        };
        order.push(Timed {
            id: candidate.id.clone(),
            start,
            shoot_start: end_at - candidate.shoot_minutes,
            end: end_at,
        });
        at = end;
        class = problem.class_of[setup];
    }
    (order, meal_start)
}

/// The problem of the musts alone, and of what they wait for: nothing else is in reach or of worth.
fn musts_alone(problem: &Problem) -> Problem {
    let mut wanted: Set = problem.musts;
    loop {
        let more = each(wanted).fold(wanted, |set, at| set | problem.after[at]);
        if more == wanted {
            break;
        }
        wanted = more;
    }
    let mut only = problem.clone();
    only.musts = wanted;
    for (_, set) in only.reach.iter_mut().flatten() {
        *set &= wanted;
    }
    for at in each(problem.open() & !wanted) {
        only.rigged[at].starts.clear();
        only.relit[at].starts.clear();
    }
    only.worth.groups.clear();
    only
}

/// Whether any day of `problem` holds every must; `None` when `stop` came first.
fn can(problem: &Problem, stop: &dyn Fn() -> bool) -> Option<bool> {
    let outcome = best_day(&musts_alone(problem), stop);
    match (outcome.found.is_some(), outcome.proven) {
        (true, _) => Some(true),
        (false, true) => Some(false),
        (false, false) => None,
    }
}
