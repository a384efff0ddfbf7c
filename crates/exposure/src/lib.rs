//! placeholder
pub mod colour;
pub mod error;
pub mod exposure;
pub mod flicker;
pub mod focus;
pub mod gel;
pub mod lens;
pub mod light;
mod observer;
pub mod offspeed;
pub mod practice;
pub mod ratio;
pub mod reflected;
pub use error::Error;
pub use practice::Practice;
