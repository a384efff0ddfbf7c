//! What must hold of brief, places, people, kit and setups beyond their fields alone.

use super::Check;
use crate::clock::ClockTime;
use crate::kit::KitItem;
use crate::project::Project;
use crate::setup::Setup;
use std::fmt;

impl Check {
    pub(super) fn brief(&mut self, project: &Project) {
        let brief = &project.brief;
        if let Some(currency) = &brief.currency
            && (currency.len() != 3 || !currency.bytes().all(|b| b.is_ascii_uppercase()))
        {
            self.say(
                &"brief.currency",
                format!("`{currency}` is not a currency; write its three letters, such as EUR"),
            );
        }
        for side in brief.frame {
            if side % 2 == 1 {
                self.say(
                    &"brief.frame",
                    format!("a frame side of {side} pixels can't be made; use an even number"),
                );
            }
        }
        if let Some([width, height]) = brief.active
            && (width > height.saturating_mul(10) || height > width.saturating_mul(10))
        {
            self.say(
                &"brief.active",
                format!("{width}:{height} is no shape for a picture; write width and height, such as [4, 3]"),
            );
        }
        if brief.rate.fps() > 240.0 {
            self.say(
                &"brief.rate",
                format!(
                    "{} frames a second is beyond what is handed over; at most 240",
                    brief.rate
                ),
            );
        }
    }

    pub(super) fn places(&mut self, project: &Project) {
        for (index, place) in project.places.iter().enumerate() {
            let field = |name: &str| format!("places[{index}].{name}");
            self.position(&field("position_deg"), place.position_deg);
            for (nth, [azimuth, elevation]) in place.horizon_deg.iter().enumerate() {
                if !((0.0..=360.0).contains(azimuth) && (-90.0..=90.0).contains(elevation)) {
                    self.say(
                        &format_args!("{}[{nth}]", field("horizon_deg")),
                        format!("{azimuth}, {elevation} is no point of a horizon; write azimuth (0 to 360 from north through east) and elevation (-90 to 90)"),
                    );
                }
            }
            if let Some(hz) = place.mains_hz
                && hz != 50
                && hz != 60
            {
                self.say(
                    &field("mains_hz"),
                    format!("mains of {hz} Hz are not known; write 50 or 60"),
                );
            }
            self.hours(&field("access"), &place.access);
            for (nth, way) in place.travel.iter().enumerate() {
                if way.to == place.id {
                    self.say(
                        &format_args!("{}[{nth}].to", field("travel")),
                        format!("the way from `{}` leads back to itself", place.id),
                    );
                }
            }
            for (nth, photo) in place.photos.iter().enumerate() {
                let at = format!("{}[{nth}]", field("photos"));
                self.file(&format!("{at}.file"), &photo.file);
                self.position(&format!("{at}.position_deg"), photo.position_deg);
            }
        }
    }

    fn position(&mut self, field: &dyn fmt::Display, position: Option<[f64; 2]>) {
        if let Some([latitude, longitude]) = position
            && !(-90.0..=90.0).contains(&latitude)
        {
            self.say(field, format!("{latitude}, {longitude} is nowhere; write latitude (-90 to 90) and longitude (-180 to 180)"));
        }
    }

    pub(super) fn people(&mut self, project: &Project) {
        for (index, person) in project.people.iter().enumerate() {
            self.hours(&format!("people[{index}].hours"), &person.hours);
        }
    }

    /// Stretches of the clock, from and to.
    pub(super) fn hours(&mut self, field: &str, hours: &[[ClockTime; 2]]) {
        for (nth, [from, to]) in hours.iter().enumerate() {
            if to <= from {
                self.say(
                    &format_args!("{field}[{nth}]"),
                    format!("{from} to {to} runs backwards; a time after midnight counts on, such as 26:00"),
                );
            }
        }
    }

    pub(super) fn kit(&mut self, project: &Project) {
        for (index, item) in project.kit.iter().enumerate() {
            let there = figures(item);
            if there.len() > 1 {
                self.say(
                    &format_args!("kit[{index}]"),
                    format!("`{}` is said to be {}; make an item of each, as one holds the figures of one thing", item.id, there.join(" and ")),
                );
            }
            if let Some(lens) = &item.lens
                && lens.focal_mm[0] > lens.focal_mm[1]
            {
                self.say(
                    &format_args!("kit[{index}].lens.focal_mm"),
                    "the shortest focal length stands first, the longest second",
                );
            }
        }
    }

    pub(super) fn setups(&mut self, project: &Project) {
        for (index, setup) in project.setups.iter().enumerate() {
            let at = format!("setups[{index}]");
            self.hours(&format!("{at}.hours"), &setup.hours);
            self.fed_once(&at, setup);
            self.waits(&at, setup, project);
            for (nth, [first, last]) in setup.bars.iter().enumerate() {
                if first > last {
                    self.say(
                        &format_args!("{at}.bars[{nth}]"),
                        format!("bars {first} to {last} run backwards; write first and last bar"),
                    );
                }
            }
            for (nth, stretch) in setup.stretches.iter().enumerate() {
                if stretch.start().ticks() < 0 {
                    self.say(
                        &format_args!("{at}.stretches[{nth}]"),
                        "a stretch can't start before the song",
                    );
                }
            }
        }
    }

    fn fed_once(&mut self, at: &str, setup: &Setup) {
        let Some(optics) = &setup.optics else { return };
        let listed = setup.kit.iter().find(|used| used.item == optics.camera);
        if let (Some(one), Some(other)) = (
            &optics.fed_from,
            listed.and_then(|used| used.fed_from.as_ref()),
        ) && one != other
        {
            self.say(
                &format_args!("{at}.optics.fed_from"),
                format!("the camera of setup `{}` is fed from `{one}` here and from `{other}` in its kit; say it once", setup.id),
            );
        }
    }

    fn waits(&mut self, at: &str, setup: &Setup, project: &Project) {
        for (nth, id) in setup.after.iter().enumerate() {
            if let Some(other) = project.setup(id)
                && waits_for(project, other, setup)
            {
                self.say(
                    &format_args!("{at}.after[{nth}]"),
                    format!("`{}` and `{id}` wait for each other, so neither can be shot; take one `after` away", setup.id),
                );
            }
        }
    }
}

/// Which tables of figures an item has.
fn figures(item: &KitItem) -> Vec<&'static str> {
    [
        ("camera", item.camera.is_some()),
        ("lens", item.lens.is_some()),
        ("filter", item.filter.is_some()),
        ("light", item.light.is_some()),
        ("battery", item.battery.is_some()),
        ("inverter", item.inverter.is_some()),
        ("charger", item.charger.is_some()),
        ("card", item.card.is_some()),
    ]
    .into_iter()
    .filter_map(|(name, there)| there.then_some(name))
    .collect()
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
