//! How one works: what the document changed, put over what is usual with each craft.
//!
//! One table joins a name of [`model::Practice`] to the field of the craft that goes by it, so that
//! what is usual is read from the craft and stands nowhere else.

use crate::{Error, Job};
use model::practice::{FIGURES, Figure, out_of_order};
use model::{Edit, Practice, Project};
use serde::Serialize;

/// Below this altitude of the sun a street is usually dark without lamps: the end of civil twilight.
const DARK_BELOW_DEG: f64 = -6.0;
/// Batteries and cards usually packed beyond those that are used up (common practice).
const SPARE_PIECES: u32 = 1;

/// Everything that the crafts of the night go by.
#[derive(Clone, Debug)]
pub(crate) struct Customs {
    pub bands: sky::Bands,
    pub dark_below_deg: f64,
    pub exposure: exposure::Practice,
    pub habits: power::Habits,
    pub spare_pieces: u32,
    pub carrying: kit::Options,
    pub cautions: cautions::Practice,
    pub day: schedule::Practice,
}

/// Where a value is held.
enum Held<'a> {
    Real(&'a mut f64),
    Whole(&'a mut u32),
    YesNo(&'a mut bool),
}

/// One value of the practice, as it is gone by.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Custom {
    /// Its name in the document.
    pub name: &'static str,
    /// What is gone by.
    pub value: f64,
    /// What is usual.
    pub usual: f64,
    /// Whether the document changed it.
    pub changed: bool,
    /// In what; empty for a plain number.
    pub unit: &'static str,
    /// The least it can be.
    pub least: f64,
    /// The most it can be.
    pub most: f64,
    /// What it decides.
    pub means: &'static str,
}

impl Customs {
    fn usual() -> Self {
        Self {
            bands: sky::Bands::default(),
            dark_below_deg: DARK_BELOW_DEG,
            exposure: exposure::Practice::default(),
            habits: power::Habits::default(),
            spare_pieces: SPARE_PIECES,
            carrying: kit::Options::default(),
            cautions: cautions::Practice::default(),
            day: schedule::Practice::default(),
        }
    }

    /// What is usual, with what `practice` changed.
    ///
    /// # Errors
    /// When values that should lie in order do not.
    pub fn of(practice: &Practice) -> Result<Self, Error> {
        let mut customs = Self::usual();
        for figure in FIGURES {
            if let Some(value) = practice.get(figure.name)
                && let Some(held) = customs.held(figure.name)
            {
                held.set(value);
            }
        }
        match out_of_order(|name| customs.held(name).map(|held| held.get())) {
            Some((_, says)) => Err(Error::Practice(format!(
                "{says}; change one of them with `barebulb kit DIR --practice NAME=NUMBER`"
            ))),
            None => Ok(customs),
        }
    }

    /// What the day is planned with; what it shares with power is power's.
    pub fn day(&self) -> schedule::Practice {
        let whole = |value: f64| value.round() as u32;
        schedule::Practice {
            rig_minutes: whole(self.habits.rig_minutes),
            reset_minutes: whole(self.habits.reset_minutes),
            travel_minutes: whole(self.habits.travel_minutes),
            stretch_s: whole(self.habits.stretch_s),
            ..self.day.clone()
        }
    }

    fn held(&mut self, name: &str) -> Option<Held<'_>> {
        use Held::{Real, Whole, YesNo};
        let Self {
            bands,
            exposure: light,
            habits,
            carrying,
            cautions: care,
            day,
            ..
        } = self;
        let [wide, full, medium, close, detail] = &mut light.framing_m;
        Some(match name {
            "golden_from_deg" => Real(&mut bands.golden_deg.0),
            "golden_to_deg" => Real(&mut bands.golden_deg.1),
            "blue_from_deg" => Real(&mut bands.blue_deg.0),
            "blue_to_deg" => Real(&mut bands.blue_deg.1),
            "dark_below_deg" => Real(&mut self.dark_below_deg),
            "meter_c" => Real(&mut light.constant_c),
            "face_stops" => Real(&mut light.face_stops),
            "background_stops" => Real(&mut light.background_stops),
            "slack_stops" => Real(&mut light.slack_stops),
            "shutter_deg" => Real(&mut light.shutter_deg),
            "least_shutter_deg" => Real(&mut light.least_shutter_deg),
            "least_iso" => Real(&mut light.least_iso),
            "least_light_m" => Real(&mut light.least_light_m),
            "daylight_lux" => Real(&mut light.daylight_lux),
            "led_pulses_hz" => Real(&mut light.led_pulses_hz),
            "seen_contrast" => Real(&mut light.seen_contrast),
            "mixed_mired" => Real(&mut light.mixed_mired),
            "mixed_duv" => Real(&mut light.mixed_duv),
            "wide_m" => Real(wide),
            "full_m" => Real(full),
            "medium_m" => Real(medium),
            "close_m" => Real(close),
            "detail_m" => Real(detail),
            "battery_reserve" => Real(&mut habits.reserve),
            "battery_charged" => Real(&mut habits.start_full),
            "indoor_c" => Real(&mut habits.indoor_c),
            "charge_above_c" => Real(&mut habits.charge_above_c),
            "swap_minutes" => Real(&mut habits.swap_minutes),
            "rig_minutes" => Real(&mut habits.rig_minutes),
            "reset_minutes" => Real(&mut habits.reset_minutes),
            "travel_minutes" => Real(&mut habits.travel_minutes),
            "usual_stretch_s" => Real(&mut habits.stretch_s),
            "relight_minutes" => Whole(&mut day.relight_minutes),
            "meal_minutes" => Whole(&mut day.meal_minutes),
            "meal_by_minutes" => Whole(&mut day.meal_by_minutes),
            "longest_minutes" => Whole(&mut day.longest_minutes),
            "turnaround_minutes" => Whole(&mut day.rest_minutes),
            "lights_rig_share" => Real(&mut habits.lights_rig_share),
            "lights_between_passes" => YesNo(&mut habits.lights_through_resets),
            "mains_first" => YesNo(&mut habits.mains_first),
            "mains_share" => Real(&mut habits.mains_share),
            "charger_efficiency" => Real(&mut habits.charger_efficiency),
            "most_more_batteries" => Whole(&mut habits.most_more),
            "spare_pieces" => Whole(&mut self.spare_pieces),
            "card_filled" => Real(&mut habits.card_usable),
            "card_reserve" => Real(&mut habits.media_reserve),
            "head_s" => Real(&mut habits.head_s),
            "tail_s" => Real(&mut habits.tail_s),
            "copies" => Whole(&mut habits.copies),
            "trip_kg" => Real(&mut carrying.trip_kg),
            "trips" => Whole(&mut carrying.trips),
            "heavy_kg" => Real(&mut carrying.heavy_kg),
            "garment_spares" => Whole(&mut carrying.spares),
            "electric_water_m" => Real(&mut care.electric_water_m),
            "edge_m" => Real(&mut care.edge_m),
            "traffic_m" => Real(&mut care.traffic_m),
            "cold_water_c" => Real(&mut care.cold_water_c),
            "wind_weigh_m_s" => Real(&mut care.wind_weigh_m_s),
            "wind_lower_m_s" => Real(&mut care.wind_lower_m_s),
            "wind_strike_m_s" => Real(&mut care.wind_strike_m_s),
            "cold_c" => Real(&mut care.cold_c),
            "frostbite_c" => Real(&mut care.frostbite_c),
            "heat_c" => Real(&mut care.heat_c),
            "mount_forward_g" => Real(&mut care.forward_g),
            "mount_rearward_g" => Real(&mut care.rearward_g),
            "mount_sideways_g" => Real(&mut care.sideways_g),
            "mount_down_share" => Real(&mut care.down_share),
            "day_min" => Whole(&mut care.day_min),
            "rest_min" => Whole(&mut care.rest_min),
            "work_min" => Whole(&mut care.stretch_min),
            "break_min" => Whole(&mut care.break_min),
            "awake_min" => Whole(&mut care.awake_min),
            "late_min" => Whole(&mut care.late_min),
            "night_from_min" => Whole(&mut care.night_from_min),
            "night_to_min" => Whole(&mut care.night_to_min),
            _ => return None,
        })
    }
}

impl Held<'_> {
    fn get(&self) -> f64 {
        match self {
            Self::Real(held) => **held,
            Self::Whole(held) => f64::from(**held),
            Self::YesNo(held) => f64::from(u8::from(**held)),
        }
    }

    // The document was validated: a whole number is one.
    fn set(self, value: f64) {
        match self {
            Self::Real(held) => *held = value,
            Self::Whole(held) => *held = value as u32,
            Self::YesNo(held) => *held = value != 0.0,
        }
    }
}

/// Every value that `project` goes by, in the order of the document.
pub fn customs(project: &Project) -> Vec<Custom> {
    let mut usual = Customs::usual();
    let row = |figure: &Figure| {
        let usual = usual.held(figure.name)?.get();
        let own = project.practice.get(figure.name);
        Some(Custom {
            name: figure.name,
            value: own.unwrap_or(usual),
            usual,
            changed: own.is_some(),
            unit: figure.unit,
            least: figure.least,
            most: figure.most,
            means: figure.means,
        })
    };
    FIGURES.iter().filter_map(row).collect()
}

impl Job {
    /// Changes values of the practice by their names, all or none of them; one without a number goes
    /// back to what is usual. Gives the values named, as they now are.
    ///
    /// # Errors
    /// When a name or a number won't do, what should lie in order doesn't, or it can't be saved.
    pub fn set_practice(
        &mut self,
        changes: &[(String, Option<f64>)],
    ) -> Result<Vec<Custom>, Error> {
        let was = self.project().practice.clone();
        let mut practice = was.clone();
        for (name, value) in changes {
            practice = practice.with(name, *value).map_err(Error::Practice)?;
        }
        Customs::of(&practice)?;
        self.edit(&Edit::SetPractice {
            practice,
            was: Some(was),
        })?;
        let mut now = customs(self.project());
        now.retain(|one| changes.iter().any(|(name, _)| name == one.name));
        Ok(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A practice in which `name` alone is `value`, unless it would be out of order.
    fn with(name: &str, value: f64) -> Option<Customs> {
        Customs::of(&Practice::default().with(name, Some(value)).unwrap()).ok()
    }

    #[test]
    fn every_value_reaches_its_craft_and_no_other() {
        let usual = customs(&Project::default());
        assert_eq!(usual.len(), FIGURES.len());
        let mut tried = 0;
        for one in &usual {
            assert!((one.least..=one.most).contains(&one.usual), "{one:?}");
            for value in [one.least, one.most] {
                let Some(mut changed) = with(one.name, value) else {
                    continue;
                };
                tried += 1;
                for other in &usual {
                    let held = changed.held(other.name).unwrap().get();
                    let wanted = if other.name == one.name {
                        value
                    } else {
                        other.usual
                    };
                    assert_eq!(held, wanted, "{} when {} is {value}", other.name, one.name);
                }
            }
        }
        assert!(tried > usual.len());
    }

    #[test]
    fn what_the_document_may_say_each_craft_takes() {
        let project = Project::default();
        for figure in FIGURES {
            for value in [figure.least, figure.most] {
                let Some(customs) = with(figure.name, value) else {
                    continue;
                };
                let mut findings = Vec::new();
                let _ = customs.habits.checked(&mut findings);
                assert!(findings.is_empty(), "{findings:?}");
                cautions::of(&project, &customs.cautions, &cautions::Given::default())
                    .unwrap_or_else(|error| panic!("{error}"));
                kit::pack(&project, &kit::Given::default(), &customs.carrying)
                    .unwrap_or_else(|error| panic!("{error}"));
                let place = sky::Place::new(41.15, -8.61).unwrap();
                let zone = sky::Zone::named("Europe/Lisbon").unwrap();
                let date = sky::date("2026-11-20").unwrap();
                sky::day(&place, &zone, date, &customs.bands)
                    .unwrap_or_else(|error| panic!("{}: {error}", figure.name));
            }
        }
    }

    #[test]
    fn what_is_out_of_order_with_what_is_usual_is_told() {
        let practice = Practice::default()
            .with("wind_weigh_m_s", Some(9.0))
            .unwrap();
        assert_eq!(
            Customs::of(&practice).unwrap_err().to_string(),
            "`wind_weigh_m_s` (9) should lie below `wind_lower_m_s` (7.6); change one of them with `barebulb kit DIR --practice NAME=NUMBER`"
        );
    }

    /// The document lists every value with its unit and what is usual, in this order.
    #[test]
    fn the_page_of_values_is_true() {
        let page = include_str!("../../../docs/practice.md");
        let rows: Vec<Vec<&str>> = page
            .lines()
            .filter(|line| line.starts_with("| `"))
            .map(|line| line.trim_matches('|').split('|').map(str::trim).collect())
            .collect();
        let usual = customs(&Project::default());
        let names: Vec<String> = usual.iter().map(|one| format!("`{}`", one.name)).collect();
        let written: Vec<&str> = rows.iter().map(|row| row[0]).collect();
        assert_eq!(written, names);
        for (row, one) in rows.iter().zip(&usual) {
            assert_eq!(row.len(), 5, "{row:?}");
            let told = row[1].replace("1/3", &(1.0f64 / 3.0).to_string());
            assert_eq!(told.parse(), Ok(one.usual), "{row:?}");
            assert_eq!(row[2], one.unit, "{row:?}");
            assert!(!row[3].is_empty() && !row[4].is_empty(), "{row:?}");
        }
        // Where a craft hands its sources out, the page has the same.
        for known in cautions::Practice::default().thresholds() {
            let name = match known.name {
                "stretch_min" => "work_min".to_owned(),
                name @ ("forward_g" | "rearward_g" | "sideways_g" | "down_share") => {
                    format!("mount_{name}")
                }
                name => name.to_owned(),
            };
            if let Some(row) = rows.iter().find(|row| row[0] == format!("`{name}`")) {
                assert_eq!(row[4], known.source, "{name}");
            } else {
                assert!(name.starts_with("air_"), "{name}");
            }
        }
    }
}
