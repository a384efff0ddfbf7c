//! Charts for the browser's pages, as SVG: the sky of a date, the power of a day, the day as a time
//! line, coverage bar by bar, takes over the song, and stops in hand.
//!
//! Each chart is a plain struct of numbers that others computed; it computes none of them itself. It gives
//! two drawings, one for a phone's width and one for a desk's, and the same numbers as a [`Table`].
//! [`figure()`] puts all three into one piece of HTML, of which [`STYLESHEET`] shows what fits.
//!
//! # Conventions
//! - Clock times are minutes after the day's midnight as a clock shows them, counted on past midnight; song
//!   times are seconds. On a phone time runs down the page, on a desk across it.
//! - Colours are classes alone, set by `assets/charts.css` from the page's custom properties, so that one
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
mod song_axis;
mod stops;
mod table;
mod takes;

pub use clock::{Span, clock};
pub use coverage::{Cell, Coverage, CoverageRow, Options};
pub use day_line::{DayLine, DayStrip};
pub use figure::{Chart, Width, figure};
pub use light::{Band, Light};
pub use power::{BatteryCharge, CardFill, Mark, Power, Slot};
pub use sky::{Event, MoonPhase, Planned, Sky, Standing};
pub use stops::{Stops, StopsOf, StopsSide};
pub use table::Table;
pub use takes::{AlternativeRun, TakeLine, TakeRun, TakesOverSong};

/// The style of all charts: `charts.css`.
pub const STYLESHEET: &str = include_str!("../assets/charts.css");
/// The element `day-line`, an ES module.
pub const DAY_LINE_JS: &str = include_str!("../assets/day-line.js");
/// The element `coverage-grid`, an ES module.
pub const COVERAGE_GRID_JS: &str = include_str!("../assets/coverage-grid.js");
