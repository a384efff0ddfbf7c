//! What must hold of places.

use super::Check;
use crate::place::{Photo, Place};
use crate::project::Project;

impl Check {
    pub(super) fn places(&mut self, project: &Project) {
        self.count("places", project.places.len());
        self.unique(
            "places",
            project.places.iter().map(|place| place.id.as_str()),
        );
        for (index, place) in project.places.iter().enumerate() {
            self.place(&format!("places[{index}]"), place, project);
        }
    }

    fn place(&mut self, at: &str, place: &Place, project: &Project) {
        let field = |name: &str| format!("{at}.{name}");
        for (name, text) in [
            ("name", &place.name),
            ("remark", &place.remark),
            ("address", &place.address),
            ("noise", &place.noise),
            ("hospital", &place.hospital),
        ] {
            self.text(&field(name), text);
        }
        self.position(&field("position_deg"), place.position_deg);
        for (nth, [azimuth, elevation]) in place.horizon_deg.iter().enumerate() {
            if !((0.0..=360.0).contains(azimuth) && (-90.0..=90.0).contains(elevation)) {
                self.say(
                    format!("{}[{nth}]", field("horizon_deg")),
                    format!("{azimuth}, {elevation} is no point of a horizon; write azimuth (0 to 360 from north through east) and elevation (-90 to 90)"),
                );
            }
        }
        if let Some(bearing) = place.bearing_deg
            && !(0.0..=360.0).contains(&bearing)
        {
            self.say(
                field("bearing_deg"),
                format!("a bearing of {bearing} is out of range; 0 to 360 degrees from north through east"),
            );
        }
        if let Some(hz) = place.mains_hz
            && hz != 50
            && hz != 60
        {
            self.say(
                field("mains_hz"),
                format!("mains of {hz} Hz are not known; write 50 or 60"),
            );
        }
        if let Some(mains) = &place.mains
            && !((5.0..=1000.0).contains(&mains.volts) && (0.1..=1000.0).contains(&mains.amperes))
        {
            self.say(
                field("mains"),
                format!(
                    "mains of {} V and {} A are out of range; 5 to 1000 V and 0.1 to 1000 A",
                    mains.volts, mains.amperes
                ),
            );
        }
        for (nth, [open, close]) in place.access.iter().enumerate() {
            if close <= open {
                self.say(
                    format!("{}[{nth}]", field("access")),
                    format!("access from {open} to {close} runs backwards; a time after midnight counts on, such as 26:00"),
                );
            }
        }
        for (nth, travel) in place.travel.iter().enumerate() {
            let field = format!("{}[{nth}]", field("travel"));
            if travel.to == place.id || project.place(&travel.to).is_none() {
                self.say(
                    &field,
                    format!(
                        "the way from `{}` leads to `{}`, which is not another of the places",
                        place.id, travel.to
                    ),
                );
            }
            if travel.minutes > 24 * 60 {
                self.say(
                    &field,
                    format!(
                        "a way of {} minutes is out of range; 0 to 1440",
                        travel.minutes
                    ),
                );
            }
        }
        for (nth, hazard) in place.hazards.iter().enumerate() {
            let field = format!("{}[{nth}]", field("hazards"));
            self.text(&field, &hazard.remark);
            let out = |value: Option<f64>, least: f64, most: f64| {
                value.is_some_and(|value| !(least..=most).contains(&value))
            };
            if out(hazard.distance_m, 0.0, 10_000.0)
                || out(hazard.water_c, -5.0, 60.0)
                || out(hazard.wind_m_s, 0.0, 100.0)
            {
                self.say(&field, "a distance (0 to 10000 m), a water temperature (-5 to 60 degrees) or a wind (0 to 100 m/s) is out of range");
            }
        }
        for (nth, reading) in place.readings.iter().enumerate() {
            if !(0.0..=200_000.0).contains(&reading.lux)
                || reading
                    .kelvin
                    .is_some_and(|kelvin| !(1000.0..=40_000.0).contains(&kelvin))
            {
                self.say(
                    format!("{}[{nth}]", field("readings")),
                    format!("a reading of {} lux, or its colour, is out of range; 0 to 200000 lux, 1000 to 40000 K", reading.lux),
                );
            }
        }
        self.count(&field("photos"), place.photos.len());
        for (nth, photo) in place.photos.iter().enumerate() {
            let field = format!("{}[{nth}]", field("photos"));
            self.file(&format!("{field}.file"), &photo.file);
            self.position(&format!("{field}.position_deg"), photo.position_deg);
            self.camera(&field, photo);
        }
        if let Some(permission) = &place.permission {
            self.text(&field("permission.who"), &permission.who);
            if permission.cost_minor.is_some_and(|cost| cost < 0) {
                self.say(
                    field("permission.cost_minor"),
                    "a cost is 0 or more; write it in cents",
                );
            }
        }
    }

    /// What a camera can have written: a number that no exposure has would make the light infinite.
    fn camera(&mut self, at: &str, photo: &Photo) {
        let all: [(&str, Option<f64>, f64, f64, &str); 8] = [
            ("altitude_m", photo.altitude_m, -12_000.0, 100_000.0, "m"),
            ("bearing_deg", photo.bearing_deg, 0.0, 360.0, "degrees"),
            ("exposure_s", photo.exposure_s, 1e-7, 1e6, "s"),
            ("f_number", photo.f_number, 0.1, 1000.0, ""),
            ("iso", photo.iso, 0.1, 1e8, ""),
            ("bias_stops", photo.bias_stops, -20.0, 20.0, "stops"),
            ("focal_mm", photo.focal_mm, 0.1, 100_000.0, "mm"),
            ("focal_35_mm", photo.focal_35_mm, 0.1, 100_000.0, "mm"),
        ];
        for (name, value, least, most, unit) in all {
            if let Some(value) = value
                && !(least..=most).contains(&value)
            {
                let range = format!("{least} to {most} {unit}");
                self.say(
                    format!("{at}.{name}"),
                    format!(
                        "a photograph's {name} of {value} is out of range; {}, or leave it out",
                        range.trim_end()
                    ),
                );
            }
        }
        if let Some(minutes) = photo.utc_offset_minutes
            && !(-14 * 60..=14 * 60).contains(&minutes)
        {
            self.say(
                format!("{at}.utc_offset_minutes"),
                format!("a clock {minutes} minutes ahead of UTC is in no zone; -840 to 840"),
            );
        }
    }

    fn position(&mut self, field: &str, position: Option<[f64; 2]>) {
        if let Some([latitude, longitude]) = position
            && !((-90.0..=90.0).contains(&latitude) && (-180.0..=180.0).contains(&longitude))
        {
            self.say(field, format!("{latitude}, {longitude} is nowhere; write latitude (-90 to 90) and longitude (-180 to 180)"));
        }
    }
}
