//! Listening: from a song's samples to tempo, beats, bars, sections, energy, voice and loudness.
//!
//! [`listen`] hears the audio once and returns a [`Listening`], which can be kept. [`song_map`]
//! lays a person's corrections over it and gives the [`model::SongMap`] that the rest of the program
//! uses as its ruler; it needs no audio, never fails, and says in notes what it could not do.
//! [`correct`] holds the corrections themselves, as pure functions. [`report`] is the JSON shape.
//!
//! # How it hears
//! One pass of spectra (`spectrum`) gives onset strength in bands, pitch classes, bass and timbre.
//! A tempogram settles one level of the pulse (`tempo`); beats follow by exact dynamic programming
//! (`beats`), bars by a hidden Markov model over rhythm patterns (`bars`); rival readings (half,
//! double, triplets, between the beats, other metres) are all worked out and judged (`tracking`).
//! Sections are optimal change points over bars (`sections`). The papers are named in each module.
//!
//! # What it does not do
//! No genre, key, chords or words. One metre for the whole song, of 2 (in triplets), 3 or 4 beats
//! unless a person sets another. The voice curve is an estimate. Tempi from 42 to 212 beats a minute.
//!
//! # What it does not know
//! Files, the clock, the screen, and every other craft.

mod bars;
mod beats;
pub mod correct;
mod curves;
mod loudness;
mod map;
mod notes;
mod peaks;
mod report;
mod sections;
mod sound;
mod spectrum;
mod tempo;
mod tracking;
mod voice;

pub use curves::Curves;
pub use loudness::Loudness;
pub use map::song_map;
pub use notes::{Error, MAX_CHANNELS, MAX_S, MIN_S, Note, RATES_HZ};
pub use peaks::{Peaks, Zoom};
pub use report::{Report, ReportedSection, report};
pub use sound::Sound;
pub use voice::CURVE_HZ;

use model::section::nth_letter;
use serde::{Deserialize, Serialize};

/// Raised whenever the method changes, so that kept listenings are made anew.
pub const VERSION: u32 = 1;

/// What was heard in a song. Can be kept and read back; [`Listening::version`] says which method made it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Listening {
    /// [`VERSION`] of the code that made it.
    pub version: u32,
    /// Samples per channel.
    pub samples: u64,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Channels of the song.
    pub channels: u32,
    /// How long the song sounds, seconds.
    pub duration_s: f64,
    /// Median tempo, beats a minute.
    pub tempo_bpm: f64,
    /// Beats in a bar.
    pub beats_per_bar: u32,
    /// Every beat, seconds, rising.
    pub beats_s: Vec<f64>,
    /// Which beats start a bar, as rising indices into `beats_s`.
    pub downbeats: Vec<usize>,
    /// How steady the pulse is, 0 (none) to 1.
    pub pulse: f32,
    /// Other ways to count the song, likeliest first, at most three: what to offer for a correction.
    pub rivals: Vec<Rival>,
    /// The sections, in order, from zero to the end.
    pub sections: Vec<HeardSection>,
    /// Level at [`CURVE_HZ`], dB relative to full scale, at least −120.
    pub level_db: Vec<f32>,
    /// How likely a voice is at [`CURVE_HZ`], 0 to 1.
    pub voice: Vec<f32>,
    /// What the beats and bars were tracked on, for tracking again.
    pub curves: Curves,
    /// Loudness by BS.1770.
    pub loudness: Loudness,
    /// The waveform, for drawing.
    pub peaks: Peaks,
    /// What could not be heard, or only doubtfully.
    pub notes: Vec<Note>,
}

/// Another way to count the song.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rival {
    /// Median tempo, beats a minute.
    pub tempo_bpm: f64,
    /// Beats in a bar.
    pub beats_per_bar: u32,
    /// How much less likely than the one taken, in log odds.
    pub behind: f32,
}

/// A section as heard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HeardSection {
    /// Letter: the same letter is the same music.
    pub label: String,
    /// Where it starts, seconds.
    pub start_s: f64,
    /// Where it ends, seconds.
    pub end_s: f64,
}

/// Below this the song counts as silent: −100 dB relative to full scale.
const SILENT_RMS: f64 = 1e-5;
/// Below this the pulse is not trusted. White noise stays below it (tests); the composed songs of
/// `checks/listen` reach 0.25 and more.
const UNSTEADY: f32 = 0.08;
/// The even grid laid over a song without a pulse.
const GRID_BPM: f64 = 120.0;
/// How much of the whole work each stage is, for progress.
const STAGES: [f32; 2] = [0.25, 0.85];

/// Hears a song. `progress` is told 0 to 1 now and then and answers whether to go on.
///
/// Deterministic, one thread, 0.37 s of processor time per minute of stereo (measured, one core of a
/// shared machine); memory
/// beyond the samples stays below 300 MB for an hour.
///
/// # Errors
/// The bounds of [`Sound::check`]; [`Error::Stopped`] when `progress` answers no. A silent song or
/// one without a pulse is no error: it gets an even grid and a note.
pub fn listen(sound: &Sound, progress: &dyn Fn(f32) -> bool) -> Result<Listening, Error> {
    sound.check()?;
    let scan = sound::scan(sound);
    let mut notes = Vec::new();
    if scan.not_numbers > 0 {
        notes.push(Note::NotNumbers(scan.not_numbers));
    }
    if scan.held > 0 {
        notes.push(Note::Held(scan.held));
    }
    // 1 % of full scale: less than that is common in converters and heard by nobody.
    if scan.mean.abs() > 0.01 {
        notes.push(Note::Offset(scan.mean));
    }
    let dirty = scan.not_numbers + scan.held > 0;
    let loudness = loudness::measure(sound, dirty, &|x| progress(x * STAGES[0]))?;
    let silent = scan.rms < SILENT_RMS;
    let gain = if silent { 0.0 } else { 0.1 / scan.rms };
    let mut mix = sound::Mix::new(sound, gain as f32);
    let stereo = mix.has_side();
    let frames = spectrum::frames(&mut mix, &|x| {
        progress(STAGES[0] + x * (STAGES[1] - STAGES[0]))
    })?;
    if !progress(STAGES[1]) {
        return Err(Error::Stopped);
    }
    let duration_s = sound.duration_s();
    let curves = Curves::of(&frames);
    let level_db = levels(&frames.power, scan.rms);
    let heard = pulse(&curves, &level_db, duration_s, silent, &mut notes);
    let edges = bar_edges(&heard, duration_s);
    let parts = if silent {
        Vec::new()
    } else {
        sections::parts(&frames, &edges)
    };
    let mut sections: Vec<HeardSection> = parts
        .iter()
        .map(|p| HeardSection {
            label: nth_letter(p.kind),
            start_s: p.start_s,
            end_s: p.end_s,
        })
        .collect();
    if sections.is_empty() {
        sections.push(HeardSection {
            label: nth_letter(0),
            start_s: 0.0,
            end_s: duration_s,
        });
    }
    let voice = if silent {
        vec![0.0; level_db.len()]
    } else {
        voice::voice(&frames, stereo)
    };
    progress(1.0);
    Ok(Listening {
        version: VERSION,
        samples: sound.channels.first().map_or(0, Vec::len) as u64,
        sample_rate_hz: sound.rate_hz,
        channels: sound.channels.len() as u32,
        duration_s,
        tempo_bpm: heard.tempo_bpm,
        beats_per_bar: heard.beats_per_bar,
        beats_s: heard.beats,
        downbeats: heard.downbeats,
        pulse: heard.pulse,
        rivals: heard.rivals,
        sections,
        level_db,
        voice,
        curves,
        loudness,
        peaks: peaks::peaks(sound),
        notes,
    })
}

struct Pulse {
    beats: Vec<f64>,
    downbeats: Vec<usize>,
    beats_per_bar: u32,
    tempo_bpm: f64,
    pulse: f32,
    rivals: Vec<Rival>,
}

/// Beats and bars of the likeliest reading, or an even grid with a note.
fn pulse(
    curves: &Curves,
    level_db: &[f32],
    duration_s: f64,
    silent: bool,
    notes: &mut Vec<Note>,
) -> Pulse {
    let (readings, strength) = if silent {
        (Vec::new(), 0.0)
    } else {
        tracking::readings(curves)
    };
    let found = readings.first().filter(|_| strength >= UNSTEADY);
    let Some(best) = found.filter(|r| r.beats.len() >= 2) else {
        notes.push(if silent { Note::Silent } else { Note::NoPulse });
        let beats = even_grid(0.0, GRID_BPM, duration_s);
        return Pulse {
            downbeats: (0..beats.len()).step_by(4).collect(),
            beats,
            beats_per_bar: 4,
            tempo_bpm: GRID_BPM,
            pulse: strength,
            rivals: Vec::new(),
        };
    };
    let kept = sounding(&best.beats, level_db, duration_s);
    let beats = best.beats[kept.clone()].to_vec();
    let downbeats = (0..beats.len())
        .filter(|i| best.count.positions[kept.start + i] == 0)
        .collect();
    let mut rivals: Vec<Rival> = Vec::new();
    for other in &readings[1..] {
        let rival = Rival {
            tempo_bpm: other.tempo_bpm,
            beats_per_bar: other.count.beats_per_bar as u32,
            behind: best.score - other.score,
        };
        let same = |a: f64, b: f64| (a / b - 1.0).abs() < 0.03;
        let known = rivals.iter().any(|r| same(r.tempo_bpm, rival.tempo_bpm))
            || same(best.tempo_bpm, rival.tempo_bpm);
        if !known && rivals.len() < 3 {
            rivals.push(rival);
        }
    }
    Pulse {
        beats,
        downbeats,
        beats_per_bar: best.count.beats_per_bar as u32,
        tempo_bpm: best.tempo_bpm,
        pulse: strength,
        rivals,
    }
}

/// The range of `beats` from just before the first sound to just after the last.
fn sounding(beats: &[f64], level_db: &[f32], duration_s: f64) -> std::ops::Range<usize> {
    let top = level_db.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    // 50 dB below the loudest tenth of a second nobody counts on.
    let loud = |x: &f32| *x > top - 50.0;
    let hz = CURVE_HZ as f64;
    let first = level_db.iter().position(loud).unwrap_or(0) as f64 / hz - 0.15;
    let last = level_db
        .iter()
        .rposition(loud)
        .map_or(duration_s, |i| (i + 1) as f64 / hz + 0.15);
    let a = beats.partition_point(|b| *b < first);
    let b = beats
        .partition_point(|b| *b <= last.min(duration_s - 1e-3))
        .max(a);
    // A song of one burst keeps its grid.
    if b - a < 2 {
        0..beats.partition_point(|b| *b < duration_s).max(1)
    } else {
        a..b
    }
}

/// Bar lines from zero to the end, for describing bars.
fn bar_edges(heard: &Pulse, duration_s: f64) -> Vec<f64> {
    let mut edges = vec![0.0];
    for &i in &heard.downbeats {
        // A sliver before the first bar belongs to it.
        if heard.beats[i] > edges[edges.len() - 1] + 0.3 && heard.beats[i] < duration_s - 0.3 {
            edges.push(heard.beats[i]);
        }
    }
    edges.push(duration_s);
    edges
}

/// A beat every `60 / bpm` seconds through `anchor_s`, within the song.
fn even_grid(anchor_s: f64, bpm: f64, duration_s: f64) -> Vec<f64> {
    let gap = 60.0 / bpm;
    let first = anchor_s.rem_euclid(gap);
    let count = ((duration_s - first) / gap).ceil().max(1.0) as usize;
    (0..count)
        .map(|i| first + i as f64 * gap)
        .filter(|t| *t < duration_s)
        .collect()
}

/// Levels at [`CURVE_HZ`] from powers relative to the song's own.
fn levels(power: &[f32], rms: f64) -> Vec<f32> {
    // The spectra were taken of the song brought to an RMS of 0.1.
    let scale = (rms * rms) as f32;
    let whole = power.iter().sum::<f32>() / power.len().max(1) as f32;
    power
        .chunks(spectrum::SLOW_HZ / CURVE_HZ)
        .map(|c| {
            let mean = c.iter().sum::<f32>() / c.len() as f32;
            let relative = if whole > 0.0 { mean / whole } else { 0.0 };
            (10.0 * (relative * scale + 1e-12).log10()).max(-120.0)
        })
        .collect()
}
