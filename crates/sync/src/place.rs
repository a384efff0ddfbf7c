//! The two doors: [`prepare`] a song, [`place`] a take on it.

use crate::correlation::Slider;
use crate::search::{Found, SongSide, search};
use crate::sound::{RATE, Reader, at_working_rate};
use crate::whiten::whiten;
use crate::{Error, Note, Options, Placed, Sound};
use model::{Alternative, Length, Placement, Run, SongTime};

/// Least length of a song, in seconds.
const LEAST_SONG_S: f64 = 2.0;
/// Greatest length of a song, in seconds.
const MOST_SONG_S: f64 = 7200.0;
/// How far under its loud parts a song counts as silent, in decibels.
const SONG_FLOOR_DB: f64 = 60.0;
/// The same for a take: digital silence only.
const TAKE_FLOOR_DB: f64 = 90.0;

/// A song made ready for many takes. Cheap to share between threads.
#[derive(Debug)]
pub struct PreparedSong {
    length_s: f64,
    side: SongSide,
}

impl PreparedSong {
    /// How long the song is, in seconds.
    pub fn length_s(&self) -> f64 {
        self.length_s
    }
}

/// Makes a song ready.
///
/// # Errors
/// [`Error::Rate`], [`Error::SongTooShort`] under 2 s, [`Error::SongTooLong`] over 2 h,
/// [`Error::SongSilent`].
pub fn prepare(song: &Sound, _options: &Options) -> Result<PreparedSong, Error> {
    check_rate(song)?;
    let length_s = song.samples.len() as f64 / f64::from(song.rate_hz);
    if length_s < LEAST_SONG_S {
        return Err(Error::SongTooShort { length_s, least_s: LEAST_SONG_S });
    }
    if length_s > MOST_SONG_S {
        return Err(Error::SongTooLong { length_s, most_s: MOST_SONG_S });
    }
    let (samples, _) = at_working_rate(song);
    let white = whiten(&samples, SONG_FLOOR_DB);
    if white.level.iter().all(|l| *l < 1e-6) {
        return Err(Error::SongSilent);
    }
    let slider = Slider::new(&white.samples);
    Ok(PreparedSong { length_s, side: SongSide { white, slider } })
}

/// Where a take lies on the song. `channels` are all audio channels of all tracks of one take,
/// equally long or not; which of them holds the playback is found.
///
/// A take without the song is no error: its placement has no runs and its notes say so.
///
/// # Errors
/// [`Error::Rate`]; [`Error::NoSound`] when there is no channel at all; [`Error::Stopped`] as soon
/// as `keep_going` answers false.
pub fn place(
    song: &PreparedSong,
    channels: &[Sound],
    options: &Options,
    keep_going: &dyn Fn() -> bool,
) -> Result<Placed, Error> {
    if channels.is_empty() {
        return Err(Error::NoSound);
    }
    let mut notes = Vec::new();
    let mut best: Option<(usize, Vec<Found>)> = None;
    for (channel, sound) in channels.iter().enumerate() {
        check_rate(sound)?;
        let (samples, bad) = at_working_rate(sound);
        if bad > 0 {
            notes.push(Note::NotANumber { channel, samples: bad });
        }
        let length_s = samples.len() as f64 / RATE;
        if length_s < options.least_s {
            notes.push(Note::TooShort { channel, length_s });
            continue;
        }
        if samples.iter().all(|v| v.abs() < 1e-7) {
            notes.push(Note::SilentChannel { channel });
            continue;
        }
        let white = whiten(&samples, TAKE_FLOOR_DB);
        let found = search(&song.side, &white.samples, options.least_s, keep_going)?;
        let said = |f: &[Found]| f.iter().map(|x| x.said).sum::<f64>();
        if !found.is_empty() && best.as_ref().is_none_or(|b| said(&b.1) < said(&found)) {
            best = Some((channel, found));
        }
    }
    let _ = Reader::new(1.0);
    let Some((channel, found)) = best else {
        notes.push(Note::NotHeard);
        return Ok(Placed { placement: Placement::default(), channel: None, notes });
    };
    let placement = placement(&found, 1.0);
    if !placement.alternatives.is_empty() {
        notes.push(Note::SeveralPlaces { places: placement.alternatives.len() + 1 });
    }
    Ok(Placed { placement, channel: Some(channel), notes })
}

fn check_rate(sound: &Sound) -> Result<(), Error> {
    if (1000..=768_000).contains(&sound.rate_hz) {
        Ok(())
    } else {
        Err(Error::Rate { rate_hz: sound.rate_hz })
    }
}

/// What was found at `speed`, as the document says it.
fn placement(found: &[Found], speed: f64) -> Placement {
    let seconds = |sample: usize| sample as f64 / RATE / speed;
    let heard = |f: &Found| {
        // Certain from about twice the least strength believed.
        let sure = 1.0 - 0.5 * (-(f.strength.sign_z - 6.0) / 3.0).exp();
        sure * f.own_share
    };
    let mut placement = Placement {
        runs: found
            .iter()
            .map(|f| Run {
                take_start: Length::nearest_to_seconds(seconds(f.from)),
                take_end: Length::nearest_to_seconds(seconds(f.to)),
                song_start: SongTime::nearest_to_seconds(f.line.song_at(f.from as f64) / RATE),
                speed,
                drift_ppm: f.line.slope * 1e6,
                confidence: heard(f),
            })
            .collect(),
        alternatives: Vec::new(),
    };
    if let Some(main) = found.iter().max_by_key(|f| f.to - f.from) {
        placement.alternatives = main
            .others
            .iter()
            .map(|(lag, share)| Alternative { song_offset_s: lag / RATE, confidence: *share })
            .collect();
        placement.alternatives.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    }
    placement
}
