//! What must hold of days beyond their fields alone.

use super::Check;
use crate::clock::ClockTime;
use crate::project::Project;

impl Check {
    pub(super) fn days(&mut self, project: &Project) {
        for (index, day) in project.days.iter().enumerate() {
            let field = |name: &str| format!("days[{index}].{name}");
            if day.latest_wrap.is_some_and(|wrap| wrap <= day.call) {
                self.say(
                    &field("latest_wrap"),
                    format!("the day is called at {} and can't have ended before; a time after midnight counts on, such as 26:00", day.call),
                );
            }
            if day.meal.is_some_and(|meal| meal < day.call) {
                self.say(
                    &field("meal"),
                    format!("the meal lies before the call ({}); a time after midnight counts on, such as 25:00", day.call),
                );
            }
            for (nth, pair) in day.air.windows(2).enumerate() {
                if pair[1].from <= pair[0].from {
                    self.say(
                        &format_args!("{}[{}].from", field("air"), nth + 1),
                        "the hours of the air follow each other in time",
                    );
                }
            }
            let mut free: ClockTime = day.call;
            for (nth, slot) in day.order.iter().enumerate() {
                let shoot = slot.shoot.unwrap_or(slot.start);
                if slot.start < free
                    || shoot < slot.start
                    || slot.end < shoot
                    || slot.end <= slot.start
                {
                    self.say(
                        &format_args!("{}[{nth}]", field("order")),
                        format!("`{}` runs from {} to {}; setups of a day follow each other from the call ({}) on, each rigged, then shot, then done", slot.setup, slot.start, slot.end, day.call),
                    );
                }
                free = free.max(slot.end);
            }
        }
    }
}
