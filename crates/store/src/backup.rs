//! A copy of the file as it is, left beside it before anything in it is rewritten.

use crate::error::{At, Error};
use rusqlite::{Connection, OpenFlags};
use std::fs::File;
use std::path::{Path, PathBuf};

/// How many copies of one step are kept before it is taken for a mistake.
const MOST: u32 = 100;

/// Leaves a copy of the database at `path` beside it as `project.sqlite.before-N`, `N` being the
/// schema the file is about to be brought to. The copy appears whole or not at all, and never
/// takes the place of another file. The caller holds the write lock, so that nothing is written
/// between the copy and what follows.
pub(crate) fn keep_before(at: At, version: i64) -> Result<PathBuf, Error> {
    let at = At {
        doing: "back up",
        ..at
    };
    let dir = at.path.parent().unwrap_or(Path::new("."));
    let copy = tempfile::Builder::new()
        .prefix(".before-")
        .suffix(".part")
        .tempfile_in(dir)
        .map_err(|error| at.file(error))?;
    let source = Connection::open_with_flags(
        at.path,
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )
    .map_err(|error| at.sqlite(error))?;
    source
        .busy_timeout(at.waited)
        .and_then(|()| {
            // SQLite writes into an empty file.
            source.execute("VACUUM INTO ?1", [copy.path().to_string_lossy().as_ref()])
        })
        .map_err(|error| at.sqlite(error))?;
    File::open(copy.path())
        .and_then(|file| file.sync_all())
        .map_err(|error| at.file(error))?;
    let mut copy = copy;
    for count in 1..=MOST {
        let mut name = at.path.as_os_str().to_os_string();
        name.push(format!(".before-{version}"));
        if count > 1 {
            name.push(format!("-{count}"));
        }
        match copy.persist_noclobber(PathBuf::from(&name)) {
            Ok(_) => {
                sync_folder(dir);
                return Ok(name.into());
            }
            Err(refused) if refused.error.kind() == std::io::ErrorKind::AlreadyExists => {
                copy = refused.file;
            }
            Err(refused) => return Err(at.file(refused.error)),
        }
    }
    Err(at.file(std::io::Error::new(
        std::io::ErrorKind::AlreadyExists,
        format!("there are {MOST} copies from before this step already"),
    )))
}

/// Makes a new name in `dir` last through a power cut, where the system can.
pub(crate) fn sync_folder(dir: &Path) {
    if let Ok(dir) = File::open(dir) {
        // Not every file system takes this; the data itself is synced already.
        let _ = dir.sync_all();
    }
}
