//! What must hold of days, and of what setups say of when they can be shot.

use super::{Check, is_date};
use crate::clock::ClockTime;
use crate::day::Day;
use crate::project::Project;
use crate::setup::Setup;

impl Check {
    pub(super) fn days(&mut self, project: &Project) {
        self.count("days", project.days.len());
        self.unique("days", project.days.iter().map(|day| day.id.as_str()));
        for (index, day) in project.days.iter().enumerate() {
            let field = |name: &str| format!("days[{index}].{name}");
            if !is_date(&day.date) {
                self.say(
                    field("date"),
                    format!(
                        "`{}` is not a date; write year-month-day, such as 2026-10-15",
                        day.date
                    ),
                );
            }
            if day.latest_wrap.is_some_and(|wrap| wrap <= day.call) {
                self.say(
                    field("latest_wrap"),
                    format!("the day is called at {} and can't have ended before; a time after midnight counts on, such as 26:00", day.call),
                );
            }
            if day.air_c.is_some_and(|air| !(-60.0..=60.0).contains(&air)) {
                self.say(
                    field("air_c"),
                    "an air temperature lies between -60 and 60 degrees",
                );
            }
            self.day_rules(&format!("days[{index}]"), day, project);
            let mut free: ClockTime = day.call;
            for (nth, slot) in day.order.iter().enumerate() {
                let field = format!("days[{index}].order[{nth}]");
                if project.setup(&slot.setup).is_none() {
                    self.say(
                        format!("{field}.setup"),
                        format!(
                            "the setup `{}` of this day is not among the setups",
                            slot.setup
                        ),
                    );
                }
                let shoot = slot.shoot.unwrap_or(slot.start);
                if slot.start < free
                    || shoot < slot.start
                    || slot.end < shoot
                    || slot.end <= slot.start
                {
                    self.say(
                        &field,
                        format!("`{}` runs from {} to {}; setups of a day follow each other from the call ({}) on, each rigged, then shot, then done", slot.setup, slot.start, slot.end, day.call),
                    );
                }
                free = free.max(slot.end);
            }
        }
    }

    /// What a day says beside its order.
    fn day_rules(&mut self, at: &str, day: &Day, project: &Project) {
        let field = |name: &str| format!("{at}.{name}");
        if let Some(place) = &day.start_place
            && project.place(place).is_none()
        {
            self.say(
                field("start_place"),
                format!("the day begins at `{place}`, which is not among the places"),
            );
        }
        for (nth, id) in day.setups.iter().enumerate() {
            if project.setup(id).is_none() {
                self.say(
                    format!("{}[{nth}]", field("setups")),
                    format!("the setup `{id}` of this day is not among the setups"),
                );
            }
        }
        for (name, minutes, most) in [
            ("longest_minutes", day.longest_minutes, 48 * 60),
            ("meal_minutes", day.meal_minutes, 6 * 60),
            ("drive_home_minutes", day.drive_home_minutes, 24 * 60),
        ] {
            self.minutes(&field(name), minutes, most);
        }
        if day.meal.is_some_and(|meal| meal < day.call) {
            self.say(
                field("meal"),
                format!("the meal lies before the call ({}); a time after midnight counts on, such as 25:00", day.call),
            );
        }
        let mut before = None;
        for (nth, air) in day.air.iter().enumerate() {
            let field = |name: &str| format!("{at}.air[{nth}].{name}");
            if before.is_some_and(|before| air.from <= before) {
                self.say(
                    field("from"),
                    "the hours of the air follow each other in time",
                );
            }
            before = Some(air.from);
            if !(-60.0..=60.0).contains(&air.air_c) {
                self.say(
                    field("air_c"),
                    "an air temperature lies between -60 and 60 degrees",
                );
            }
            if air
                .humidity_percent
                .is_some_and(|h| !(0.0..=100.0).contains(&h))
            {
                self.say(
                    field("humidity_percent"),
                    "relative humidity lies between 0 and 100 percent",
                );
            }
            if air
                .wind_m_s
                .is_some_and(|wind| !(0.0..=100.0).contains(&wind))
            {
                self.say(
                    field("wind_m_s"),
                    "wind lies between 0 and 100 metres a second",
                );
            }
        }
    }

    fn minutes(&mut self, field: &str, minutes: Option<u32>, most: u32) {
        if let Some(minutes) = minutes
            && minutes > most
        {
            self.say(
                field,
                format!("{minutes} minutes are too many; at most {most}"),
            );
        }
    }

    /// Stretches of the clock, from and to.
    pub(super) fn hours(&mut self, field: &str, hours: &[[ClockTime; 2]]) {
        for (nth, [from, to]) in hours.iter().enumerate() {
            if to <= from {
                self.say(
                    format!("{field}[{nth}]"),
                    format!("{from} to {to} runs backwards; a time after midnight counts on, such as 26:00"),
                );
            }
        }
    }

    /// When a setup can be shot.
    pub(super) fn when_shot(&mut self, at: &str, setup: &Setup, project: &Project) {
        let field = |name: &str| format!("{at}.{name}");
        self.hours(&field("hours"), &setup.hours);
        self.minutes(&field("relight_minutes"), setup.relight_minutes, 24 * 60);
        for (nth, id) in setup.after.iter().enumerate() {
            let field = format!("{}[{nth}]", field("after"));
            match project.setup(id) {
                None => self.say(
                    field,
                    format!(
                        "`{}` comes after `{id}`, which is not among the setups",
                        setup.id
                    ),
                ),
                Some(other) if waits_for(project, other, setup) => self.say(
                    field,
                    format!("`{}` and `{id}` wait for each other, so neither can be shot; take one `after` away", setup.id),
                ),
                Some(_) => {}
            }
        }
    }
}

/// Whether `one` must be shot after `other`, over any number of others in between, or is it.
fn waits_for(project: &Project, one: &Setup, other: &Setup) -> bool {
    let mut seen = Vec::new();
    let mut open = vec![&one.id];
    while let Some(id) = open.pop() {
        if *id == other.id {
            return true;
        }
        if !seen.contains(&id) {
            seen.push(id);
            open.extend(project.setup(id).iter().flat_map(|setup| &setup.after));
        }
    }
    false
}
