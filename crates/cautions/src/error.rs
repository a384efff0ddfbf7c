//! What can be wrong with the thresholds.

/// Why no caution could be given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A threshold that is no number in its range.
    #[error("the threshold `{name}` of {value} is out of range; write {least} to {most} {unit}")]
    Threshold {
        /// Which.
        name: &'static str,
        /// As met.
        value: f64,
        /// The least it can be.
        least: f64,
        /// The most it can be.
        most: f64,
        /// In what it is written.
        unit: &'static str,
    },
    /// Two thresholds the wrong way round.
    #[error("the threshold `{lower}` lies above `{upper}`; write the smaller one first")]
    Order {
        /// The one that must be smaller.
        lower: &'static str,
        /// The one that must be larger.
        upper: &'static str,
    },
}
