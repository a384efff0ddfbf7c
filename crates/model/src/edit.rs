//! Every change a document can undergo, as a value.
//!
//! The pages and the command line make the same edits. An edit is small and says what is meant
//! ("rate this take"), so that when two processes edit at once the second applies on top of what
//! the first left. An edit that replaces a whole noun can carry the noun as its maker saw it
//! (`was`): fields changed since by somebody else are then kept, and a field that both changed is
//! refused with a sentence rather than overwritten.

use crate::cut::{Ban, Cut, Lock};
use crate::day::Day;
use crate::describe::{Noun, Part};
use crate::ids::{DeviceId, PlaceId, SetupId, TakeId};
use crate::kit::KitItem;
use crate::log::{LogEntry, SoFar};
use crate::place::{Photo, PhotosAt, Place};
use crate::plan::{Brief, Idea, Person, Reference, Wish};
use crate::practice::Practice;
use crate::project::{Document, FORMAT, Project, kind};
use crate::setup::Setup;
use crate::song::{LyricLine, MarkedSection, MediaFile, Song};
use crate::take::{HandPlacement, Rating, Take};
use crate::time::SongTime;
use crate::validate::{Problem, problems};
use crate::weights::Weights;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::{HashMap, HashSet, hash_map};

/// One change of the document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "edit", rename_all = "kebab-case")]
#[allow(
    clippy::large_enum_variant,
    reason = "edits are made one at a time, by a person"
)]
#[allow(
    missing_docs,
    reason = "each variant and its fields are named after the noun they change"
)]
pub enum Edit {
    /// A noun put in its place: in the document's list `part` in the place of the one with its id, or
    /// at the end; in a field that holds one thing (`brief`, `title`), in the place of that.
    Put {
        part: String,
        new: Value,
        /// As its maker saw it; fields that somebody else changed since stay.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        was: Option<Value>,
    },
    /// The one called `id` taken out of the list `part`; refused while something else names it.
    Remove {
        part: String,
        id: String,
    },
    /// A new song file; corrections and lyrics stay when it replaces another.
    SetSong {
        song: Song,
    },
    Correct {
        correction: Correction,
    },
    SetLyrics {
        lyrics: Vec<LyricLine>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        was: Option<Vec<LyricLine>>,
    },
    /// Photographs brought to places that are there and to new ones. One whose content is at a
    /// place already is left out, and so is a new place left without any; a new place whose name
    /// is taken gets a number.
    AddPhotos {
        at: Vec<PhotosAt>,
        new: Vec<Place>,
    },
    /// Takes brought in. One whose content is there already is left out; a name that is taken gets a number.
    AddTakes {
        takes: Vec<Take>,
    },
    RateTake {
        id: TakeId,
        rating: Rating,
    },
    AssignTake {
        id: TakeId,
        setup: Option<SetupId>,
        pass: Option<u32>,
    },
    PlaceTake {
        id: TakeId,
        by_hand: Option<HandPlacement>,
    },
    /// Entries of a log. One that is there already is left out; one whose device and number are
    /// there with something else is refused, as no honest log holds it.
    AddLog {
        entries: Vec<LogEntry>,
    },
    /// Gives what the log says of a pass to the one take of that setup and pass: its rating where
    /// the take has none, its notes where the take has no remark.
    LogToTakes,
    /// A file found again elsewhere: every noun with this content gets the new path.
    MoveFile {
        hash: String,
        path: String,
    },
    PutLock {
        lock: Lock,
    },
    /// Frees the lock that holds this instant.
    RemoveLock {
        at: SongTime,
    },
    /// A take is not to be seen somewhere; a lock of it there goes.
    PutBan {
        ban: Ban,
    },
    /// It may be seen again at this instant.
    RemoveBan {
        take: TakeId,
        at: SongTime,
    },
    /// Several edits that are one change for a person: made and undone together, or not at all.
    Together {
        /// What was done, in a few words.
        what: String,
        edits: Vec<Edit>,
    },
    /// A new version of the cut; its number is given when it is applied.
    AddCut {
        cut: Cut,
    },
    RemoveCut {
        version: u32,
    },
    /// What a plan file said: the named top-level fields are taken from `plan`, the rest stays.
    ImportPlan {
        plan: Box<Project>,
        fields: Vec<String>,
    },
}

/// One correction of the listening.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "correction", rename_all = "kebab-case")]
#[allow(
    missing_docs,
    reason = "each variant is named after the field of Corrections it sets"
)]
pub enum Correction {
    Tempo {
        bpm: Option<f64>,
    },
    Halve,
    Double,
    BeatsPerBar {
        beats: Option<u32>,
    },
    FirstDownbeat {
        at: Option<SongTime>,
    },
    Tap {
        at: SongTime,
    },
    /// Beats tapped in one go, so that one undo takes them back.
    Taps {
        at: Vec<SongTime>,
    },
    ForgetTaps,
    /// The sections as they should be; `was` is what they were when the person began.
    Sections {
        sections: Option<Vec<MarkedSection>>,
        was: Option<Vec<MarkedSection>>,
    },
    ForgetAll,
}

/// Why an edit was not made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// The noun it is about is not there (any more).
    #[error("there is no {noun} `{id}`; it may have been removed meanwhile")]
    Gone {
        /// Kind of noun.
        noun: String,
        /// Its id.
        id: String,
    },
    /// The document has no such field.
    #[error("there is no `{part}` in the document{}", .meant.as_ref().map_or_else(String::new, |near| format!("; did you mean `{near}`?")))]
    NoPart {
        /// What was asked for.
        part: String,
        /// What may have been meant.
        meant: Option<String>,
    },
    /// It can't be read as what it should be.
    #[error("{}{says}", if .field.is_empty() { String::new() } else { format!("`{field}` of the {noun}: ") })]
    Unreadable {
        /// Kind of noun.
        noun: String,
        /// Which field of it.
        field: String,
        /// What is wrong.
        says: String,
    },
    /// Both this edit and one made meanwhile changed the same field.
    #[error(
        "`{field}` of {noun} was changed meanwhile by somebody else; look at it again and repeat the change if it is still wanted"
    )]
    ChangedMeanwhile {
        /// Kind of noun, with its id.
        noun: String,
        /// The field both changed.
        field: String,
    },
    /// Something else needs what would be removed.
    #[error("{what} is still used by {by}; change that first")]
    StillUsed {
        /// What would be removed.
        what: String,
        /// What needs it.
        by: String,
    },
    /// A log that says something else than what was taken in before.
    #[error(
        "entry number {number} of the device `{device}` is in the project with something else in it; a device never writes a number twice, so one of the two logs was changed or its page copied: nothing was taken in"
    )]
    LogDiffers {
        /// Of which device.
        device: String,
        /// Which entry.
        number: u32,
    },
    /// There is no song yet.
    #[error("there is no song yet; add one first")]
    NoSong,
    /// The document would no longer hold together.
    #[error("{}", list(.0))]
    Invalid(Vec<Problem>),
}

impl Refusal {
    pub(crate) fn gone(noun: &str, id: impl ToString) -> Self {
        Self::Gone {
            noun: noun.to_owned(),
            id: id.to_string(),
        }
    }

    /// `document` has no field `part`.
    pub fn no_part(document: &Noun, part: &str) -> Self {
        Self::NoPart {
            part: part.to_owned(),
            meant: crate::plan_file::nearest(part, &document.names()).map(str::to_owned),
        }
    }
}

fn list(problems: &[Problem]) -> String {
    let mut text: Vec<String> = problems.iter().take(3).map(Problem::to_string).collect();
    if problems.len() > 3 {
        text.push(format!("and {} more", problems.len() - 3));
    }
    text.join("; ")
}

/// Nouns that stand in a field of their own in the document, or in one of its lists.
macro_rules! listed {
    ($($noun:ident)*) => {
        /// A noun that can be put into the document.
        pub trait Listed: Part {
            /// The document's field it stands in.
            const PART: &'static str;
        }
        $(impl Listed for $noun {
            const PART: &'static str = $noun::NOUN.list;
        })*
    };
}
listed!(Brief Idea Reference Place Person Setup KitItem Day Practice Wish Take Weights);

fn written(noun: &impl Serialize) -> Value {
    // A noun is a table of plain values, and those can always be written.
    serde_json::to_value(noun).unwrap_or_default()
}

impl Edit {
    /// Puts `new` in the place of the one with its id, or at the end, whatever stood there.
    pub fn put<T: Listed>(new: &T) -> Self {
        Self::Put {
            part: T::PART.to_owned(),
            new: written(new),
            was: None,
        }
    }

    /// Puts `new` in the place of `was`; fields that somebody else changed since stay.
    pub fn change_of<T: Listed>(was: &T, new: &T) -> Self {
        Self::Put {
            part: T::PART.to_owned(),
            new: written(new),
            was: Some(written(was)),
        }
    }

    /// Takes the `T` called `id` out.
    pub fn remove<T: Listed>(id: impl ToString) -> Self {
        Self::Remove {
            part: T::PART.to_owned(),
            id: id.to_string(),
        }
    }

    /// Calls the video `title`.
    pub fn title(title: impl Into<String>) -> Self {
        Self::Put {
            part: "title".to_owned(),
            new: Value::String(title.into()),
            was: None,
        }
    }

    /// The document after this edit.
    ///
    /// # Errors
    /// A [`Refusal`] when what it is about is gone, was changed meanwhile, is still needed, or
    /// the result would not be valid. `project` is never half changed.
    pub fn apply(&self, project: &Project) -> Result<Project, Refusal> {
        let mut next = project.clone();
        self.change(&mut next)?;
        next.format = next.format.max(FORMAT);
        // Only what this edit brought in is held against it: a document that a newer version left
        // with something this one does not like must still be editable.
        let before = problems(project);
        let fresh: Vec<Problem> = problems(&next)
            .into_iter()
            .filter(|problem| !before.contains(problem))
            .collect();
        if fresh.is_empty() {
            return Ok(next);
        }
        // What is gone by this very edit and named elsewhere was removed too early.
        let gone = fresh.iter().find_map(|problem| {
            let (list, id) = problem.missing.as_ref()?;
            let was_there = project.ids_in(list).contains(&id.as_str());
            was_there.then(|| Refusal::StillUsed {
                what: format!("the {} `{id}`", kind(list)),
                by: spoken(&next, &problem.field),
            })
        });
        Err(gone.unwrap_or(Refusal::Invalid(fresh)))
    }

    fn change(&self, next: &mut Project) -> Result<(), Refusal> {
        match self {
            Self::Put { part, new, was } => Document::put(next, part, new, was.as_ref())?,
            Self::Remove { part, id } => {
                if part == "takes" {
                    // What is not wanted of a take that is gone says nothing any more.
                    next.bans.retain(|ban| ban.take.as_str() != id);
                }
                Document::remove(next, part, id)?;
            }
            Self::SetSong { song } => set_song(next, song),
            Self::Correct { correction } => {
                correct(correction, next.song.as_mut().ok_or(Refusal::NoSong)?)?
            }
            Self::SetLyrics { lyrics, was } => {
                let song = next.song.as_mut().ok_or(Refusal::NoSong)?;
                song.lyrics = merged("the lyrics", was.as_ref(), lyrics, &song.lyrics)?;
            }
            Self::AddPhotos { at, new } => add_photos(next, at, new)?,
            Self::AddTakes { takes } => add_takes(next, takes),
            Self::RateTake { id, rating } => take_mut(next, id)?.rating = *rating,
            Self::AssignTake { id, setup, pass } => {
                let take = take_mut(next, id)?;
                take.setup.clone_from(setup);
                take.pass = *pass;
            }
            Self::PlaceTake { id, by_hand } => {
                take_mut(next, id)?.placed_by_hand.clone_from(by_hand)
            }
            Self::AddLog { entries } => add_log(next, entries)?,
            Self::LogToTakes => log_to_takes(next),
            Self::MoveFile { hash, path } => move_file(next, hash, path)?,
            Self::PutLock { lock } => {
                // What is locked is wanted: nothing forbids it there any more.
                next.bans
                    .retain(|ban| ban.take != lock.take || ban.at.overlap(lock.at).is_none());
                next.locks.push(lock.clone());
            }
            Self::PutBan { ban } => {
                next.locks
                    .retain(|lock| lock.take != ban.take || lock.at.overlap(ban.at).is_none());
                if !next.bans.contains(ban) {
                    next.bans.push(ban.clone());
                }
            }
            Self::RemoveBan { take, at } => take_out(&mut next.bans, "ban at", at, |ban| {
                ban.take == *take && ban.at.holds(*at)
            })?,
            Self::Together { edits, .. } => {
                for edit in edits {
                    edit.change(next)?;
                }
            }
            Self::RemoveLock { at } => {
                take_out(&mut next.locks, "lock at", at, |lock| lock.at.holds(*at))?;
            }
            Self::AddCut { cut } => {
                let version = next
                    .cuts
                    .last()
                    .map_or(1, |last| last.version.saturating_add(1));
                next.cuts.push(Cut {
                    version,
                    ..cut.clone()
                });
            }
            Self::RemoveCut { version } => {
                let name = format!("v{version:03}");
                take_out(&mut next.cuts, "cut", name, |cut| cut.version == *version)?;
            }
            Self::ImportPlan { plan, fields } => import(next, plan, fields)?,
        }
        Ok(())
    }

    /// What was done, in a few words, for the history.
    pub fn says(&self) -> String {
        match self {
            Self::Put { part, new, .. } => match new.get("id").and_then(Value::as_str) {
                Some(id) => format!("{} {id}", kind(part)),
                None => kind(part).to_owned(),
            },
            Self::Remove { part, id } => format!("remove {} {id}", kind(part)),
            Self::SetSong { song } => format!("song {}", song.file.path),
            Self::Correct { .. } => "correct the listening".into(),
            Self::SetLyrics { .. } => "lyrics".into(),
            Self::AddPhotos { at, new } => {
                let photos = at
                    .iter()
                    .map(|at| at.photos.len())
                    .chain(new.iter().map(|place| place.photos.len()));
                format!("bring in {} photographs", photos.sum::<usize>())
            }
            Self::AddTakes { takes } => format!("bring in {} takes", takes.len()),
            Self::RateTake { id, .. } => format!("rate take {id}"),
            Self::AssignTake { id, .. } => format!("take {id} to its setup"),
            Self::PlaceTake { id, .. } => format!("place take {id}"),
            Self::AddLog { entries } => format!("take in {} entries of the log", entries.len()),
            Self::LogToTakes => "ratings and notes of the log to takes".into(),
            Self::MoveFile { path, .. } => format!("file found at {path}"),
            Self::PutLock { lock } => format!("lock {} at {}", lock.take, lock.at.start()),
            Self::RemoveLock { at } => format!("free the lock at {at}"),
            Self::PutBan { ban } => format!("{} not at {}", ban.take, ban.at.start()),
            Self::RemoveBan { take, at } => format!("{take} again at {at}"),
            Self::Together { what, .. } => what.clone(),
            Self::AddCut { .. } => "new cut".into(),
            Self::RemoveCut { version } => format!("remove cut v{version:03}"),
            Self::ImportPlan { .. } => "plan file".into(),
        }
    }
}

/// A tap this close to an earlier one replaces it, seconds: less than a beat at 400 a minute.
const SAME_TAP_S: f64 = 0.12;

/// Puts a tap among the others; it replaces those that mean the same beat.
fn tap(taps: &mut Vec<SongTime>, at: SongTime) {
    taps.retain(|tap| tap.since(at).abs().seconds() >= SAME_TAP_S);
    let place = taps.partition_point(|tap| *tap < at);
    taps.insert(place, at);
}

fn correct(correction: &Correction, song: &mut Song) -> Result<(), Refusal> {
    let held = &mut song.corrections;
    match correction {
        Correction::Tempo { bpm } => {
            held.tempo_bpm = *bpm;
            // Halving and doubling start afresh from a tempo that was said.
            held.doublings = 0;
        }
        Correction::Halve => held.doublings = held.doublings.saturating_sub(1),
        Correction::Double => held.doublings = held.doublings.saturating_add(1),
        Correction::BeatsPerBar { beats } => held.beats_per_bar = *beats,
        Correction::FirstDownbeat { at } => held.first_downbeat = *at,
        Correction::Tap { at } => tap(&mut held.taps, *at),
        Correction::Taps { at } => at.iter().for_each(|at| tap(&mut held.taps, *at)),
        Correction::ForgetTaps => held.taps.clear(),
        Correction::Sections { sections, was } => {
            if held.sections != *was && held.sections != *sections {
                return Err(Refusal::ChangedMeanwhile {
                    noun: "the song".into(),
                    field: "sections".into(),
                });
            }
            held.sections.clone_from(sections);
        }
        Correction::ForgetAll => *held = Default::default(),
    }
    Ok(())
}

fn set_song(project: &mut Project, song: &Song) {
    let mut song = song.clone();
    if let Some(old) = project.song.take() {
        if song.corrections.is_empty() {
            song.corrections = old.corrections;
        }
        if song.lyrics.is_empty() {
            song.lyrics = old.lyrics;
        }
    }
    project.song = Some(song);
}

/// Takes those that `go` out of `list`, where each is a `noun`; refused where there is none, as `id` is gone.
fn take_out<T>(
    list: &mut Vec<T>,
    noun: &str,
    id: impl ToString,
    go: impl Fn(&T) -> bool,
) -> Result<(), Refusal> {
    let before = list.len();
    list.retain(|one| !go(one));
    match list.len() < before {
        true => Ok(()),
        false => Err(Refusal::gone(noun, id)),
    }
}

fn take_mut<'a>(project: &'a mut Project, id: &TakeId) -> Result<&'a mut Take, Refusal> {
    let mut takes = project.takes.iter_mut();
    takes
        .find(|take| take.id == *id)
        .ok_or_else(|| Refusal::gone("take", id))
}

/// A place in the document as a person would name it: "the setup `wide` (place)".
fn spoken(project: &Project, field: &str) -> String {
    let (part, rest) = field.split_once('[').unwrap_or((field, ""));
    let (index, rest) = rest.split_once(']').unwrap_or((rest, ""));
    let noun = index.parse::<usize>().ok().and_then(|index| {
        Some(
            project
                .part(part)?
                .get(index)?
                .get("id")?
                .as_str()?
                .to_owned(),
        )
    });
    let inside = rest.trim_start_matches('.');
    match noun {
        Some(id) => format!("the {} `{id}` ({inside})", kind(part)),
        None => format!("`{field}`"),
    }
}

/// `new` put in the place of `now`, keeping what somebody else changed since `was`.
///
/// Works field by field on the nouns' written form; lists count as one field.
pub(crate) fn merged<T>(noun: &str, was: Option<&T>, new: &T, now: &T) -> Result<T, Refusal>
where
    T: Clone + PartialEq + Serialize + DeserializeOwned,
{
    let Some(was) = was.filter(|was| *was != now) else {
        return Ok(new.clone());
    };
    let clash = |field: &str| Refusal::ChangedMeanwhile {
        noun: noun.to_owned(),
        field: field.to_owned(),
    };
    let written = |value: &T| serde_json::to_value(value).map_err(|_| clash("all of it"));
    let (Value::Object(was), Value::Object(new_fields), Value::Object(mut out)) =
        (written(was)?, written(new)?, written(now)?)
    else {
        // A list: taken whole, so only an equal change is no clash.
        return match new == now {
            true => Ok(new.clone()),
            false => Err(clash("the list")),
        };
    };
    for name in was.keys().chain(new_fields.keys()) {
        let (before, wanted) = (was.get(name), new_fields.get(name));
        if before == wanted {
            continue;
        }
        if out.get(name) != before && out.get(name) != wanted {
            return Err(clash(name));
        }
        match wanted {
            Some(value) => out.insert(name.clone(), value.clone()),
            None => out.remove(name),
        };
    }
    serde_json::from_value(Value::Object(out)).map_err(|_| clash("all of it"))
}

fn add_takes(project: &mut Project, takes: &[Take]) {
    for take in takes {
        if project
            .takes
            .iter()
            .any(|known| known.file.hash == take.file.hash && known.file.bytes == take.file.bytes)
        {
            continue;
        }
        let mut take = take.clone();
        take.id = free(
            &take.id,
            |id| project.take(id).is_some(),
            |text| TakeId::new(text).ok(),
        );
        project.takes.push(take);
    }
}

fn add_log(project: &mut Project, entries: &[LogEntry]) -> Result<(), Refusal> {
    let mut known: HashMap<(DeviceId, u32), LogEntry> = project
        .log
        .iter()
        .map(|entry| ((entry.device.clone(), entry.number), entry.clone()))
        .collect();
    for entry in entries {
        match known.entry((entry.device.clone(), entry.number)) {
            hash_map::Entry::Occupied(there) if there.get() != entry => {
                return Err(Refusal::LogDiffers {
                    device: entry.device.to_string(),
                    number: entry.number,
                });
            }
            hash_map::Entry::Occupied(_) => {}
            hash_map::Entry::Vacant(free) => {
                free.insert(entry.clone());
                project.log.push(entry.clone());
            }
        }
    }
    project.log.sort_by(|a, b| a.order().cmp(&b.order()));
    Ok(())
}

fn log_to_takes(project: &mut Project) {
    let shot = SoFar::of(&project.log);
    let passes: Vec<_> = project
        .takes
        .iter()
        .map(|take| take.setup.clone().zip(take.pass))
        .collect();
    for (take, of) in project.takes.iter_mut().zip(&passes) {
        let Some((setup, pass)) = of else {
            continue;
        };
        // Two takes of one pass: which of them was meant can't be told.
        if passes.iter().filter(|other| *other == of).count() > 1 {
            continue;
        }
        let Some(said) = shot.of_pass(setup, *pass) else {
            continue;
        };
        if take.rating == Rating::Unrated {
            take.rating = said.rating;
        }
        if take.remark.is_empty() {
            take.remark = said.notes.join("; ");
        }
    }
}

/// `first`, or, where it is taken, `first` with the lowest free number from 2 on.
fn free<I: Clone + std::fmt::Display>(
    first: &I,
    taken: impl Fn(&I) -> bool,
    make: impl Fn(String) -> Option<I>,
) -> I {
    let stem: String = first
        .to_string()
        .chars()
        .take(crate::ids::MAX_ID - 8)
        .collect();
    let mut id = first.clone();
    let mut number = 2;
    while taken(&id) {
        if let Some(next) = make(format!("{stem}-{number}")) {
            id = next;
        }
        number += 1;
    }
    id
}

fn add_photos(project: &mut Project, at: &[PhotosAt], new: &[Place]) -> Result<(), Refusal> {
    let file = |photo: &Photo| (photo.file.hash.clone(), photo.file.bytes);
    let mut known: HashSet<(String, u64)> = project
        .places
        .iter()
        .flat_map(|place| place.photos.iter().map(file))
        .collect();
    let mut fresh = |photos: &[Photo]| -> Vec<Photo> {
        let mut photos = photos.to_vec();
        photos.retain(|photo| known.insert(file(photo)));
        photos
    };
    for PhotosAt {
        place: id,
        photos,
        position_deg,
        ..
    } in at
    {
        let place = project
            .places
            .iter_mut()
            .find(|place| place.id == *id)
            .ok_or_else(|| Refusal::gone("place", id.to_string()))?;
        place.photos.extend(fresh(photos));
        place.position_deg = place.position_deg.or(*position_deg);
    }
    for place in new {
        let photos = fresh(&place.photos);
        if photos.is_empty() && !place.photos.is_empty() {
            continue;
        }
        let id = free(
            &place.id,
            |id| project.place(id).is_some(),
            |text| PlaceId::new(text).ok(),
        );
        project.places.push(Place {
            id,
            photos,
            ..place.clone()
        });
    }
    Ok(())
}

fn move_file(project: &mut Project, hash: &str, path: &str) -> Result<(), Refusal> {
    let mut moved = false;
    let song = project.song.iter_mut().map(|song| &mut song.file);
    let files = project
        .takes
        .iter_mut()
        .map(|take| &mut take.file)
        .chain(song)
        .chain(
            project
                .places
                .iter_mut()
                .flat_map(|place| place.photos.iter_mut().map(|photo| &mut photo.file)),
        );
    for file in files.filter(|file: &&mut MediaFile| file.hash == hash) {
        file.path = path.to_owned();
        moved = true;
    }
    if moved {
        Ok(())
    } else {
        Err(Refusal::gone("file with the content", hash.to_owned()))
    }
}

/// Takes the named top-level fields from `plan`.
fn import(next: &mut Project, plan: &Project, fields: &[String]) -> Result<(), Refusal> {
    *next = imported(next, plan, fields).map_err(|says| {
        Refusal::Invalid(vec![Problem {
            field: String::new(),
            says,
            missing: None,
        }])
    })?;
    Ok(())
}

/// `onto` with the named top-level fields from `plan`; not looked over.
pub(crate) fn imported(
    onto: &Project,
    plan: &Project,
    fields: &[String],
) -> Result<Project, String> {
    let written = |project: &Project| match serde_json::to_value(project) {
        Ok(Value::Object(map)) => Ok(map),
        _ => Err("the plan can't be written down".to_owned()),
    };
    let mut out = written(onto)?;
    let mut from = written(plan)?;
    for field in fields {
        match from.remove(field) {
            Some(value) => out.insert(field.clone(), value),
            // Left out when written because it is empty.
            None => out.remove(field),
        };
    }
    out.insert("format".into(), onto.format.max(plan.format).into());
    serde_json::from_value(Value::Object(out))
        .map_err(|error| format!("the plan does not fit this document: {error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn project(json: &str) -> Project {
        serde_json::from_str(json).unwrap()
    }

    fn base() -> Project {
        project(
            r#"{"format":1,"places":[{"id":"quay","name":"the quay"}],
                "setups":[{"id":"s1","name":"wide","place":"quay","passes":2}]}"#,
        )
    }

    fn with_a_take() -> Project {
        project(
            r#"{"format":1,"takes":[{"id":"a1","file":{"path":"a","hash":"00000000000000000000000000000000","bytes":1}}]}"#,
        )
    }

    fn ban(from_s: f64, to_s: f64) -> Ban {
        Ban {
            at: crate::Stretch::between_seconds(from_s, to_s).unwrap(),
            take: TakeId::new("a1").unwrap(),
            extra: Default::default(),
        }
    }

    #[test]
    fn a_take_is_either_locked_or_banned_somewhere() {
        let ban = ban(2.0, 4.0);
        let lock = Lock {
            at: crate::Stretch::between_seconds(3.0, 5.0).unwrap(),
            take: ban.take.clone(),
            take_start: None,
            extra: Default::default(),
        };
        let banned = Edit::PutBan { ban: ban.clone() }
            .apply(&with_a_take())
            .unwrap();
        assert_eq!(banned.bans.as_slice(), std::slice::from_ref(&ban));
        let locked = Edit::PutLock { lock }.apply(&banned).unwrap();
        assert!(locked.bans.is_empty() && locked.locks.len() == 1);
        let again = Edit::PutBan { ban: ban.clone() }.apply(&locked).unwrap();
        assert!(again.locks.is_empty() && again.bans.len() == 1);
        let at = SongTime::nearest_to_seconds(2.5);
        let free = Edit::RemoveBan { take: ban.take, at };
        let after = free.apply(&again).unwrap();
        assert!(after.bans.is_empty());
        assert!(matches!(free.apply(&after), Err(Refusal::Gone { .. })));
    }

    #[test]
    fn edits_together_are_made_all_or_not_at_all() {
        let title = Edit::title("Paper Weather");
        let gone = Edit::remove::<Day>("none");
        let both = |edits| Edit::Together {
            what: "both".into(),
            edits,
        };
        let base = base();
        assert!(both(vec![title.clone(), gone]).apply(&base).is_err());
        let made = both(vec![
            title,
            Edit::Put {
                part: "states".into(),
                new: serde_json::json!(["clean"]),
                was: None,
            },
        ]);
        let after = made.apply(&base).unwrap();
        assert_eq!(
            (after.title.as_str(), after.states.len()),
            ("Paper Weather", 1)
        );
        assert_eq!(made.says(), "both");
    }

    #[test]
    fn two_changes_of_one_noun_are_both_kept() {
        let base = base();
        let was = base.setups[0].clone();
        let first = Setup {
            passes: 5,
            ..was.clone()
        };
        let second = Setup {
            name: "very wide".into(),
            ..was.clone()
        };
        let after = Edit::change_of(&was, &first).apply(&base).unwrap();
        let after = Edit::change_of(&was, &second).apply(&after).unwrap();
        assert_eq!(
            (after.setups[0].passes, after.setups[0].name.as_str()),
            (5, "very wide")
        );

        let third = Setup {
            passes: 7,
            ..was.clone()
        };
        let refusal = Edit::change_of(&was, &third).apply(&after).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "`passes` of the setup `s1` was changed meanwhile by somebody else; look at it again and repeat the change if it is still wanted"
        );
    }

    #[test]
    fn two_changes_of_the_practice_are_both_kept_and_out_of_range_is_refused() {
        let was = Practice::default();
        let carried = |trip_kg: f64| {
            let new = Practice {
                trip_kg,
                ..was.clone()
            };
            Edit::change_of(&was, &new)
        };
        let reserve = Practice {
            battery_reserve: 0.3,
            ..was.clone()
        };
        let after = Edit::change_of(&was, &reserve).apply(&base()).unwrap();
        let after = carried(12.0).apply(&after).unwrap();
        assert_eq!(after.practice.battery_reserve, 0.3);
        assert_eq!(after.practice.trip_kg, 12.0);
        // Only what is not as usual is written.
        let written = serde_json::to_value(&after.practice).unwrap();
        assert_eq!(
            written,
            serde_json::json!({"battery_reserve": 0.3, "trip_kg": 12.0})
        );
        let refusal = carried(14.0).apply(&after).unwrap_err();
        assert!(refusal.to_string().starts_with("`trip_kg` of the practice"));
        let wild = Practice {
            trips: 0,
            ..Practice::default()
        };
        assert_eq!(
            Edit::put(&wild).apply(&after).unwrap_err().to_string(),
            "0 is out of range; 1 to 100 (practice.trips)"
        );
        // A value alone can come out of order with what is usual.
        let windy = Practice {
            wind_weigh_m_s: 9.0,
            ..Practice::default()
        };
        assert_eq!(
            Edit::put(&windy).apply(&base()).unwrap_err().to_string(),
            "`wind_weigh_m_s` (9) should lie below `wind_lower_m_s` (7.6) (practice.wind_weigh_m_s)"
        );
    }

    #[test]
    fn what_is_used_is_not_removed() {
        let refusal = Edit::remove::<Place>("quay").apply(&base()).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "the place `quay` is still used by the setup `s1` (place); change that first"
        );
    }

    #[test]
    fn takes_of_one_name_get_numbers_and_one_content_comes_once() {
        let take = |id: &str, hash: char| -> Take {
            serde_json::from_str(&format!(
                r#"{{"id":"{id}","file":{{"path":"{id}.mov","hash":"{}","bytes":1}}}}"#,
                hash.to_string().repeat(32)
            ))
            .unwrap()
        };
        let edit = Edit::AddTakes {
            takes: vec![
                take("clip", 'a'),
                take("clip", 'b'),
                take("other", 'a'),
                take("clip", 'c'),
            ],
        };
        let ids: Vec<String> = edit
            .apply(&base())
            .unwrap()
            .takes
            .iter()
            .map(|take| take.id.to_string())
            .collect();
        assert_eq!(ids, ["clip", "clip-2", "clip-3"]);
    }

    #[test]
    fn photographs_come_once_and_a_new_place_takes_a_free_name() {
        let photo = |hash: char| -> Photo {
            serde_json::from_str(&format!(
                r#"{{"file":{{"path":"{hash}.jpg","hash":"{}","bytes":1}}}}"#,
                hash.to_string().repeat(32)
            ))
            .unwrap()
        };
        let at = |place: &str, hashes: &str| PhotosAt {
            place: PlaceId::new(place).unwrap(),
            photos: hashes.chars().map(photo).collect(),
            position_deg: Some([1.0, 2.0]),
        };
        let new = |id: &str, hashes: &str| Place {
            photos: hashes.chars().map(photo).collect(),
            ..Place::new(PlaceId::new(id).unwrap(), id)
        };
        let edit = Edit::AddPhotos {
            at: vec![at("quay", "ab"), at("quay", "bc")],
            new: vec![new("quay", "cd"), new("stair", "da"), new("quay", "e")],
        };
        let after = edit.apply(&base()).unwrap();
        let found: Vec<(&str, String)> = after
            .places
            .iter()
            .map(|place| {
                let photos = place.photos.iter().map(|photo| &photo.file.path[..1]);
                (place.id.as_str(), photos.collect())
            })
            .collect();
        assert_eq!(
            found,
            [
                ("quay", "abc".to_owned()),
                ("quay-2", "d".to_owned()),
                ("quay-3", "e".to_owned())
            ]
        );
        assert_eq!(after.places[0].position_deg, Some([1.0, 2.0]));
        // The same again changes nothing.
        let again = Edit::AddPhotos {
            at: vec![at("quay", "a")],
            new: vec![new("stair", "e")],
        };
        assert_eq!(again.apply(&after).unwrap(), after);
        let gone = Edit::AddPhotos {
            at: vec![at("moon", "f")],
            new: vec![],
        };
        assert_eq!(
            gone.apply(&after).unwrap_err().to_string(),
            "there is no place `moon`; it may have been removed meanwhile"
        );
    }

    #[test]
    fn fields_of_a_newer_version_survive_an_edit() {
        let newer = project(
            r#"{"format":9,"brief":{"rate":"25","frame":[1920,1080],"mood":"blue"},"weather":{"wind":[1,null]},"setups":[{"id":"s1","crane":true}],"weights":{"voice":2.0,"smoke":1},"practice":{"haze":3},"locks":[],"song":{"file":{"path":"s","hash":"00000000000000000000000000000000","bytes":1},"length":"1:00","corrections":{"swing":0.6,"sections":[{"label":"A","at":["0:00","1:00"],"mood":"dim"}]}},"cuts":[{"version":1,"rate":"25","shots":[{"from_frame":0,"to_frame":9,"grade":"cold"}]}]}"#,
        );
        let after = Edit::title("x").apply(&newer).unwrap();
        let written = serde_json::to_value(&after).unwrap();
        assert_eq!(written["format"], 9);
        assert_eq!(written["brief"]["mood"], "blue");
        assert_eq!(written["weather"]["wind"][1], Value::Null);
        assert_eq!(written["setups"][0]["crane"], true);
        assert_eq!(written["weights"]["smoke"], 1);
        assert_eq!(written["practice"]["haze"], 3);
        assert_eq!(written["song"]["corrections"]["swing"], 0.6);
        assert_eq!(written["song"]["corrections"]["sections"][0]["mood"], "dim");
        assert_eq!(written["cuts"][0]["shots"][0]["grade"], "cold");
    }

    #[test]
    fn an_invalid_result_is_refused_whole() {
        let refusal = Edit::title("a\0b").apply(&base()).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "a text can't hold a null character; take it out (title)"
        );
    }

    #[test]
    fn every_edit_comes_back_from_its_record() {
        let edits = [
            Edit::Correct {
                correction: Correction::Double,
            },
            Edit::RateTake {
                id: TakeId::new("a").unwrap(),
                rating: Rating::Circled,
            },
            Edit::ImportPlan {
                plan: Box::new(base()),
                fields: vec!["setups".into()],
            },
        ];
        for edit in edits {
            let text = serde_json::to_string(&edit).unwrap();
            assert_eq!(serde_json::from_str::<Edit>(&text).unwrap(), edit);
        }
    }
}
