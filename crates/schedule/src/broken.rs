//! What breaks in a day that was typed by hand.

use crate::instance::{Candidate, Instance};
use crate::prepare::Given;
use model::{ClockTime, Finding, Slot};

/// Looks at the order that stands in the day as it was typed: every rule it breaks, in its order.
pub fn broken(given: &Given) -> Vec<Finding> {
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
    let mut look = Look {
        given,
        instance: &unpinned.prepare().instance,
        eaten: false,
        said: Vec::new(),
    };
    let mut before: Option<(&Slot, &Candidate)> = None;
    for (nth, slot) in day.order.iter().enumerate() {
        let Some(setup) = look.candidate(slot.setup.as_str()) else {
            let says = format!("`{}` can't be looked at: it has no place", slot.setup);
            let found = Finding::unknown("no-place", says).about(&slot.setup);
            look.said.push(found.mended_by("write `place`"));
            continue;
        };
        look.begins(slot, setup, before);
        let shoot = look.shoots(slot, setup, before);
        look.stays_within(slot, setup, shoot);
        look.comes_after(&day.order[..nth], slot, setup);
        before = Some((slot, setup));
    }
    look.ends();
    look.holds_the_musts();
    look.said
}

/// A typed day, looked at.
struct Look<'a> {
    given: &'a Given<'a>,
    instance: &'a Instance,
    /// Whether the meal was met on the way through the order.
    eaten: bool,
    said: Vec<Finding>,
}

impl<'a> Look<'a> {
    fn show(&self, passed: i64) -> ClockTime {
        self.given.clocks.clock(passed)
    }

    fn windows(&self, all: &[[i64; 2]]) -> String {
        match all {
            [] => "never on this day".to_owned(),
            all => {
                let each = all
                    .iter()
                    .map(|[open, close]| format!("{}–{}", self.show(*open), self.show(*close)));
                each.collect::<Vec<_>>().join(" or ")
            }
        }
    }

    /// A rule that `slot` breaks.
    fn breaks(&mut self, kind: &'static str, slot: &Slot, says: String) {
        let found = Finding::problem(kind, says).about(&slot.setup);
        self.said.push(found);
    }

    fn candidate(&self, id: &str) -> Option<&'a Candidate> {
        self.instance.setups.iter().find(|one| one.id == id)
    }

    /// Whether there is time between what came before and `slot`, for the way and the meal.
    fn begins(&mut self, slot: &Slot, setup: &Candidate, before: Option<(&Slot, &Candidate)>) {
        let given = self.given;
        let start = given.passed(slot.start);
        let ended = given.passed(before.map_or(given.day.call, |(last, _)| last.end));
        let here = match before {
            Some((_, last)) => Some(last.place.as_str()),
            None => self.instance.start_place.as_deref(),
        };
        let way = here.map_or(0, |from| self.instance.way(from, &setup.place).unwrap_or(0));
        let mut needs = way;
        let mut what = match way {
            0 => String::new(),
            way => format!("the way to `{}` takes {way} min", setup.place),
        };
        if let (Some(meal), Some(rule)) = (given.day.meal, self.instance.meal)
            && !self.eaten
            && (ended..start).contains(&given.passed(meal))
        {
            self.eaten = true;
            needs += rule.minutes;
            let and = if what.is_empty() { "" } else { " and " };
            what = format!("{what}{and}the meal {} min", rule.minutes);
        }
        if start < ended + needs {
            let free = self.show(ended);
            let what = if what.is_empty() { "not before" } else { &what };
            let says = format!(
                "`{}` begins at {}, but one is free at {free} and {what}",
                setup.id, slot.start
            );
            self.breaks("too-early", slot, says);
        }
    }

    /// Whether the rig and the passes have their minutes; when it shoots.
    fn shoots(
        &mut self,
        slot: &Slot,
        setup: &Candidate,
        before: Option<(&Slot, &Candidate)>,
    ) -> i64 {
        let (id, given) = (&setup.id, self.given);
        let (start, end) = (given.passed(slot.start), given.passed(slot.end));
        let relit = before.is_some_and(|(_, last)| last.leaves_rig_to(setup));
        let (first, what) = match relit {
            true => (setup.relight_minutes, "relight"),
            false => (setup.rig_minutes, "rig"),
        };
        let shoot = slot
            .shoot
            .map_or(start + first, |shoot| given.passed(shoot));
        if shoot < start + first {
            let says = format!(
                "`{id}` shoots {} min after it begins, and its {what} takes {first}",
                shoot - start
            );
            self.breaks("rig-too-short", slot, says);
        }
        if end - shoot < setup.shoot_minutes {
            let says = format!(
                "`{id}` has {} min to shoot and its passes take {}",
                end - shoot,
                setup.shoot_minutes
            );
            self.breaks("slot-too-short", slot, says);
        }
        shoot
    }

    /// Whether it lies in its light and in the hours of its place.
    fn stays_within(&mut self, slot: &Slot, setup: &Candidate, shoot: i64) {
        let id = &setup.id;
        let end = self.given.passed(slot.end);
        let outside = |all: &[[i64; 2]], from: i64| {
            !all.iter()
                .any(|[open, close]| *open <= from && end <= *close)
        };
        if let Some(light) = &setup.light
            && outside(light, shoot)
        {
            let says = format!(
                "`{id}` shoots {}–{} outside its light and its people's hours, {}",
                self.show(shoot),
                slot.end,
                self.windows(light)
            );
            self.breaks("outside-light", slot, says);
        }
        if let Some(access) = &setup.access
            && outside(access, self.given.passed(slot.start))
        {
            let says = format!(
                "`{id}` is at `{}` {}–{}, which is open {}",
                setup.place,
                slot.start,
                slot.end,
                self.windows(access)
            );
            self.breaks("place-closed", slot, says);
        }
    }

    /// Whether it may come after `earlier`, and all that it waits for is there.
    fn comes_after(&mut self, earlier: &[Slot], slot: &Slot, setup: &Candidate) {
        let id = &setup.id;
        let state = |slot: &Slot| self.candidate(slot.setup.as_str()).map(|one| one.state);
        let higher = earlier
            .iter()
            .find(|other| state(other) > Some(setup.state));
        if let Some(other) = higher {
            let says = format!(
                "`{id}` comes after `{}`, whose state can't be undone",
                other.setup
            );
            self.breaks("state-backwards", slot, says);
        }
        for name in &setup.after {
            if !earlier.iter().any(|other| other.setup.as_str() == name) {
                let says =
                    format!("`{id}` comes after `{name}` by the plan, and does not in this order");
                self.breaks("comes-after", slot, says);
            }
        }
    }

    /// Whether the order ends in time, with its meal.
    fn ends(&mut self) {
        let (given, instance) = (self.given, self.instance);
        let call = given.passed(given.day.call);
        let ends = given.day.order.iter().map(|slot| given.passed(slot.end));
        let over = ends.max().unwrap_or(call);
        if over > instance.latest_wrap {
            let says = format!(
                "the order ends at {}, after the latest wrap {}",
                self.show(over),
                self.show(instance.latest_wrap)
            );
            self.said.push(Finding::problem("past-wrap", says));
        }
        if let Some(rule) = instance.meal {
            let by = call + rule.latest_start_after_call;
            let meal = given.day.meal.map(|at| given.passed(at));
            if over > by && meal.is_none_or(|at| at > by) {
                let says = format!(
                    "the order ends at {} and has no meal by {}",
                    self.show(over),
                    self.show(by)
                );
                let found = Finding::problem("no-meal", says);
                self.said.push(found.mended_by("write `meal`"));
            }
        }
    }

    /// Whether every must stands in this order, or on another day.
    fn holds_the_musts(&mut self) {
        let given = self.given;
        for setup in &given.project.setups {
            let ordered = given.day.order.iter().any(|slot| slot.setup == setup.id);
            let elsewhere = given.project.days.iter().any(|other| {
                other.id != given.day.id
                    && (other.setups.contains(&setup.id)
                        || other.order.iter().any(|slot| slot.setup == setup.id))
            });
            if setup.must
                && !ordered
                && !elsewhere
                && !given.more_days
                && !given.shot_before.contains(&setup.id)
            {
                let says = format!("`{}` is a must and is not in the order", setup.id);
                let found = Finding::problem("must-left-out", says).about(&setup.id);
                self.said.push(found);
            }
        }
    }
}
