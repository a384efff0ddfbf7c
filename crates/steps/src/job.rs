//! One video's folder, opened.

use crate::{Error, Progress};
use media::Tools;
use model::{Edit, Project};
use serde::Serialize;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};
use store::{Cache, Folder, RevisionId, Store, UnixMs};

/// One video's folder, opened: the document, the cache and the tools at hand.
pub struct Job {
    pub(crate) folder: Folder,
    pub(crate) store: Store,
    pub(crate) cache: Cache,
    pub(crate) tools: Result<Tools, media::Error>,
    pub(crate) project: Project,
}

/// Keeps `value` in the cache under its kind, version and key. Where that can't be done, work goes on and whoever
/// watches is told.
pub(crate) fn keep<T: Serialize>(
    cache: &Cache,
    (kind, version, key): (&str, u32, &str),
    value: &T,
    progress: &dyn Progress,
) {
    if let Some(why) = cache.put_json(kind, version, key, value) {
        progress.note(&why);
    }
}

/// The most the cache may hold, bytes: what the document says, which was checked when it was read.
fn cache_bound(project: &Project) -> u64 {
    (project.practice.cache_gb * 1e9) as u64
}

/// The clock, as the store wants it. Read here so that nothing below has to.
pub fn now() -> UnixMs {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    UnixMs(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

fn options() -> store::Options {
    store::Options {
        by: "barebulb".into(),
        ..store::Options::default()
    }
}

/// Makes the newest revision that can be read stand, where the project file in `dir` is damaged.
///
/// # Errors
/// As [`store::rescue`].
pub fn rescue(dir: &Path) -> Result<store::Rescued, Error> {
    Ok(store::rescue(dir, now(), options())?)
}

impl Job {
    /// Makes a project in `dir`, which is created if need be.
    ///
    /// # Errors
    /// When there is a project already, or the folder can't be written.
    pub fn create(dir: &Path, project: &Project) -> Result<Self, Error> {
        let store = Store::create_with(dir, project, now(), options())?;
        let folder = Folder::new(dir);
        folder.make()?;
        Self::with(folder, store)
    }

    /// Opens the project in `dir`.
    ///
    /// # Errors
    /// When there is none, it is damaged, or a newer version made it.
    pub fn open(dir: &Path) -> Result<Self, Error> {
        let store = Store::open_with(dir, options())?;
        let folder = Folder::new(dir);
        if !store.is_read_only() {
            folder.sweep();
        }
        Self::with(folder, store)
    }

    fn with(folder: Folder, mut store: Store) -> Result<Self, Error> {
        let (_, project) = store.head()?;
        let cache = Cache::new(folder.cache(), cache_bound(&project));
        Ok(Self {
            folder,
            store,
            cache,
            tools: Tools::find(),
            project,
        })
    }

    /// The document as it now stands.
    pub fn project(&self) -> &Project {
        &self.project
    }

    /// The document is `project` from now on.
    fn stands(&mut self, project: Project) {
        self.cache.hold_at_most(cache_bound(&project));
        self.project = project;
    }

    /// Where everything lies.
    pub fn folder(&self) -> &Folder {
        &self.folder
    }

    /// The project file.
    pub fn store(&mut self) -> &mut Store {
        &mut self.store
    }

    /// ffmpeg, or why there is none.
    pub fn tools(&self) -> Result<&Tools, &media::Error> {
        self.tools.as_ref()
    }

    /// Makes one edit on top of whatever is newest.
    ///
    /// # Errors
    /// When it is refused or can't be saved; the document then is as before.
    pub fn edit(&mut self, edit: &Edit) -> Result<RevisionId, Error> {
        let (revision, project) = self.store.apply(edit, now())?;
        self.stands(project);
        Ok(revision)
    }

    /// Takes the last edit back, or, `forward`, makes it again.
    ///
    /// # Errors
    /// When there is nothing to go to, or the project can't be read or written.
    pub fn step_history(&mut self, forward: bool) -> Result<RevisionId, Error> {
        let (revision, project) = if forward {
            self.store.redo(now())?
        } else {
            self.store.undo(now())?
        };
        self.stands(project);
        Ok(revision)
    }

    /// Reads what somebody else may have changed.
    ///
    /// # Errors
    /// When the project can't be read.
    pub fn refresh(&mut self) -> Result<(), Error> {
        let (_, project) = self.store.head()?;
        self.stands(project);
        Ok(())
    }

    pub(crate) fn stop_if_asked(progress: &dyn Progress) -> Result<(), Error> {
        if progress.keep_going() {
            Ok(())
        } else {
            Err(Error::Stopped)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progress::Noted;

    #[test]
    fn what_cannot_be_kept_is_told() {
        let dir = tempfile::tempdir().unwrap();
        let taken = dir.path().join("cache");
        std::fs::write(&taken, "a file where the folder should be").unwrap();
        let noted = Noted::default();
        keep(&Cache::new(taken, 1_000), ("beats", 1, "k"), &1, &noted);
        let noted = noted.0.into_inner().unwrap();
        assert!(
            matches!(noted.as_slice(), [one] if one.contains("could not keep beats")),
            "{noted:?}"
        );
    }

    #[test]
    fn the_cache_holds_what_the_practice_says() {
        let dir = tempfile::tempdir().unwrap();
        let mut job = Job::create(dir.path(), &Project::default()).unwrap();
        let copy = job.folder().cache().join("view-1").join("00ff.mp4");
        std::fs::create_dir_all(copy.parent().unwrap()).unwrap();
        let made = std::fs::File::create(&copy).unwrap();
        made.set_len(150_000_000).unwrap();
        let before = SystemTime::now() - std::time::Duration::from_secs(3600);
        let times = std::fs::FileTimes::new();
        made.set_times(times.set_accessed(before).set_modified(before))
            .unwrap();
        job.cache.put("beats", 1, "k", b"1");
        assert!(copy.exists());
        let was = job.project().practice.clone();
        let new = model::Practice {
            cache_gb: 0.1,
            ..was.clone()
        };
        job.edit(&Edit::change_of(&was, &new)).unwrap();
        job.cache.put("beats", 1, "k", b"2");
        assert!(!copy.exists());
    }
}
