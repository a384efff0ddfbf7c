//! What can be wrong with the options.

use crate::Options;

/// Why nothing could be packed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A weight out of range.
    #[error("{what} of {kg} kg is out of range; write 0.1 to 200 kg")]
    Weight {
        /// Which of them.
        what: &'static str,
        /// As met.
        kg: f64,
    },
    /// A number of trips out of range.
    #[error("{0} trips can't be planned; write 1 to 100")]
    Trips(u32),
    /// A number of spares out of range.
    #[error("{0} spares of each garment are too many; write 0 to 100")]
    Spares(u32),
}

pub(crate) fn check(options: &Options) -> Result<(), Error> {
    for (what, kg) in [
        ("a load for one trip", options.trip_kg),
        ("a weight that two should lift", options.heavy_kg),
    ] {
        if !(0.1..=200.0).contains(&kg) {
            return Err(Error::Weight { what, kg });
        }
    }
    if !(1..=100).contains(&options.trips) {
        return Err(Error::Trips(options.trips));
    }
    if options.spares > 100 {
        return Err(Error::Spares(options.spares));
    }
    Ok(())
}
