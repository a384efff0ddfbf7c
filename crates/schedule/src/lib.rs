//! The day: which setups, in which order, so that the song is covered best; proven where it can be.
//!
//! [`solve`] answers the bare problem, an [`Instance`]; [`plan()`] puts a project's day into that form and
//! tells of the answer: its strips, what is left out, what to drop when late. [`why()`] explains one setup, and
//! [`broken()`] checks a day typed by hand. The method is in `docs/schedule.md`.
//! Times are whole minutes after the day's midnight and
//! count on past it.

mod bound;
mod broken;
mod clocks;
mod ics;
mod improve;
mod instance;
mod kept;
mod late;
mod plan;
mod prepare;
mod problem;
mod reasons;
mod search;
mod slack;
mod solve;
pub mod text;
mod why;
mod worth;

#[cfg(test)]
mod day_tests;
#[cfg(test)]
mod oracle;
#[cfg(test)]
mod tests;

pub use broken::broken;
pub use clocks::Clocks;
pub use ics::{CalendarDay, calendar};
pub use instance::{
    Begun, Candidate, Error, Instance, MOST_MINUTES, MOST_SETUPS, MOST_VALUE, Meal,
};
pub use kept::kept;
pub use late::{Late, LateCell, LateRow};
pub use plan::{DayPlan, Depth, LeftOut, SkyBand, Strip, plan};
pub use prepare::{Given, Light, Now};
pub use solve::{Answer, EXACT, Status, Timed, solve, usual_seconds};
pub use why::why;
