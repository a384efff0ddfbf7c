//! What can be wrong with the figures a computation is given, and the limits they must keep.
//!
//! The limits are those of a document that may be saved (`model::validate`), except that nothing
//! may be zero that is divided by or whose logarithm is taken. They catch slips, not work.

/// Why a figure could not be computed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A figure that is no number, or outside its limits.
    #[error("{what} of {value}{unit} is out of range; {least} to {most}{unit}")]
    OutOfRange {
        /// What it is, with its article.
        what: &'static str,
        /// As met.
        value: f64,
        /// The least allowed.
        least: f64,
        /// The most allowed.
        most: f64,
        /// Its unit after a space, or nothing.
        unit: &'static str,
    },
    /// The subject lies within the focal length, where no lens makes a picture of it.
    #[error(
        "a subject at {subject_mm} mm is not beyond the focal length of {focal_mm} mm; move it away or take a shorter lens"
    )]
    WithinFocalLength {
        /// Where the subject is, millimetres.
        subject_mm: f64,
        /// The focal length, millimetres.
        focal_mm: f64,
    },
    /// Nothing gives light, so there is no colour.
    #[error("no light has no colour; give at least one source of more than 0 lux")]
    NoLight,
    /// A colour too far from the blackbody locus to have a correlated colour temperature.
    #[error(
        "the colour x {x}, y {y} lies too far from the blackbody locus for a colour temperature; at most {most} in CIE 1960 (u, v)"
    )]
    NoTemperature {
        /// CIE 1931 x.
        x: f64,
        /// CIE 1931 y.
        y: f64,
        /// The farthest that still has one.
        most: f64,
    },
}

/// The inclusive limits of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    what: &'static str,
    least: f64,
    most: f64,
    unit: &'static str,
}

impl Limits {
    const fn new(what: &'static str, least: f64, most: f64, unit: &'static str) -> Self {
        Self {
            what,
            least,
            most,
            unit,
        }
    }

    /// `value` itself when it lies within.
    ///
    /// # Errors
    /// [`Error::OutOfRange`], for what is no number too.
    pub fn check(&self, value: f64) -> Result<f64, Error> {
        if (self.least..=self.most).contains(&value) {
            Ok(value)
        } else {
            Err(Error::OutOfRange {
                what: self.what,
                value,
                least: self.least,
                most: self.most,
                unit: self.unit,
            })
        }
    }
}

/// An f-number.
pub const F_NUMBER: Limits = Limits::new("an f-number", 0.5, 128.0, "");
/// A T-stop.
pub const T_STOP: Limits = Limits::new("a T-stop", 0.5, 128.0, "");
/// A sensitivity.
pub const ISO: Limits = Limits::new("an ISO", 1.0, 10_000_000.0, "");
/// How long one exposure lasts.
pub const EXPOSURE_S: Limits = Limits::new("an exposure time", 1e-7, 3600.0, " s");
/// A shutter angle.
pub const SHUTTER_DEG: Limits = Limits::new("a shutter angle", 0.1, 360.0, " degrees");
/// A picture rate.
pub const RATE_FPS: Limits = Limits::new("a rate", 1.0, 1000.0, " frames a second");
/// Light on a subject.
pub const LUX: Limits = Limits::new("a light", 1e-6, 1e9, " lux");
/// Light on a subject, darkness allowed.
pub const LUX_OR_NONE: Limits = Limits::new("a light", 0.0, 1e9, " lux");
/// What a source gives on its axis.
pub const CANDELA: Limits = Limits::new("a light", 0.1, 100_000_000.0, " candela");
/// A distance.
pub const METRES: Limits = Limits::new("a distance", 0.01, 10_000.0, " m");
/// The size of a source.
pub const SIZE_M: Limits = Limits::new("a source's size", 0.001, 100.0, " m");
/// What of a subject a frame holds.
pub const HEIGHT_M: Limits = Limits::new("a height in the frame", 0.001, 10_000.0, " m");
/// A focal length.
pub const FOCAL_MM: Limits = Limits::new("a focal length", 1.0, 3000.0, " mm");
/// A side of a sensor or of a part of it.
pub const SIDE_MM: Limits = Limits::new("a sensor side", 0.1, 200.0, " mm");
/// A side of a frame in pixels.
pub const SIDE_PX: Limits = Limits::new("a frame side", 1.0, 32_768.0, " pixels");
/// A circle of confusion.
pub const CIRCLE_MM: Limits = Limits::new("a circle of confusion", 0.000_1, 1.0, " mm");
/// Where a subject is, in the millimetres of optics.
pub const SUBJECT_MM: Limits = Limits::new("a subject's distance", 1.0, 1e8, " mm");
/// A level a light is dimmed to.
pub const LEVEL: Limits = Limits::new("a level", 0.0, 1.0, " (1 is full)");
/// What is lost on the way, stops.
pub const LOSS_STOPS: Limits = Limits::new("a loss", 0.0, 30.0, " stops");
/// A shift of colour.
pub const MIRED: Limits = Limits::new("a shift", -500.0, 500.0, " mired");
/// A correlated colour temperature.
pub const KELVIN: Limits = Limits::new("a colour temperature", 1000.0, 40_000.0, " K");
/// A distance from the blackbody locus in CIE 1960 (u, v).
pub const DUV: Limits = Limits::new("a distance from the locus", -0.1, 0.1, "");
/// A chromaticity coordinate.
pub const CHROMATICITY: Limits = Limits::new("a chromaticity coordinate", 0.001, 0.999, "");
/// The calibration constant of incident light, ISO 2720.
pub const CONSTANT_C: Limits = Limits::new("a meter constant C", 240.0, 540.0, "");
/// A reflectance.
pub const REFLECTANCE: Limits = Limits::new("a reflectance", 0.001, 1.0, " (1 is all)");
/// Pulses of a light.
pub const PULSES_HZ: Limits = Limits::new("a pulse rate", 1.0, 10_000_000.0, " Hz");
/// The time a sensor takes from its first line to its last.
pub const READOUT_S: Limits = Limits::new("a readout time", 1e-6, 1.0, " s");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_sentence_names_the_value_and_the_range() {
        for (limits, value, says) in [
            (
                F_NUMBER,
                0.0,
                "an f-number of 0 is out of range; 0.5 to 128",
            ),
            (ISO, 0.0, "an ISO of 0 is out of range; 1 to 10000000"),
            (
                FOCAL_MM,
                -35.0,
                "a focal length of -35 mm is out of range; 1 to 3000 mm",
            ),
            (
                LUX,
                0.0,
                "a light of 0 lux is out of range; 0.000001 to 1000000000 lux",
            ),
            (
                SHUTTER_DEG,
                400.0,
                "a shutter angle of 400 degrees is out of range; 0.1 to 360 degrees",
            ),
            (
                RATE_FPS,
                0.0,
                "a rate of 0 frames a second is out of range; 1 to 1000 frames a second",
            ),
            (
                METRES,
                f64::NAN,
                "a distance of NaN m is out of range; 0.01 to 10000 m",
            ),
        ] {
            assert_eq!(limits.check(value).unwrap_err().to_string(), says);
        }
        assert_eq!(SHUTTER_DEG.check(360.0), Ok(360.0));
    }
}
