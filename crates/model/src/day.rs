//! A day of shooting as it is planned or typed by hand: when one is called, and which setup stands when.

use crate::clock::ClockTime;
use crate::ids::{DayId, SetupId};
use crate::noun::noun;

noun! {
    /// One day or night of shooting.
    pub struct Day {
        /// Its id.
        pub id: DayId,
        /// The date of the call, year-month-day.
        pub date: String,
        /// Time zone (IANA name) its clock times are in.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub zone: Option<String>,
        /// When work begins.
        pub call: ClockTime,
        /// When it must have ended; past midnight counts on (`26:00`).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub latest_wrap: Option<ClockTime>,
        /// Air temperature expected, degrees Celsius: cold takes from the batteries.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub air_c: Option<f64>,
        /// Setups in their order, with their times.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub order: Vec<Slot>,
        /// A remark.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
    }
}

noun! {
    /// A setup's time in a day.
    pub struct Slot {
        /// Which setup.
        pub setup: SetupId,
        /// When rigging begins.
        pub start: ClockTime,
        /// When shooting begins, where it has been said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub shoot: Option<ClockTime>,
        /// When it is done.
        pub end: ClockTime,
    }
}
