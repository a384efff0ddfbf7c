//! The order that stands in a plan, as strips of which the times alone are known.

use crate::plan::Strip;
use model::{Day, Project};

/// The slots of `day` in their order.
pub fn kept(project: &Project, day: &Day) -> Vec<Strip> {
    let strip = |slot: &model::Slot| {
        let setup = project.setup(&slot.setup);
        let place = setup.and_then(|setup| project.place(setup.place.as_ref()?));
        Strip {
            setup: slot.setup.clone(),
            name: setup.map_or_else(|| slot.setup.to_string(), |setup| setup.called().to_owned()),
            place: place.map(|place| place.id.to_string()).unwrap_or_default(),
            place_name: place.map(|place| place.name.clone()).unwrap_or_default(),
            address: String::new(),
            travel_minutes: 0,
            there: slot.start,
            start: slot.start,
            shoot: slot.shoot.unwrap_or(slot.start),
            end: slot.end,
            relit: false,
            pinned: slot.pinned,
            must: false,
            state: 0,
            passes: 0,
            waits_minutes: 0,
            light: None,
            access: None,
            asks_for_light: false,
            light_slack_minutes: None,
            access_slack_minutes: None,
            room_minutes: 0,
        }
    };
    day.order.iter().map(strip).collect()
}
