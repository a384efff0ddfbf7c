//! Where a take lies on the song, by what its camera heard.
//!
//! Gives: [`prepare`] a song once, then [`place`] any number of takes on it, and [`report`] in the
//! shape the command line prints. Pure functions of sample values: it opens no file, prints nothing,
//! reads no clock, and knows neither the document nor pictures.
//!
//! # Conventions
//! - A *lag* is song time minus take time. A run's `song_start` is song time at its `take_start`.
//! - *Speed* is song seconds per second of the take: 2 when the song ran twice as fast on set.
//! - Drift is in parts per million, positive when the song advances faster than `speed` says.
//! - Samples are mono, any level; not-a-number and infinite samples count as silence.
//! - The time sound takes from the loudspeaker to the camera (3 ms per metre) is not taken out.
//!
//! # What it leaves out
//! One speed per take: a take with passes at two speeds gets the runs of one of them. Speeds outside
//! 0.5 to 2.5. Other places for a pass whose pitch was kept: in a loop-based song the best one is given
//! alone. The words, the picture and the timecode are not looked at.
//!
//! # How
//! Song and take are whitened in short frames (`whiten`), windows of the take are slid over the whole
//! song (`correlation`), their peaks vote for lines of lag against time (`lines`), each line is followed
//! to a fraction of a sample (`follow`), and the likeliest course over the lines gives the runs
//! (`runs`, `search`). When that finds nothing, log-frequency flux is compared at every speed (`flux`,
//! `speed`) and the best guesses are heard closely, by waveform or by fine flux (`pass`).

mod correlation;
mod error;
mod flux;
mod follow;
mod lines;
mod pass;
mod place;
mod report;
mod runs;
mod search;
mod sound;
mod speed;
mod whiten;

pub use error::Error;
pub use place::{PreparedSong, place, prepare};
pub use report::{Report, ReportAlternative, ReportRun, report};

/// Version of the method, raised whenever results may change: placements are cached by it.
pub const VERSION: u32 = 2;

use model::Finding;

/// Mono sound.
#[derive(Clone, Copy, Debug)]
pub struct Sound<'a> {
    /// Samples per second, 1 000 to 768 000.
    pub rate_hz: u32,
    /// Samples, full scale ±1 (any level is taken).
    pub samples: &'a [f32],
}

/// What may be tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Look for passes at other speeds when the take does not match at normal speed. Costs up to
    /// four times as much on a take without the song.
    pub off_speed: bool,
    /// Speeds tried before all others (song seconds per take second), each with its 1000/1001 and
    /// 1001/1000 neighbours.
    pub usual_speeds: Vec<f64>,
    /// The least length of song heard, in seconds of take, that makes a run. Under about 3 s the
    /// statistics no longer keep other music out.
    pub least_s: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            off_speed: true,
            // Shooting over playing frame rate of the usual pairs, 24 and 25 swapped included.
            usual_speeds: vec![
                1.0,
                25.0 / 24.0,
                24.0 / 25.0,
                2.0,
                2.5,
                1.25,
                1.5,
                0.5,
                0.75,
            ],
            least_s: 3.0,
        }
    }
}

/// A take placed.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// Runs and alternatives.
    pub placement: model::Placement,
    /// The channel in which the song was heard best, counted from 0; `None` when not heard.
    pub channel: Option<usize>,
    /// What is worth knowing.
    pub notes: Vec<Finding>,
}
