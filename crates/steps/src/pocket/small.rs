//! Sounds and pictures of the page in the pocket, made small enough for a phone.

use super::words;
use crate::{Error, Job, PlaybackOptions, Progress};
use model::{Finding, PlaceId, SongMap};
use pocket::{PassView, PictureView, Pocket, Sound};
use std::collections::BTreeMap;

/// The longer side of a photograph on the page, pixels.
const PICTURE_PX: u32 = 640;
/// Raised when what is kept of small sounds and pictures changes.
const SMALL_VERSION: u32 = 1;

impl Job {
    /// Playback of the page's setups, each sound once, small enough for a phone.
    pub(super) fn sounds(
        &mut self,
        view: &mut Pocket,
        map: Option<&SongMap>,
        notes: &mut Vec<Finding>,
        progress: &dyn Progress,
    ) -> Result<(), Error> {
        let project = self.project().clone();
        let performed: Vec<String> = view
            .setups
            .iter()
            .filter_map(|setup| project.setup(&setup.id))
            .filter(|setup| setup.purpose == model::Purpose::Performance)
            .map(|setup| setup.id.to_string())
            .collect();
        let (Some(map), false) = (map, performed.is_empty()) else {
            return Ok(());
        };
        if let Err(why) = self.tools() {
            notes.push(left_out(&why));
            return Ok(());
        }
        let asked = PlaybackOptions {
            setups: performed,
            ..PlaybackOptions::default()
        };
        let (files, trouble) = match self.playback(&asked, progress) {
            Ok(made) => made,
            Err(error) if error.is_stop() => return Err(error),
            Err(error) => {
                notes.push(left_out(&error));
                return Ok(());
            }
        };
        let files_left_out = trouble
            .iter()
            .map(|one| Finding::warning("no-playback", format!("{}: {}", one.file, one.says)));
        notes.extend(files_left_out);
        progress.stage("making sound small", files.len());
        let mut known: BTreeMap<String, usize> = BTreeMap::new();
        for file in files {
            Self::stop_if_asked(progress)?;
            let path = self.folder.root().join(&file.file);
            let left = file.report.timecode.is_some();
            let (hash, _) = media::hash_file(&path, &|| progress.keep_going())?;
            let key = format!("{hash}-{left}");
            let index = match known.get(&key) {
                Some(index) => *index,
                None => {
                    let m4a = self.small(("phone-sound", key.as_str()), progress, |tools| {
                        media::phone_sound(&path, left, tools, &|| progress.keep_going())
                    })?;
                    let report = &file.report;
                    view.sounds.push(Sound {
                        m4a,
                        length_s: report.length_s,
                        clicks_s: report.clicks_s.clone(),
                        stretch_start_s: report.stretch_start_s,
                        stretch_end_s: report.stretch_end_s,
                        song_at_stretch_s: report.song_at_stretch_s,
                        speed: report.speed.value(),
                        speed_text: report.speed.to_string(),
                        pitch_kept: report.pitch_kept,
                    });
                    known.insert(key, view.sounds.len() - 1);
                    view.sounds.len() - 1
                }
            };
            let name = words::stretch(map, &view.sounds[index]);
            if let Some(setup) = view
                .setups
                .iter_mut()
                .find(|setup| setup.id.as_str() == file.setup)
            {
                setup.sounds.push(PassView { sound: index, name });
            }
            progress.part(&file.setup);
        }
        Ok(())
    }

    /// A photograph of its place for each setup that has one; how many there are.
    pub(super) fn pictures(
        &mut self,
        view: &mut Pocket,
        notes: &mut Vec<Finding>,
        progress: &dyn Progress,
    ) -> Result<usize, Error> {
        let project = self.project().clone();
        let mut used: BTreeMap<PlaceId, usize> = BTreeMap::new();
        let mut count = 0;
        if self.tools().is_err() {
            return Ok(0);
        }
        progress.stage("making pictures small", view.setups.len());
        for setup in &mut view.setups {
            Self::stop_if_asked(progress)?;
            let place = project
                .setup(&setup.id)
                .and_then(|setup| project.place(setup.place.as_ref()?));
            if let Some(place) = place
                && !place.photos.is_empty()
            {
                // Setups at one place show its photographs in turn.
                let turn = used.entry(place.id.clone()).or_insert(0);
                let at = *turn % place.photos.len();
                *turn += 1;
                let file = &place.photos[at].file;
                let made = match self.locate(file, progress)? {
                    Some(path) => {
                        self.small(("phone-picture", file.hash.as_str()), progress, |tools| {
                            media::phone_picture(&path, PICTURE_PX, tools, &|| {
                                progress.keep_going()
                            })
                        })
                    }
                    None => {
                        let says = format!(
                            "the photograph `{}` is not where it was, so it is not on the page",
                            file.path
                        );
                        notes.push(Finding::warning("no-photograph", says));
                        continue;
                    }
                };
                match made {
                    Ok(jpeg) => {
                        setup.picture = Some(PictureView {
                            jpeg,
                            says: format!(
                                "{}, photograph {} of {}",
                                place.name,
                                at + 1,
                                place.photos.len()
                            ),
                        });
                        count += 1;
                    }
                    Err(error) if error.is_stop() => return Err(error),
                    Err(error) => {
                        let says = format!("a photograph is not on the page: {error}");
                        notes.push(Finding::warning("no-photograph", says));
                    }
                }
            }
            progress.part(setup.id.as_str());
        }
        Ok(count)
    }

    /// What was made small before, or `make` of it.
    fn small(
        &self,
        (kind, key): (&str, &str),
        progress: &dyn Progress,
        make: impl FnOnce(&media::Tools) -> Result<Vec<u8>, media::Error>,
    ) -> Result<Vec<u8>, Error> {
        if let Some(made) = self.cache.get(kind, SMALL_VERSION, key) {
            return Ok(made);
        }
        let tools = self.tools.as_ref().map_err(|why| Error::NeedsTools {
            path: key.to_owned(),
            why: why.to_string(),
        })?;
        let made = make(tools)?;
        if let Some(why) = self.cache.put(kind, SMALL_VERSION, key, &made) {
            progress.note(&why);
        }
        Ok(made)
    }
}

fn left_out(why: &dyn std::fmt::Display) -> Finding {
    Finding::warning("no-playback", format!("playback is left out: {why}"))
}
