//! Sound files for the loudspeaker, one for each stretch a setup is shot to.

use crate::error::because;
use crate::{Error, Job, Progress, Trouble, known, noted};
use media::{Audio, WavFormat};
use model::{Finding, FrameRate, Project, Purpose, Setup, SongMap, Stretch};
use playback::{CountIn, Level, Made, Pitch, Request, Spacing, Speed, Timecode};
use serde::Serialize;
use std::path::Path;
use store::Folder;

/// What a person may ask of playback.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlaybackOptions {
    /// These setups alone; without any, every setup that is performed to playback.
    pub setups: Vec<String>,
    /// How loud; the usual when left out.
    pub lufs: Option<f64>,
    /// Nothing but the song: as it was mastered.
    pub as_mastered: bool,
}

/// A file made.
#[derive(Clone, Debug, Serialize)]
pub struct PlaybackFile {
    /// For which setup.
    pub setup: String,
    /// The file, within the project.
    pub file: String,
    /// Where everything in it lies.
    #[serde(flatten)]
    pub report: playback::Report,
    /// What is worth knowing, one sentence each.
    pub notes: Vec<Finding>,
}

impl Job {
    /// Makes the files into `playback/`, one for each stretch of each setup. A setup whose file can't
    /// be made is left out with a sentence; files that were there before are replaced whole.
    ///
    /// # Errors
    /// When there is no song, a setup is asked for that there is not, or it was stopped.
    pub fn playback(
        &mut self,
        options: &PlaybackOptions,
        progress: &dyn Progress,
    ) -> Result<(Vec<PlaybackFile>, Vec<Trouble>), Error> {
        for id in &options.setups {
            known::setup(self.project(), id)?;
        }
        let heard = self.heard(progress)?;
        let project = self.project().clone();
        let song = project
            .song
            .clone()
            .ok_or_else(|| Error::NoSong(self.folder.root().to_path_buf()))?;
        let path = self
            .locate(&song.file, progress)?
            .ok_or(Error::SongMissing {
                path: song.file.path,
            })?;
        let audio = media::decode_song(&path, self.tools.as_ref().ok(), &|| progress.keep_going())
            .map_err(|error| because(&self.tools, error))?;
        let (jobs, mut trouble) = stretches(&project, options, &heard.map);
        progress.stage("making playback", jobs.len());
        let folder = self.folder.playback();
        std::fs::create_dir_all(&folder).map_err(|source| Error::Write {
            path: folder.clone(),
            cause: source,
        })?;
        let mut files = Vec::new();
        for (setup, stretch, name) in jobs {
            Self::stop_if_asked(progress)?;
            let request = request(
                project.brief.rate,
                setup,
                stretch,
                &audio,
                &heard.map,
                options,
            );
            let made =
                request.and_then(|request| playback::make(&request, &|| progress.keep_going()));
            match made {
                Ok(made) => {
                    let out = folder.join(&name);
                    write(&out, &made)?;
                    files.push(PlaybackFile {
                        setup: setup.id.to_string(),
                        file: format!("playback/{name}"),
                        report: playback::report(&made),
                        notes: noted("playback", &made.notes).collect(),
                    });
                }
                Err(playback::Error::Stopped) => return Err(Error::Stopped),
                Err(error) => trouble.push(Trouble {
                    file: setup.id.to_string(),
                    says: error.to_string(),
                }),
            }
            progress.part(setup.id.as_str());
        }
        Ok((files, trouble))
    }
}

/// The stretches that playback is asked of, each with its setup and its file's name; and setups that have none.
fn stretches<'a>(
    project: &'a Project,
    options: &PlaybackOptions,
    map: &SongMap,
) -> (Vec<(&'a Setup, Stretch, String)>, Vec<Trouble>) {
    let (mut all, mut trouble) = (Vec::new(), Vec::new());
    let asked = |setup: &&Setup| match options.setups.is_empty() {
        true => setup.purpose == Purpose::Performance,
        false => options.setups.iter().any(|id| id == setup.id.as_str()),
    };
    for setup in project.setups.iter().filter(asked) {
        let planned = map.planned(setup);
        if planned.is_empty() {
            trouble.push(Trouble {
                file: setup.id.to_string(),
                says: "the song has none of the sections, bars or stretches it is planned over; see `barebulb coverage`".into(),
            });
        }
        for (nth, at) in planned.into_iter().enumerate() {
            let name = match nth {
                0 => format!("{}.wav", setup.id),
                nth => format!("{}-{}.wav", setup.id, nth + 1),
            };
            all.push((setup, at, name));
        }
    }
    (all, trouble)
}

/// What is asked of one stretch of a setup, for a video that is shown at the rate `shown`.
fn request<'a>(
    shown: FrameRate,
    setup: &Setup,
    stretch: Stretch,
    audio: &'a Audio,
    map: &'a SongMap,
    options: &PlaybackOptions,
) -> Result<Request<'a>, playback::Error> {
    Ok(Request {
        rate_hz: audio.rate_hz,
        song: &audio.channels,
        stretch,
        speed: Speed::from(setup.speed(shown)),
        pitch: match setup.pitch_kept {
            true => Pitch::Kept,
            false => Pitch::Follows,
        },
        count_in: CountIn::from(map),
        shown,
        level: match options.lufs {
            _ if options.as_mastered => Level::AsMastered,
            Some(lufs) => Level::Raised(lufs),
            None => Level::default(),
        },
        timecode: setup
            .timecode
            .then(|| Timecode::of_show(shown))
            .transpose()?,
        spacing: Spacing::default(),
    })
}

/// The files for the loudspeaker that were made, by name.
pub fn playback_files(folder: &Folder) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder.playback())
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter(|name| name.ends_with(".wav") && !name.starts_with('.'))
        .collect();
    names.sort();
    names
}

fn write(path: &Path, made: &Made) -> Result<(), Error> {
    let channels: Vec<&[f32]> = made.channels.iter().map(Vec::as_slice).collect();
    media::write_wav(path, made.layout.rate_hz, &channels, WavFormat::Int16)?;
    Ok(())
}
