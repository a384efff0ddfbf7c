//! What must hold of the kit, and of what a setup does with it.

use super::Check;
use crate::kit::KitItem;
use crate::project::Project;
use crate::setup::Setup;

/// Inclusive limits of a figure, with its unit and what it is called.
struct Limits(f64, f64, &'static str);

const WATTS: Limits = Limits(0.0, 100_000.0, "W");
const FOCAL_MM: Limits = Limits(1.0, 3000.0, "mm");
const STOP: Limits = Limits(0.5, 128.0, "");
const METRES: Limits = Limits(0.01, 10_000.0, "m");
const KELVIN: Limits = Limits(1000.0, 40_000.0, "K");
const SHARE: Limits = Limits(0.01, 1.0, "as a share (1 is all)");
const STOPS: Limits = Limits(-20.0, 20.0, "stops");
const LOSS: Limits = Limits(0.0, 30.0, "stops");
const MIRED: Limits = Limits(-500.0, 500.0, "mired");
const LUX: Limits = Limits(0.0, 200_000.0, "lux");

impl Check {
    /// Complains when `value` is no number within `limits`.
    fn within(&mut self, field: &str, what: &str, value: f64, limits: &Limits) {
        let Limits(least, most, unit) = limits;
        if !(*least..=*most).contains(&value) {
            let unit = if unit.is_empty() {
                String::new()
            } else {
                format!(" {unit}")
            };
            self.say(
                field,
                format!("{what} of {value} is out of range; {least} to {most}{unit}"),
            );
        }
    }

    fn maybe(&mut self, field: &str, what: &str, value: Option<f64>, limits: &Limits) {
        if let Some(value) = value {
            self.within(field, what, value, limits);
        }
    }

    pub(super) fn kit(&mut self, project: &Project) {
        self.count("kit", project.kit.len());
        self.unique("kit", project.kit.iter().map(|item| item.id.as_str()));
        for (index, item) in project.kit.iter().enumerate() {
            self.item(&format!("kit[{index}]"), item, project);
        }
    }

    fn item(&mut self, at: &str, item: &KitItem, project: &Project) {
        let field = |name: &str| format!("{at}.{name}");
        for (name, text) in [
            ("name", &item.name),
            ("from", &item.from),
            ("remark", &item.remark),
        ] {
            self.text(&field(name), text);
        }
        if !(1..=10_000).contains(&item.count) {
            self.say(
                field("count"),
                format!(
                    "{} of `{}` can't be carried; 1 to 10000",
                    item.count, item.id
                ),
            );
        }
        if let Some(cost) = item.cost_minor
            && !(0..=1_000_000_000_000).contains(&cost)
        {
            self.say(
                field("cost_minor"),
                format!("a cost of {cost} is out of range; write it in cents, 0 or more"),
            );
        }
        if let Some(date) = &item.back_by
            && !super::is_date(date)
        {
            self.say(
                field("back_by"),
                format!("`{date}` is not a date; write year-month-day, such as 2026-10-15"),
            );
        }
        self.maybe(
            &field("weight_kg"),
            "a weight",
            item.weight_kg,
            &Limits(0.0, 2000.0, "kg"),
        );
        self.maybe(&field("draws_w"), "a draw", item.draws_w, &WATTS);
        for (nth, state) in item.states.iter().enumerate() {
            self.state(&format!("{}[{nth}]", field("states")), *state, project);
        }
        let tables = [
            ("camera", item.camera.is_some()),
            ("lens", item.lens.is_some()),
            ("filter", item.filter.is_some()),
            ("light", item.light.is_some()),
            ("battery", item.battery.is_some()),
            ("inverter", item.inverter.is_some()),
            ("charger", item.charger.is_some()),
            ("card", item.card.is_some()),
        ];
        let there: Vec<&str> = tables.iter().filter(|t| t.1).map(|t| t.0).collect();
        if there.len() > 1 {
            self.say(
                at,
                format!("`{}` is said to be {}; make an item of each, as one holds the figures of one thing", item.id, there.join(" and ")),
            );
        }
        self.figures(at, item);
    }

    fn figures(&mut self, at: &str, item: &KitItem) {
        if let Some(camera) = &item.camera {
            for side in camera.sensor_mm {
                self.within(
                    &format!("{at}.camera.sensor_mm"),
                    "a sensor side",
                    side,
                    &Limits(1.0, 200.0, "mm"),
                );
            }
            for side in camera.frame {
                if !(16..=32_768).contains(&side) {
                    self.say(
                        format!("{at}.camera.frame"),
                        format!("a frame side of {side} pixels is out of range; 16 to 32768"),
                    );
                }
            }
            for iso in camera.base_iso.iter().chain(&camera.most_iso) {
                self.iso(&format!("{at}.camera"), *iso);
            }
            self.maybe(
                &format!("{at}.camera.draws_w"),
                "a draw",
                camera.draws_w,
                &WATTS,
            );
            self.maybe(
                &format!("{at}.camera.circle_mm"),
                "a circle of confusion",
                camera.circle_mm,
                &Limits(0.000_1, 1.0, "mm"),
            );
            for (nth, recording) in camera.recordings.iter().enumerate() {
                self.within(
                    &format!("{at}.camera.recordings[{nth}].mbit_s"),
                    "a data rate",
                    recording.mbit_s,
                    &Limits(0.1, 100_000.0, "megabits a second"),
                );
            }
        }
        if let Some(lens) = &item.lens {
            let field = format!("{at}.lens.focal_mm");
            for focal in lens.focal_mm {
                self.within(&field, "a focal length", focal, &FOCAL_MM);
            }
            if lens.focal_mm[0] > lens.focal_mm[1] {
                self.say(
                    &field,
                    "the shortest focal length stands first, the longest second",
                );
            }
            self.within(&format!("{at}.lens.t_stop"), "a T-stop", lens.t_stop, &STOP);
            self.maybe(
                &format!("{at}.lens.narrowest_t"),
                "a T-stop",
                lens.narrowest_t,
                &STOP,
            );
            self.maybe(
                &format!("{at}.lens.f_number"),
                "an f-number",
                lens.f_number,
                &STOP,
            );
            self.maybe(
                &format!("{at}.lens.close_focus_m"),
                "a nearest focus",
                lens.close_focus_m,
                &METRES,
            );
        }
        if let Some(filter) = &item.filter {
            self.within(&format!("{at}.filter.stops"), "a loss", filter.stops, &LOSS);
            self.maybe(
                &format!("{at}.filter.mired"),
                "a shift",
                filter.mired,
                &MIRED,
            );
        }
        if let Some(light) = &item.light {
            self.within(
                &format!("{at}.light.candela"),
                "a light",
                light.candela,
                &Limits(0.1, 100_000_000.0, "candela"),
            );
            self.within(
                &format!("{at}.light.full_w"),
                "a draw",
                light.full_w,
                &Limits(0.01, 100_000.0, "W"),
            );
            self.maybe(
                &format!("{at}.light.least_w"),
                "a draw",
                light.least_w,
                &Limits(0.0, light.full_w.max(0.0), "W"),
            );
            self.maybe(
                &format!("{at}.light.least_level"),
                "a level",
                light.least_level,
                &Limits(0.0, 1.0, "as a share (1 is all)"),
            );
            self.maybe(
                &format!("{at}.light.kelvin"),
                "a colour temperature",
                light.kelvin,
                &KELVIN,
            );
            self.maybe(
                &format!("{at}.light.duv"),
                "a distance from the locus",
                light.duv,
                &Limits(-0.1, 0.1, ""),
            );
            self.maybe(
                &format!("{at}.light.pulses_hz"),
                "a pulse rate",
                light.pulses_hz,
                &Limits(1.0, 10_000_000.0, "Hz"),
            );
            self.maybe(
                &format!("{at}.light.size_m"),
                "a size",
                light.size_m,
                &Limits(0.001, 100.0, "m"),
            );
        }
        self.feeding(at, item);
    }

    fn feeding(&mut self, at: &str, item: &KitItem) {
        if let Some(battery) = &item.battery {
            self.within(
                &format!("{at}.battery.wh"),
                "a battery",
                battery.wh,
                &Limits(0.1, 100_000.0, "watt-hours"),
            );
            self.maybe(
                &format!("{at}.battery.usable"),
                "a usable part",
                battery.usable,
                &SHARE,
            );
            self.maybe(
                &format!("{at}.battery.charged"),
                "a charge",
                battery.charged,
                &Limits(0.0, 1.0, "as a share (1 is full)"),
            );
            for (name, value) in [("most_w", battery.most_w), ("charge_w", battery.charge_w)] {
                self.maybe(
                    &format!("{at}.battery.{name}"),
                    "a power",
                    value,
                    &Limits(0.1, 100_000.0, "W"),
                );
            }
        }
        if let Some(inverter) = &item.inverter {
            self.within(
                &format!("{at}.inverter.efficiency"),
                "an efficiency",
                inverter.efficiency,
                &SHARE,
            );
            self.maybe(
                &format!("{at}.inverter.idle_w"),
                "an idle draw",
                inverter.idle_w,
                &WATTS,
            );
            self.within(
                &format!("{at}.inverter.most_w"),
                "an output",
                inverter.most_w,
                &Limits(0.1, 100_000.0, "W"),
            );
        }
        if let Some(charger) = &item.charger {
            self.within(
                &format!("{at}.charger.into_w"),
                "a charging power",
                charger.into_w,
                &Limits(0.1, 100_000.0, "W"),
            );
            self.maybe(
                &format!("{at}.charger.efficiency"),
                "an efficiency",
                charger.efficiency,
                &SHARE,
            );
            if !(1..=100).contains(&charger.bays) {
                self.say(
                    format!("{at}.charger.bays"),
                    format!("{} bays are out of range; 1 to 100", charger.bays),
                );
            }
        }
        if let Some(card) = &item.card {
            self.within(
                &format!("{at}.card.gigabytes"),
                "a size",
                card.gigabytes,
                &Limits(0.1, 1_000_000.0, "GB"),
            );
            for (name, value) in [
                ("reads_mb_s", card.reads_mb_s),
                ("writes_mb_s", card.writes_mb_s),
            ] {
                self.maybe(
                    &format!("{at}.card.{name}"),
                    "a speed",
                    value,
                    &Limits(0.1, 100_000.0, "MB/s"),
                );
            }
        }
    }

    fn iso(&mut self, field: &str, iso: u32) {
        if !(1..=10_000_000).contains(&iso) {
            self.say(
                field,
                format!("an ISO of {iso} is out of range; 1 to 10000000"),
            );
        }
    }

    /// The parts of a setup that speak of light and kit.
    pub(super) fn night(&mut self, at: &str, setup: &Setup, project: &Project) {
        let field = |name: &str| format!("{at}.{name}");
        let mut wanted: Vec<(String, &crate::KitId)> = Vec::new();
        if let Some(optics) = &setup.optics {
            let field = |name: &str| format!("{at}.optics.{name}");
            wanted.push((field("camera"), &optics.camera));
            wanted.extend(optics.lens.iter().map(|lens| (field("lens"), lens)));
            wanted.extend(optics.fed_from.iter().map(|id| (field("fed_from"), id)));
            let listed = setup.kit.iter().find(|used| used.item == optics.camera);
            if let (Some(one), Some(other)) = (
                &optics.fed_from,
                listed.and_then(|used| used.fed_from.as_ref()),
            ) && one != other
            {
                self.say(
                    field("fed_from"),
                    format!("the camera of setup `{}` is fed from `{one}` here and from `{other}` in its kit; say it once", setup.id),
                );
            }
            self.maybe(
                &field("focal_mm"),
                "a focal length",
                optics.focal_mm,
                &FOCAL_MM,
            );
            self.maybe(&field("t_stop"), "a T-stop", optics.t_stop, &STOP);
            if let Some(iso) = optics.iso {
                self.iso(&field("iso"), iso);
            }
            self.maybe(
                &field("shutter_deg"),
                "a shutter angle",
                optics.shutter_deg,
                &Limits(0.1, 360.0, "degrees"),
            );
            self.maybe(&field("subject_m"), "a distance", optics.subject_m, &METRES);
            self.maybe(&field("room_m"), "room", optics.room_m, &METRES);
        }
        for (nth, id) in setup.filters.iter().enumerate() {
            wanted.push((format!("{at}.filters[{nth}]"), id));
        }
        for (nth, light) in setup.lights.iter().enumerate() {
            let field = |name: &str| format!("{at}.lights[{nth}].{name}");
            wanted.push((field("light"), &light.light));
            wanted.extend(light.fed_from.iter().map(|id| (field("fed_from"), id)));
            self.within(
                &field("distance_m"),
                "a distance",
                light.distance_m,
                &METRES,
            );
            self.maybe(
                &field("level"),
                "a level",
                light.level,
                &Limits(0.0, 1.0, "as a share (1 is all)"),
            );
            self.maybe(&field("loss_stops"), "a loss", light.loss_stops, &LOSS);
            self.maybe(&field("gel_mired"), "a gel", light.gel_mired, &MIRED);
        }
        for (nth, used) in setup.kit.iter().enumerate() {
            let field = |name: &str| format!("{at}.kit[{nth}].{name}");
            wanted.push((field("item"), &used.item));
            wanted.extend(used.fed_from.iter().map(|id| (field("fed_from"), id)));
            if !(1..=10_000).contains(&used.count) {
                self.say(
                    field("count"),
                    format!(
                        "{} of `{}` are out of range; 1 to 10000",
                        used.count, used.item
                    ),
                );
            }
        }
        for (field, id) in wanted {
            // `mains` is what a socket in the wall is called.
            let socket = field.ends_with("fed_from") && id.as_str() == "mains";
            if !socket && project.item(id).is_none() {
                self.say(
                    field,
                    format!("setup `{}` uses `{id}`, which is not in the kit", setup.id),
                );
            }
        }
        if let Some(ambient) = &setup.ambient {
            let field = |name: &str| format!("{at}.ambient.{name}");
            self.maybe(&field("face_lux"), "light", ambient.face_lux, &LUX);
            self.maybe(
                &field("background_lux"),
                "light",
                ambient.background_lux,
                &LUX,
            );
            self.maybe(
                &field("kelvin"),
                "a colour temperature",
                ambient.kelvin,
                &KELVIN,
            );
            self.maybe(
                &field("duv"),
                "a distance from the locus",
                ambient.duv,
                &Limits(-0.1, 0.1, ""),
            );
        }
        self.maybe(
            &field("face_stops"),
            "an exposure",
            setup.face_stops,
            &STOPS,
        );
        self.maybe(
            &field("background_stops"),
            "an exposure",
            setup.background_stops,
            &STOPS,
        );
        for (name, minutes) in [
            ("rig_minutes", setup.rig_minutes),
            ("reset_minutes", setup.reset_minutes),
        ] {
            if minutes.is_some_and(|m| m > 24 * 60) {
                self.say(
                    field(name),
                    "more than a day is out of range; 0 to 1440 minutes",
                );
            }
        }
        for (nth, name) in setup.people.iter().enumerate() {
            self.text(&format!("{at}.people[{nth}]"), name);
        }
    }
}
