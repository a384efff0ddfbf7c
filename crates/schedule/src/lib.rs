//! The day: which setups, in which order, so that the song is covered best; proven where it can be.
//!
//! [`solve`] answers the bare problem, an [`Instance`]. Times are whole minutes after the day's midnight and
//! count on past it.

mod bound;
mod improve;
mod instance;
mod problem;
mod reasons;
mod search;
mod solve;
mod worth;

#[cfg(test)]
mod oracle;
#[cfg(test)]
mod tests;

pub use instance::{Begun, Candidate, Error, Instance, MOST_MINUTES, MOST_SETUPS, MOST_VALUE, Meal};
pub use solve::{Answer, EXACT, Status, Timed, solve};
