//! Light, exposure and lens for a setup: stops in hand, what closes a gap, what the frame holds and
//! what is sharp in it, flicker, off-speed and mixed colours.
//!
//! Each module is a handful of functions from numbers to numbers, with the formula, its source and
//! its limits at its head; [`setup::judge`] joins them for one setup of the document. Customs of the
//! trade stand in [`model::Practice`] and nowhere else. The page of definitions is `docs/exposure.md`.
//!
//! # Conventions
//! - Illuminance in lux, luminance in cd/m², luminous intensity in candela.
//! - Stops are positive when there is more light than correct, than the target, or than before; a
//!   *loss* in stops is positive when light is lost.
//! - Distances of lights, subjects and fields in metres; sensors, lenses and depth of field in
//!   millimetres, as their makers state them.
//! - Shutter angles and speeds are exact fractions where they decide anything ([`model::Ratio`]).
//! - Colour temperatures in kelvin, differences in mired, Duv in CIE 1960 (u, v), green positive.
//!
//! # Example
//! How far under is a face in 60 lux at T2.8, 180 degrees, 24 frames and ISO 800?
//! ```
//! use exposure::exposure::Taking;
//! let taking = Taking {
//!     iso: 800.0,
//!     t_stop: 2.8,
//!     shutter_deg: 180.0,
//!     rate: model::FrameRate::FPS_24,
//!     filter_stops: 0.0,
//!     constant_c: 250.0,
//! };
//! assert_eq!(format!("{:+.1}", taking.stops(60.0)?), "-1.0");
//! # Ok::<(), exposure::Error>(())
//! ```
//!
//! # Left out
//! Spectra, a camera's curve and noise, the beam of a light to its sides, light that walls throw
//! back, the time of day. Nothing here reads files or clocks, and the same question has the same
//! answer.

pub mod closing;
pub mod colour;
pub mod error;
pub mod exposure;
pub mod flicker;
pub mod focus;
pub mod framing;
pub mod gel;
pub mod lens;
pub mod light;
mod observer;
pub mod offspeed;
pub mod setup;

pub use error::Error;
pub use setup::{Judgement, judge};
