//! What to drop when it gets late: at each point of the day and for each delay, the best day that is left.

use crate::clocks::Clocks;
use crate::instance::{Begun, Instance};
use crate::solve::{Answer, Status, solve};
use model::{ClockTime, SetupId};
use serde::Serialize;

/// The delays that are worked out, minutes.
pub(crate) const DELAYS: [u32; 5] = [15, 30, 45, 60, 90];

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
    clocks: Clocks,
    stop: &dyn Fn() -> bool,
) -> Late {
    let mut table = Late {
        delays: DELAYS.to_vec(),
        rows: Vec::new(),
        complete: true,
    };
    for (nth, following) in answer.order.iter().enumerate() {
        let Ok(next) = SetupId::new(following.id.as_str()) else {
            continue;
        };
        let point = Point::of(instance, answer, nth);
        let mut row = LateRow {
            next,
            after: point
                .done
                .last()
                .and_then(|id| SetupId::new(id.as_str()).ok()),
            at: clocks.clock(point.free),
            cells: Vec::new(),
        };
        for delay in &DELAYS {
            if stop() {
                table.complete = false;
                return table;
            }
            row.cells.extend(point.cell(*delay, clocks, stop));
        }
        table.rows.push(row);
    }
    table
}

/// A point of the day: how far one is, when and where one is free.
struct Point<'a> {
    instance: &'a Instance,
    answer: &'a Answer,
    /// How many setups of the order are done by then, and which.
    nth: usize,
    done: Vec<String>,
    free: i64,
    place: Option<String>,
}

impl<'a> Point<'a> {
    fn of(instance: &'a Instance, answer: &'a Answer, nth: usize) -> Self {
        let done = answer.order[..nth].iter().map(|one| one.id.clone());
        let (free, place) = match nth.checked_sub(1).map(|last| &answer.order[last]) {
            None => {
                let begun = instance.begun.as_ref();
                let free = begun.map_or(instance.call, |begun| begun.now);
                (free, instance.start_place.clone())
            }
            Some(last) => {
                let setup = instance.setups.iter().find(|setup| setup.id == last.id);
                (last.end, setup.map(|setup| setup.place.clone()))
            }
        };
        Self {
            instance,
            answer,
            nth,
            done: done.collect(),
            free,
            place,
        }
    }

    /// The rest of the day when one is `delay` minutes late here.
    fn rest(&self, delay: u32) -> Instance {
        let now = self.free + i64::from(delay);
        let before = self.instance.begun.iter().flat_map(|begun| &begun.done);
        let mut rest = self.instance.clone();
        rest.start_place.clone_from(&self.place);
        rest.begun = Some(Begun {
            now,
            done: before.chain(&self.done).cloned().collect(),
        });
        // A meal before this point has been taken. One at it or later has not, and an overdue one is now.
        let meal_start = self.answer.meal_start;
        let eaten = meal_start.is_some_and(|start| start < self.free);
        rest.meal = rest.meal.filter(|_| !eaten).map(|mut meal| {
            meal.latest_start_after_call = meal.latest_start_after_call.max(now - rest.call);
            meal
        });
        // Past the latest wrap nothing is left; the solver is asked all the same, and says so.
        rest.latest_wrap = rest.latest_wrap.max(now);
        rest
    }

    fn cell(&self, delay: u32, clocks: Clocks, stop: &dyn Fn() -> bool) -> Option<LateCell> {
        let mut rest = self.rest(delay);
        let found = match solve(&rest, stop) {
            Ok(found) if matches!(found.status, Status::Best | Status::Feasible) => found,
            _ => {
                rest.prefer_musts();
                solve(&rest, stop).ok()?
            }
        };
        let planned: Vec<&String> = self.answer.order[self.nth..]
            .iter()
            .map(|one| &one.id)
            .collect();
        let left: Vec<&String> = found.order.iter().map(|one| &one.id).collect();
        let drop = || planned.iter().copied().filter(|id| !left.contains(id));
        let setups = &self.instance.setups;
        let is_must = |id: &String| setups.iter().any(|setup| setup.id == *id && setup.must);
        let done = self.done.iter().map(String::as_str);
        let shot: Vec<&str> = done.chain(left.iter().map(|id| id.as_str())).collect();
        let ids = |order: &mut dyn Iterator<Item = &String>| -> Vec<SetupId> {
            order
                .filter_map(|id| SetupId::new(id.as_str()).ok())
                .collect()
        };
        Some(LateCell {
            late_minutes: delay,
            drop: ids(&mut drop()),
            musts_lost: ids(&mut drop().filter(|id| is_must(id))),
            add: ids(&mut left.iter().copied().filter(|id| !planned.contains(id))),
            order: ids(&mut left.iter().copied()),
            wrap: clocks.clock(found.wrap),
            worth_left: worth_of(self.instance, &shot) as f64 / self.answer.value.max(1) as f64,
        })
    }
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
