//! What `listen --json` prints.

use crate::{Listening, Loudness};
use model::SongMap;
use serde::{Deserialize, Serialize};

/// The song in figures, times in seconds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// How long it sounds.
    pub duration_s: f64,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Channels.
    pub channels: u32,
    /// Median tempo, beats a minute.
    pub tempo_bpm: f64,
    /// Beats in a bar.
    pub beats_per_bar: u32,
    /// Every beat.
    pub beats_s: Vec<f64>,
    /// The beats that start a bar.
    pub downbeats_s: Vec<f64>,
    /// The sections, from zero to the end.
    pub sections: Vec<ReportedSection>,
    /// Loudness; a figure is null where there is none.
    pub loudness: Loudness,
}

/// One section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReportedSection {
    /// Letter: the same letter is the same music.
    pub label: String,
    /// What the maker calls it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Start.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// Loudness against the rest of the song, 0 to 1.
    pub energy: f64,
    /// Share in which a voice is likely, 0 to 1: an estimate.
    pub voiced: f64,
}

/// The report on a song after corrections.
pub fn report(listening: &Listening, map: &SongMap) -> Report {
    // A tenth of a millisecond is finer than any of these is known.
    let time = |x: f64| (x * 1e4).round() / 1e4;
    let share = |x: f32| (f64::from(x) * 1e3).round() / 1e3;
    Report {
        duration_s: listening.duration_s,
        sample_rate_hz: listening.sample_rate_hz,
        channels: listening.channels,
        tempo_bpm: (map.tempo_bpm * 100.0).round() / 100.0,
        beats_per_bar: map.beats_per_bar,
        beats_s: map.beats.iter().map(|b| time(b.seconds())).collect(),
        downbeats_s: map
            .downbeats
            .iter()
            .map(|i| time(map.beats[*i].seconds()))
            .collect(),
        sections: map
            .sections
            .iter()
            .map(|s| ReportedSection {
                label: s.label.clone(),
                name: s.name.clone(),
                start_s: time(s.at.start().seconds()),
                end_s: time(s.at.end().seconds()),
                energy: share(s.energy),
                voiced: share(s.voiced),
            })
            .collect(),
        loudness: listening.loudness,
    }
}
