//! The kit: what is carried to the shoot, whose it is, and the figures of it that are computed with.
//!
//! An item holds the facts of at most one sort of thing (a light's candela, a battery's watt-hours)
//! in a table of its own, so that a plan file reads like the label on the case. What a setup does
//! with an item stands in the setup.

use crate::date::Date;
use crate::describe::Source;
use crate::ids::KitId;
use crate::noun::made;
use crate::project::STATES;
use crate::time::FrameRate;
use crate::{noun, words};
use serde::Serialize;

/// The kit that is a camera.
pub const CAMERAS: Source = Source {
    having: &["camera"],
    ..Source::all("kit")
};
/// The kit that is a lens.
pub const LENSES: Source = Source {
    having: &["lens"],
    ..Source::all("kit")
};
/// The kit that is a filter.
pub const FILTERS: Source = Source {
    having: &["filter"],
    ..Source::all("kit")
};
/// The kit that is a light.
pub const LIGHTS: Source = Source {
    having: &["light"],
    ..Source::all("kit")
};
/// What power comes from; `mains` is what a socket in the wall is called.
pub const POWER: Source = Source {
    having: &["battery", "inverter"],
    or: &["mains"],
    ..Source::all("kit")
};

words! {
    /// What an item is, for the packing list: which bag it goes into and what it is looked for beside.
    pub enum Sort = Other {
        /// Camera bodies and what belongs to them.
        Camera = "camera", "camera";
        /// Lenses.
        Lens = "lens", "lens";
        /// Filters, before or behind the lens.
        Filter = "filter", "filter";
        /// Tripods, stabilisers, stands, clamps, weights.
        Support = "support", "support";
        /// Lights and what shapes them.
        Light = "light", "light";
        /// Batteries, inverters, chargers.
        Power = "power", "power";
        /// Adapters and cables.
        Adapter = "adapter", "adapter";
        /// Cards and drives.
        Card = "card", "card";
        /// Loudspeaker, recorder, microphones.
        Sound = "sound", "sound";
        /// What the cautions ask for: first aid, throw line, masks, residual-current device.
        Safety = "safety", "safety";
        /// Clothes.
        Wardrobe = "wardrobe", "wardrobe";
        /// Make-up and hair.
        MakeUp = "make-up", "make-up";
        /// Things seen or handled in the picture, powder too.
        Prop = "prop", "prop";
        /// Vehicles, seen or only driven.
        Vehicle = "vehicle", "vehicle";
        /// Anything else.
        Other = "other", "other";
    }
}

words! {
    /// Whose an item is.
    pub enum Holding = Own {
        /// The maker's own.
        Own = "own", "own";
        /// Lent by somebody.
        Borrowed = "borrowed", "borrowed";
        /// Hired for money.
        Rented = "rented", "hired";
        /// Bought for this video, out of its money. What is still to be bought is missing.
        Bought = "bought", "bought for this video";
        /// Wanted and not yet found.
        Missing = "missing", "missing";
    }
}

noun! {
    /// One thing, or several alike, on the packing list.
    pub struct KitItem(list: "kit", called: "thing of the kit") {
        /// Its id.
        pub id: KitId => "Id".never(),
        /// What it is called.
        pub name: String => "Name",
        /// What it is.
        pub sort: Sort = Sort::Other => "Sort",
        /// How many there are.
        pub count: u32 = 1 => "How many".range(1.0, 10_000.0),
        /// Whose.
        pub holding: Holding = Holding::Own => "Whose",
        /// From whom it is borrowed, hired or bought.
        pub from: String => "From whom",
        /// What all of them cost this video, in minor units (cents).
        pub cost_minor: Option<i64> => "What it costs".money(),
        /// When it must be back, year-month-day.
        pub back_by: Option<Date> => "Back by".date(),
        /// What one weighs.
        pub weight_kg: Option<f64> => "Weight of one".unit("kg").range(0.0, 2000.0),
        /// Whether it goes along wherever one shoots, used by a setup or not.
        pub always: bool => "Always comes along",
        /// Light figures.
        pub light: Option<Light> => "As a light".later(),
        /// Battery figures.
        pub battery: Option<Battery> => "As a battery".later(),
        /// Camera figures.
        pub camera: Option<Camera> => "As a camera".later(),
        /// Lens figures.
        pub lens: Option<Lens> => "As a lens".later(),
        /// Filter figures.
        pub filter: Option<Filter> => "As a filter".later(),
        /// Inverter figures.
        pub inverter: Option<Inverter> => "As an inverter".later(),
        /// Charger figures.
        pub charger: Option<Charger> => "As a charger".later(),
        /// Card figures.
        pub card: Option<Card> => "As a card".later(),
        /// Connectors it is fed through: `usb-c`, `d-tap`, `mains`.
        pub fed_by: Vec<String> => "Fed by".hint("Connectors, such as d-tap, mains.").later(),
        /// Connectors it gives power at.
        pub feeds: Vec<String> => "Feeds".hint("Connectors it gives power at.").later(),
        /// What it draws when it is on, when it is no light and no camera.
        pub draws_w: Option<f64> => "Draws".unit("W").range(0.0, 100_000.0).later(),
        /// The performer states it belongs to (wardrobe, make-up), indices into `states`.
        pub states: Vec<u32> => "For these states of the performer".of(&STATES).later(),
        /// A remark.
        pub remark: String => "Remark".lines().later(),
    }
}

/// What a socket in the wall is called, as a source and as a connector.
pub const MAINS: &str = "mains";

/// A connector as it is compared: without regard to case.
pub fn connector(word: &str) -> String {
    word.trim().to_lowercase()
}

impl KitItem {
    /// Whether it is fed and feeds and does nothing else: no battery, inverter, charger, light or camera, and
    /// unless its sort is adapter or power it draws nothing itself.
    pub fn is_adapter(&self) -> bool {
        let more = self.battery.is_some()
            || self.inverter.is_some()
            || self.charger.is_some()
            || self.light.is_some()
            || self.camera.is_some();
        let passes = matches!(self.sort, Sort::Adapter | Sort::Power)
            || self.draws_w.is_none_or(|watts| watts == 0.0);
        !more && passes && !self.fed_by.is_empty() && !self.feeds.is_empty()
    }

    /// The connectors it gives power at; an inverter that does not say gives mains.
    pub fn gives(&self) -> Vec<String> {
        match self.inverter.is_some() && self.feeds.is_empty() {
            true => vec![MAINS.into()],
            false => self.feeds.clone(),
        }
    }

    /// One own thing called `id` of no particular sort.
    pub fn new(id: KitId) -> Self {
        made(serde_json::json!({ "id": id }))
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

words! {
    /// How a sensor is read out.
    pub enum Readout = Rolling {
        /// Line after line: bands under flickering light.
        Rolling = "rolling", "rolling shutter";
        /// All at once.
        Global = "global", "global shutter";
    }
}

noun! {
    /// What a camera is.
    pub struct Camera {
        /// The part of the sensor that is recorded, width and height.
        pub sensor_mm: [f64; 2] => "Sensor".unit("mm").range(1.0, 200.0).hint("Width and height, such as 23.5 × 15.6."),
        /// The picture it records, width and height.
        pub frame: [u32; 2] => "Frame".unit("pixels").range(16.0, 32_768.0),
        /// How the sensor is read out.
        pub readout: Readout = Readout::Rolling => "Shutter",
        /// The sensitivities it is cleanest at (ISO 12232 exposure index).
        pub base_iso: Vec<u32> => "Base ISO".range(1.0, 1e7),
        /// The greatest sensitivity the maker will use.
        pub most_iso: Option<u32> => "Highest ISO you would use".range(1.0, 1e7),
        /// What it draws while it records.
        pub draws_w: Option<f64> => "Draws recording".unit("W").range(0.0, 100_000.0),
        /// Circle of confusion, when it is not the sensor's diagonal / 1500.
        pub circle_mm: Option<f64> => "Circle of confusion".unit("mm").range(0.000_1, 1.0),
        /// What it records, by rate.
        pub recordings: Vec<Recording> => "What it records",
    }
}

noun! {
    /// A way a camera records.
    pub struct Recording(called: "recording") {
        /// What the camera calls it.
        pub name: String => "Name",
        /// Frames a second.
        pub rate: FrameRate => "Frames a second",
        /// What it writes, sound included.
        pub mbit_s: f64 => "Writes".unit("Mbit/s").range(0.1, 100_000.0),
    }
}

noun! {
    /// What a lens is.
    pub struct Lens {
        /// Shortest and longest focal length; equal for a fixed one.
        pub focal_mm: [f64; 2] => "Focal length".unit("mm").range(1.0, 3000.0).span().hint("Such as 35, or 24–70."),
        /// Widest T-stop: what it lets through.
        pub t_stop: f64 => "Widest T-stop".range(0.5, 128.0),
        /// Narrowest T-stop.
        pub narrowest_t: Option<f64> => "Narrowest T-stop".range(0.5, 128.0),
        /// Widest f-number, when it differs from the T-stop: what depth of field goes by.
        pub f_number: Option<f64> => "f-number".range(0.5, 128.0),
        /// Nearest it focuses, from the sensor.
        pub close_focus_m: Option<f64> => "Close focus".unit("m").range(0.01, 10_000.0),
    }
}

noun! {
    /// What a filter does.
    pub struct Filter {
        /// Light lost.
        pub stops: f64 => "Light it takes".unit("stops").range(0.0, 30.0),
        /// Shift of colour; positive warms.
        pub mired: Option<f64> => "Colour shift".unit("mired").range(-500.0, 500.0),
        /// Whether it spreads light into the shadows (diffusion), so that contrast falls.
        pub diffusion: bool => "Diffusion",
    }
}

noun! {
    /// What a light gives and draws.
    pub struct Light {
        /// On its axis at full: illuminance times distance squared, beyond about five times its size.
        pub candela: f64 => "In its middle".unit("cd").range(0.1, 1e8).hint("Lux at one metre; or what a meter read and from how far, such as 575 lx @ 2 m."),
        /// What it draws at full.
        pub full_w: f64 => "Draws at full".unit("W").range(0.01, 100_000.0),
        /// Lowest level it dims to, share of full.
        pub least_level: Option<f64> => "Lowest level".share(0.0, 1.0),
        /// What it draws at its lowest: electronics and fan go on.
        pub least_w: Option<f64> => "Draws at lowest".unit("W").range(0.0, 100_000.0),
        /// Correlated colour temperature.
        pub kelvin: Option<f64> => "Colour temperature".unit("K").range(1000.0, 40_000.0),
        /// Distance from the blackbody locus in CIE 1960 (u, v); positive is green.
        pub duv: Option<f64> => "Duv".range(-0.1, 0.1),
        /// Pulses a second when dimmed, where it dims by pulses.
        pub pulses_hz: Option<f64> => "Pulses when dimmed".unit("Hz").range(1.0, 1e7),
        /// Whether it follows the mains' pulse, as tungsten on a small filament and cheap LED bulbs do.
        pub follows_mains: bool => "Flickers with the mains",
        /// Across its largest side.
        pub size_m: Option<f64> => "Size".unit("m").range(0.001, 100.0),
        /// Whether it is a bare hot source: nothing that burns near it.
        pub hot: bool => "Gets hot",
    }
}

words! {
    /// What a battery is made of: how cold and depth of discharge treat it.
    pub enum Chemistry = LithiumIon {
        /// Lithium-ion.
        LithiumIon = "lithium-ion", "lithium-ion";
        /// Lithium iron phosphate.
        LithiumIronPhosphate = "lithium-iron-phosphate", "lithium iron phosphate";
        /// Nickel metal hydride.
        NickelMetalHydride = "nickel-metal-hydride", "nickel–metal hydride";
        /// Lead-acid.
        LeadAcid = "lead-acid", "lead-acid";
    }
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

/// How a lithium battery flies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Allowance {
    /// Without approval.
    Carried,
    /// With the airline's approval.
    WithApproval,
    /// Not with passengers.
    Refused,
    /// Not known: no lithium, or its energy is not.
    Unknown,
}

/// How a lithium-ion battery of `wh` flies; unknown where that is no energy.
pub fn allowance(wh: f64) -> Allowance {
    if !(wh.is_finite() && wh > 0.0) {
        Allowance::Unknown
    } else if wh <= AIR_FREE_WH {
        Allowance::Carried
    } else if wh <= AIR_MOST_WH {
        Allowance::WithApproval
    } else {
        Allowance::Refused
    }
}

noun! {
    /// What a battery holds. `count` of the item says how many.
    pub struct Battery {
        /// As printed on it (volts × ampere-hours).
        pub wh: f64 => "As printed on it".unit("Wh").range(0.1, 100_000.0),
        /// What it is made of.
        pub chemistry: Chemistry = Chemistry::LithiumIon => "Chemistry",
        /// Share that can be drawn before it stops or suffers; by chemistry where it is left out.
        pub usable: Option<f64> => "Usable".share(0.01, 1.0),
        /// How full each of them is at the call, share of what is printed on it; full where it is left out.
        pub charged: Option<f64> => "Charged at the call".share(0.0, 1.0),
        /// Most it gives at once.
        pub most_w: Option<f64> => "Gives at most".unit("W").range(0.1, 100_000.0),
        /// Most it takes when charged.
        pub charge_w: Option<f64> => "Charges at".unit("W").range(0.1, 100_000.0),
        /// Whether it is built into something (a camera, a light) and can't be swapped.
        pub built_in: bool => "Built in",
    }
}

noun! {
    /// What an inverter does between a battery and a mains plug.
    pub struct Inverter {
        /// Share of what goes in that comes out.
        pub efficiency: f64 => "Efficiency".share(0.01, 1.0),
        /// What it draws with nothing plugged in.
        pub idle_w: Option<f64> => "Draws idle".unit("W").range(0.0, 100_000.0),
        /// Most it gives.
        pub most_w: f64 => "Gives at most".unit("W").range(0.1, 100_000.0),
    }
}

noun! {
    /// What a charger gives.
    pub struct Charger {
        /// Into one battery.
        pub into_w: f64 => "Into one battery".unit("W").range(0.1, 100_000.0),
        /// How many batteries at once.
        pub bays: u32 = 1 => "Bays".range(1.0, 100.0),
        /// Share of what it draws that reaches the battery.
        pub efficiency: Option<f64> => "Efficiency".share(0.01, 1.0),
    }
}

noun! {
    /// What a card or drive holds.
    pub struct Card {
        /// Of 10⁹ bytes, as printed on it.
        pub gigabytes: f64 => "As printed on it".unit("GB").range(0.1, 1e6),
        /// What it reads steadily.
        pub reads_mb_s: Option<f64> => "Reads".unit("MB/s").range(0.1, 100_000.0),
        /// What it writes steadily.
        pub writes_mb_s: Option<f64> => "Writes".unit("MB/s").range(0.1, 100_000.0),
        /// Whether the copies go here (a drive) rather than the camera's recording.
        pub for_copies: bool => "For copies",
    }
}
