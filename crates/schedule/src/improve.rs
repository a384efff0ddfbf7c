//! Betters a day by small changes, where there are too many setups to see every set.

use crate::problem::{Minutes, Problem};
use crate::search::Found;
use crate::worth::Set;

/// Changes one thing after the other, each time the best there is, until nothing helps or `stop` says so:
/// a setup taken in, one changed for another, one moved.
pub(crate) fn improve(problem: &Problem, mut day: Found, stop: &dyn Fn() -> bool) -> Found {
    loop {
        let mut best = None;
        let mut consider = |order: &[usize]| {
            if let Some(found) = replay(problem, order)
                && found.beats(best.as_ref().unwrap_or(&day))
            {
                best = Some(found);
            }
        };
        let order = &day.order;
        let taken: Set = order.iter().fold(problem.done, |set, at| set | 1 << at);
        let left: Vec<usize> = (0..problem.count)
            .filter(|at| taken >> at & 1 == 0)
            .collect();
        let mut changed = Vec::with_capacity(order.len() + 1);
        for from in 0..=order.len() {
            if stop() {
                return day;
            }
            // Without the setup at `from`; beyond the end, with all of them.
            let without = |at: usize| at != from;
            let rest: Vec<usize> = (0..order.len())
                .filter(|at| without(*at))
                .map(|at| order[at])
                .collect();
            let moved = order.get(from).copied();
            for to in 0..=rest.len() {
                for new in moved.iter().chain(&left) {
                    changed.clear();
                    changed.extend_from_slice(&rest[..to]);
                    changed.push(*new);
                    changed.extend_from_slice(&rest[to..]);
                    consider(&changed);
                }
            }
        }
        match best {
            Some(found) => day = found,
            None => return day,
        }
    }
}

/// The day that shoots `order` as early as it goes, the meal where it is best; `None` where that breaks a rule.
pub(crate) fn replay(problem: &Problem, order: &[usize]) -> Option<Found> {
    let mut set = problem.done;
    let mut class = problem.start_class;
    let mut moves = 0;
    // When one is free without a meal so far, and with one, and before which setup it was.
    let mut unfed: Option<Minutes> = Some(problem.from);
    let mut fed: Option<(Minutes, Option<usize>)> = None;
    match problem.meal {
        None => fed = unfed.take().map(|at| (at, None)),
        Some(rule) if problem.from > rule.by => return None,
        Some(_) => {}
    }
    for (nth, setup) in order.iter().enumerate() {
        if set >> setup & 1 == 1 || !problem.may_follow(set, *setup) {
            return None;
        }
        let ends = |at: Minutes| problem.ends(class, at, *setup);
        let later = fed.and_then(|(at, meal)| Some((ends(at)?, meal)));
        let now = problem.meal.and_then(|rule| {
            let ends = ends(unfed? + rule.minutes)?;
            Some((ends, Some(nth)))
        });
        // Of equal ends the meal that was taken earlier stays.
        fed = match (later, now) {
            (Some(a), Some(b)) if b.0 < a.0 => Some(b),
            (Some(a), _) => Some(a),
            (None, b) => b,
        };
        let by = problem.meal.map(|rule| rule.by);
        unfed = unfed
            .and_then(ends)
            .filter(|at| by.is_none_or(|by| *at <= by));
        if fed.is_none() && unfed.is_none() {
            return None;
        }
        moves += u32::from(problem.is_move(class, *setup));
        set |= 1 << setup;
        class = problem.class_of[*setup];
    }
    if problem.musts & !set != 0 {
        return None;
    }
    let fed =
        fed.filter(|(at, meal)| meal.is_none() || problem.meal.is_none_or(|rule| *at > rule.by));
    let (wrap, meal_before) = match (unfed, fed) {
        (Some(at), None) => (at, None),
        (Some(at), Some((other, _))) if at <= other => (at, None),
        (_, Some(fed)) => fed,
        (None, None) => return None,
    };
    (wrap <= problem.latest_wrap).then(|| Found {
        value: problem.worth.of(set),
        wrap,
        moves,
        order: order.to_vec(),
        meal_before,
    })
}
