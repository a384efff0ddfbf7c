//! The store: edits in, revisions out.

use crate::chain::{self, Kept, Loaded};
use crate::error::{At, BoxedRefusal, Error, one_line};
use crate::folder::Folder;
use crate::open::{self, Opened};
use crate::revision::{Check, Entry, RevisionId, UnixMs};
use model::{Edit, Project};
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How a store is opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Options {
    /// Who edits, as the history shows it: `command line`, `pages`.
    pub by: String,
    /// How long to wait for another process that is just writing. A write takes milliseconds;
    /// a longer wait only helps when the disk is slow. Sane from 1 s to 30 s.
    pub wait: Duration,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            by: String::new(),
            wait: Duration::from_secs(5),
        }
    }
}

/// A project's file, opened. One connection; give each thread its own, or one thread the store.
///
/// Every call that edits is one transaction: it is done and on disk when the call returns, or
/// nothing happened. The newest document is kept in memory and brought up to date by the patches
/// that other processes added since.
pub struct Store {
    opened: Opened,
    path: PathBuf,
    options: Options,
    loaded: Option<Loaded>,
}

impl Store {
    /// Starts a project in `dir` (made when missing) with `project` as its first revision.
    ///
    /// # Errors
    /// When there is one already, or the folder can't be written.
    pub fn create(dir: &Path, project: &Project, now: UnixMs) -> Result<Self, Error> {
        Self::create_with(dir, project, now, Options::default())
    }

    /// As [`Self::create`], with `options`.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn create_with(
        dir: &Path,
        project: &Project,
        now: UnixMs,
        options: Options,
    ) -> Result<Self, Error> {
        let path = Folder::new(dir).database();
        // What is written now is in the form of now.
        let project = &Project {
            format: project.format.max(model::FORMAT),
            ..project.clone()
        };
        open::create(dir, &path, |transaction, at| {
            let first = chain::insert(
                transaction,
                at,
                None,
                project,
                &Kept {
                    what: "started",
                    by: &options.by,
                    edit: None,
                    now,
                },
            )?;
            chain::set_head(transaction, first.id, now).map_err(|error| at.sqlite(error))
        })?;
        Self::open_with(dir, options)
    }

    /// Opens the project in `dir`, bringing an older file up to date (a copy of it as it was is
    /// left beside it first). Where the folder can't be written it is opened for reading.
    ///
    /// # Errors
    /// When there is none, or it can't be read: see [`Error`].
    pub fn open(dir: &Path) -> Result<Self, Error> {
        Self::open_with(dir, Options::default())
    }

    /// As [`Self::open`], with `options`.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_with(dir: &Path, options: Options) -> Result<Self, Error> {
        let path = Folder::new(dir).database();
        let opened = open::open(&path, options.wait)?;
        let mut store = Self {
            opened,
            path,
            options,
            loaded: None,
        };
        store.head()?;
        Ok(store)
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether edits will be refused because the file or its folder can only be read.
    pub fn is_read_only(&self) -> bool {
        self.opened.read_only
    }

    /// The document as it stands now, edits by other processes included.
    ///
    /// # Errors
    /// When the file can't be read.
    pub fn head(&mut self) -> Result<(RevisionId, Project), Error> {
        let at = at(&self.path, &self.options, "read");
        // One transaction, so that head and patches are of one moment.
        let transaction = self
            .opened
            .connection
            .transaction_with_behavior(TransactionBehavior::Deferred)
            .map_err(|error| at.sqlite(error))?;
        let id = chain::head(&transaction, at)?;
        let loaded = chain::load(&transaction, at, id, self.loaded.take())?;
        Ok(answer(&mut self.loaded, loaded))
    }

    /// The revision the document stands on, edits by other processes included. Cheap: for seeing
    /// whether anything changed.
    ///
    /// # Errors
    /// When the file can't be read.
    pub fn head_id(&self) -> Result<RevisionId, Error> {
        chain::head(
            &self.opened.connection,
            at(&self.path, &self.options, "read"),
        )
    }

    /// The document as it was at `revision`.
    ///
    /// # Errors
    /// When there is no such revision, or it can't be read.
    pub fn at(&self, revision: RevisionId) -> Result<Project, Error> {
        let at = at(&self.path, &self.options, "read");
        let near = self
            .loaded
            .as_ref()
            .filter(|near| near.id <= revision)
            .cloned();
        Ok(chain::load(&self.opened.connection, at, revision, near)?.project)
    }

    /// Applies `edit` on top of whatever is newest when its turn comes.
    ///
    /// Gives the new revision and its document; when the edit changes nothing, the one that
    /// stands.
    ///
    /// # Errors
    /// [`Error::Refused`] when the document refuses it, and whatever keeps the file from being
    /// written. Nothing is changed then.
    pub fn apply(&mut self, edit: &Edit, now: UnixMs) -> Result<(RevisionId, Project), Error> {
        self.revise(None, &edit.says(), Some(edit), now, |project| {
            edit.apply(project).map_err(Into::into)
        })
    }

    /// Applies `edit` if the document still stands on `revision`; for edits that replace much at
    /// once and were made while looking at that revision.
    ///
    /// # Errors
    /// [`Error::Moved`] when it does not, otherwise as [`Self::apply`].
    pub fn apply_if_at(
        &mut self,
        revision: RevisionId,
        edit: &Edit,
        now: UnixMs,
    ) -> Result<(RevisionId, Project), Error> {
        self.revise(Some(revision), &edit.says(), Some(edit), now, |project| {
            edit.apply(project).map_err(Into::into)
        })
    }

    /// Makes a revision by a function instead of a typed edit; `what` says in words what it does.
    /// For the store's own tests and tools: what a person does goes through [`Self::apply`].
    ///
    /// # Errors
    /// As [`Self::apply`].
    pub fn apply_with<E: Into<BoxedRefusal>>(
        &mut self,
        what: &str,
        now: UnixMs,
        change: impl FnOnce(&Project) -> Result<Project, E>,
    ) -> Result<(RevisionId, Project), Error> {
        self.revise(None, what, None, now, |project| {
            change(project).map_err(Into::into)
        })
    }

    /// Goes back to the revision before.
    ///
    /// # Errors
    /// [`Error::NothingToUndo`] at the first revision, and whatever keeps the file from being
    /// written.
    pub fn undo(&mut self, now: UnixMs) -> Result<(RevisionId, Project), Error> {
        self.step(now, "undo", |transaction, at, head| {
            chain::parent(transaction, at, head)?.ok_or(Error::NothingToUndo)
        })
    }

    /// Goes forward to the newest revision made from the present one.
    ///
    /// # Errors
    /// [`Error::NothingToRedo`] when there is none, and whatever keeps the file from being
    /// written.
    pub fn redo(&mut self, now: UnixMs) -> Result<(RevisionId, Project), Error> {
        self.step(now, "redo", |transaction, at, head| {
            chain::newest_child(transaction, at, head)?.ok_or(Error::NothingToRedo)
        })
    }

    /// The newest `limit` revisions, newest first, those undone or on other branches included.
    ///
    /// # Errors
    /// When the file can't be read.
    pub fn history(&self, limit: usize) -> Result<Vec<Entry>, Error> {
        let at = at(&self.path, &self.options, "read");
        chain::history(&self.opened.connection, limit).map_err(|error| at.sqlite(error))
    }

    /// Looks through the whole file: SQLite's own integrity check, every reference, and every
    /// revision rebuilt and read. Takes about as long as reading the file and applying every patch.
    ///
    /// # Errors
    /// Only when the check itself can't be made; damage found is in [`Check::problems`].
    pub fn check(&self) -> Result<Check, Error> {
        let at = at(&self.path, &self.options, "check");
        let connection: &Connection = &self.opened.connection;
        let mut problems = Vec::new();
        let mut statement = connection
            .prepare("PRAGMA integrity_check(20)")
            .map_err(|error| at.sqlite(error))?;
        let said = statement
            .query_map([], |row| row.get::<_, String>(0))
            .and_then(Iterator::collect::<Result<Vec<_>, _>>);
        match said {
            Ok(lines) => problems.extend(
                lines
                    .iter()
                    .filter(|line| *line != "ok")
                    .map(|line| one_line(line)),
            ),
            Err(error) => problems.push(at.sqlite(error).to_string()),
        }
        let loose = connection
            .query_row("PRAGMA foreign_key_check", [], |row| {
                row.get::<_, String>(0)
            })
            .optional();
        match loose {
            Ok(None) => {}
            Ok(Some(table)) => problems.push(format!(
                "a row of the table `{table}` refers to a revision that is not there"
            )),
            Err(error) => problems.push(at.sqlite(error).to_string()),
        }
        let revisions = chain::check(connection, at, &mut problems);
        Ok(Check {
            revisions,
            problems,
        })
    }

    fn revise(
        &mut self,
        only_at: Option<RevisionId>,
        what: &str,
        edit: Option<&Edit>,
        now: UnixMs,
        change: impl FnOnce(&Project) -> Result<Project, BoxedRefusal>,
    ) -> Result<(RevisionId, Project), Error> {
        let at = at(&self.path, &self.options, "edit");
        let edit = edit
            .map(serde_json::to_string)
            .transpose()
            .map_err(|error| Error::Unkeepable {
                detail: error.to_string(),
            })?;
        let transaction = self.opened.begin(at)?;
        let head = chain::head(&transaction, at)?;
        if let Some(only_at) = only_at
            && only_at != head
        {
            return Err(Error::Moved { at: only_at, head });
        }
        let before = chain::load(&transaction, at, head, self.loaded.take())?;
        let after = match change(&before.project) {
            Ok(after) if after != before.project => after,
            Ok(_) => return Ok(answer(&mut self.loaded, before)),
            Err(refusal) => {
                self.loaded = Some(before);
                return Err(Error::Refused(refusal));
            }
        };
        let kept = Kept {
            what,
            by: &self.options.by,
            edit: edit.as_deref(),
            now,
        };
        let made = chain::insert(&transaction, at, Some(&before), &after, &kept);
        // Whatever happens next, what was read is still true.
        self.loaded = Some(before);
        let made = made?;
        finish(transaction, at, made.id, now)?;
        Ok(answer(&mut self.loaded, made))
    }

    fn step(
        &mut self,
        now: UnixMs,
        doing: &'static str,
        to: impl FnOnce(&Transaction, At, RevisionId) -> Result<RevisionId, Error>,
    ) -> Result<(RevisionId, Project), Error> {
        let at = at(&self.path, &self.options, doing);
        let transaction = self.opened.begin(at)?;
        let head = chain::head(&transaction, at)?;
        let id = to(&transaction, at, head)?;
        let near = self.loaded.as_ref().filter(|near| near.id <= id).cloned();
        let loaded = chain::load(&transaction, at, id, near)?;
        finish(transaction, at, id, now)?;
        Ok(answer(&mut self.loaded, loaded))
    }
}

fn at<'a>(path: &'a Path, options: &Options, doing: &'static str) -> At<'a> {
    At {
        path,
        doing,
        waited: options.wait,
    }
}

fn finish(transaction: Transaction, at: At, id: RevisionId, now: UnixMs) -> Result<(), Error> {
    chain::set_head(&transaction, id, now)
        .and_then(|()| transaction.commit())
        .map_err(|error| at.sqlite(error))
}

/// Keeps `loaded` and gives a copy of its document.
fn answer(slot: &mut Option<Loaded>, loaded: Loaded) -> (RevisionId, Project) {
    let answer = (loaded.id, loaded.project.clone());
    *slot = Some(loaded);
    answer
}
