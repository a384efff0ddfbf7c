//! A project's day, solved: strips in time, what is left out and why, and how much room there is.

use crate::instance::{Error, Instance};
use crate::late::{Late, late};
use crate::prepare::{Given, Prepared};
use crate::problem::Problem;
use crate::slack::{loosest, room_minutes};
use crate::solve::{Answer, Status, Timed, solve};
use model::{ClockTime, Date, DayId, Finding, SetupId, SkyLight};
use serde::Serialize;

/// One setup in the day. Times are what a clock shows, counted on past midnight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Strip {
    /// Which setup.
    pub setup: SetupId,
    /// What it is called.
    pub name: String,
    /// Where: the place's id, what it is called, and its address.
    pub place: String,
    /// See [`Strip::place`].
    pub place_name: String,
    /// See [`Strip::place`].
    #[serde(skip_serializing_if = "String::is_empty")]
    pub address: String,
    /// Minutes on the way there, from the strip before.
    pub travel_minutes: i64,
    /// When one is there.
    pub there: ClockTime,
    /// When its rig, or relight, begins.
    pub start: ClockTime,
    /// When its shoot begins.
    pub shoot: ClockTime,
    /// When it ends.
    pub end: ClockTime,
    /// Whether it stands on the rig of the one before.
    pub relit: bool,
    /// Whether it was pinned by hand.
    pub pinned: bool,
    /// Whether the day can't do without it.
    pub must: bool,
    /// Performer state.
    pub state: u32,
    /// Passes.
    pub passes: u32,
    /// Minutes between being ready and the light.
    pub waits_minutes: i64,
    /// The window of its light and of its people's hours that it is shot in, when there is any.
    pub light: Option<[ClockTime; 2]>,
    /// The place's hours it lies in, when it has any.
    pub access: Option<[ClockTime; 2]>,
    /// Whether that window is the sky's.
    pub asks_for_light: bool,
    /// Minutes from its end to the end of that window.
    pub light_slack_minutes: Option<i64>,
    /// Minutes from its end to the end of those hours.
    pub access_slack_minutes: Option<i64>,
    /// How many minutes late one may set out for it, it and all that follows still fitting.
    pub room_minutes: i64,
}

/// Minutes to the end of a window beyond which it needs no minding.
const MINDED: i64 = 120;

impl Strip {
    /// Minutes from its end to the end of its light, or of its people's hours, where that is near.
    pub fn light_ends_in(&self) -> Option<i64> {
        self.light_slack_minutes.filter(|slack| *slack <= MINDED)
    }

    /// Minutes from its end to the end of its place's hours, where that is near.
    pub fn closes_in(&self) -> Option<i64> {
        self.access_slack_minutes.filter(|slack| *slack <= MINDED)
    }
}

impl DayPlan {
    /// What the day gives the song of what all setups together would, 0 to 1.
    pub fn share(&self) -> f64 {
        self.value as f64 / self.whole_value.max(1) as f64
    }

    /// Whether it is a day at all.
    pub fn is_found(&self) -> bool {
        matches!(self.status, Status::Best | Status::Feasible)
    }
}

/// A setup that is not in the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// Which.
    pub setup: SetupId,
    /// What it is called.
    pub name: String,
    /// Why, sentence by sentence; the first says it in short.
    pub why: Vec<String>,
}

/// A stretch of the sky over the day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SkyBand {
    /// Which light.
    pub light: SkyLight,
    /// From and to, as a clock shows it.
    pub at: [ClockTime; 2],
}

/// A day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DayPlan {
    /// Which.
    pub day: DayId,
    /// Its date.
    pub date: Date,
    /// When it begins, or what the clock shows when it has begun.
    pub from: ClockTime,
    /// When it must have ended.
    pub latest_wrap: ClockTime,
    /// How the answer stands.
    pub status: Status,
    /// What the chosen setups are worth.
    pub value: u64,
    /// No day is worth more.
    pub bound: u64,
    /// What all setups would be worth together.
    pub whole_value: u64,
    /// When the last setup ends.
    pub wrap: ClockTime,
    /// How often the place changes.
    pub moves: u32,
    /// When the meal starts and ends, when there is one.
    pub meal: Option<[ClockTime; 2]>,
    /// The setups in order.
    pub order: Vec<Strip>,
    /// What is left out.
    pub left_out: Vec<LeftOut>,
    /// Why no day holds every must, when none does.
    pub reasons: Vec<String>,
    /// What to drop when it gets late.
    pub late: Option<Late>,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

/// How much is worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Depth {
    /// The late table.
    pub late: bool,
    /// Why each setup is left out.
    pub why: bool,
}

/// The best day for what is given. `stop` ends the search with the best so far.
///
/// # Errors
/// When what the plan says of the day contradicts itself: [`Error`].
pub fn plan(given: &Given, depth: Depth, stop: &dyn Fn() -> bool) -> Result<DayPlan, Error> {
    let Prepared {
        mut instance,
        mut notes,
    } = given.prepare();
    if given.more_days {
        instance.prefer_musts();
    }
    let mut answer = solve(&instance, stop)?;
    if answer.status == Status::Best {
        answer = loosest(&instance, answer, stop);
    }
    let problem = Problem::of_checked(&instance);
    let show = |passed: i64| given.clocks.clock(passed);
    let order = strips(given, &instance, &problem, &answer);
    let late = (depth.late && !answer.order.is_empty())
        .then(|| late(&instance, &answer, given.clocks, stop));
    let left_out = left_out(given, &instance, &answer, depth.why, stop);
    if answer.status == Status::Feasible {
        notes.push(match answer.bound == answer.value {
            true => Finding::note("end-not-proven", "no day is worth more; whether one as good ends earlier was not settled in the time given"),
            false => Finding::note("not-proven", format!(
                "this day is good, not proven best: none is worth more than {:.1} % above it",
                (answer.bound as f64 / answer.value.max(1) as f64 - 1.0) * 100.0
            )),
        });
    }
    let meal_minutes = instance.meal.map_or(0, |meal| meal.minutes);
    Ok(DayPlan {
        day: given.day.id.clone(),
        date: given.day.date,
        from: show(problem.from.into()),
        latest_wrap: show(instance.latest_wrap),
        status: answer.status,
        value: answer.value,
        bound: answer.bound,
        whole_value: problem.worth.of(problem.all()),
        wrap: show(answer.wrap),
        moves: answer.moves,
        meal: answer
            .meal_start
            .map(|at| [show(at), show(at + meal_minutes)]),
        order,
        left_out,
        reasons: answer.reasons.clone(),
        late,
        notes,
    })
}

/// Each setup of the answer with all that belongs to its time.
fn strips(given: &Given, instance: &Instance, problem: &Problem, answer: &Answer) -> Vec<Strip> {
    let show = |passed: i64| given.clocks.clock(passed);
    let mut out = Vec::with_capacity(answer.order.len());
    let mut here = instance.start_place.as_deref();
    let mut before: Option<&str> = instance
        .begun
        .as_ref()
        .and_then(|begun| begun.done.last())
        .map(String::as_str);
    let mut free = i64::from(problem.from);
    for (nth, timed) in answer.order.iter().enumerate() {
        let at = |id: &str| instance.setups.iter().position(|one| one.id == id);
        let Some(index) = at(&timed.id) else { continue };
        let candidate = &instance.setups[index];
        let Some(setup) = given
            .project
            .setups
            .iter()
            .find(|s| s.id.as_str() == timed.id)
        else {
            continue;
        };
        if answer.meal_start == Some(free) {
            free += instance.meal.map_or(0, |meal| meal.minutes);
        }
        let travel = here.map_or(0, |from| instance.way(from, &candidate.place).unwrap_or(0));
        let relit = here == Some(candidate.place.as_str())
            && before
                .and_then(at)
                .is_some_and(|last| instance.setups[last].leaves_rig_to(candidate));
        let first = match relit {
            true => candidate.relight_minutes,
            false => candidate.rig_minutes,
        };
        let held = |windows: &Option<Vec<[i64; 2]>>, from: i64| {
            let windows = windows.iter().flatten();
            let holds = |[open, close]: &&[i64; 2]| *open <= from && timed.end <= *close;
            windows
                .filter(holds)
                .max_by_key(|[_, close]| *close)
                .copied()
        };
        let places = &given.project.places;
        let known = places
            .iter()
            .find(|place| place.id.as_str() == candidate.place);
        let light = held(&candidate.light, timed.shoot_start);
        let access = held(&candidate.access, timed.start);
        let pair = |[open, close]: [i64; 2]| [show(open), show(close)];
        let mut slots = given.day.order.iter();
        out.push(Strip {
            setup: setup.id.clone(),
            name: setup.called().to_owned(),
            place_name: known.map_or_else(|| candidate.place.clone(), |place| place.name.clone()),
            address: known.map_or_else(String::new, |place| place.address.clone()),
            place: candidate.place.clone(),
            travel_minutes: travel,
            there: show(free + travel),
            start: show(timed.start),
            shoot: show(timed.shoot_start),
            end: show(timed.end),
            relit,
            pinned: slots.any(|slot| slot.setup == setup.id && slot.pinned),
            must: setup.must,
            state: setup.state,
            passes: setup.passes,
            waits_minutes: timed.shoot_start - timed.start - first,
            asks_for_light: !setup.light_of.is_empty() || setup.moon,
            light: light.map(pair),
            access: access.map(pair),
            light_slack_minutes: light.map(|[_, close]| close - timed.end),
            access_slack_minutes: access.map(|[_, close]| close - timed.end),
            room_minutes: room_minutes(instance, problem, answer, nth),
        });
        free = timed.end;
        here = Some(&candidate.place);
        before = Some(&timed.id);
    }
    out
}

/// What could have been chosen and was not, each with the reasons when `why`.
fn left_out(
    given: &Given,
    instance: &Instance,
    answer: &Answer,
    why: bool,
    stop: &dyn Fn() -> bool,
) -> Vec<LeftOut> {
    let done = instance.begun.iter().flat_map(|begun| &begun.done);
    let done: Vec<&String> = done.collect();
    let mut out = Vec::new();
    for candidate in &instance.setups {
        let chosen = answer.order.iter().any(|one| one.id == candidate.id);
        if chosen || done.contains(&&candidate.id) {
            continue;
        }
        let Some(setup) = given
            .project
            .setups
            .iter()
            .find(|s| s.id.as_str() == candidate.id)
        else {
            continue;
        };
        out.push(LeftOut {
            setup: setup.id.clone(),
            name: setup.called().to_owned(),
            why: match why && answer.status != Status::Impossible {
                true => why_left_out(given, instance, answer, &candidate.id, stop),
                false => Vec::new(),
            },
        });
    }
    out
}

/// Why `id` is not in the day: what rules it out, or what it would cost.
pub(crate) fn why_left_out(
    given: &Given,
    instance: &Instance,
    answer: &Answer,
    id: &str,
    stop: &dyn Fn() -> bool,
) -> Vec<String> {
    let mut with = instance.clone();
    with.setups
        .iter_mut()
        .filter(|setup| setup.id == id)
        .for_each(|setup| setup.must = true);
    let Ok(other) = solve(&with, stop) else {
        return Vec::new();
    };
    let ids = |order: &[Timed]| -> Vec<String> { order.iter().map(|one| one.id.clone()).collect() };
    match other.status {
        Status::Impossible => other.reasons,
        Status::Unknown => vec![format!("no day with `{id}` was found in the time given")],
        Status::Best | Status::Feasible => {
            let (with, without) = (ids(&other.order), ids(&answer.order));
            let lost: Vec<String> = without
                .iter()
                .filter(|id| !with.contains(id))
                .cloned()
                .collect();
            let wrap = given.clocks.clock(other.wrap);
            if other.value == answer.value {
                let later = other.wrap - answer.wrap;
                return vec![match (later, lost.is_empty()) {
                    (0, _) => "a day with it is worth as much and ends no earlier".into(),
                    (later, _) => format!(
                        "it adds nothing that the song lacks, and the day would end {later} min later ({wrap})"
                    ),
                }];
            }
            let less = (1.0 - other.value as f64 / answer.value.max(1) as f64) * 100.0;
            vec![match lost.is_empty() {
                true => format!("the day with it is worth {less:.1} % less and wraps at {wrap}"),
                false => format!(
                    "there is not the time for it as well: with it the day loses {} and {less:.1} % of its worth, and wraps at {wrap}",
                    crate::instance::list(&lost)
                ),
            }]
        }
    }
}
