//! A day of shooting as it is planned or typed by hand: when one is called, and which setup stands when.

use crate::clock::ClockTime;
use crate::date::Date;
use crate::ids::{DayId, PlaceId, SetupId};
use crate::noun;
use crate::noun::made;
use serde_json::json;

noun! {
    /// One day or night of shooting.
    pub struct Day(list: "days", called: "day") {
        /// Its id.
        pub id: DayId => "Id".never(),
        /// The date of the call, year-month-day.
        pub date: Date => "Date".date(),
        /// When work begins.
        pub call: ClockTime => "Call".hint("Hours and minutes. 26:30 is half past two in the following morning."),
        /// When it must have ended; past midnight counts on (`26:00`).
        pub latest_wrap: Option<ClockTime> => "Wrap at the latest",
        /// Time zone (IANA name) its clock times are in.
        pub zone: Option<String> => "Time zone".hint("Its IANA name, such as Europe/Lisbon. Empty: the places' own."),
        /// Where one is at the call; where the first setup is when left out.
        pub start_place: Option<PlaceId> => "Begins at",
        /// The setups that are weighed for this day; when left out, all that stand in no other day's order.
        pub setups: Vec<SetupId> => "Setups of this day".hint("None chosen: all."),
        /// The longest it may last from the call.
        pub longest_minutes: Option<u32> => "Longest day".unit("minutes").range(0.0, 2880.0).later(),
        /// How long the meal is (as the practice has it where it is left out; 0 for none).
        pub meal_minutes: Option<u32> => "Meal".unit("minutes").range(0.0, 360.0).later(),
        /// When the meal is.
        pub meal: Option<ClockTime> => "Meal at".later(),
        /// Since when the maker is awake.
        pub awake_since: Option<ClockTime> => "Awake since".later(),
        /// Driving home after the wrap.
        pub drive_home_minutes: Option<u32> => "Drive home".unit("minutes").range(0.0, 1440.0).later(),
        /// Air as it is expected hour by hour, in order of time.
        pub air: Vec<AirAt> => "Air".later(),
        /// Air temperature expected: cold takes from the batteries.
        pub air_c: Option<f64> => "Air all day".unit("°C").range(-60.0, 60.0).later(),
        /// A remark.
        pub remark: String => "Remark".lines().later(),
        /// Setups in their order, with their times.
        pub order: Vec<Slot> => "Order".never(),
    }
}

noun! {
    /// A setup's time in a day.
    pub struct Slot(called: "setup of the day") {
        /// Which setup.
        pub setup: SetupId => "Setup",
        /// When rigging begins.
        pub start: ClockTime => "Rigging begins",
        /// When shooting begins, where it has been said.
        pub shoot: Option<ClockTime> => "Shooting begins",
        /// When it is done.
        pub end: ClockTime => "Done",
        /// Whether its shoot stays at this time whatever is found.
        pub pinned: bool => "Pinned",
    }
}

noun! {
    /// The air from a time of the day on.
    pub struct AirAt(called: "reading") {
        /// From when on.
        pub from: ClockTime => "From",
        /// Its temperature.
        pub air_c: f64 => "Temperature".unit("°C").range(-60.0, 60.0),
        /// Relative humidity.
        pub humidity_percent: Option<f64> => "Humidity".unit("%").range(0.0, 100.0),
        /// Wind.
        pub wind_m_s: Option<f64> => "Wind".unit("m/s").range(0.0, 100.0),
    }
}

impl Day {
    /// A day of which nothing but date and call is known.
    pub fn new(id: DayId, date: Date, call: ClockTime) -> Self {
        made(json!({ "id": id, "date": date, "call": call }))
    }

    /// What a clock that shows `at` means on this day: a small hour after an evening's call is past midnight,
    /// as long as that is no more than 18 hours after the call.
    pub fn after_call(&self, at: ClockTime) -> ClockTime {
        match ClockTime::from_minutes(at.minutes() + 24 * 60) {
            Some(next)
                if at < self.call && next.minutes() - self.call.minutes() <= LATEST_AFTER_CALL =>
            {
                next
            }
            _ => at,
        }
    }
}

/// Minutes after the call up to which a small hour is taken for the following morning's.
const LATEST_AFTER_CALL: u32 = 18 * 60;

impl Slot {
    /// A setup's time, its shoot not said.
    pub fn new(setup: SetupId, start: ClockTime, end: ClockTime) -> Self {
        made(json!({ "setup": setup, "start": start, "end": end }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_hour_after_an_evenings_call_is_past_midnight() {
        let clock = |text: &str| text.parse::<ClockTime>().unwrap();
        let day = |call: &str| {
            Day::new(
                DayId::new("d").unwrap(),
                "2026-11-13".parse().unwrap(),
                clock(call),
            )
        };
        for (call, shown, meant) in [
            ("16:00", "01:20", "25:20"),
            ("16:00", "17:00", "17:00"),
            ("16:00", "10:00", "34:00"),
            // More than 18 hours after the call it is before it.
            ("16:00", "10:01", "10:01"),
            ("06:00", "05:00", "05:00"),
            ("22:00", "26:30", "26:30"),
        ] {
            assert_eq!(day(call).after_call(clock(shown)), clock(meant), "{shown}");
        }
    }
}
