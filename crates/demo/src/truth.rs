//! What is true of the demo by construction: the song's bars, words and voice, and where each take
//! lies on it. Written beside the demo so that listening, sync and cut can be measured against it.
//!
//! Times are seconds; song time zero is the first sample of the song file, take time zero the
//! first sample of the take. Nothing here is estimated.

use model::Rating;
use serde::{Deserialize, Serialize};

/// Step of [`SongTruth::mouth_open`] and its companions, in seconds.
pub const CURVE_STEP_S: f64 = 0.01;

/// A section of the song as composed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionTruth {
    /// Letter; the same letter marks the same music.
    pub label: String,
    /// What a musician calls it.
    pub name: String,
    /// When it starts, on a downbeat (the first one: at zero).
    pub start_s: f64,
    /// When it ends: where the next one starts.
    pub end_s: f64,
}

/// The song as composed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SongTruth {
    /// Title.
    pub title: String,
    /// Who sings it.
    pub artist: String,
    /// Length in seconds.
    pub duration_s: f64,
    /// Median tempo, beats a minute.
    pub tempo_bpm: f64,
    /// Beats in a bar.
    pub beats_per_bar: u32,
    /// Every beat.
    pub beats_s: Vec<f64>,
    /// Every first beat of a bar.
    pub downbeats_s: Vec<f64>,
    /// The sections, tiling the song.
    pub sections: Vec<SectionTruth>,
    /// Start, end and words of every line sung.
    pub lyrics: Vec<(f64, f64, String)>,
    /// Stretches in which the voice sings, breaths shorter than half a second bridged.
    pub voiced_s: Vec<(f64, f64)>,
    /// How far the singer's mouth is open, 0 (shut) to 1, every [`CURVE_STEP_S`].
    pub mouth_open: Vec<f32>,
    /// How wide the mouth is drawn, 0 (rounded, as in `oo`) to 1 (spread, as in `ee`), same steps.
    pub mouth_wide: Vec<f32>,
}

impl SongTruth {
    /// Mouth openness and width at `song_s`; shut and neutral outside the song.
    pub fn mouth_at(&self, song_s: f64) -> (f32, f32) {
        let at = song_s / CURVE_STEP_S;
        if !(at >= 0.0 && at < self.mouth_open.len().saturating_sub(1) as f64) {
            return (0.0, 0.5);
        }
        let (index, part) = (at as usize, at.fract() as f32);
        let mix = |curve: &[f32]| curve[index] + (curve[index + 1] - curve[index]) * part;
        (mix(&self.mouth_open), mix(&self.mouth_wide))
    }
}

/// One start of playback within a take.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunTruth {
    /// When in the take the song begins to be heard.
    pub take_start_s: f64,
    /// When in the take it stops.
    pub take_end_s: f64,
    /// Song time heard at `take_start_s`.
    pub song_start_s: f64,
    /// Song seconds per take second as played on set, without drift.
    pub speed: f64,
    /// The song advances `speed × (1 + drift_ppm / 1 000 000)` per second of take.
    pub drift_ppm: f64,
}

impl RunTruth {
    /// Song seconds per take second, drift included.
    pub fn true_speed(&self) -> f64 {
        self.speed * (1.0 + self.drift_ppm * 1e-6)
    }

    /// Song time at `take_s` seconds into the take, whether or not the run sounds there.
    pub fn song_s_at(&self, take_s: f64) -> f64 {
        self.song_start_s + (take_s - self.take_start_s) * self.true_speed()
    }

    /// Whether the run sounds at `take_s`.
    pub fn sounds_at(&self, take_s: f64) -> bool {
        self.take_start_s <= take_s && take_s < self.take_end_s
    }
}

/// One take, as made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TakeTruth {
    /// Its file's name.
    pub file: String,
    /// The number in its frame counter, 0 to 63.
    pub number: u32,
    /// The setup it was shot from.
    pub setup: String,
    /// Which pass of it, counted from 1.
    pub pass: u32,
    /// What the maker thinks of it.
    pub rating: Rating,
    /// Performer state, an index into the project's states.
    pub state: u32,
    /// Length in seconds.
    pub duration_s: f64,
    /// Frames per second, as `num/den`.
    pub rate: model::FrameRate,
    /// Each start of playback. Empty: the song is not in this take.
    pub runs: Vec<RunTruth>,
    /// What is special about it.
    pub remark: String,
}

/// One photograph of the scouting walk, as made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PhotoTruth {
    /// Its file, from the folder of the walk on.
    pub file: String,
    /// The place that it shows.
    pub place: String,
    /// When, by the phone's clock, which is right.
    pub taken: String,
    /// Minutes that clock is ahead of UTC.
    pub utc_offset_minutes: i32,
    /// Where the phone was, degrees; none where it saw no satellites.
    pub position_deg: Option<[f64; 2]>,
    /// Which way it looked, degrees from true north.
    pub bearing_deg: Option<f64>,
    /// Exposure time, seconds.
    pub exposure_s: f64,
    /// f-number.
    pub f_number: f64,
    /// Sensitivity.
    pub iso: f64,
    /// How far the picture was pulled from what the meter wanted, stops.
    pub bias_stops: f64,
    /// The light that there was, lux.
    pub lux: f64,
}

/// Everything that is true of the demo: `demo-truth.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// The seed all of it came from.
    pub seed: u64,
    /// The song.
    pub song: SongTruth,
    /// The photographs of the scouting walk, in the order they were taken.
    pub photos: Vec<PhotoTruth>,
    /// The takes, in the order they were shot.
    pub takes: Vec<TakeTruth>,
}
