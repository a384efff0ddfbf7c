//! What went wrong, and what was left undone.

use serde::{Deserialize, Serialize};
use std::fmt;

/// The longest song heard, in seconds: an hour. Holds memory below about 1.5 GB with the samples.
pub const MAX_S: f64 = 3600.0;
/// The shortest song heard, in seconds.
pub const MIN_S: f64 = 1.0;
/// The lowest and highest sample rates heard, in hertz.
pub const RATES_HZ: std::ops::RangeInclusive<u32> = 4000..=384_000;
/// The most channels heard.
pub const MAX_CHANNELS: usize = 16;

/// Why a song could not be heard, or a correction not be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// There is no channel.
    #[error("the song has no audio channel; choose a file that holds sound")]
    NoChannels,
    /// There are too many channels.
    #[error("the song has {0} channels and at most {MAX_CHANNELS} are heard; mix it down first")]
    TooManyChannels(usize),
    /// Channels are of different lengths.
    #[error("the song's channels differ in length ({0} and {1} samples); export it again")]
    UnequalChannels(usize, usize),
    /// The sample rate is out of range.
    #[error("a sample rate of {0} Hz lies outside {low} to {high} Hz; export the song at 44100 or 48000 Hz", low = RATES_HZ.start(), high = RATES_HZ.end())]
    Rate(u32),
    /// The song is too short.
    #[error("the song lasts {0:.2} s and at least {MIN_S} s are needed; choose the whole song")]
    TooShort(f64),
    /// The song is too long.
    #[error("the song lasts {min:.0} min and at most {most:.0} min are heard; cut out the song first", min = .0 / 60.0, most = MAX_S / 60.0)]
    TooLong(f64),
    /// The caller asked to stop.
    #[error("listening was stopped before its end; start it again")]
    Stopped,
    /// The loudness meter refused the sound.
    #[error("loudness could not be measured ({0}); export the song as stereo at 44100 or 48000 Hz")]
    Meter(String),
    /// There is no such section.
    #[error("there is no section {0}; the song has {1}, counted from 0")]
    NoSection(usize, usize),
    /// There is no such boundary.
    #[error("there is no boundary {0}; the song has {1} inner ones, counted from 0")]
    NoBoundary(usize, usize),
    /// A section would be empty.
    #[error("at {0} a section would be empty; choose a place between {1} and {2}")]
    EmptySection(model::SongTime, model::SongTime, model::SongTime),
    /// A letter is none.
    #[error("{0}")]
    Letter(String),
}

/// What could not be heard, or what of the corrections could not be followed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Note {
    /// So many samples were no numbers.
    NotNumbers(u64),
    /// So many samples lay far beyond full scale.
    Held(u64),
    /// The samples are off centre by this much of full scale.
    Offset(f64),
    /// Nothing sounds.
    Silent,
    /// No steady pulse.
    NoPulse,
    /// A tempo set by hand was not usable.
    TempoIgnored(f64),
    /// A number of beats in a bar set by hand was not usable.
    BeatsPerBarIgnored(u32),
    /// Beats were halved or doubled only so many times of those asked.
    DoublingsCut(i8, i8),
    /// So many taps lay outside the song or on top of another.
    TapsIgnored(usize),
    /// A first downbeat outside the song.
    DownbeatIgnored(f64),
    /// So many sections marked by hand lay outside the song or under others.
    SectionsIgnored(usize),
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let s = |n: u64| if n == 1 { "" } else { "s" };
        match self {
            Self::NotNumbers(n) => write!(
                f,
                "{n} sample{} of the song were not numbers and count as silence; export it again",
                s(*n)
            ),
            Self::Held(n) => write!(
                f,
                "{n} sample{} lie far beyond full scale and were held; check the export",
                s(*n)
            ),
            Self::Offset(x) => write!(
                f,
                "the waveform is off centre by {:.1} % of full scale; beats are not affected",
                x * 100.0
            ),
            Self::Silent => write!(
                f,
                "the song is silent, so beats are an even grid of 120 a minute; set the tempo by hand"
            ),
            Self::NoPulse => write!(
                f,
                "no steady pulse was heard, so beats are an even grid of 120 a minute; set the tempo or tap some beats"
            ),
            Self::TempoIgnored(x) => write!(
                f,
                "the tempo set by hand ({x} beats a minute) cannot be followed and was left out"
            ),
            Self::BeatsPerBarIgnored(n) => write!(
                f,
                "{n} beats in a bar, set by hand, cannot be followed and were left out"
            ),
            Self::DoublingsCut(asked, done) => write!(
                f,
                "beats were to be halved or doubled {asked} times and were {done} times; more leaves the range of tempi"
            ),
            Self::TapsIgnored(n) => write!(
                f,
                "{n} tapped beat{} lie outside the song or on top of another and were left out",
                s(*n as u64)
            ),
            Self::DownbeatIgnored(x) => write!(
                f,
                "the first downbeat set by hand ({x:.2} s) lies outside the song and was left out"
            ),
            Self::SectionsIgnored(n) => write!(
                f,
                "{n} section{} marked by hand lie outside the song or under another and were left out",
                s(*n as u64)
            ),
        }
    }
}
