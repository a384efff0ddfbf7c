//! What every request shares: the project, what was computed from it, and who may come in.

use crate::blocking;
use crate::door::Door;
use crate::events::{Event, Events};
use crate::memo::{self, Memo, Part};
use crate::refusal::Refused;
use crate::work::Works;
use model::{Edit, MediaFile, Project};
use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::SystemTime;
use steps::Job;
use store::{Folder, RevisionId};

/// One project being served.
pub struct App {
    dir: PathBuf,
    folder: Folder,
    /// The document, to be read: in moments, never held over long work.
    reader: Mutex<Job>,
    /// As it was read last.
    latest: Mutex<Option<Head>>,
    /// The document, to be edited: that may wait for another program that is just writing.
    writer: Mutex<Job>,
    /// Opened projects that long work uses, kept for the next.
    spare: Mutex<Vec<Job>>,
    /// Files that were found to hold what was brought in.
    held: Mutex<HashSet<Held>>,
    /// What was computed.
    pub memo: Memo,
    /// What is being computed.
    pub works: Works,
    /// Who may come in.
    pub door: Door,
    /// What happens, for whoever listens.
    pub events: Events,
}

/// A file that was found to hold what was brought in: its place, its last change, the hash and the bytes.
type Held = (PathBuf, Option<SystemTime>, String, u64);

/// What tells states of some parts from others.
type Key = (Vec<Part>, u64);

/// The document at one moment.
#[derive(Clone)]
pub struct Head {
    /// Its revision.
    pub revision: RevisionId,
    /// The document.
    pub project: Arc<Project>,
    /// What tells states of its parts from others, as far as it was asked for.
    keys: Arc<Mutex<Vec<Key>>>,
}

impl Head {
    /// The document as it stands on `revision`.
    pub fn new(revision: RevisionId, project: Project) -> Self {
        Self {
            revision,
            project: Arc::new(project),
            keys: Arc::default(),
        }
    }

    /// What tells this state of `parts` from others.
    pub fn key(&self, parts: &[Part]) -> u64 {
        let keys = || self.keys.lock().unwrap_or_else(PoisonError::into_inner);
        let known = keys().iter().find(|one| one.0 == parts).map(|one| one.1);
        known.unwrap_or_else(|| {
            let key = memo::key(&self.project, parts);
            keys().push((parts.to_vec(), key));
            key
        })
    }
}

impl App {
    /// The project in `dir`, opened, with nobody in but who comes through `door`.
    ///
    /// # Errors
    /// As [`Job::open`].
    pub fn open(dir: &Path, door: Door) -> Result<Arc<Self>, steps::Error> {
        let reader = Mutex::new(Job::open(dir)?);
        let writer = Mutex::new(Job::open(dir)?);
        Ok(Arc::new(Self {
            dir: dir.to_path_buf(),
            folder: Folder::new(dir),
            reader,
            latest: Mutex::default(),
            writer,
            spare: Mutex::default(),
            held: Mutex::default(),
            memo: Memo::default(),
            works: Works::default(),
            door,
            events: Events::default(),
        }))
    }

    /// Where the project lies.
    pub fn folder(&self) -> &Folder {
        &self.folder
    }

    fn reader(&self) -> MutexGuard<'_, Job> {
        blocking::check();
        self.reader.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn writer(&self) -> MutexGuard<'_, Job> {
        blocking::check();
        // A panic while holding it left nothing half done: every change is one transaction.
        self.writer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The document as it now stands, edits by other programs included.
    ///
    /// # Errors
    /// When the project file can't be read.
    pub fn head(&self) -> Result<Head, Refused> {
        let mut job = self.reader();
        let revision = job.store().head_id()?;
        let mut latest = self.latest.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(head) = latest.as_ref().filter(|head| head.revision == revision) {
            return Ok(head.clone());
        }
        let (revision, project) = job.store().head()?;
        Ok(latest.insert(Head::new(revision, project)).clone())
    }

    /// The revision the document stands on.
    ///
    /// # Errors
    /// When the project file can't be read.
    pub fn revision(&self) -> Result<RevisionId, Refused> {
        Ok(self.reader().store().head_id()?)
    }

    /// The document as it was at `revision`.
    ///
    /// # Errors
    /// When there is no such revision.
    pub fn at(&self, revision: RevisionId) -> Result<Project, Refused> {
        Ok(self.reader().store().at(revision)?)
    }

    /// Makes one edit on top of whatever is newest, and tells everybody.
    ///
    /// # Errors
    /// When it is refused or can't be saved; the document then is as before.
    pub fn edit(&self, edit: &Edit) -> Result<RevisionId, Refused> {
        let revision = self.writer().edit(edit)?;
        self.tell(Event::Changed(revision));
        Ok(revision)
    }

    /// Goes back, or forward, one revision.
    ///
    /// # Errors
    /// When there is nothing to go to.
    pub fn step_history(&self, forward: bool) -> Result<RevisionId, Refused> {
        let revision = self.writer().step_history(forward)?;
        self.tell(Event::Changed(revision));
        Ok(revision)
    }

    /// The newest revisions, newest first.
    ///
    /// # Errors
    /// When the project file can't be read.
    pub fn history(&self, limit: usize) -> Result<Vec<store::Entry>, Refused> {
        Ok(self.reader().store().history(limit)?)
    }

    /// Whether the file at `path` holds what `file` says was brought in.
    ///
    /// # Errors
    /// When the project can't be opened.
    pub fn holds(&self, path: &Path, file: &MediaFile) -> Result<bool, Refused> {
        let changed = std::fs::metadata(path)
            .and_then(|about| about.modified())
            .ok();
        let asked = (path.to_path_buf(), changed, file.hash.clone(), file.bytes);
        let known = || self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if known().contains(&asked) {
            return Ok(true);
        }
        let holds = self.with_job(|job| job.holds(path, file, &steps::Quiet))?;
        if holds {
            known().insert(asked);
        }
        Ok(holds)
    }

    /// Runs `what` with a project of its own, so that it may take long.
    ///
    /// # Errors
    /// What `what` says, and when the project can't be opened.
    pub fn with_job<T>(
        &self,
        what: impl FnOnce(&mut Job) -> Result<T, steps::Error>,
    ) -> Result<T, steps::Error> {
        blocking::check();
        let kept = self.spare().pop();
        let mut job = match kept {
            Some(mut job) => {
                job.refresh()?;
                job
            }
            None => Job::open(&self.dir)?,
        };
        let before = job.store().head_id()?;
        let out = what(&mut job);
        let after = job.store().head_id()?;
        if after != before {
            self.tell(Event::Changed(after));
        }
        self.spare().push(job);
        out
    }

    fn spare(&self) -> MutexGuard<'_, Vec<Job>> {
        self.spare.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tells everybody who listens.
    pub fn tell(&self, event: Event) {
        self.events.tell(event);
    }
}
