//! What a run leaves behind: what flowed, what was charged and changed, where it fell short.

use crate::feed::Src;
use model::Finding;

/// Power that flowed from a piece, or the mains, into an outlet.
#[derive(Clone, Debug)]
pub(crate) struct Flow {
    pub slot: usize,
    pub items: Vec<usize>,
    /// `None` for the mains.
    pub piece: Option<usize>,
    pub from_min: f64,
    pub to_min: f64,
    /// At the source.
    pub watts: f64,
}

#[derive(Clone, Debug)]
pub(crate) struct Charged {
    pub piece: usize,
    pub from_min: f64,
    pub to_min: f64,
    pub wh: f64,
}

#[derive(Clone, Debug)]
pub(crate) struct Change {
    pub slot: usize,
    pub items: Vec<usize>,
    pub at_min: f64,
    pub from: Option<usize>,
    pub to: usize,
    pub in_pass: bool,
    pub bridged: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Why {
    Dark,
    Taken,
    Overload,
    NoMains,
    BelowReserve,
}

/// A time at which power falls short.
#[derive(Clone, Debug)]
pub(crate) struct Short {
    pub at_min: f64,
    pub slot: usize,
    pub source: Src,
    pub why: Why,
    pub items: Vec<usize>,
    /// Which of several alike goes below its reserve.
    pub nth: Option<u32>,
    /// What is asked for, and of whom, where it is too much.
    pub over: Option<Over>,
}

/// More asked for than is given.
#[derive(Clone, Debug)]
pub(crate) struct Over {
    /// What bears the load: a battery, an inverter or the mains.
    pub by: String,
    /// Which limit is met, in words before the watts.
    pub limit: &'static str,
    pub load_w: f64,
    pub most_w: f64,
}

/// What a battery gives at once.
pub(crate) const BATTERY_GIVES: &str = "the battery gives at most";
/// What an inverter gives.
pub(crate) const INVERTER_GIVES: &str = "the inverter gives at most";
/// The share of a mains circuit that is loaded for long.
pub(crate) const CIRCUIT_BEARS: &str = "the circuit bears for long";

#[derive(Clone, Debug, Default)]
pub(crate) struct Piece {
    /// Index into the scene's cells.
    pub cells: usize,
    /// From 1.
    pub nth: u32,
    pub start_wh: f64,
    pub stored_wh: f64,
    pub drawn_wh: f64,
    pub charged_wh: f64,
    pub(super) floor_wh: f64,
    pub(super) line_wh: f64,
    pub(super) below: bool,
    pub(super) charging: bool,
    pub(super) last_charge: Option<usize>,
}

#[derive(Default)]
pub(crate) struct Outcome {
    pub pieces: Vec<Piece>,
    pub flows: Vec<Flow>,
    pub charges: Vec<Charged>,
    pub changes: Vec<Change>,
    pub shorts: Vec<Short>,
    pub findings: Vec<Finding>,
    /// Taken by the consumers themselves.
    pub used_wh: f64,
    /// Lost in inverters.
    pub lost_wh: f64,
    /// From the mains to consumers, and to chargers.
    pub mains_wh: f64,
    pub mains_to_chargers_wh: f64,
}
