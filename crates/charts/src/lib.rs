//! Everything that is drawn for the browser's pages, as SVG: the sky of a date, power, the day as a time line,
//! coverage bar by bar, stops in hand, and the [song strip](song).
//!
//! Each chart takes what a craft found, and computes none of it itself. It gives two drawings, one for a phone's width
//! and one for a desk's, and the same numbers as a [`Table`]. [`figure()`] puts all three into one piece of HTML, of
//! which the [`stylesheet()`] shows what fits; a page holds the [`PATTERNS`] once.
//!
//! # Conventions
//! - Clock times are minutes after the day's midnight as a clock shows them, counted on past midnight; song
//!   times are seconds. On a phone time runs down the page, on a desk across it.
//! - Colours are classes alone, set by the style sheet from the properties of `assets/dress.css`, so that one
//!   drawing wears both dresses. What a colour says is also said by a texture, a shape or a word.
//! - Text is at least 11 px on a page 360 px wide.
//! - What is odd (no numbers, times that run backwards) is drawn at the edge or left out, and never panics.

mod clock;
mod coverage;
mod day_line;
mod draw;
mod figure;
mod light;
mod power;
mod sky;
pub mod song;
mod stops;
mod style;
mod table;

pub use coverage::Coverage;
pub use day_line::{DayLine, Drawn};
pub use draw::PATTERNS;
pub use figure::{Chart, Width, figure};
pub use power::Power;
pub use sky::Sky;
pub use stops::Stops;
pub use style::stylesheet;
pub use table::Table;

/// The element `day-line`, an ES module.
pub const DAY_LINE_JS: &str = include_str!("../assets/day-line.js");
/// The element `coverage-grid`, an ES module.
pub const COVERAGE_GRID_JS: &str = include_str!("../assets/coverage-grid.js");
