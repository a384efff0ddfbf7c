//! The two doors: [`prepare`] a song, [`place`] a take on it.

use crate::correlation::Slider;
use crate::flux::{Series, Spectra};
use crate::pass::{Pass, fine, kept, resampled};
use crate::search::{Found, SongSide, search};
use crate::sound::{RATE, at_working_rate};
use crate::speed::{HOP, guesses, usual};
use crate::whiten::whiten;
use crate::{Error, Placed, Settings, Sound};
use model::{Alternative, Finding, Length, Placement, Run, SongTime};

/// Least length of a song, in seconds.
const LEAST_SONG_S: f64 = 2.0;
/// Greatest length of a song, in seconds.
const MOST_SONG_S: f64 = 7200.0;
/// How far under its loud parts a song counts as silent, in decibels.
const SONG_FLOOR_DB: f64 = 60.0;
/// The same for a take: digital silence only.
const TAKE_FLOOR_DB: f64 = 90.0;
/// A run this long at normal speed is not a scrap of another speed, in seconds.
const SURE_S: f64 = 10.0;
/// Guesses at other speeds heard from end to end before the waveforms are given up.
const MOST_CLOSE: usize = 3;

/// A song made ready for many takes. Cheap to share between threads.
#[derive(Debug)]
pub struct PreparedSong {
    length_s: f64,
    side: SongSide,
    /// Band levels for the search over speeds, and finer ones for passes with their pitch kept.
    coarse: Series,
    fine: Series,
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
pub fn prepare(song: &Sound) -> Result<PreparedSong, Error> {
    check_rate(song)?;
    let length_s = song.samples.len() as f64 / f64::from(song.rate_hz);
    if length_s < LEAST_SONG_S {
        return Err(Error::SongTooShort {
            length_s,
            least_s: LEAST_SONG_S,
        });
    }
    if length_s > MOST_SONG_S {
        return Err(Error::SongTooLong {
            length_s,
            most_s: MOST_SONG_S,
        });
    }
    let (samples, _) = at_working_rate(song);
    let white = whiten(&samples, SONG_FLOOR_DB);
    if white.level.iter().all(|l| *l < 1e-6) {
        return Err(Error::SongSilent);
    }
    let slider = Slider::new(&white.samples);
    let coarse = Spectra::of(&samples, HOP).bands(1.0);
    let fine = fine(&samples);
    Ok(PreparedSong {
        length_s,
        side: SongSide { white, slider },
        coarse,
        fine,
    })
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
    settings: &Settings,
    keep_going: &dyn Fn() -> bool,
) -> Result<Placed, Error> {
    if channels.is_empty() {
        return Err(Error::NoSound);
    }
    let mut notes = Vec::new();
    let heard = worth_hearing(channels, settings, &mut notes)?;
    let mut best: Option<(usize, Pass)> = None;
    for (channel, samples) in &heard {
        let white = whiten(samples, TAKE_FLOOR_DB).samples;
        let pass = Pass {
            speed: 1.0,
            kept: false,
            found: search(&song.side, &white, settings.least_s, keep_going)?,
        };
        take_better(&mut best, *channel, pass);
    }
    // Nothing, or little of a long take: it may have run at another speed, which near 1 leaves
    // scraps of match here and there.
    let covered = best.as_ref().map_or(0.0, |(_, p)| {
        p.found.iter().map(|f| f.to - f.from).max().unwrap_or(0) as f64 / RATE
    });
    if settings.off_speed && covered < SURE_S {
        let usual = usual(settings);
        for (channel, samples) in &heard {
            if let Some(pass) = at_other_speed(song, samples, &usual, settings, keep_going)? {
                take_better(&mut best, *channel, pass);
            }
        }
    }
    let Some((channel, pass)) = best else {
        notes.push(Finding::warning(
            "not-heard",
            "the song was not heard in it",
        ));
        return Ok(Placed {
            placement: Placement::default(),
            channel: None,
            notes,
        });
    };
    if pass.kept {
        let says = "the song was played at another speed with its pitch kept; the place is exact to some milliseconds";
        notes.push(Finding::note("pitch-kept", says));
    }
    let placement = placement(&pass.found, pass.speed);
    if !placement.alternatives.is_empty() {
        let places = placement.alternatives.len() + 1;
        let says = format!("it fits {places} places of the song about equally well");
        notes.push(Finding::unknown("several-places", says).mended_by("choose one by hand"));
    }
    Ok(Placed {
        placement,
        channel: Some(channel),
        notes,
    })
}

/// The channels with something in them, at the working rate, each sound once.
fn worth_hearing(
    channels: &[Sound],
    settings: &Settings,
    notes: &mut Vec<Finding>,
) -> Result<Vec<(usize, Vec<f32>)>, Error> {
    let mut heard: Vec<(usize, Vec<f32>)> = Vec::new();
    for (channel, sound) in channels.iter().enumerate() {
        let named = format!("sound channel {}", channel + 1);
        check_rate(sound)?;
        let (samples, bad) = at_working_rate(sound);
        if bad > 0 {
            let says = format!(
                "{named} holds {bad} samples that are not numbers; they were taken as silence"
            );
            notes.push(Finding::warning("not-a-number", says));
        }
        let length_s = samples.len() as f64 / RATE;
        if length_s < settings.least_s {
            let says = format!("{named} lasts {length_s:.1} s, too short to hear the song in it");
            notes.push(Finding::warning("too-short", says));
        } else if samples.iter().all(|v| v.abs() < 1e-7) {
            notes.push(Finding::note(
                "silent-channel",
                format!("{named} is silent"),
            ));
        } else if let Some(same) = heard.iter().find(|(_, other)| alike(other, &samples)) {
            let says = format!("{named} holds the same as channel {}", same.0 + 1);
            notes.push(Finding::note("same-channel", says));
        } else {
            heard.push((channel, samples));
        }
    }
    Ok(heard)
}

/// Keeps the pass that says more.
fn take_better(best: &mut Option<(usize, Pass)>, channel: usize, pass: Pass) {
    if !pass.found.is_empty() && best.as_ref().is_none_or(|b| b.1.said() < pass.said()) {
        *best = Some((channel, pass));
    }
}

/// Whether two channels hold the same sound, as the two of a mono recording stored as stereo do.
fn alike(a: &[f32], b: &[f32]) -> bool {
    let (mut ab, mut aa, mut bb) = (0.0f64, 0.0f64, 0.0f64);
    for (x, y) in a.iter().zip(b) {
        ab += f64::from(x * y);
        aa += f64::from(x * x);
        bb += f64::from(y * y);
    }
    a.len() == b.len() && ab > 0.95 * (aa * bb).sqrt()
}

/// The best pass at a speed other than 1, if there is one.
fn at_other_speed(
    song: &PreparedSong,
    take: &[f32],
    usual: &[f64],
    settings: &Settings,
    keep_going: &dyn Fn() -> bool,
) -> Result<Option<Pass>, Error> {
    let guesses = guesses(&song.coarse, take, settings, keep_going)?;
    // Waveforms first: they are the surer witness, and a small change of pitch fools the flux.
    let mut close = 0;
    for guess in &guesses {
        if close == MOST_CLOSE {
            break;
        }
        if !keep_going() {
            return Err(Error::Stopped);
        }
        let (looked, pass) = resampled(&song.side, take, guess, usual, settings, keep_going)?;
        if pass.is_some() {
            return Ok(pass);
        }
        close += usize::from(looked);
    }
    let mut best: Option<Pass> = None;
    let mut bands = None;
    for guess in guesses.iter().filter(|g| g.kept) {
        if !keep_going() {
            return Err(Error::Stopped);
        }
        let bands = bands.get_or_insert_with(|| fine(take));
        let pass = kept(
            &song.fine,
            song.side.white.samples.len(),
            bands,
            take.len(),
            guess,
            usual,
            settings,
        );
        if let Some(pass) = pass
            && best.as_ref().is_none_or(|b| b.said() < pass.said())
        {
            best = Some(pass);
        }
    }
    Ok(best)
}

fn check_rate(sound: &Sound) -> Result<(), Error> {
    if (1000..=768_000).contains(&sound.rate_hz) {
        Ok(())
    } else {
        Err(Error::Rate {
            rate_hz: sound.rate_hz,
        })
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
            .map(|(lag, share)| Alternative {
                song_offset_s: lag / RATE,
                confidence: *share,
            })
            .collect();
        placement
            .alternatives
            .sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    }
    placement
}
