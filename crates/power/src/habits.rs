//! How one works: every number here that is no fact of the kit, with its default, so that it can be changed.
//!
//! A default is common practice unless a source stands beside it. None is a promise of a maker of
//! batteries; what is printed on the thing goes first, and stands in the document.

use model::{Chemistry, Finding, Usual};
use serde::{Deserialize, Serialize};

/// A figure for each chemistry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ByChemistry<T> {
    /// Lithium-ion.
    pub lithium_ion: T,
    /// Lithium iron phosphate.
    pub lithium_iron_phosphate: T,
    /// Nickel metal hydride.
    pub nickel_metal_hydride: T,
    /// Lead-acid.
    pub lead_acid: T,
}

impl<T: Default> Default for ByChemistry<T> {
    fn default() -> Self {
        Self {
            lithium_ion: T::default(),
            lithium_iron_phosphate: T::default(),
            nickel_metal_hydride: T::default(),
            lead_acid: T::default(),
        }
    }
}

impl<T> ByChemistry<T> {
    /// The figure for `chemistry`.
    pub fn of(&self, chemistry: Chemistry) -> &T {
        match chemistry {
            Chemistry::LithiumIon => &self.lithium_ion,
            Chemistry::LithiumIronPhosphate => &self.lithium_iron_phosphate,
            Chemistry::NickelMetalHydride => &self.nickel_metal_hydride,
            Chemistry::LeadAcid => &self.lead_acid,
        }
    }

    fn all_mut(&mut self) -> [(&'static str, &mut T); 4] {
        [
            ("lithium-ion", &mut self.lithium_ion),
            ("lithium-iron-phosphate", &mut self.lithium_iron_phosphate),
            ("nickel-metal-hydride", &mut self.nickel_metal_hydride),
            ("lead-acid", &mut self.lead_acid),
        ]
    }
}

/// Sockets in the vehicle, for charging on the way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Vehicle {
    /// Its connectors, as a charger's `fed_by` names them.
    pub feeds: Vec<String>,
    /// Most it gives, watts.
    pub most_w: f64,
}

/// How one works. All of it can be changed; [`Habits::checked`] says what is put right.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Habits {
    /// Share of a battery's usable energy that is kept back, 0 to 0.95 (0.2, common practice).
    pub reserve: f64,
    /// Share of what is printed on a battery that can be drawn, where the battery doesn't say.
    /// Lithium-ion 0.9, lithium iron phosphate 0.85 (0.8 to 0.9), lead-acid 0.5, nickel metal
    /// hydride 0.9 (all common practice).
    pub usable: ByChemistry<f64>,
    /// Share of the usable energy that cold leaves: degrees Celsius and share, rising, joined by
    /// straight lines, the ends held. At 0 degrees 20 to 30 % are lost (common practice); the lower
    /// points are from memory and on the careful side.
    pub cold: ByChemistry<Vec<[f64; 2]>>,
    /// Temperature indoors, degrees Celsius (20), and out of doors where the day doesn't say.
    pub indoor_c: f64,
    /// Below this no lithium battery is charged, degrees Celsius (0; what nearly every maker prints).
    pub charge_above_c: f64,
    /// How full every battery is at the call, share of what is printed on it (1).
    pub start_full: f64,
    /// Minutes a battery takes to be changed, its consumer off meanwhile (1).
    pub swap_minutes: f64,
    /// What setups and ways take where the plan doesn't say.
    #[serde(flatten)]
    pub usual: Usual,
    /// For which last part of rigging the lights are on, share (0.5: there is light to set light by).
    pub lights_rig_share: f64,
    /// Whether lights stay on between passes (they do).
    pub lights_through_resets: bool,
    /// Whether a consumer whose feeding isn't typed goes on mains where there are any (it does).
    pub mains_first: bool,
    /// Share of a mains circuit's volts × amperes that is loaded for long (0.8, common practice).
    pub mains_share: f64,
    /// Share of what a charger draws that reaches the battery, where it doesn't say (0.85).
    pub charger_efficiency: f64,
    /// The vehicle's sockets, when batteries are charged on the way; without it they are not.
    pub vehicle: Option<Vehicle>,
    /// How many more batteries a fix may ask for (8).
    pub most_more: u32,
    /// Share of a card that is filled (0.95, common practice).
    pub card_usable: f64,
    /// Seconds recorded before a pass: slate, count-in (15).
    pub head_s: f64,
    /// Seconds recorded after a pass (5).
    pub tail_s: f64,
    /// Times the computed need that cards should hold (1.5, common practice).
    pub media_reserve: f64,
    /// Copies made of every card (2; three with the card itself, common practice).
    pub copies: u32,
}

impl Default for Habits {
    fn default() -> Self {
        Self::from(&model::Practice::default())
    }
}

impl From<&model::Practice> for Habits {
    fn from(practice: &model::Practice) -> Self {
        Self {
            reserve: practice.battery_reserve,
            usable: ByChemistry {
                lithium_ion: 0.9,
                lithium_iron_phosphate: 0.85,
                nickel_metal_hydride: 0.9,
                lead_acid: 0.5,
            },
            cold: ByChemistry {
                lithium_ion: vec![[-20.0, 0.5], [-10.0, 0.65], [0.0, 0.75], [20.0, 1.0]],
                lithium_iron_phosphate: vec![[-20.0, 0.4], [-10.0, 0.55], [0.0, 0.7], [20.0, 1.0]],
                nickel_metal_hydride: vec![[-20.0, 0.5], [0.0, 0.8], [20.0, 1.0]],
                lead_acid: vec![[-20.0, 0.5], [0.0, 0.8], [20.0, 1.0]],
            },
            indoor_c: practice.indoor_c,
            charge_above_c: practice.charge_above_c,
            start_full: practice.battery_charged,
            swap_minutes: practice.swap_minutes,
            usual: Usual::of(practice),
            lights_rig_share: practice.lights_rig_share,
            lights_through_resets: practice.lights_between_passes,
            mains_first: practice.mains_first,
            mains_share: practice.mains_share,
            charger_efficiency: practice.charger_efficiency,
            vehicle: None,
            most_more: practice.most_more_batteries,
            card_usable: practice.card_filled,
            head_s: practice.head_s,
            tail_s: practice.tail_s,
            media_reserve: practice.card_reserve,
            copies: practice.copies,
        }
    }
}

impl Habits {
    /// The same with every number in its range; what had to be changed goes to `findings`.
    #[must_use]
    pub fn checked(&self, findings: &mut Vec<Finding>) -> Self {
        let mut habits = self.clone();
        let stock = Self::default();
        let mut put = |name: &str, value: &mut f64, least: f64, most: f64, default: f64| {
            let used = if value.is_finite() {
                value.clamp(least, most)
            } else {
                default
            };
            if used != *value {
                findings.push(
                    Finding::warning(
                        "habit-out-of-range",
                        format!("the habit `{name}` is {value}; {used} is used"),
                    )
                    .mended_by(format!("give a number from {least} to {most}")),
                );
                *value = used;
            }
        };
        let h = &mut habits;
        put("reserve", &mut h.reserve, 0.0, 0.95, stock.reserve);
        for (name, share) in h.usable.all_mut() {
            put(&format!("usable of {name}"), share, 0.01, 1.0, 0.5);
        }
        for (name, table) in h.cold.all_mut() {
            for [at_c, share] in table.iter_mut() {
                put(&format!("cold of {name}"), at_c, -100.0, 100.0, 20.0);
                put(&format!("cold of {name}"), share, 0.0, 1.0, 1.0);
            }
            table.sort_by(|a, b| a[0].total_cmp(&b[0]));
        }
        put("indoor_c", &mut h.indoor_c, -60.0, 60.0, stock.indoor_c);
        put("charge_above_c", &mut h.charge_above_c, -60.0, 60.0, 0.0);
        put("start_full", &mut h.start_full, 0.0, 1.0, 1.0);
        put("swap_minutes", &mut h.swap_minutes, 0.0, 60.0, 1.0);
        for (name, minutes, usual) in [
            (
                "rig_minutes",
                &mut h.usual.rig_minutes,
                stock.usual.rig_minutes,
            ),
            (
                "reset_minutes",
                &mut h.usual.reset_minutes,
                stock.usual.reset_minutes,
            ),
            (
                "travel_minutes",
                &mut h.usual.travel_minutes,
                stock.usual.travel_minutes,
            ),
        ] {
            put(name, minutes, 0.0, 1440.0, usual);
        }
        let stretch = stock.usual.stretch_s;
        put("stretch_s", &mut h.usual.stretch_s, 1.0, 86_400.0, stretch);
        put("lights_rig_share", &mut h.lights_rig_share, 0.0, 1.0, 0.5);
        put("mains_share", &mut h.mains_share, 0.0, 1.0, 0.8);
        put(
            "charger_efficiency",
            &mut h.charger_efficiency,
            0.01,
            1.0,
            0.85,
        );
        if let Some(vehicle) = &mut h.vehicle {
            put("vehicle most_w", &mut vehicle.most_w, 0.0, 100_000.0, 0.0);
        }
        put("card_usable", &mut h.card_usable, 0.01, 1.0, 0.95);
        put("head_s", &mut h.head_s, 0.0, 3600.0, 15.0);
        put("tail_s", &mut h.tail_s, 0.0, 3600.0, 5.0);
        put("media_reserve", &mut h.media_reserve, 1.0, 10.0, 1.5);
        let mut most_more = f64::from(h.most_more);
        put("most_more", &mut most_more, 0.0, 50.0, 8.0);
        h.most_more = most_more as u32;
        let mut copies = f64::from(h.copies);
        put("copies", &mut copies, 0.0, 10.0, 2.0);
        h.copies = copies as u32;
        habits
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_are_in_range_and_others_are_put_right_and_said() {
        let mut findings = Vec::new();
        assert_eq!(Habits::default().checked(&mut findings), Habits::default());
        assert!(findings.is_empty(), "{findings:?}");
        let wild = Habits {
            reserve: f64::NAN,
            swap_minutes: -3.0,
            mains_share: f64::INFINITY,
            copies: 4_000_000_000,
            ..Habits::default()
        };
        let put_right = wild.checked(&mut findings);
        assert_eq!(put_right.reserve, 0.2);
        assert_eq!(put_right.swap_minutes, 0.0);
        assert_eq!(put_right.mains_share, 0.8);
        assert_eq!(put_right.copies, 10);
        assert_eq!(findings.len(), 4);
    }

    #[test]
    fn habits_can_be_written_in_part() {
        let habits: Habits = serde_json::from_str(r#"{"reserve": 0.1}"#).unwrap();
        assert_eq!(habits.reserve, 0.1);
        assert_eq!(habits.usable, Habits::default().usable);
    }
}
