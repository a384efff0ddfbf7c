//! Going on after damage: the newest revision that can be read becomes a project file of its own, and the
//! damaged file is kept beside it as it is.

use crate::backup::sync_folder;
use crate::chain;
use crate::error::{At, Error};
use crate::folder::Folder;
use crate::open;
use crate::revision::{RevisionId, UnixMs};
use crate::store::{Options, Store};
use model::Project;
use std::path::{Path, PathBuf};
use whole::Passing;

/// How many damaged files are kept beside each other.
const MOST: u32 = 1000;

/// What was rescued.
#[derive(Clone, Debug)]
pub struct Rescued {
    /// The revision of the damaged file that the project now stands on.
    pub revision: RevisionId,
    /// The newest one in it.
    pub newest: RevisionId,
    /// The document.
    pub project: Project,
    /// Where the damaged file now lies; `None` when nothing was damaged and nothing changed.
    pub kept: Option<PathBuf>,
}

/// Makes the newest revision in the project file of `dir` that can be read the first of a new file, and keeps
/// the damaged one beside it. A project that can be read stays as it is.
///
/// # Errors
/// When there is no project, a newer version wrote it, no revision of it can be read, or the folder can't be written; nothing was changed
/// then.
pub fn rescue(dir: &Path, now: UnixMs, options: Options) -> Result<Rescued, Error> {
    let path = Folder::new(dir).database();
    let at = At {
        path: &path,
        doing: "rescue",
        waited: options.wait,
    };
    let nothing = || Error::NothingToRescue { path: path.clone() };
    let (found, newest) = {
        let opened = open::open(&path, options.wait)?;
        let head = chain::head(&opened.connection, at).ok();
        let ids = chain::ids(&opened.connection).map_err(|error| at.sqlite(error))?;
        // What a newer version wrote is no damage.
        if let Some(head) = head
            && let Err(error @ Error::Unreadable { .. }) =
                chain::load(&opened.connection, at, head, None)
            && matches!(&error, Error::Unreadable { remedy, .. } if *remedy == chain::NEWER)
        {
            return Err(error);
        }
        let whole = |id: &RevisionId| {
            let read = chain::load(&opened.connection, at, *id, None).ok()?;
            Some((*id, read.project))
        };
        let newest = ids.last().copied().ok_or_else(nothing)?;
        if let Some((revision, project)) = head.as_ref().and_then(whole) {
            return Ok(Rescued {
                revision,
                newest,
                project,
                kept: None,
            });
        }
        (ids.iter().rev().find_map(whole), newest)
    };
    let (revision, project) = found.ok_or_else(nothing)?;
    let passing = Passing::inside(dir).map_err(|error| at.file(error))?;
    drop(Store::create_with(passing.path(), &project, now, options)?);
    let kept = aside(&path).map_err(|error| at.file(error))?;
    std::fs::rename(Folder::new(passing.path()).database(), &path)
        .map_err(|error| at.file(error))?;
    sync_folder(dir);
    Ok(Rescued {
        revision,
        newest,
        project,
        kept: Some(kept),
    })
}

/// Moves the file at `path` and those that SQLite keeps beside it to names of their own.
fn aside(path: &Path) -> std::io::Result<PathBuf> {
    let named = |end: &str| {
        let mut name = path.as_os_str().to_os_string();
        name.push(end);
        PathBuf::from(name)
    };
    let free = (1..=MOST).map(|count| format!(".damaged-{count}"));
    let end = free
        .into_iter()
        .find(|end| named(end).symlink_metadata().is_err())
        .ok_or(std::io::ErrorKind::AlreadyExists)?;
    for log in ["-wal", "-shm"] {
        if named(log).exists() {
            std::fs::rename(named(log), named(&format!("{end}{log}")))?;
        }
    }
    std::fs::rename(path, named(&end))?;
    Ok(named(&end))
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::Edit;

    fn project_of(titles: &[&str]) -> tempfile::TempDir {
        let dir = tempfile::tempdir().unwrap();
        let mut store = Store::create(dir.path(), &Project::default(), UnixMs(0)).unwrap();
        for title in titles {
            store.apply(&Edit::title(*title), UnixMs(0)).unwrap();
        }
        dir
    }

    fn damage(dir: &Path, sql: &str) {
        let file = rusqlite::Connection::open(Folder::new(dir).database()).unwrap();
        // The file itself refuses to change a revision; a disk asks nobody.
        let mut triggers = file
            .prepare("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            .unwrap();
        let names = triggers.query_map([], |row| row.get::<_, String>(0));
        for name in names.unwrap().map(Result::unwrap).collect::<Vec<_>>() {
            file.execute(&format!("DROP TRIGGER {name}"), []).unwrap();
        }
        file.execute(sql, []).unwrap();
    }

    #[test]
    fn the_newest_revision_that_reads_stands_and_the_rest_is_kept() {
        let dir = project_of(&["one", "two", "three"]);
        damage(
            dir.path(),
            "UPDATE revision SET patch = replace(patch, 'three', 'thrfe') WHERE id = 4",
        );
        assert!(Store::open(dir.path()).is_err());
        let rescued = rescue(dir.path(), UnixMs(1), Options::default()).unwrap();
        assert_eq!((rescued.revision.number(), rescued.newest.number()), (3, 4));
        let (_, project) = Store::open(dir.path()).unwrap().head().unwrap();
        assert_eq!(project.title, "two");
        let kept = rescued.kept.unwrap();
        let there = rusqlite::Connection::open(kept).unwrap();
        let count: i64 = there
            .query_row("SELECT count(*) FROM revision", [], |row| row.get(0))
            .unwrap();
        assert_eq!(count, 4);
        // A second time there is nothing to do.
        let again = rescue(dir.path(), UnixMs(2), Options::default()).unwrap();
        assert_eq!(again.kept, None);
    }

    #[test]
    fn what_cannot_be_rescued_stays_as_it_is() {
        let dir = project_of(&[]);
        damage(dir.path(), "UPDATE revision SET document = '{'");
        let before = std::fs::read(Folder::new(dir.path()).database()).unwrap();
        assert!(rescue(dir.path(), UnixMs(1), Options::default()).is_err());
        assert_eq!(
            std::fs::read(Folder::new(dir.path()).database()).unwrap(),
            before
        );
        assert!(rescue(&dir.path().join("none"), UnixMs(1), Options::default()).is_err());
    }
}
