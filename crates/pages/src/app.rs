//! What every request shares: the project, what was computed from it, and who may come in.

use crate::blocking;
use crate::door::Door;
use crate::events::{Event, Events};
use crate::memo::Memo;
use crate::refusal::Refused;
use crate::work::Works;
use model::{Edit, Project};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use steps::Job;
use store::{Folder, RevisionId};

/// One project being served.
pub struct App {
    dir: PathBuf,
    folder: Folder,
    /// The document: read and edited in moments, never held over long work.
    job: Mutex<Job>,
    /// Opened projects that long work uses, kept for the next.
    spare: Mutex<Vec<Job>>,
    /// What was computed.
    pub memo: Memo,
    /// What is being computed.
    pub works: Works,
    /// Who may come in.
    pub door: Door,
    /// What happens, for whoever listens.
    pub events: Events,
}

/// The document at one moment.
#[derive(Clone)]
pub struct Head {
    /// Its revision.
    pub revision: RevisionId,
    /// The document.
    pub project: Arc<Project>,
}

impl App {
    /// The project in `dir`, opened, with nobody in but who comes through `door`.
    ///
    /// # Errors
    /// As [`Job::open`].
    pub fn open(dir: &Path, door: Door) -> Result<Arc<Self>, steps::Error> {
        let job = Job::open(dir)?;
        Ok(Arc::new(Self {
            dir: dir.to_path_buf(),
            folder: Folder::new(dir),
            job: Mutex::new(job),
            spare: Mutex::default(),
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

    fn job(&self) -> MutexGuard<'_, Job> {
        blocking::check();
        // A panic while holding it left nothing half done: every change is one transaction.
        self.job.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The document as it now stands, edits by other programs included.
    ///
    /// # Errors
    /// When the project file can't be read.
    pub fn head(&self) -> Result<Head, Refused> {
        let mut job = self.job();
        let (revision, project) = job.store().head()?;
        Ok(Head {
            revision,
            project: Arc::new(project),
        })
    }

    /// The revision the document stands on.
    ///
    /// # Errors
    /// When the project file can't be read.
    pub fn revision(&self) -> Result<RevisionId, Refused> {
        Ok(self.job().store().head_id()?)
    }

    /// The document as it was at `revision`.
    ///
    /// # Errors
    /// When there is no such revision.
    pub fn at(&self, revision: RevisionId) -> Result<Project, Refused> {
        Ok(self.job().store().at(revision)?)
    }

    /// Makes one edit on top of whatever is newest, and tells everybody.
    ///
    /// # Errors
    /// When it is refused or can't be saved; the document then is as before.
    pub fn edit(&self, edit: &Edit) -> Result<RevisionId, Refused> {
        let revision = self.job().edit(edit)?;
        self.tell(Event::Changed(revision));
        Ok(revision)
    }

    /// Goes back, or forward, one revision.
    ///
    /// # Errors
    /// When there is nothing to go to.
    pub fn step_history(&self, forward: bool) -> Result<RevisionId, Refused> {
        let revision = self.job().step_history(forward)?;
        self.tell(Event::Changed(revision));
        Ok(revision)
    }

    /// The newest revisions, newest first.
    ///
    /// # Errors
    /// When the project file can't be read.
    pub fn history(&self, limit: usize) -> Result<Vec<store::Entry>, Refused> {
        Ok(self.job().store().history(limit)?)
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
