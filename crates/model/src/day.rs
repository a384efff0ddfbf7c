//! A day of shooting as it is planned or typed by hand: when one is called, and which setup stands when.

use crate::clock::ClockTime;
use crate::ids::{DayId, PlaceId, SetupId};
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
        /// The longest it may last from the call, minutes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub longest_minutes: Option<u32>,
        /// Where one is at the call; where the first setup is when left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub start_place: Option<PlaceId>,
        /// How long the meal is, minutes (30 where it is left out; 0 for none).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub meal_minutes: Option<u32>,
        /// When the meal is.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub meal: Option<ClockTime>,
        /// The setups that are weighed for this day; when left out, all that stand in no other day's order.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub setups: Vec<SetupId>,
        /// Since when the maker is awake.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub awake_since: Option<ClockTime>,
        /// Minutes of driving home after the wrap.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub drive_home_minutes: Option<u32>,
        /// Air as it is expected hour by hour, in order of time.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub air: Vec<AirAt>,
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
        /// Whether its shoot stays at this time whatever is found.
        #[serde(default, skip_serializing_if = "is_false")]
        pub pinned: bool,
    }
}

noun! {
    /// The air from a time of the day on.
    pub struct AirAt {
        /// From when on.
        pub from: ClockTime,
        /// Its temperature, degrees Celsius.
        pub air_c: f64,
        /// Relative humidity, percent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub humidity_percent: Option<f64>,
        /// Wind, metres a second.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub wind_m_s: Option<f64>,
    }
}

fn is_false(flag: &bool) -> bool {
    !*flag
}

impl Day {
    /// A day of which nothing but date and call is known.
    pub fn new(id: DayId, date: impl Into<String>, call: ClockTime) -> Self {
        Self {
            id,
            date: date.into(),
            zone: None,
            call,
            latest_wrap: None,
            longest_minutes: None,
            start_place: None,
            meal_minutes: None,
            meal: None,
            setups: Vec::new(),
            awake_since: None,
            drive_home_minutes: None,
            air: Vec::new(),
            air_c: None,
            order: Vec::new(),
            remark: String::new(),
            extra: Default::default(),
        }
    }
}

impl Slot {
    /// A setup's time, its shoot not said.
    pub fn new(setup: SetupId, start: ClockTime, end: ClockTime) -> Self {
        Self {
            setup,
            start,
            shoot: None,
            end,
            pinned: false,
            extra: Default::default(),
        }
    }
}
