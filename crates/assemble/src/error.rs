//! What can stand in the way of an assembly.

use model::{Stretch, TakeId};

/// Why no assembly could be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A weight that is no weight.
    #[error("the weight `{name}` is {value}; give a number from 0 to {most}")]
    Weight {
        /// Which.
        name: &'static str,
        /// As met.
        value: f64,
        /// The largest allowed.
        most: f64,
    },
    /// Two locks claim the same frames.
    #[error(
        "the locks of `{first}` at {first_at} and of `{second}` at {second_at} overlap; shorten or remove one"
    )]
    LocksOverlap {
        /// The earlier one's take.
        first: TakeId,
        /// Where it lies.
        first_at: Stretch,
        /// The later one's take.
        second: TakeId,
        /// Where it lies.
        second_at: Stretch,
    },
    /// A lock names a take that is not there.
    #[error(
        "the lock at {at} names the take `{take}`, which is not among the takes; remove the lock or bring the take back"
    )]
    LockWithoutTake {
        /// The take named.
        take: TakeId,
        /// Where the lock lies.
        at: Stretch,
    },
    /// A bar the song does not have.
    #[error("the song has no bar {bar}; its bars go from {first} to {last}")]
    NoSuchBar {
        /// As asked.
        bar: u32,
        /// The song's first bar.
        first: u32,
        /// The song's last bar.
        last: u32,
    },
    /// The cut asked about shows nothing there.
    #[error("the cut shows no shot in bar {bar}; assemble again")]
    NothingInBar {
        /// As asked.
        bar: u32,
    },
    /// Stopped from outside before there was a first answer.
    #[error("stopped before there was a cut")]
    Stopped,
}
