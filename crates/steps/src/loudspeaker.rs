//! Sound files for the loudspeaker, one for each stretch a setup is shot to.

use crate::error::because;
use crate::{Error, Job, Progress, Trouble};
use media::WavFormat;
use model::{Purpose, Setup, Stretch};
use playback::{CountIn, Level, Made, Pitch, Request, Spacing, Speed, Timecode};
use serde::Serialize;
use std::path::Path;

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

/// A file made. All times are seconds of the file unless they say song.
#[derive(Clone, Debug, Serialize)]
pub struct PlaybackFile {
    /// For which setup.
    pub setup: String,
    /// The file, within the project.
    pub file: String,
    /// Song seconds per second of the file, as an exact fraction.
    pub speed: String,
    /// Whether the pitch was kept.
    pub pitch_kept: bool,
    /// The timecode on the right channel.
    pub timecode: Option<PlaybackTimecode>,
    /// Samples a second.
    pub rate_hz: u32,
    /// Song time of the first song sample in the file.
    pub starts_at_s: f64,
    /// Where the song is first heard.
    pub music_start_s: f64,
    /// Where it is last heard.
    pub music_end_s: f64,
    /// Where the stretch begins.
    pub stretch_start_s: f64,
    /// Where it ends.
    pub stretch_end_s: f64,
    /// Song time there.
    pub song_at_stretch_s: f64,
    /// Start of the head beep.
    pub head_beep_s: f64,
    /// Start of the tail beep.
    pub tail_beep_s: f64,
    /// Length of a beep.
    pub beep_length_s: f64,
    /// Each click of the count-in.
    pub clicks_s: Vec<f64>,
    /// Which of them start a bar.
    pub accents: Vec<bool>,
    /// The beats they stand for, in song time; negative before the song.
    pub clicks_song_s: Vec<f64>,
    /// True peak, dBTP (ITU-R BS.1770).
    pub true_peak_dbtp: f64,
    /// Integrated loudness, LUFS.
    pub loudness_lufs: Option<f64>,
    /// Length of the file.
    pub length_s: f64,
    /// What is worth knowing, one sentence each.
    pub notes: Vec<String>,
}

/// Timecode beside the song.
#[derive(Clone, Debug, Serialize)]
pub struct PlaybackTimecode {
    /// Frames a second, as a fraction.
    pub rate: String,
    /// Whether it is drop-frame.
    pub drop: bool,
    /// The first label.
    pub start: String,
    /// Where the first label begins in the file.
    pub start_s: f64,
    /// How long a label lasts.
    pub label_s: f64,
    /// How many labels there are.
    pub labels: i64,
    /// The label of song time zero.
    pub song_zero: String,
    /// Song seconds per second of labels: 1 where a label is song time.
    pub song_per_label: f64,
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
            if !self.project().setups.iter().any(|s| s.id.as_str() == id) {
                return Err(Error::NoSetup(id.clone()));
            }
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
        let asked: Vec<&Setup> = project
            .setups
            .iter()
            .filter(|setup| {
                if options.setups.is_empty() {
                    setup.purpose == Purpose::Performance
                } else {
                    options.setups.iter().any(|id| id == setup.id.as_str())
                }
            })
            .collect();
        let mut jobs: Vec<(&Setup, Stretch, String)> = Vec::new();
        let mut trouble = Vec::new();
        for setup in asked {
            let stretches = heard.map.planned(setup);
            if stretches.is_empty() {
                trouble.push(Trouble {
                    file: setup.id.to_string(),
                    says: "the song has none of the sections, bars or stretches it is planned over; see `barebulb coverage`".into(),
                });
            }
            for (nth, at) in stretches.iter().enumerate() {
                let name = match nth {
                    0 => format!("{}.wav", setup.id),
                    nth => format!("{}-{}.wav", setup.id, nth + 1),
                };
                jobs.push((setup, *at, name));
            }
        }
        progress.stage("making playback", jobs.len());
        let folder = self.folder.playback();
        std::fs::create_dir_all(&folder).map_err(|source| Error::Write {
            path: folder.clone(),
            source,
        })?;
        let mut files = Vec::new();
        for (setup, stretch, name) in jobs {
            Self::stop_if_asked(progress)?;
            let shown = project.brief.rate;
            let shot = setup.shot_rate.unwrap_or(shown);
            let timecode = setup.timecode.then(|| Timecode::of_show(shown)).transpose();
            let made = timecode.and_then(|timecode| {
                playback::make(
                    &Request {
                        rate_hz: audio.rate_hz,
                        song: &audio.channels,
                        stretch,
                        speed: Speed::of_rates(shot, shown),
                        pitch: if setup.pitch_kept {
                            Pitch::Kept
                        } else {
                            Pitch::Follows
                        },
                        count_in: CountIn::from(&heard.map),
                        shown,
                        level: match options.lufs {
                            _ if options.as_mastered => Level::AsMastered,
                            Some(lufs) => Level::Raised(lufs),
                            None => Level::default(),
                        },
                        timecode,
                        spacing: Spacing::default(),
                    },
                    &|| progress.keep_going(),
                )
            });
            match made {
                Ok(made) => {
                    let out = folder.join(&name);
                    write(&out, &made)?;
                    files.push(described(setup, format!("playback/{name}"), &made));
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

fn write(path: &Path, made: &Made) -> Result<(), Error> {
    let channels: Vec<&[f32]> = made.channels.iter().map(Vec::as_slice).collect();
    media::write_wav(path, made.layout.rate_hz, &channels, WavFormat::Int16)?;
    Ok(())
}

fn described(setup: &Setup, file: String, made: &Made) -> PlaybackFile {
    let layout = &made.layout;
    let seconds = |sample: u64| layout.seconds(sample);
    let rate_hz = f64::from(layout.rate_hz);
    PlaybackFile {
        setup: setup.id.to_string(),
        file,
        speed: layout.speed.to_string(),
        pitch_kept: made.pitch_kept,
        timecode: layout.timecode.map(|course| PlaybackTimecode {
            rate: format!(
                "{}/{}",
                course.rate.frames().num(),
                course.rate.frames().den()
            ),
            drop: course.rate.drop(),
            start: course.label(0).to_string(),
            start_s: course.first_start / rate_hz,
            label_s: course.spacing / rate_hz,
            labels: course.frames,
            song_zero: course.rate.label(course.zero).to_string(),
            song_per_label: course.song_per_label,
        }),
        rate_hz: layout.rate_hz,
        starts_at_s: layout.song_at(layout.music_start).seconds(),
        music_start_s: seconds(layout.music_start),
        music_end_s: seconds(layout.music_end),
        stretch_start_s: seconds(layout.stretch_start),
        stretch_end_s: seconds(layout.stretch_end),
        song_at_stretch_s: layout.song_at_stretch.seconds(),
        head_beep_s: seconds(layout.head_beep),
        tail_beep_s: seconds(layout.tail_beep),
        beep_length_s: seconds(layout.beep_samples),
        clicks_s: layout.clicks.iter().map(|c| seconds(c.sample)).collect(),
        accents: layout.clicks.iter().map(|c| c.accent).collect(),
        clicks_song_s: layout.clicks.iter().map(|c| c.song.seconds()).collect(),
        true_peak_dbtp: made.reading.true_peak_dbtp,
        loudness_lufs: made.reading.loudness_lufs,
        length_s: seconds(layout.samples),
        notes: made.notes.iter().map(ToString::to_string).collect(),
    }
}
