//! Everything known of the takes: where each file lies now, its probe, its place on the song, what its picture is like.
//!
//! What was computed before comes from the cache, so a stopped run goes on where it was.

use crate::error::{Trouble, because};
use crate::job::keep;
use crate::{Error, Job, Progress, noted, song};
use assemble::Meter;
use media::{Probe, TakeAudio, Tools};
use model::{Finding, Length, PictureTrack, PlacedTake, Placement, Run, Song, SongTime, Take};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use store::Cache;
use sync::{PreparedSong, Sound};

/// One take with everything known of it.
#[derive(Clone, Debug)]
pub struct TakeState {
    /// As in the document.
    pub take: Take,
    /// Where its file lies now; `None` when it is gone.
    pub path: Option<PathBuf>,
    /// Its probe.
    pub probe: Option<Probe>,
    /// For coverage and assembly; `None` when the file is gone or can't be read.
    pub placed: Option<PlacedTake>,
    /// What was heard, in the words of `sync --json`.
    pub heard: Option<sync::Report>,
    /// What a person should know.
    pub notes: Vec<Finding>,
    /// Why it can't be used.
    pub trouble: Option<String>,
}

/// All takes with everything known of them, in the order of the document.
#[derive(Clone, Debug)]
pub struct Gathered {
    /// One per take of the document.
    pub takes: Vec<TakeState>,
}

impl Gathered {
    /// The takes that can be used.
    pub fn placed(&self) -> Vec<PlacedTake> {
        self.takes
            .iter()
            .filter_map(|take| take.placed.clone())
            .collect()
    }

    /// The takes that can't, with the sentence about each.
    pub fn trouble(&self) -> Vec<Trouble> {
        let says = |take: &TakeState| {
            take.trouble.clone().map(|says| Trouble {
                file: take.take.file.path.clone(),
                says,
            })
        };
        self.takes.iter().filter_map(says).collect()
    }
}

/// What sync gave for one take, as cached.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
struct Heard {
    placement: Placement,
    notes: Vec<Finding>,
}

const PLACEMENT: &str = "placement";
const PROBE: &str = "probe";
const PICTURE: &str = "picture";

/// Raised when the probe says more or the measures change.
const PROBE_VERSION: u32 = 1;
/// Raised when the picture is measured otherwise.
const PICTURE_VERSION: u32 = 1;

/// The size and rate at which pictures are measured: large enough to tell soft from sharp, small
/// enough that decoding is what costs.
const MEASURED: (u32, u32, f64) = (320, 180, 4.0);
impl Job {
    /// Every take with its file, probe and placement, and, `with_pictures`, its picture's
    /// measures. What is in the cache is not computed again, so that a stopped run goes on where it was.
    ///
    /// # Errors
    /// When there is no song, or it was stopped. One take's failure is told in its [`TakeState`].
    pub fn gather(
        &mut self,
        with_pictures: bool,
        progress: &dyn Progress,
    ) -> Result<Gathered, Error> {
        let song = self
            .project()
            .song
            .clone()
            .ok_or_else(|| Error::NoSong(self.folder.root().to_path_buf()))?;
        let takes = self.project().takes.clone();
        let mut paths = Vec::with_capacity(takes.len());
        for take in &takes {
            Self::stop_if_asked(progress)?;
            paths.push(self.locate(&take.file, progress)?);
        }
        let mut gathering = Gathering {
            cache: &self.cache,
            tools: &self.tools,
            song: &song,
            prepared: None,
            with_pictures,
            progress,
        };
        if takes
            .iter()
            .zip(&paths)
            .any(|(take, path)| path.is_some() && gathering.must_hear(take))
        {
            progress.stage("making the song ready", 0);
            let audio = self.song_audio(&song, progress)?;
            gathering = Gathering {
                prepared: Some(prepare(&audio)?),
                cache: &self.cache,
                tools: &self.tools,
                song: &song,
                with_pictures,
                progress,
            };
        }
        progress.stage("placing takes", takes.len());
        let project = &self.project;
        let one = |(take, path): (&Take, Option<PathBuf>)| -> Result<TakeState, Error> {
            let state = gathering.state(take, path, project.state_of(take));
            progress.part(take.id.as_str());
            state
        };
        let takes: Result<Vec<TakeState>, Error> = takes.par_iter().zip(paths).map(one).collect();
        Ok(Gathered { takes: takes? })
    }
}

/// A song made ready for placing takes on it.
pub(crate) fn prepare(audio: &media::Audio) -> Result<PreparedSong, Error> {
    let samples = song::mono(audio);
    Ok(sync::prepare(&Sound {
        rate_hz: audio.rate_hz,
        samples: &samples,
    })?)
}

/// What it takes to gather what is known of takes; shared by threads.
struct Gathering<'a> {
    cache: &'a Cache,
    tools: &'a Result<Tools, media::Error>,
    song: &'a Song,
    /// There when some take must be heard.
    prepared: Option<PreparedSong>,
    with_pictures: bool,
    progress: &'a dyn Progress,
}

impl Gathering<'_> {
    /// What a placement is kept under: both contents.
    fn key(&self, take: &Take) -> String {
        format!("{} {}", self.song.file.hash, take.file.hash)
    }

    fn kept(&self, take: &Take) -> Option<Heard> {
        self.cache
            .get_json(PLACEMENT, sync::VERSION, &self.key(take))
    }

    fn must_hear(&self, take: &Take) -> bool {
        take.placed_by_hand.is_none() && self.kept(take).is_none()
    }

    fn state(
        &self,
        take: &Take,
        path: Option<PathBuf>,
        performer: u32,
    ) -> Result<TakeState, Error> {
        Job::stop_if_asked(self.progress)?;
        let mut state = TakeState {
            take: take.clone(),
            path: path.clone(),
            probe: None,
            placed: None,
            heard: None,
            notes: Vec::new(),
            trouble: None,
        };
        let Some(path) = path else {
            state.trouble = Some(format!(
                "the take `{}` is not at `{}` and was not found in the project; put it back, or bring it in from where it is now",
                take.id, take.file.path
            ));
            return Ok(state);
        };
        match self.fill(&mut state, &path, performer) {
            Ok(()) => Ok(state),
            Err(error) if error.is_stop() => Err(Error::Stopped),
            Err(error) => {
                state.trouble = Some(error.to_string());
                Ok(state)
            }
        }
    }

    fn fill(&self, state: &mut TakeState, path: &Path, performer: u32) -> Result<(), Error> {
        let take = &state.take;
        let probe = probed(self.cache, self.tools, &take.file.hash, path, self.progress)?;
        let heard = match &take.placed_by_hand {
            Some(hand) => Heard {
                placement: Placement {
                    runs: by_hand(hand, probe.length, self.song.length),
                    alternatives: Vec::new(),
                },
                notes: vec![Finding::note("by-hand", "placed by hand")],
            },
            None => match self.kept(take) {
                Some(heard) => heard,
                None => {
                    let heard = self.hear(path, &probe)?;
                    let key = self.key(take);
                    let kept = (PLACEMENT, sync::VERSION, key.as_str());
                    keep(self.cache, kept, &heard, self.progress);
                    heard
                }
            },
        };
        let placed = sync::Placed {
            placement: heard.placement.clone(),
            channel: None,
            notes: Vec::new(),
        };
        state.heard = Some(sync::report(&take.file.path, &placed));
        let track = if self.with_pictures && probe.picture.is_some() {
            self.measured(take, path, &probe)?
        } else {
            None
        };
        state.placed = Some(PlacedTake {
            id: take.id.clone(),
            setup: take.setup.clone(),
            rating: take.rating,
            state: performer,
            length: probe.length,
            picture: probe.picture.clone(),
            placement: heard.placement,
            track,
        });
        state.notes.extend(heard.notes);
        state.probe = Some(probe);
        Ok(())
    }

    /// Hears where the take at `path` lies on the song.
    fn hear(&self, path: &Path, probe: &Probe) -> Result<Heard, Error> {
        let Some(prepared) = &self.prepared else {
            return Ok(Heard::default());
        };
        let audio = match media::decode_take(path, probe, self.tools.as_ref().ok(), &|| {
            self.progress.keep_going()
        }) {
            Ok(audio) => audio,
            // No sound is no failure: there is nothing to place it by.
            Err(error @ media::Error::NoSound { .. }) => {
                return Ok(Heard {
                    placement: Placement::default(),
                    notes: vec![Finding::warning("no-sound", error.to_string())],
                });
            }
            Err(error) => return Err(because(self.tools, error)),
        };
        let placed = place_audio(&audio, prepared, self.progress)?;
        Ok(Heard {
            placement: placed.placement,
            notes: noted("take-file", &audio.notes)
                .chain(placed.notes)
                .collect(),
        })
    }

    fn measured(
        &self,
        take: &Take,
        path: &Path,
        probe: &Probe,
    ) -> Result<Option<PictureTrack>, Error> {
        let Ok(tools) = self.tools else {
            return Ok(None);
        };
        let hash = &take.file.hash;
        if let Some(track) = self.cache.get_json(PICTURE, PICTURE_VERSION, hash) {
            return Ok(Some(track));
        }
        let (width, height, per_second) = MEASURED;
        let full: [u8; 256] = std::array::from_fn(full_range);
        let mut meter = Meter::default();
        let mut luma = Vec::new();
        let keep_going = || self.progress.keep_going();
        media::gray_frames(
            path,
            probe,
            tools,
            width,
            height,
            per_second,
            &keep_going,
            &mut |at_s, frame| {
                luma.clear();
                luma.extend(frame.iter().map(|coded| full[usize::from(*coded)]));
                meter.push(
                    Length::nearest_to_seconds(at_s),
                    width as usize,
                    height as usize,
                    &luma,
                );
            },
        )?;
        let track = meter.finish();
        let kept = (PICTURE, PICTURE_VERSION, hash.as_str());
        keep(self.cache, kept, &track, self.progress);
        Ok(Some(track))
    }
}

/// The probe of the file at `path` with the content `hash`, from the cache or made now.
pub(crate) fn probed(
    cache: &Cache,
    tools: &Result<Tools, media::Error>,
    hash: &str,
    path: &Path,
    progress: &dyn Progress,
) -> Result<Probe, Error> {
    if let Some(probe) = cache.get_json(PROBE, PROBE_VERSION, hash) {
        return Ok(probe);
    }
    let probe = media::probe(path, tools.as_ref().ok()).map_err(|error| because(tools, error))?;
    keep(cache, (PROBE, PROBE_VERSION, hash), &probe, progress);
    Ok(probe)
}

/// Luma as coded (16 to 235, Rec. ITU-R BT.709) on the scale from 0 to 255.
fn full_range(coded: usize) -> u8 {
    ((coded as f32 - 16.0) * 255.0 / 219.0)
        .round()
        .clamp(0.0, 255.0) as u8
}

/// Hears where decoded sound lies on the song.
pub(crate) fn place_audio(
    audio: &TakeAudio,
    prepared: &PreparedSong,
    progress: &dyn Progress,
) -> Result<sync::Placed, Error> {
    let channels: Vec<Sound> = audio
        .channels
        .iter()
        .map(|channel| Sound {
            rate_hz: audio.rate_hz,
            samples: &channel.samples,
        })
        .collect();
    Ok(sync::place(
        prepared,
        &channels,
        &sync::Settings::default(),
        &|| progress.keep_going(),
    )?)
}

/// The run a person meant: the part of the take that falls on the song.
fn by_hand(hand: &model::HandPlacement, take: Length, song: Length) -> Vec<Run> {
    let whole = Run {
        take_start: Length::ZERO,
        take_end: take,
        song_start: hand.song_start,
        speed: hand.speed,
        drift_ppm: 0.0,
        confidence: 1.0,
    };
    let start_s = whole.take_s_at(0.0).max(0.0);
    let end_s = whole.take_s_at(song.seconds()).min(take.seconds());
    if end_s <= start_s {
        return Vec::new();
    }
    vec![Run {
        take_start: Length::nearest_to_seconds(start_s),
        take_end: Length::nearest_to_seconds(end_s),
        song_start: SongTime::nearest_to_seconds(whole.song_s_at(start_s)),
        ..whole
    }]
}
#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_placement_by_hand_is_kept_to_the_song() {
        let hand = model::HandPlacement {
            extra: Default::default(),
            song_start: SongTime::nearest_to_seconds(-5.0),
            speed: 2.0,
        };
        let runs = by_hand(
            &hand,
            Length::nearest_to_seconds(60.0),
            Length::nearest_to_seconds(55.0),
        );
        let run = runs[0];
        assert_eq!(
            (
                run.take_start.seconds(),
                run.take_end.seconds(),
                run.song_start.seconds()
            ),
            (2.5, 30.0, 0.0)
        );
        let late = model::HandPlacement {
            extra: Default::default(),
            song_start: SongTime::nearest_to_seconds(99.0),
            speed: 1.0,
        };
        assert!(
            by_hand(
                &late,
                Length::nearest_to_seconds(10.0),
                Length::nearest_to_seconds(55.0)
            )
            .is_empty()
        );
    }
}
