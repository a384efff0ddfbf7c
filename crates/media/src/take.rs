//! What a camera heard: every channel of every sound track, on the clock of the picture.

use crate::inprocess::{self, Limit};
use crate::pipe::{self, Wanted};
use crate::{Error, KeepGoing, MOST_SAMPLES, Note, Probe, Tools, kind};
use std::path::Path;

/// The rate takes are decoded at when the file has more, in Hz: enough for what a small
/// loudspeaker gives, half the memory of 48 kHz.
pub const TAKE_RATE_HZ: u32 = 24_000;

/// The longest take that is read, in seconds: half a day.
const LONGEST_TAKE_S: f64 = 12.0 * 3600.0;

/// What a camera heard.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeAudio {
    /// Samples per second of every channel.
    pub rate_hz: u32,
    /// Every channel of every track; lengths may differ by track.
    pub channels: Vec<TakeChannel>,
    /// What is worth telling.
    pub notes: Vec<Note>,
}

/// One channel of one sound track.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeChannel {
    /// Which sound track of the file, counted from 0.
    pub track: usize,
    /// Which channel of it, counted from 0.
    pub channel: usize,
    /// The samples, full scale ±1.0. Sample 0 sounds when the first picture frame is shown, or is
    /// the first sample where there is no picture.
    pub samples: Vec<f32>,
}

/// Decodes what the camera heard, at the file's rate or [`TAKE_RATE_HZ`], whichever is less.
///
/// # Errors
/// As [`decode_take_at`].
pub fn decode_take(
    path: &Path,
    probe: &Probe,
    tools: Option<&Tools>,
    keep_going: KeepGoing,
) -> Result<TakeAudio, Error> {
    decode_take_at(path, probe, tools, TAKE_RATE_HZ, keep_going)
}

/// Decodes what the camera heard, at the file's rate or `most_hz`, whichever is less. Without
/// `tools` a sound file (WAV, FLAC, MP3, AIFF, Ogg Vorbis) is still read, at its own rate.
///
/// A track that cannot be decoded is left out with a note as long as another can.
///
/// # Errors
/// [`Error::NoSound`] when there is no sound track, [`Error::NeedsTools`] when only ffmpeg could
/// read it, [`Error::TooLong`] beyond twelve hours or [`MOST_SAMPLES`], [`Error::Cancelled`].
pub fn decode_take_at(
    path: &Path,
    probe: &Probe,
    tools: Option<&Tools>,
    most_hz: u32,
    keep_going: KeepGoing,
) -> Result<TakeAudio, Error> {
    let name = path.display().to_string();
    inprocess::check_file(path)?;
    let Some(lowest_hz) = probe.sound.iter().map(|track| track.rate_hz).min() else {
        return Err(Error::NoSound { path: name });
    };
    let limit = Limit {
        longest_s: LONGEST_TAKE_S,
        most_samples: MOST_SAMPLES,
    };
    let Some(tools) = tools else {
        if probe.picture.is_some() || !kind::known(path)?.in_process {
            return Err(Error::NeedsTools { path: name });
        }
        let decoded = inprocess::decode(path, limit, keep_going)?;
        return Ok(TakeAudio {
            rate_hz: decoded.rate_hz,
            channels: on_track(0, decoded.channels).collect(),
            notes: decoded.notes,
        });
    };
    let rate_hz = lowest_hz.min(most_hz).max(1);
    let all_channels = probe.sound.iter().map(|track| track.channels).sum();
    let frames = (probe.sound_length_s() * f64::from(rate_hz)) as u64;
    limit.check(&name, frames, all_channels, rate_hz)?;
    // Without picture the earliest sample of any track is zero.
    let zero_s = match &probe.picture {
        Some(picture) => picture.start_s,
        None => probe
            .sound
            .iter()
            .map(|t| t.start_s)
            .fold(f64::INFINITY, f64::min),
    };
    let mut channels = Vec::new();
    let mut notes = Vec::new();
    let mut first_refusal = None;
    for track in &probe.sound {
        let wanted = Wanted {
            track: track.index,
            rate_hz: (track.rate_hz != rate_hz).then_some(rate_hz),
            zero_s: Some(zero_s),
            native_hz: track.rate_hz,
        };
        match pipe::decode(path, tools, &wanted, limit, keep_going) {
            Ok(mut decoded) => {
                decoded.note_if_short(&name, track.start_s + track.length_s - zero_s);
                channels.extend(on_track(track.index, decoded.channels));
                notes.extend(decoded.notes);
            }
            Err(
                error @ (Error::Refused { .. } | Error::NotMedia { .. } | Error::NoSound { .. }),
            ) => {
                notes.push(Note::Other {
                    path: name.clone(),
                    what: format!("sound track {} was left out: {error}", track.index + 1),
                });
                first_refusal.get_or_insert(error);
            }
            Err(error) => return Err(error),
        }
    }
    match first_refusal {
        Some(error) if channels.is_empty() => Err(error),
        _ => Ok(TakeAudio {
            rate_hz,
            channels,
            notes,
        }),
    }
}

fn on_track(track: usize, channels: Vec<Vec<f32>>) -> impl Iterator<Item = TakeChannel> {
    channels
        .into_iter()
        .enumerate()
        .map(move |(channel, samples)| TakeChannel {
            track,
            channel,
            samples,
        })
}
