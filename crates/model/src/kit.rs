//! The kit: what is carried to the shoot, whose it is, and the figures of it that are computed with.
//!
//! An item holds the facts of at most one sort of thing (a light's candela, a battery's watt-hours)
//! in a table of its own, so that a plan file reads like the label on the case. What a setup does
//! with an item stands in the setup.

use crate::ids::KitId;
use crate::noun::noun;
use crate::time::FrameRate;
use serde::{Deserialize, Serialize};

/// What an item is, for the packing list: which bag it goes into and what it is looked for beside.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(rename_all = "kebab-case")]
pub enum Sort {
    /// Camera bodies and what belongs to them.
    Camera,
    /// Lenses.
    Lens,
    /// Filters, before or behind the lens.
    Filter,
    /// Tripods, stabilisers, stands, clamps, weights.
    Support,
    /// Lights and what shapes them.
    Light,
    /// Batteries, inverters, chargers.
    Power,
    /// Adapters and cables.
    Adapter,
    /// Cards and drives.
    Card,
    /// Loudspeaker, recorder, microphones.
    Sound,
    /// What the cautions ask for: first aid, throw line, masks, residual-current device.
    Safety,
    /// Clothes.
    Wardrobe,
    /// Make-up and hair.
    MakeUp,
    /// Things seen or handled in the picture, powder too.
    Prop,
    /// Vehicles, seen or only driven.
    Vehicle,
    /// Anything else.
    #[default]
    Other,
}

/// Whose an item is.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(rename_all = "kebab-case")]
pub enum Holding {
    /// The maker's own.
    #[default]
    Own,
    /// Lent by somebody.
    Borrowed,
    /// Hired for money.
    Rented,
    /// Bought for this video, to be used up or kept.
    Bought,
    /// Wanted and not yet found.
    Missing,
}

noun! {
    /// One thing, or several alike, on the packing list.
    pub struct KitItem {
        /// Its id.
        pub id: KitId,
        /// What it is called.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub name: String,
        /// What it is.
        #[serde(default)]
        pub sort: Sort,
        /// How many there are.
        #[serde(default = "one", skip_serializing_if = "is_one")]
        pub count: u32,
        /// Whose.
        #[serde(default)]
        pub holding: Holding,
        /// From whom it is borrowed, hired or bought.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub from: String,
        /// What all of them cost this video, in minor units (cents).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub cost_minor: Option<i64>,
        /// When it must be back, year-month-day.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub back_by: Option<String>,
        /// What one weighs, kilograms.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub weight_kg: Option<f64>,
        /// Whether it goes along wherever one shoots, used by a setup or not.
        #[serde(default, skip_serializing_if = "is_false")]
        pub always: bool,
        /// The performer states it belongs to (wardrobe, make-up), indices into `states`.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub states: Vec<u32>,
        /// Connectors it is fed through: `usb-c`, `d-tap`, `mains`.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub fed_by: Vec<String>,
        /// Connectors it gives power at.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub feeds: Vec<String>,
        /// What it draws when it is on, watts, when it is no light and no camera.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub draws_w: Option<f64>,
        /// Camera figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub camera: Option<Camera>,
        /// Lens figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub lens: Option<Lens>,
        /// Filter figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub filter: Option<Filter>,
        /// Light figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub light: Option<Light>,
        /// Battery figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub battery: Option<Battery>,
        /// Inverter figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub inverter: Option<Inverter>,
        /// Charger figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub charger: Option<Charger>,
        /// Card figures.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub card: Option<Card>,
        /// A remark.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
    }
}

impl KitItem {
    /// One own thing called `id` of no particular sort.
    pub fn new(id: KitId) -> Self {
        Self {
            id,
            name: String::new(),
            sort: Sort::Other,
            count: 1,
            holding: Holding::Own,
            from: String::new(),
            cost_minor: None,
            back_by: None,
            weight_kg: None,
            always: false,
            states: Vec::new(),
            fed_by: Vec::new(),
            feeds: Vec::new(),
            draws_w: None,
            camera: None,
            lens: None,
            filter: None,
            light: None,
            battery: None,
            inverter: None,
            charger: None,
            card: None,
            remark: String::new(),
            extra: Default::default(),
        }
    }

    /// What a person calls it: its name, or its id.
    pub fn called(&self) -> &str {
        if self.name.is_empty() {
            self.id.as_str()
        } else {
            &self.name
        }
    }
}

/// How a sensor is read out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Readout {
    /// Line after line: bands under flickering light.
    #[default]
    Rolling,
    /// All at once.
    Global,
}

noun! {
    /// What a camera is.
    pub struct Camera {
        /// The part of the sensor that is recorded, width and height in millimetres.
        pub sensor_mm: [f64; 2],
        /// The picture it records, width and height in pixels.
        pub frame: [u32; 2],
        /// How the sensor is read out.
        #[serde(default)]
        pub readout: Readout,
        /// The sensitivities it is cleanest at (ISO 12232 exposure index).
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub base_iso: Vec<u32>,
        /// The greatest sensitivity the maker will use.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub most_iso: Option<u32>,
        /// What it draws while it records, watts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub draws_w: Option<f64>,
        /// What it records, by rate.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub recordings: Vec<Recording>,
        /// Circle of confusion, millimetres, when it is not the sensor's diagonal / 1500.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub circle_mm: Option<f64>,
    }
}

noun! {
    /// A way a camera records.
    pub struct Recording {
        /// What the camera calls it.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub name: String,
        /// Frames a second.
        pub rate: FrameRate,
        /// What it writes, megabits a second, sound included.
        pub mbit_s: f64,
    }
}

noun! {
    /// What a lens is.
    pub struct Lens {
        /// Shortest and longest focal length, millimetres; equal for a fixed one.
        pub focal_mm: [f64; 2],
        /// Widest T-stop: what it lets through.
        pub t_stop: f64,
        /// Narrowest T-stop.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub narrowest_t: Option<f64>,
        /// Widest f-number, when it differs from the T-stop: what depth of field goes by.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub f_number: Option<f64>,
        /// Nearest it focuses, metres from the sensor.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub close_focus_m: Option<f64>,
    }
}

noun! {
    /// What a filter does.
    pub struct Filter {
        /// Light lost, stops.
        pub stops: f64,
        /// Whether it spreads light into the shadows (diffusion), so that contrast falls.
        #[serde(default, skip_serializing_if = "is_false")]
        pub diffusion: bool,
        /// Shift of colour, mired; positive warms.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub mired: Option<f64>,
    }
}

noun! {
    /// What a light gives and draws.
    pub struct Light {
        /// On its axis at full, candela: illuminance times distance squared, beyond about five times its size.
        pub candela: f64,
        /// What it draws at full, watts.
        pub full_w: f64,
        /// What it draws at its lowest, watts: electronics and fan go on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub least_w: Option<f64>,
        /// Lowest level it dims to, share of full.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub least_level: Option<f64>,
        /// Correlated colour temperature, kelvin.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub kelvin: Option<f64>,
        /// Distance from the blackbody locus in CIE 1960 (u, v); positive is green.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub duv: Option<f64>,
        /// Pulses a second when dimmed, where it dims by pulses.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub pulses_hz: Option<f64>,
        /// Whether it follows the mains' pulse, as tungsten on a small filament and cheap LED bulbs do.
        #[serde(default, skip_serializing_if = "is_false")]
        pub follows_mains: bool,
        /// Across its largest side, metres.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub size_m: Option<f64>,
        /// Whether it is a bare hot source: nothing that burns near it.
        #[serde(default, skip_serializing_if = "is_false")]
        pub hot: bool,
    }
}

/// What a battery is made of: how cold and depth of discharge treat it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Chemistry {
    /// Lithium-ion.
    #[default]
    LithiumIon,
    /// Lithium iron phosphate.
    LithiumIronPhosphate,
    /// Nickel metal hydride.
    NickelMetalHydride,
    /// Lead-acid.
    LeadAcid,
}

impl Chemistry {
    /// Whether the rules for lithium batteries hold for it.
    pub const fn is_lithium(self) -> bool {
        matches!(self, Self::LithiumIon | Self::LithiumIronPhosphate)
    }
}

/// Lithium batteries up to this are carried by air passengers without approval, watt-hours (US FAA and
/// TSA; ICAO and IATA the same). Airlines may be stricter.
pub const AIR_FREE_WH: f64 = 100.0;
/// Up to this with the airline's approval, above it not at all, watt-hours (the same source).
pub const AIR_MOST_WH: f64 = 160.0;
/// Spares between these two that one person may carry (the same source).
pub const AIR_SPARES: u32 = 2;

noun! {
    /// What a battery holds. `count` of the item says how many.
    pub struct Battery {
        /// As printed on it, watt-hours (volts × ampere-hours).
        pub wh: f64,
        /// What it is made of.
        #[serde(default)]
        pub chemistry: Chemistry,
        /// Share that can be drawn before it stops or suffers, 0 to 1; by chemistry where it is left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub usable: Option<f64>,
        /// How full each of them is at the call, share of what is printed on it, 0 to 1; full where it is left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub charged: Option<f64>,
        /// Most it gives at once, watts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub most_w: Option<f64>,
        /// Most it takes when charged, watts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub charge_w: Option<f64>,
        /// Whether it is built into something (a camera, a light) and can't be swapped.
        #[serde(default, skip_serializing_if = "is_false")]
        pub built_in: bool,
    }
}

noun! {
    /// What an inverter does between a battery and a mains plug.
    pub struct Inverter {
        /// Share of what goes in that comes out, 0 to 1.
        pub efficiency: f64,
        /// What it draws with nothing plugged in, watts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub idle_w: Option<f64>,
        /// Most it gives, watts.
        pub most_w: f64,
    }
}

noun! {
    /// What a charger gives.
    pub struct Charger {
        /// Into one battery, watts.
        pub into_w: f64,
        /// How many batteries at once.
        #[serde(default = "one", skip_serializing_if = "is_one")]
        pub bays: u32,
        /// Share of what it draws that reaches the battery, 0 to 1.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub efficiency: Option<f64>,
    }
}

noun! {
    /// What a card or drive holds.
    pub struct Card {
        /// Gigabytes of 10⁹ bytes, as printed on it.
        pub gigabytes: f64,
        /// What it reads steadily, megabytes a second.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub reads_mb_s: Option<f64>,
        /// What it writes steadily, megabytes a second.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub writes_mb_s: Option<f64>,
        /// Whether the copies go here (a drive) rather than the camera's recording.
        #[serde(default, skip_serializing_if = "is_false")]
        pub for_copies: bool,
    }
}

fn one() -> u32 {
    1
}
fn is_one(count: &u32) -> bool {
    *count == 1
}
fn is_false(flag: &bool) -> bool {
    !*flag
}
