//! A placement in the words of `barebulb sync --json`.

use crate::Placed;
use serde::Serialize;

/// One take, as printed. Times in seconds, drift in parts per million, confidences 0 to 1.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// The file, as given.
    pub file: String,
    /// Whether the song is in the take.
    pub matched: bool,
    /// Song time at the take's first sample, by extending the longest run; negative when the take
    /// starts before the song. `null` when not matched, like the next three.
    pub song_offset_s: Option<f64>,
    /// Song seconds per take second in the longest run, drift left out.
    pub speed: Option<f64>,
    /// Drift of the longest run.
    pub drift_ppm: Option<f64>,
    /// How sure the longest run is.
    pub confidence: Option<f64>,
    /// Every start of playback.
    pub runs: Vec<ReportRun>,
    /// Other places the longest run fits.
    pub alternatives: Vec<ReportAlternative>,
}

/// One start of playback, as printed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReportRun {
    /// When in the take the song begins to be heard.
    pub take_start_s: f64,
    /// When it stops.
    pub take_end_s: f64,
    /// Song time at `take_start_s`.
    pub song_start_s: f64,
    /// Song seconds per take second, drift left out.
    pub speed: f64,
    /// The recorder's clock against the song's.
    pub drift_ppm: f64,
    /// How sure it is.
    pub confidence: f64,
}

/// Another place, as printed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReportAlternative {
    /// Song time at the take's first sample.
    pub song_offset_s: f64,
    /// How sure it is.
    pub confidence: f64,
}

/// What is printed for one take.
pub fn report(file: &str, placed: &Placed) -> Report {
    let placement = &placed.placement;
    let main = placement.main_run();
    Report {
        file: file.to_owned(),
        matched: placement.matched(),
        song_offset_s: main.map(|run| run.song_s_at(0.0)),
        speed: main.map(|run| run.speed),
        drift_ppm: main.map(|run| run.drift_ppm),
        confidence: main.map(|run| run.confidence),
        runs: placement
            .runs
            .iter()
            .map(|run| ReportRun {
                take_start_s: run.take_start.seconds(),
                take_end_s: run.take_end.seconds(),
                song_start_s: run.song_start.seconds(),
                speed: run.speed,
                drift_ppm: run.drift_ppm,
                confidence: run.confidence,
            })
            .collect(),
        alternatives: placement
            .alternatives
            .iter()
            .map(|other| ReportAlternative {
                song_offset_s: other.song_offset_s,
                confidence: other.confidence,
            })
            .collect(),
    }
}
