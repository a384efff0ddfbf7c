//! The thresholds, each with its unit, its range and where it comes from.
//!
//! `common practice` is a fact of the trade without a source. *Reprinted* means read in a text that
//! names the publisher, not in the publisher's own.

use crate::Error;
use serde::{Deserialize, Serialize};

/// From where on a caution is given. Everything can be changed; a plan file or a form may hold any
/// part of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Practice {
    /// Mains voltage this near to water, metres.
    pub electric_water_m: f64,
    /// Work this near to an edge or to water, metres.
    pub edge_m: f64,
    /// Work this near to traffic, metres.
    pub traffic_m: f64,
    /// Water colder than this, degrees Celsius.
    pub cold_water_c: f64,
    /// Lithium batteries up to this are carried by passengers without approval, watt-hours.
    pub air_free_wh: f64,
    /// Up to this with the airline's approval, above it not at all, watt-hours.
    pub air_most_wh: f64,
    /// Spares between these two that one person may carry.
    pub air_spares: u32,
    /// Wind from which stands are weighted, metres a second.
    pub wind_weigh_m_s: f64,
    /// Wind from which they are lowered.
    pub wind_lower_m_s: f64,
    /// Wind from which they are taken down.
    pub wind_strike_m_s: f64,
    /// Air, as felt in the wind, at or below which cold is minded, degrees Celsius.
    pub cold_c: f64,
    /// Wind chill from which skin freezes within half an hour.
    pub frostbite_c: f64,
    /// Air from which heat is minded, degrees Celsius.
    pub heat_c: f64,
    /// What holds a camera on a vehicle bears forward, multiples of its weight.
    pub forward_g: f64,
    /// The same rearward.
    pub rearward_g: f64,
    /// The same sideways.
    pub sideways_g: f64,
    /// How hard it is held down, share of its weight.
    pub down_share: f64,
    /// A day longer than this from call to the last slot's end, minutes.
    pub day_min: u32,
    /// Rest between two days shorter than this, minutes.
    pub rest_min: u32,
    /// Work without a break longer than this, minutes.
    pub stretch_min: u32,
    /// A gap this long is a break, minutes, without the way between two places.
    pub break_min: u32,
    /// Awake longer than this at the wrap or at home, minutes.
    pub awake_min: u32,
    /// A day that ends later than this, minutes after midnight of its date.
    pub late_min: u32,
    /// The dark begins, minutes after midnight, when nobody asked the sun.
    pub night_from_min: u32,
    /// The dark ends.
    pub night_to_min: u32,
}

impl Default for Practice {
    fn default() -> Self {
        Self::from(&model::Practice::default())
    }
}

impl From<&model::Practice> for Practice {
    fn from(practice: &model::Practice) -> Self {
        Self {
            electric_water_m: practice.electric_water_m,
            edge_m: practice.edge_m,
            traffic_m: practice.traffic_m,
            cold_water_c: practice.cold_water_c,
            air_free_wh: model::kit::AIR_FREE_WH,
            air_most_wh: model::kit::AIR_MOST_WH,
            air_spares: model::kit::AIR_SPARES,
            wind_weigh_m_s: practice.wind_weigh_m_s,
            wind_lower_m_s: practice.wind_lower_m_s,
            wind_strike_m_s: practice.wind_strike_m_s,
            cold_c: practice.cold_c,
            frostbite_c: practice.frostbite_c,
            heat_c: practice.heat_c,
            forward_g: practice.mount_forward_g,
            rearward_g: practice.mount_rearward_g,
            sideways_g: practice.mount_sideways_g,
            down_share: practice.mount_down_share,
            day_min: practice.day_min,
            rest_min: practice.rest_min,
            stretch_min: practice.work_min,
            break_min: practice.break_min,
            awake_min: practice.awake_min,
            late_min: practice.late_min,
            night_from_min: practice.night_from_min,
            night_to_min: practice.night_to_min,
        }
    }
}

/// One threshold as a row of a table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Threshold {
    /// The field's name.
    pub name: &'static str,
    /// As it is set.
    pub value: f64,
    /// The least it can be.
    pub least: f64,
    /// The most it can be.
    pub most: f64,
    /// In what.
    pub unit: &'static str,
    /// Where the default comes from.
    pub source: &'static str,
}

pub(crate) const POOL: &str =
    "IEC 60364-7-702: zones 1 and 2 around a basin end 2.0 m + 1.5 m from its rim (reprinted)";
pub(crate) const HSE_EDGE: &str =
    "UK HSE guidance on edge protection: nearer than 2 m to an open edge (reprinted)";
pub(crate) const RNLI: &str = "RNLI: below 15 °C is cold water (reprinted)";
pub(crate) const AIR: &str = "US TSA (100 Wh) and FAA PackSafe (160 Wh, two spares; reprinted)";
pub(crate) const TOWERS: &str =
    "PASMA on access towers: work ceases at a mean of 17 mph (7.6 m/s); for stands common practice";
/// What the scale of winds says about the two other thresholds; that anybody should act on them
/// is practice.
pub(crate) const FORCE_4: &str = "common practice: Beaufort 4 begins at 5.5 m/s";
pub(crate) const FORCE_6: &str = "common practice: Beaufort 6 begins at 10.8 m/s";
pub(crate) const CHILL: &str =
    "US NWS / Environment Canada 2001: frostbite within 30 minutes from about −28 °C (reprinted)";
pub(crate) const HEAT: &str = "US NWS heat index: caution from 80 °F (26.7 °C)";
pub(crate) const CFR: &str = "49 CFR 393.102, breaking strength and downward force";
pub(crate) const DIRECTIVE_3: &str = "EU Directive 2003/88/EC, article 3: 11 hours (reprinted)";
pub(crate) const DIRECTIVE_4: &str =
    "EU Directive 2003/88/EC, article 4: a break when work exceeds 6 hours (reprinted)";
/// From memory: Dawson and Reid, Nature 388, 1997: after 17 hours awake as with 0.05 % of alcohol in the blood.
pub(crate) const AWAKE: &str = "common practice: 16 hours; Dawson and Reid 1997 (from memory): after 17 hours awake as with 0.05 % blood alcohol";
pub(crate) const COMMON: &str = "common practice";

impl Practice {
    /// Every threshold with its range and source, in the order of the fields.
    pub fn thresholds(&self) -> Vec<Threshold> {
        let row = |name, value, [least, most]: [f64; 2], unit, source| Threshold {
            name,
            value,
            least,
            most,
            unit,
            source,
        };
        const DISTANCE: [f64; 2] = [0.0, 1000.0];
        const CELSIUS: [f64; 2] = [-90.0, 60.0];
        const WIND: [f64; 2] = [0.0, 100.0];
        const TIMES: [f64; 2] = [0.0, 100.0];
        const WH: [f64; 2] = [0.0, 100_000.0];
        const MINUTES: [f64; 2] = [0.0, 2880.0];
        let min = f64::from;
        vec![
            row(
                "electric_water_m",
                self.electric_water_m,
                DISTANCE,
                "m",
                POOL,
            ),
            row("edge_m", self.edge_m, DISTANCE, "m", HSE_EDGE),
            row("traffic_m", self.traffic_m, DISTANCE, "m", COMMON),
            row("cold_water_c", self.cold_water_c, CELSIUS, "°C", RNLI),
            row("air_free_wh", self.air_free_wh, WH, "Wh", AIR),
            row("air_most_wh", self.air_most_wh, WH, "Wh", AIR),
            row(
                "air_spares",
                min(self.air_spares),
                [0.0, 1000.0],
                "batteries",
                AIR,
            ),
            row("wind_weigh_m_s", self.wind_weigh_m_s, WIND, "m/s", FORCE_4),
            row("wind_lower_m_s", self.wind_lower_m_s, WIND, "m/s", TOWERS),
            row(
                "wind_strike_m_s",
                self.wind_strike_m_s,
                WIND,
                "m/s",
                FORCE_6,
            ),
            row("cold_c", self.cold_c, CELSIUS, "°C", COMMON),
            row("frostbite_c", self.frostbite_c, CELSIUS, "°C", CHILL),
            row("heat_c", self.heat_c, CELSIUS, "°C", HEAT),
            row("forward_g", self.forward_g, TIMES, "g", CFR),
            row("rearward_g", self.rearward_g, TIMES, "g", CFR),
            row("sideways_g", self.sideways_g, TIMES, "g", CFR),
            row("down_share", self.down_share, TIMES, "of the weight", CFR),
            row("day_min", min(self.day_min), MINUTES, "minutes", COMMON),
            row(
                "rest_min",
                min(self.rest_min),
                MINUTES,
                "minutes",
                DIRECTIVE_3,
            ),
            row(
                "stretch_min",
                min(self.stretch_min),
                MINUTES,
                "minutes",
                DIRECTIVE_4,
            ),
            row("break_min", min(self.break_min), MINUTES, "minutes", COMMON),
            row("awake_min", min(self.awake_min), MINUTES, "minutes", AWAKE),
            row("late_min", min(self.late_min), MINUTES, "minutes", COMMON),
            row(
                "night_from_min",
                min(self.night_from_min),
                [0.0, 1440.0],
                "minutes",
                COMMON,
            ),
            row(
                "night_to_min",
                min(self.night_to_min),
                [0.0, 1440.0],
                "minutes",
                COMMON,
            ),
        ]
    }

    pub(crate) fn check(&self) -> Result<(), Error> {
        for row in self.thresholds() {
            if !(row.least..=row.most).contains(&row.value) {
                return Err(Error::Threshold {
                    name: row.name,
                    value: row.value,
                    least: row.least,
                    most: row.most,
                    unit: row.unit,
                });
            }
        }
        for (lower, upper, good) in [
            (
                "air_free_wh",
                "air_most_wh",
                self.air_free_wh <= self.air_most_wh,
            ),
            (
                "wind_weigh_m_s",
                "wind_lower_m_s",
                self.wind_weigh_m_s <= self.wind_lower_m_s,
            ),
            (
                "wind_lower_m_s",
                "wind_strike_m_s",
                self.wind_lower_m_s <= self.wind_strike_m_s,
            ),
            (
                "night_to_min",
                "night_from_min",
                self.night_to_min <= self.night_from_min,
            ),
        ] {
            if !good {
                return Err(Error::Order { lower, upper });
            }
        }
        Ok(())
    }
}
