//! A song decoded into memory.

use crate::inprocess::{self, Decoded, Limit};
use crate::pipe::{self, Wanted};
use crate::probe::probe_while;
use crate::{Error, KeepGoing, Note, Tools, kind};
use std::path::Path;

/// The longest song that is read, in seconds: an hour and a half.
pub const LONGEST_SONG_S: f64 = 90.0 * 60.0;

/// The most samples (all channels together) that are kept in memory: 2.4 GB of `f32`. 90 minutes
/// of stereo at 48 kHz are 518 million.
pub const MOST_SAMPLES: u64 = 600_000_000;

/// Decoded sound.
#[derive(Clone, Debug, PartialEq)]
pub struct Audio {
    /// Samples per second, as in the file.
    pub rate_hz: u32,
    /// One vector per channel, all of the same length, full scale ±1.0, every sample a number.
    pub channels: Vec<Vec<f32>>,
    /// What is worth telling.
    pub notes: Vec<Note>,
}

/// Decodes a song. WAV, FLAC, MP3, AIFF and Ogg Vorbis need no ffmpeg; anything else, and what
/// symphonia refuses, goes through it when there is one.
///
/// Sample 0 is the first that a player would sound: encoder delays are taken off. A file that
/// breaks off gives what is there and a note.
///
/// # Errors
/// [`Error::TooLong`] beyond [`LONGEST_SONG_S`] or [`MOST_SAMPLES`], before they are in memory;
/// [`Error::NotMedia`] when it is no sound; [`Error::NeedsTools`] when only ffmpeg could read it;
/// [`Error::Cancelled`].
pub fn decode_song(
    path: &Path,
    tools: Option<&Tools>,
    keep_going: KeepGoing,
) -> Result<Audio, Error> {
    let limit = Limit {
        longest_s: LONGEST_SONG_S,
        most_samples: MOST_SAMPLES,
    };
    let Decoded {
        rate_hz,
        mut channels,
        notes,
    } = decode(path, tools, limit, keep_going)?;
    let shortest = channels.iter().map(Vec::len).min().unwrap_or(0);
    for channel in &mut channels {
        channel.truncate(shortest);
    }
    Ok(Audio {
        rate_hz,
        channels,
        notes,
    })
}

fn decode(
    path: &Path,
    tools: Option<&Tools>,
    limit: Limit,
    keep_going: KeepGoing,
) -> Result<Decoded, Error> {
    inprocess::check_file(path)?;
    let name = || path.display().to_string();
    let by_ourselves = match kind::known(path)?.in_process {
        true => match inprocess::decode(path, limit, keep_going) {
            Err(error @ (Error::NotMedia { .. } | Error::NoSound { .. })) => error,
            done => return done,
        },
        false => Error::NeedsTools { path: name() },
    };
    let Some(tools) = tools else {
        return Err(by_ourselves);
    };
    let about = probe_while(path, Some(tools), keep_going)?;
    let Some(track) = about.sound.first() else {
        return Err(Error::NoSound { path: name() });
    };
    let frames = (about.sound_length_s() * f64::from(track.rate_hz)) as u64;
    limit.check(&name(), frames, track.channels, track.rate_hz)?;
    let wanted = Wanted {
        track: 0,
        rate_hz: None,
        zero_s: None,
        native_hz: track.rate_hz,
    };
    let mut decoded = pipe::decode(path, tools, &wanted, limit, keep_going)?;
    decoded.note_if_short(&name(), track.length_s);
    Ok(decoded)
}
