//! Power and cards for a day of shooting: what draws, what feeds it, how long it lasts, what is recorded.
//!
//! [`day_power`] runs a day through; [`card_plan`] lays its recording on cards; [`carriage`] says which
//! batteries fly. Everything serialises, and whatever is missing or can't be is a [`model::Finding`]
//! beside what could be computed; nothing of a document is an error.
//!
//! # Conventions
//! - Times are minutes after the day's midnight and count on past it (`_min`); power is watts (`_w`), energy
//!   watt-hours (`_wh`), shares 0 to 1, gigabytes 10⁹ bytes.
//! - The rules of the simulation stand at the head of `simulate.rs`'s source and in `docs/power.md`;
//!   every number that is no fact of the kit stands in [`model::Practice`].
//!
//! # What it leaves out
//! Voltage drop, heat, ageing, currents that shrink a battery, charging that slows down near full, and whether an
//! installation is sound. It reckons; a qualified person judges.

mod battery;
mod cards;
mod carriage;
mod curves;
mod day;
mod draw;
mod feed;
mod fix;
mod scene;
mod simulate;
mod tightest;
mod times;

#[cfg(test)]
mod cases;
#[cfg(test)]
mod properties;

pub use battery::{
    cold_share, floor_wh, reserve_line_wh, runtime_min, usable_share, usable_wh, watt_hours,
};
pub use cards::{CardLoad, CardPlan, CopyTime, SetupMedia, card_plan};
pub use carriage::{Carriage, Carried, carriage};
pub use day::{
    Charge, ConsumerDraw, DayPower, Ledger, Piece, Reason, Shortage, SlotDraw, Span, Swap, Totals,
    day_power,
};
pub use draw::{inverter_input_w, item_w, light_w, mains_w};
pub use feed::{Feed, Source};
pub use fix::Fix;
pub use tightest::Tightest;
pub use times::SlotTimes;
