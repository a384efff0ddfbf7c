//! Why a setup stands where it stands, or does not, as a chain of causes.

use crate::instance::Error;
use crate::plan::{DayPlan, Depth, plan, why_left_out};
use crate::prepare::Given;
use crate::solve::solve;
use model::SetupId;

/// Why `id` stands where it does in `day`, which was planned from `given`: what holds it, cause by cause back to
/// something nobody can change; and what would be lost without it. `None` when the day does not know it.
///
/// # Errors
/// As [`plan`].
pub fn why(
    given: &Given,
    day: &DayPlan,
    id: &SetupId,
    stop: &dyn Fn() -> bool,
) -> Result<Option<Vec<String>>, Error> {
    let prepared = given.prepare();
    if let Some(nth) = day.order.iter().position(|strip| strip.setup == *id) {
        let mut out = chain(day, nth);
        out.extend(order_rules(given, day, nth));
        out.extend(without(given, day, id, stop)?);
        return Ok(Some(out));
    }
    let instance = prepared.instance;
    if !instance.setups.iter().any(|setup| setup.id == id.as_str()) {
        return Ok(None);
    }
    let answer = solve(&instance, stop)?;
    let mut out = vec![format!("`{id}` is not in this day")];
    out.extend(why_left_out(given, &instance, &answer, id.as_str(), stop));
    Ok(Some(out))
}

/// What holds the strip at `nth` where it is, and what holds that, back to the first cause.
fn chain(day: &DayPlan, nth: usize) -> Vec<String> {
    let mut out = Vec::new();
    for (back, strip) in day.order[..=nth].iter().enumerate().rev() {
        let shoots = match back == nth {
            true => format!(
                "`{}` shoots from {} to {}",
                strip.setup, strip.shoot, strip.end
            ),
            false => format!("`{}` ends at {}", strip.setup, strip.end),
        };
        if strip.pinned {
            out.push(format!("{shoots}: you pinned it there"));
            return out;
        }
        if strip.waits_minutes > 0
            && let Some([from, to]) = strip.light
        {
            out.push(format!(
                "{shoots}: it is ready {} min before and waits for its light, {from}–{to}",
                strip.waits_minutes
            ));
            return out;
        }
        if strip.start > strip.there
            && let Some([from, to]) = strip.access
        {
            out.push(format!(
                "{shoots}: it begins when `{}` opens, {from}–{to}",
                strip.place
            ));
            return out;
        }
        let prepares = match strip.relit {
            true => "relit on the rig that stands",
            false => "rigged",
        };
        let from = match strip.travel_minutes {
            0 => format!("it is {prepares} from {}", strip.start),
            way => format!(
                "one is at `{}` at {} after {way} min on the way, and it is {prepares} from {}",
                strip.place, strip.there, strip.start
            ),
        };
        let meal = day.meal.filter(|[start, _]| {
            let before = back.checked_sub(1).map_or(day.from, |at| day.order[at].end);
            *start == before
        });
        let after = match (back.checked_sub(1).map(|at| &day.order[at]), meal) {
            (None, None) => format!("the day begins at {}", day.from),
            (None, Some(_)) => format!("the day begins at {} with the meal", day.from),
            (Some(before), None) => format!("right after `{}`", before.setup),
            (Some(before), Some(_)) => format!("after `{}` and the meal", before.setup),
        };
        out.push(format!("{shoots}: {from}; {after}"));
    }
    out
}

/// What must come before and after it.
fn order_rules(given: &Given, day: &DayPlan, nth: usize) -> Vec<String> {
    let strip = &day.order[nth];
    let mut out = Vec::new();
    let state = |state: u32| match given.project.states.get(state as usize) {
        Some(name) => format!("`{name}`"),
        None => format!("state {state}"),
    };
    let cleaner = day.order[..nth]
        .iter()
        .filter(|other| other.state < strip.state);
    let cleaner: Vec<String> = cleaner.map(|other| other.setup.to_string()).collect();
    if !cleaner.is_empty() {
        out.push(format!(
            "the performer is {} in it and can't be as before afterwards, so {} came first",
            state(strip.state),
            crate::instance::list(&cleaner)
        ));
    }
    let later = day.order[nth + 1..]
        .iter()
        .filter(|other| other.state > strip.state);
    let later: Vec<String> = later.map(|other| other.setup.to_string()).collect();
    if !later.is_empty() {
        out.push(format!(
            "the performer is still {} in it, so it comes before {}",
            state(strip.state),
            crate::instance::list(&later)
        ));
    }
    if let Some(setup) = given.project.setup(&strip.setup)
        && !setup.after.is_empty()
    {
        let names: Vec<String> = setup.after.iter().map(SetupId::to_string).collect();
        out.push(format!(
            "the plan puts it after {}",
            crate::instance::list(&names)
        ));
    }
    match (strip.light_slack_minutes, strip.room_minutes) {
        (Some(slack), room) => out.push(format!(
            "its light has {slack} min left when it ends; one may be {room} min late for it with all that follows still fitting"
        )),
        (None, room) => out.push(format!(
            "one may be {room} min late for it with all that follows still fitting"
        )),
    }
    out
}

/// What the day would be without it.
fn without(
    given: &Given,
    day: &DayPlan,
    id: &SetupId,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<String>, Error> {
    let mut project = given.project.clone();
    project.setups.retain(|setup| setup.id != *id);
    for setup in &mut project.setups {
        setup.after.retain(|other| other != id);
    }
    let other = Given {
        project: &project,
        begun: given.begun.clone(),
        ..*given
    };
    let depth = Depth {
        late: false,
        why: false,
    };
    let found = plan(&other, depth, stop)?;
    let less = (1.0 - found.value as f64 / day.value.max(1) as f64) * 100.0;
    let instead: Vec<String> = found
        .order
        .iter()
        .filter(|strip| !day.order.iter().any(|known| known.setup == strip.setup))
        .map(|strip| strip.setup.to_string())
        .collect();
    let comes = match instead.is_empty() {
        true => String::new(),
        false => format!(", with {} instead", crate::instance::list(&instead)),
    };
    Ok(vec![match less > 0.05 {
        true => format!(
            "without it the day would be worth {less:.1} % less{comes}, and wrap at {}",
            found.wrap
        ),
        false => format!(
            "without it the day would be worth as much{comes}, and wrap at {}",
            found.wrap
        ),
    }])
}
