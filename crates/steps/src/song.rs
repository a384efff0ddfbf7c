//! The song: taken in, listened to once, read as a ruler with the person's corrections.

use crate::error::because;
use crate::job::keep;
use crate::{Error, Job, Progress, noted};
use listen::{Listening, Sound};
use media::Audio;
use model::{Edit, Finding, Length, Song, SongMap};
use std::path::Path;

/// What was heard, with and without corrections.
#[derive(Clone, Debug)]
pub struct Heard {
    /// As heard.
    pub listening: Listening,
    /// As the rest of the program uses it, corrections applied.
    pub map: SongMap,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

impl Heard {
    pub(crate) fn new(listening: Listening, corrections: &model::Corrections) -> Self {
        let (map, more) = listen::song_map(&listening, corrections);
        let notes = noted("listening", listening.notes.iter().chain(&more)).collect();
        Self {
            listening,
            map,
            notes,
        }
    }

    /// The words of `barebulb listen --json`.
    pub fn report(&self) -> listen::Report {
        listen::report(&self.listening, &self.map)
    }
}

/// Listens to decoded sound.
pub(crate) fn hear(audio: &Audio, progress: &dyn Progress) -> Result<Listening, Error> {
    let sound = Sound {
        rate_hz: audio.rate_hz,
        channels: &audio.channels,
    };
    Ok(listen::listen(&sound, &|share| {
        progress.share(share);
        progress.keep_going()
    })?)
}

/// The length of decoded sound, exact to the sample.
pub(crate) fn length(audio: &Audio) -> Length {
    Length::of_samples(
        audio.channels.first().map_or(0, Vec::len) as u64,
        audio.rate_hz,
    )
}

/// One channel of decoded sound for sync: the mean of all.
pub(crate) fn mono(audio: &Audio) -> Vec<f32> {
    match audio.channels.as_slice() {
        [] => Vec::new(),
        [only] => only.clone(),
        [first, rest @ ..] => {
            let mut sum = first.clone();
            for channel in rest {
                for (into, sample) in sum.iter_mut().zip(channel) {
                    *into += sample;
                }
            }
            let scale = 1.0 / audio.channels.len() as f32;
            sum.iter_mut().for_each(|sample| *sample *= scale);
            sum
        }
    }
}

const KIND: &str = "listening";

impl Job {
    /// Takes in the song at `path`: listened to first, so that nothing unusable gets in, then
    /// copied into `song/`. Corrections and lyrics stay when it replaces another.
    ///
    /// # Errors
    /// When it is no song, is too long or short, or can't be copied.
    pub fn set_song(&mut self, path: &Path, progress: &dyn Progress) -> Result<Heard, Error> {
        progress.stage("listening to the song", 0);
        let keep_going = || progress.keep_going();
        let audio = media::decode_song(path, self.tools.as_ref().ok(), &keep_going)
            .map_err(|error| because(&self.tools, error))?;
        let listening = hear(&audio, progress)?;
        let mut file = self.media_file(path, progress)?;
        if !stays(&file.path) {
            let name = path.file_name().unwrap_or_default();
            let mut target = self.folder.song().join(name);
            // Another song of the same name stays where it is.
            if target.exists() && media::hash_file(&target, &keep_going)?.0 != file.hash {
                target = self.folder.song().join(format!(
                    "{}-{}",
                    &file.hash[..8],
                    name.to_string_lossy()
                ));
            }
            if !target.exists() {
                copy_whole(path, &target)?;
            }
            file.path = self.folder.to_document(&target)?;
        }
        let kept = (KIND, listen::VERSION, file.hash.as_str());
        keep(&self.cache, kept, &listening, progress);
        let song = Song {
            file,
            length: length(&audio),
            corrections: Default::default(),
            lyrics: Vec::new(),
            extra: Default::default(),
        };
        self.edit(&Edit::SetSong { song })?;
        let mut heard = self.heard_from(listening);
        heard.notes.splice(0..0, noted("song-file", &audio.notes));
        Ok(heard)
    }

    /// What was heard in the song, from the cache or by listening now.
    ///
    /// # Errors
    /// When there is no song or its file can't be read.
    pub fn heard(&mut self, progress: &dyn Progress) -> Result<Heard, Error> {
        let song = self
            .project()
            .song
            .clone()
            .ok_or_else(|| Error::NoSong(self.folder.root().to_path_buf()))?;
        let cached: Option<Listening> = self.cache.get_json(KIND, listen::VERSION, &song.file.hash);
        let listening = match cached {
            Some(listening) => listening,
            None => {
                progress.stage("listening to the song", 0);
                let audio = self.song_audio(&song, progress)?;
                let listening = hear(&audio, progress)?;
                let kept = (KIND, listen::VERSION, song.file.hash.as_str());
                keep(&self.cache, kept, &listening, progress);
                listening
            }
        };
        Ok(self.heard_from(listening))
    }

    /// Listening with the corrections as they now stand in the document.
    pub fn corrected(&self, listening: Listening) -> Heard {
        self.heard_from(listening)
    }

    fn heard_from(&self, listening: Listening) -> Heard {
        let none = model::Corrections::default();
        let corrections = self
            .project()
            .song
            .as_ref()
            .map_or(&none, |song| &song.corrections);
        Heard::new(listening, corrections)
    }

    pub(crate) fn song_audio(
        &mut self,
        song: &Song,
        progress: &dyn Progress,
    ) -> Result<Audio, Error> {
        let path = self
            .locate(&song.file, progress)?
            .ok_or_else(|| Error::SongMissing {
                path: song.file.path.clone(),
            })?;
        Ok(media::decode_song(
            &path,
            self.tools.as_ref().ok(),
            &|| progress.keep_going(),
        )?)
    }
}

/// Whether a file lies where it will still be tomorrow: in the project, and not in a hidden folder, as what
/// comes in from a page does until it is taken in.
fn stays(path: &str) -> bool {
    let path = Path::new(path);
    let hidden = |part: std::path::Component<'_>| matches!(part, std::path::Component::Normal(name) if name.to_string_lossy().starts_with('.'));
    !path.is_absolute() && !path.components().any(hidden)
}

/// Copies a file so that it stands whole under its new name or not at all.
fn copy_whole(from: &Path, to: &Path) -> Result<(), Error> {
    let failed = |source| Error::Write {
        path: to.to_path_buf(),
        cause: source,
    };
    let folder = to.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(failed)?;
    let mut source = std::fs::File::open(from).map_err(|source| Error::Read {
        path: from.to_path_buf(),
        cause: source,
    })?;
    let mut target = whole::Whole::beside(to).map_err(failed)?;
    std::io::copy(&mut source, target.file()).map_err(failed)?;
    target.stand().map_err(failed)
}
