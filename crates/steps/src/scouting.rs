//! Photographs from a walk brought to places, and all that is known of the places.
//!
//! Photographs stay where they lie, as takes do; the document keeps where that is, their content's
//! hash and what their cameras wrote. Bringing in is one change, so one step back takes it back.

use crate::{Error, Job, Progress, Trouble, files, noted};
use model::{Edit, Finding, Photo, Place};
use scout::{PlaceReport, Walked};
use serde::Serialize;
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

/// How photographs are brought in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ScoutOptions {
    /// How near is one place.
    pub grouping: scout::Options,
    /// The place that all of them show; `None` to group them by where and when they were taken.
    pub place: Option<ByHand>,
}

/// A place as somebody wants it.
#[derive(Clone, Debug, PartialEq)]
pub struct ByHand {
    /// As it shall be; photographs are added to it.
    pub place: Place,
    /// As it was when they looked; `None` for a new one.
    pub was: Option<Place>,
}

/// What scouting came to.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Scouted {
    /// Every place of the project.
    pub places: Vec<PlaceReport>,
    /// What a person should know.
    pub notes: Vec<Finding>,
    /// How many photographs were brought in.
    pub brought: usize,
    /// How many were at a place already.
    pub known: usize,
    /// Files that can't be used; also among the notes.
    #[serde(skip)]
    pub trouble: Vec<Trouble>,
}

/// A photograph found on disk: as the document will have it, and what reading it told.
struct Found {
    walked: Walked,
    notes: Vec<Finding>,
}

impl Job {
    /// Brings photographs, and whole folders of them, to places of the document or to new ones, and
    /// reports on all places. Content that is at a place already is not brought in twice; a file that
    /// can't be used is left out with a sentence. Without `paths` it reports, and puts the place that
    /// was given by hand.
    ///
    /// # Errors
    /// When none could be brought in, a folder can't be read, options are out of range, the place
    /// is not there, the document can't be saved, or it was stopped. Nothing is changed then.
    pub fn scout(
        &mut self,
        paths: &[PathBuf],
        options: &ScoutOptions,
        progress: &dyn Progress,
    ) -> Result<Scouted, Error> {
        let mut scouted = Scouted::default();
        let mut read: HashMap<String, Vec<Finding>> = HashMap::new();
        if !paths.is_empty() {
            let found = self.photos(paths, &mut scouted, progress)?;
            for one in &found {
                read.insert(one.walked.photo.file.hash.clone(), one.notes.clone());
            }
            self.bring_photos(found, options, &mut scouted)?;
        } else if let Some(ByHand { place, was }) = options.place.clone() {
            self.edit(&put_place(&place, was.as_ref()))?;
        }
        let (places, gone) = self.places(&read, progress)?;
        scouted.places = places;
        scouted.notes.extend(gone.iter().map(unread));
        scouted.trouble.extend(gone);
        Ok(scouted)
    }

    /// Reads everything that `paths` name, each content once.
    fn photos(
        &self,
        paths: &[PathBuf],
        scouted: &mut Scouted,
        progress: &dyn Progress,
    ) -> Result<Vec<Found>, Error> {
        // A folder's name tells something only where somebody named a folder.
        let sorted: Vec<&PathBuf> = paths.iter().filter(|path| path.is_dir()).collect();
        let all = files::expand_photos(paths)?;
        progress.stage("reading photographs", all.len());
        let one = |path: &PathBuf| -> Result<Found, Error> {
            Self::stop_if_asked(progress)?;
            let read = media::read_photo(path)?;
            let file = self.media_file(path, progress)?;
            progress.part(&path.display().to_string());
            Ok(Found {
                notes: noted("photograph", &read.notes).collect(),
                walked: Walked {
                    photo: read.into_photo(file),
                    folder: sorted
                        .iter()
                        .any(|folder| path.starts_with(folder))
                        .then(|| folder_of(path))
                        .flatten(),
                },
            })
        };
        let each: Vec<Result<Found, Error>> = all.iter().map(one).collect();
        let mut seen = HashSet::new();
        let mut out = Vec::new();
        for (path, found) in all.iter().zip(each) {
            match found {
                Ok(found) => {
                    let file = &found.walked.photo.file;
                    if seen.insert((file.hash.clone(), file.bytes)) {
                        out.push(found);
                    }
                }
                Err(error) if error.is_stop() => return Err(Error::Stopped),
                Err(error) => scouted.trouble.push(Trouble {
                    file: path.display().to_string(),
                    says: error.to_string(),
                }),
            }
        }
        scouted.notes.extend(scouted.trouble.iter().map(unread));
        if out.is_empty() {
            let all = scouted.notes.len();
            let first = scouted
                .notes
                .first()
                .map(ToString::to_string)
                .unwrap_or_default();
            return Err(Error::NoneBroughtIn(match all {
                1 => first,
                _ => format!("none of {all} files is a photograph that can be read: {first}"),
            }));
        }
        Ok(out)
    }

    /// Brings what was found to places, in one change.
    fn bring_photos(
        &mut self,
        found: Vec<Found>,
        options: &ScoutOptions,
        scouted: &mut Scouted,
    ) -> Result<(), Error> {
        let same =
            |a: &Photo, b: &Photo| a.file.hash == b.file.hash && a.file.bytes == b.file.bytes;
        let mut fresh = Vec::new();
        let mut moved = Vec::new();
        for one in &found {
            let photo = &one.walked.photo;
            let at = self.project().places.iter().find_map(|place| {
                let known = place.photos.iter().find(|known| same(known, photo))?;
                Some((place, known))
            });
            let Some((place, known)) = at else {
                fresh.push(one);
                continue;
            };
            scouted.known += 1;
            if let Some(wanted) = &options.place
                && wanted.place.id != place.id
            {
                let says = format!(
                    "`{}` is at `{}` already and stays there",
                    photo.file.path, place.id
                );
                let found = Finding::warning("elsewhere", says).about(&place.id);
                scouted
                    .notes
                    .push(found.mended_by("take it out of that place in the plan first"));
            }
            // Its file was moved; this is where it is now.
            if !self.folder.resolve(&known.file).is_file() {
                moved.push(Edit::MoveFile {
                    hash: photo.file.hash.clone(),
                    path: photo.file.path.clone(),
                });
            }
        }
        let walked: Vec<Walked> = fresh.iter().map(|one| one.walked.clone()).collect();
        let edit = match &options.place {
            Some(wanted) => by_hand(wanted, &walked),
            None => {
                let brought = scout::bring_in(&walked, &self.project().places, &options.grouping)?;
                let notes = brought.notes;
                for n in &brought.loose {
                    // Its place's report will not tell why, as it has none.
                    let file = &walked[*n].photo.file.path;
                    let said = fresh[*n].notes.iter().map(|note| Finding {
                        says: format!("`{file}`: {}", note.says),
                        ..note.clone()
                    });
                    scouted.notes.extend(said);
                }
                if brought.loose.len() == found.len() {
                    return Err(Error::NoneBroughtIn(match &notes[..] {
                        [only] => only.to_string(),
                        all => format!(
                            "none of {} photographs has a position or a time; bring them in with --place and the place they show",
                            all.len()
                        ),
                    }));
                }
                scouted.notes.extend(notes);
                Edit::AddPhotos {
                    at: brought.at,
                    new: brought.new,
                }
            }
        };
        for edit in &moved {
            self.edit(edit)?;
        }
        let count = |project: &model::Project| -> usize {
            project.places.iter().map(|place| place.photos.len()).sum()
        };
        let before = count(self.project());
        self.edit(&edit)?;
        scouted.brought = count(self.project()).saturating_sub(before);
        Ok(())
    }

    /// The report on every place. What reading a photograph told is in `read` or is read anew; one
    /// that is gone or can't be read any more is told in the second list.
    fn places(
        &mut self,
        read: &HashMap<String, Vec<Finding>>,
        progress: &dyn Progress,
    ) -> Result<(Vec<PlaceReport>, Vec<Trouble>), Error> {
        let mut told = read.clone();
        let mut gone = Vec::new();
        let photos: Vec<Photo> = self
            .project()
            .places
            .iter()
            .flat_map(|place| place.photos.clone())
            .collect();
        for photo in photos {
            Self::stop_if_asked(progress)?;
            let hash = &photo.file.hash;
            if told.contains_key(hash) {
                continue;
            }
            let says = match self.locate(&photo.file, progress)? {
                Some(path) => match media::read_photo(&path) {
                    Ok(read) => {
                        told.insert(hash.clone(), noted("photograph", &read.notes).collect());
                        continue;
                    }
                    Err(error) => error.to_string(),
                },
                None => format!(
                    "`{}` is not where it was and was not found in the project; put it back, or bring it in from where it is now",
                    photo.file.path
                ),
            };
            gone.push(Trouble {
                file: photo.file.path.clone(),
                says,
            });
        }
        let reports = self
            .project()
            .places
            .iter()
            .map(|place| {
                scout::report(place, |photo| {
                    told.get(&photo.file.hash).cloned().unwrap_or_default()
                })
            })
            .collect();
        Ok((reports, gone))
    }
}

/// All of `walked` for one place, whatever their cameras say.
fn by_hand(wanted: &ByHand, walked: &[Walked]) -> Edit {
    let mut photos: Vec<Photo> = walked.iter().map(|one| one.photo.clone()).collect();
    photos.sort_by(|a, b| (&a.taken, &a.file.path).cmp(&(&b.taken, &b.file.path)));
    let positions: Vec<[f64; 2]> = photos.iter().filter_map(|p| p.position_deg).collect();
    let mut place = wanted.place.clone();
    place.position_deg = place.position_deg.or(scout::middle(&positions));
    place.photos.extend(photos);
    put_place(&place, wanted.was.as_ref())
}

fn put_place(place: &Place, was: Option<&Place>) -> Edit {
    was.map_or_else(|| Edit::put(place), |was| Edit::change_of(was, place))
}

/// A photograph that can't be used.
fn unread(trouble: &Trouble) -> Finding {
    Finding::problem("unread", trouble.says.clone())
}

fn folder_of(path: &Path) -> Option<String> {
    let full = std::path::absolute(path).ok()?;
    Some(full.parent()?.file_name()?.to_str()?.to_owned())
}
