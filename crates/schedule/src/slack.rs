//! How much room a day has: how late each setup could begin, and among equal days the one farthest from the
//! ends of its light.

use crate::instance::Instance;
use crate::problem::{Minutes, Problem};
use crate::solve::{Answer, Status, solve};

/// The most chosen setups for which the loosest of equal days is sought; each step of it solves the day again.
const LOOSEST: usize = 14;

/// How many minutes later than planned one may set out for the setup at `nth`, it and all that follows in the
/// same order still fitting.
pub(crate) fn room_minutes(
    instance: &Instance,
    problem: &Problem,
    answer: &Answer,
    nth: usize,
) -> i64 {
    let at = |id: &str| instance.setups.iter().position(|one| one.id == id);
    let rest: Vec<usize> = answer.order[nth..]
        .iter()
        .filter_map(|one| at(&one.id))
        .collect();
    let before = match nth {
        0 => None,
        nth => at(&answer.order[nth - 1].id),
    };
    let free = match nth {
        0 => i64::from(problem.from),
        nth => answer.order[nth - 1].end,
    };
    let class = before.map_or(problem.start_class, |at| problem.class_of[at]);
    // The meal before it has been taken; one after it is between the same two.
    let meals: Vec<bool> = (nth..answer.order.len())
        .map(|at| {
            let end = match at {
                0 => i64::from(problem.from),
                at => answer.order[at - 1].end,
            };
            answer.meal_start == Some(end)
        })
        .collect();
    let fits = |late: i64| -> bool {
        let Ok(mut now) = Minutes::try_from(free + late) else {
            return false;
        };
        let mut class = class;
        for (at, setup) in rest.iter().enumerate() {
            if meals[at]
                && let Some(rule) = problem.meal
            {
                if now > rule.by {
                    return false;
                }
                now += rule.minutes;
            }
            let Some(end) = problem.ends(class, now, *setup) else {
                return false;
            };
            now = end;
            class = problem.class_of[*setup];
        }
        // A day without a meal may not grow beyond the meal's limit.
        answer.meal_start.is_some() || problem.meal.is_none_or(|rule| now <= rule.by)
    };
    let (mut good, mut bad) = (0, i64::from(problem.latest_wrap) - free + 1);
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        match fits(middle) {
            true => good = middle,
            false => bad = middle,
        }
    }
    good
}

/// Least minutes between a shoot's end and the end of its light, over the day.
fn least_light_slack(instance: &Instance, answer: &Answer) -> Option<i64> {
    answer
        .order
        .iter()
        .filter_map(|timed| {
            let setup = instance.setups.iter().find(|one| one.id == timed.id)?;
            let windows = setup.light.as_ref()?.iter();
            windows
                .filter(|[open, close]| *open <= timed.shoot_start && timed.end <= *close)
                .map(|[_, close]| close - timed.end)
                .max()
        })
        .min()
}

/// Of the days with the same setups, wrap and moves the one whose tightest light has most minutes left.
///
/// Found by closing every light earlier by more and more minutes, as long as the day stays as good.
pub(crate) fn loosest(instance: &Instance, answer: Answer, stop: &dyn Fn() -> bool) -> Answer {
    let Some(mut known) = least_light_slack(instance, &answer) else {
        return answer;
    };
    if answer.order.len() > LOOSEST {
        return answer;
    }
    let chosen = |id: &String| answer.order.iter().any(|one| one.id == *id);
    let done = |id: &String| instance.begun.iter().any(|begun| begun.done.contains(id));
    let mut only = instance.clone();
    only.setups
        .retain(|setup| chosen(&setup.id) || done(&setup.id));
    only.setups
        .iter_mut()
        .for_each(|setup| setup.must = !done(&setup.id));
    only.latest_wrap = answer.wrap;
    let most = only
        .setups
        .iter()
        .filter_map(|setup| {
            let windows = setup.light.as_ref()?.iter();
            windows
                .map(|[open, close]| close - open - setup.shoot_minutes)
                .max()
        })
        .min()
        .unwrap_or(known);
    let mut best = answer;
    let mut bad = most + 1;
    while bad - known > 1 && !stop() {
        let middle = known + (bad - known) / 2;
        let mut closer = only.clone();
        for setup in &mut closer.setups {
            for window in setup.light.iter_mut().flatten() {
                window[1] = (window[1] - middle).max(window[0]);
            }
        }
        let found = solve(&closer, stop).ok().filter(|found| {
            found.status == Status::Best && found.wrap <= best.wrap && found.moves <= best.moves
        });
        match found {
            Some(found) => {
                known = middle;
                best = Answer {
                    order: found.order,
                    meal_start: found.meal_start,
                    moves: found.moves,
                    ..best
                };
            }
            None => bad = middle,
        }
    }
    best
}
