//! What to drop when it gets late: at each point of the day and for each delay, the best day that is left.

use crate::clocks::Clocks;
use crate::instance::{Begun, Instance};
use crate::plan::{clock_of, prefer_musts};
use crate::solve::{Answer, Status, solve};
use model::{ClockTime, SetupId};
use serde::Serialize;

/// The late table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Late {
    /// The delays, minutes.
    pub delays: Vec<u32>,
    /// Each point of the day.
    pub rows: Vec<LateRow>,
    /// Whether every cell was worked out; false when it was stopped.
    pub complete: bool,
}

/// One point of the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LateRow {
    /// After this setup; none for the call.
    pub after: Option<SetupId>,
    /// When the plan has one free there.
    pub at: ClockTime,
    /// What the plan has next.
    pub next: SetupId,
    /// For each delay.
    pub cells: Vec<LateCell>,
}

/// What is best with a delay.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LateCell {
    /// The delay, minutes.
    pub late_minutes: u32,
    /// What falls out against the plan.
    pub drop: Vec<SetupId>,
    /// Those of it that the day can't do without.
    pub musts_lost: Vec<SetupId>,
    /// What comes in instead.
    pub add: Vec<SetupId>,
    /// The order from there on.
    pub order: Vec<SetupId>,
    /// When it wraps.
    pub wrap: ClockTime,
    /// Share of the plan's worth that is left, 0 to 1.
    pub worth_left: f64,
}

/// The table for `answer`.
pub(crate) fn late(
    instance: &Instance,
    answer: &Answer,
    delays: &[u32],
    clocks: Clocks,
    stop: &dyn Fn() -> bool,
) -> Late {
    let mut table = Late {
        delays: delays.to_vec(),
        rows: Vec::new(),
        complete: true,
    };
    let ids = |order: &mut dyn Iterator<Item = &String>| -> Vec<SetupId> {
        order
            .filter_map(|id| SetupId::new(id.as_str()).ok())
            .collect()
    };
    let setup = |id: &str| instance.setups.iter().find(|setup| setup.id == id);
    let is_must = |id: &String| setup(id).is_some_and(|setup| setup.must);
    let before: Vec<String> = instance
        .begun
        .iter()
        .flat_map(|begun| begun.done.clone())
        .collect();
    for point in 0..answer.order.len() {
        let done: Vec<String> = answer.order[..point]
            .iter()
            .map(|one| one.id.clone())
            .collect();
        let (free, place) = match done.last() {
            None => (
                instance
                    .begun
                    .as_ref()
                    .map_or(instance.call, |begun| begun.now),
                instance.start_place.clone(),
            ),
            Some(last) => (
                answer.order[point - 1].end,
                setup(last).map(|setup| setup.place.clone()),
            ),
        };
        let Ok(next) = SetupId::new(answer.order[point].id.as_str()) else {
            continue;
        };
        let mut row = LateRow {
            next,
            after: done.last().and_then(|id| SetupId::new(id.as_str()).ok()),
            at: clock_of(clocks, free),
            cells: Vec::new(),
        };
        for delay in delays {
            if stop() {
                table.complete = false;
                return table;
            }
            let now = free + i64::from(*delay);
            let mut from_here = instance.clone();
            from_here.start_place.clone_from(&place);
            from_here.begun = Some(Begun {
                now,
                done: before.iter().chain(&done).cloned().collect(),
            });
            // A meal before this point has been taken. One at it or later has not, and an overdue one is now.
            let eaten = answer.meal_start.is_some_and(|start| start < free);
            from_here.meal = from_here.meal.filter(|_| !eaten).map(|mut meal| {
                meal.latest_start_after_call =
                    meal.latest_start_after_call.max(now - instance.call);
                meal
            });
            // Past the latest wrap nothing is left; the solver is asked all the same, and says so.
            from_here.latest_wrap = from_here.latest_wrap.max(now);
            let hard = solve(&from_here, stop);
            let found = match hard {
                Ok(found) if matches!(found.status, Status::Best | Status::Feasible) => Some(found),
                _ => {
                    prefer_musts(&mut from_here);
                    solve(&from_here, stop).ok()
                }
            };
            let Some(found) = found else { continue };
            let planned: Vec<&String> = answer.order[point..].iter().map(|one| &one.id).collect();
            let left: Vec<&String> = found.order.iter().map(|one| &one.id).collect();
            let drop = || planned.iter().copied().filter(|id| !left.contains(id));
            let shot: Vec<&str> = done
                .iter()
                .map(String::as_str)
                .chain(left.iter().map(|id| id.as_str()))
                .collect();
            let worth = worth_of(instance, &shot);
            row.cells.push(LateCell {
                late_minutes: *delay,
                drop: ids(&mut drop()),
                musts_lost: ids(&mut drop().filter(|id| is_must(id))),
                add: ids(&mut left.iter().copied().filter(|id| !planned.contains(id))),
                order: ids(&mut left.iter().copied()),
                wrap: clock_of(clocks, found.wrap),
                worth_left: worth as f64 / answer.value.max(1) as f64,
            });
        }
        table.rows.push(row);
    }
    table
}

/// What `shot`, with what was done before, is worth by the instance's own bars.
fn worth_of(instance: &Instance, shot: &[&str]) -> i64 {
    let done = instance.begun.iter().flat_map(|begun| &begun.done);
    let mut all: Vec<&str> = shot.to_vec();
    all.extend(done.map(String::as_str));
    let holds = |bar: i64| {
        let setups = instance.setups.iter();
        setups
            .filter(|setup| all.contains(&setup.id.as_str()) && setup.bars.contains(&bar))
            .count()
    };
    let bars = instance.bar_values.iter().enumerate();
    bars.map(|(bar, value)| {
        let options = instance.option_values.iter().take(holds(bar as i64));
        value * options.sum::<i64>()
    })
    .sum()
}
