//! The picture: places, a figure and powder, drawn by code in paper, ink and tungsten.
//!
//! What does not move is shaded once per take; each frame then pans over it, turns drums, ripples
//! water, sets the figure in with the mouth of the moment, and adds grain and the counter.

pub mod camera;
pub mod counter;
pub mod figure;
pub mod frame;
pub mod places;
pub mod powder;
pub mod shade;
