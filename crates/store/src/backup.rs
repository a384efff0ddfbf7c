//! A copy of the file as it is, left beside it before anything in it is rewritten.

use crate::error::{At, Error};
use rusqlite::backup::Backup;
use rusqlite::{Connection, OpenFlags};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How many copies of one step are kept before it is taken for a mistake.
const MOST: u32 = 100;

/// Pages copied between two looks at the lock; a page is 4 kB.
const PAGES_AT_ONCE: i32 = 4096;

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
    let mut copy = whole::passing_file(dir).map_err(|error| at.file(error))?;
    copy_into(at.path, copy.path()).map_err(|error| at.sqlite(error))?;
    File::open(copy.path())
        .and_then(|file| file.sync_all())
        .map_err(|error| at.file(error))?;
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

/// Copies what readers of the database at `from` see into the empty file `to`.
fn copy_into(from: &Path, to: &Path) -> rusqlite::Result<()> {
    let flags = OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let from = Connection::open_with_flags(from, flags | OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let mut to = Connection::open_with_flags(to, flags | OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    Backup::new(&from, &mut to)?.run_to_completion(
        PAGES_AT_ONCE,
        Duration::from_millis(10),
        None,
    )?;
    to.close().map_err(|(_, error)| error)
}

/// Makes a new name in `dir` last through a power cut, where the system can.
pub(crate) fn sync_folder(dir: &Path) {
    if let Ok(dir) = File::open(dir) {
        // Not every file system takes this; the data itself is synced already.
        let _ = dir.sync_all();
    }
}
