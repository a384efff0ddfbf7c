//! What breaks in a day that was typed by hand.

use crate::plan::clock_of;
use crate::prepare::Given;
use model::Slot;

/// Looks at the order that stands in the day as it was typed: every rule it breaks, one sentence each, in its order.
pub fn broken(given: &Given) -> Vec<String> {
    let day = given.day;
    if day.order.is_empty() {
        return Vec::new();
    }
    let mut free = given.day.clone();
    free.order.iter_mut().for_each(|slot| slot.pinned = false);
    // Every setup of the order is looked at, whatever the day is to choose from.
    free.setups = free.order.iter().map(|slot| slot.setup.clone()).collect();
    let unpinned = Given {
        day: &free,
        begun: None,
        ..*given
    };
    let instance = unpinned.prepare().instance;
    let show = |passed: i64| clock_of(given.clocks, passed);
    let windows = |all: &[[i64; 2]]| match all {
        [] => "never on this day".to_owned(),
        all => {
            let each = all
                .iter()
                .map(|[open, close]| format!("{}–{}", show(*open), show(*close)));
            each.collect::<Vec<_>>().join(" or ")
        }
    };
    let mut out = Vec::new();
    let call = given.passed(day.call);
    let mut before: Option<(&Slot, usize)> = None;
    let mut eaten = false;
    let meal = day.meal.map(|at| given.passed(at));
    for slot in &day.order {
        let Some(at) = instance
            .setups
            .iter()
            .position(|one| one.id == slot.setup.as_str())
        else {
            out.push(format!(
                "`{}` can't be looked at: it has no place",
                slot.setup
            ));
            continue;
        };
        let setup = &instance.setups[at];
        let id = &setup.id;
        let (start, end) = (given.passed(slot.start), given.passed(slot.end));
        let ended = before.map_or(call, |(last, _)| given.passed(last.end));
        let here = match before {
            Some((_, last)) => Some(instance.setups[last].place.as_str()),
            None => instance.start_place.as_deref(),
        };
        let way = here.map_or(0, |from| instance.way(from, &setup.place).unwrap_or(0));
        let mut needs = way;
        let mut what = match way {
            0 => String::new(),
            way => format!("the way to `{}` takes {way} min", setup.place),
        };
        if let (Some(meal), Some(rule)) = (meal, instance.meal)
            && !eaten
            && meal < start
            && meal >= ended
        {
            eaten = true;
            needs += rule.minutes;
            let and = if what.is_empty() { "" } else { " and " };
            what = format!("{what}{and}the meal {} min", rule.minutes);
        }
        if start < ended + needs {
            out.push(format!(
                "`{id}` begins at {}, but one is free at {} and {}",
                slot.start,
                show(ended),
                if what.is_empty() {
                    "not before".to_owned()
                } else {
                    what
                }
            ));
        }
        let relit = before.is_some_and(|(_, last)| {
            let last = &instance.setups[last];
            last.place == setup.place
                && last.rig_group.is_some()
                && last.rig_group == setup.rig_group
        });
        let first = if relit {
            setup.relight_minutes
        } else {
            setup.rig_minutes
        };
        let shoot = slot
            .shoot
            .map_or(start + first, |shoot| given.passed(shoot));
        if shoot < start + first {
            out.push(format!(
                "`{id}` shoots {} min after it begins, and its {} takes {first}",
                shoot - start,
                if relit { "relight" } else { "rig" }
            ));
        }
        if end - shoot < setup.shoot_minutes {
            out.push(format!(
                "`{id}` has {} min to shoot and its passes take {}",
                end - shoot,
                setup.shoot_minutes
            ));
        }
        let within = |all: &Option<Vec<[i64; 2]>>, from: i64| {
            let holds = |[open, close]: &[i64; 2]| *open <= from && end <= *close;
            all.as_ref().is_none_or(|all| all.iter().any(holds))
        };
        if let Some(light) = &setup.light
            && !within(&setup.light, shoot)
        {
            out.push(format!(
                "`{id}` shoots {}–{} outside its light and its people's hours, {}",
                show(shoot),
                slot.end,
                windows(light)
            ));
        }
        if let Some(access) = &setup.access
            && !within(&setup.access, start)
        {
            out.push(format!(
                "`{id}` is at `{}` {}–{}, which is open {}",
                setup.place,
                slot.start,
                slot.end,
                windows(access)
            ));
        }
        let place_in_order = day
            .order
            .iter()
            .position(|other| other == slot)
            .unwrap_or(0);
        for other in &day.order[..place_in_order] {
            let state = |id: &str| {
                instance
                    .setups
                    .iter()
                    .find(|one| one.id == id)
                    .map(|one| one.state)
            };
            if state(other.setup.as_str()) > Some(setup.state) {
                out.push(format!(
                    "`{id}` comes after `{}`, whose state can't be undone",
                    other.setup
                ));
                break;
            }
        }
        for name in &setup.after {
            let ended = day.order[..place_in_order]
                .iter()
                .any(|other| other.setup.as_str() == name);
            if !ended {
                out.push(format!(
                    "`{id}` comes after `{name}` by the plan, and does not in this order"
                ));
            }
        }
        before = Some((slot, at));
    }
    let over = day
        .order
        .iter()
        .map(|slot| given.passed(slot.end))
        .max()
        .unwrap_or(call);
    if over > instance.latest_wrap {
        out.push(format!(
            "the order ends at {}, after the latest wrap {}",
            show(over),
            show(instance.latest_wrap)
        ));
    }
    if let Some(rule) = instance.meal {
        let by = call + rule.latest_start_after_call;
        if over > by && meal.is_none_or(|at| at > by) {
            out.push(format!(
                "the order ends at {} and has no meal by {}; write `meal`",
                show(over),
                show(by)
            ));
        }
    }
    for setup in &given.project.setups {
        let ordered = day.order.iter().any(|slot| slot.setup == setup.id);
        let elsewhere = given.project.days.iter().any(|other| {
            other.id != day.id
                && (other.setups.contains(&setup.id)
                    || other.order.iter().any(|slot| slot.setup == setup.id))
        });
        if setup.must
            && !ordered
            && !elsewhere
            && !given.more_days
            && !given.shot_before.contains(&setup.id)
        {
            out.push(format!("`{}` is a must and is not in the order", setup.id));
        }
    }
    out
}
