//! Making and opening the file: is it ours, is it whole, is it of an age we know, can it be written.

use crate::backup::{keep_before, sync_folder};
use crate::error::{At, Error};
use crate::schema;
use rusqlite::{Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior};
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The first bytes of every SQLite file (the SQLite file format, section 1.3).
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// The write-ahead log is cut back to this many bytes after a checkpoint, so that one burst of
/// edits does not leave it large.
const LOG_KEPT: i64 = 4 << 20;

/// An open file.
pub(crate) struct Opened {
    pub connection: Connection,
    pub read_only: bool,
    /// Whether that is because the disk is full.
    full: bool,
    /// The copy that is read instead, where the file itself can't be: kept while it is in use.
    _copy: Option<tempfile::TempDir>,
}

impl Opened {
    /// Starts a transaction that will write: waits its turn, then sees what is newest.
    pub fn begin(&mut self, at: At) -> Result<Transaction<'_>, Error> {
        let path = || at.path.to_path_buf();
        match (self.read_only, self.full) {
            (false, _) => {}
            (true, false) => return Err(Error::ReadOnly { path: path() }),
            (true, true) => return Err(Error::DiskFull { path: path() }),
        }
        self.connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|error| at.sqlite(error))
    }
}

/// Makes the file at `path` with what `fill` puts into it. It appears whole or not at all.
pub(crate) fn create(
    dir: &Path,
    path: &Path,
    fill: impl FnOnce(&Transaction, At) -> Result<(), Error>,
) -> Result<(), Error> {
    let at = At {
        path,
        doing: "make",
        waited: Duration::ZERO,
    };
    let already = || Error::AlreadyThere {
        path: path.to_path_buf(),
    };
    std::fs::create_dir_all(dir).map_err(|error| at.file(error))?;
    if path.symlink_metadata().is_ok() {
        return Err(already());
    }
    let part = whole::passing_file(dir).map_err(|error| match error.kind() {
        ErrorKind::PermissionDenied => Error::ReadOnly {
            path: path.to_path_buf(),
        },
        _ => at.file(error),
    })?;
    let mut connection = connect(part.path(), OpenFlags::SQLITE_OPEN_READ_WRITE, at.waited)
        .map_err(|error| at.sqlite(error))?;
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(|error| at.sqlite(error))?;
    schema::bring_up(&transaction, 0).map_err(|error| at.sqlite(error))?;
    fill(&transaction, at)?;
    transaction.commit().map_err(|error| at.sqlite(error))?;
    connection.close().map_err(|(_, error)| at.sqlite(error))?;
    part.persist_noclobber(path)
        .map_err(|refused| match refused.error.kind() {
            ErrorKind::AlreadyExists => already(),
            _ => at.file(refused.error),
        })?;
    sync_folder(dir);
    Ok(())
}

/// Opens the file at `path`, for reading alone where it can't be written.
pub(crate) fn open(path: &Path, wait: Duration) -> Result<Opened, Error> {
    let at = At {
        path,
        doing: "open",
        waited: wait,
    };
    look(at)?;
    let written = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE, wait).and_then(|connection| {
        // A file that can't be written is opened for reading without a word.
        let read_only = connection.is_readonly("main")?;
        application_id(&connection)?;
        Ok((connection, read_only))
    });
    let opened = match written {
        Ok((connection, false)) => ready(connection, at),
        Ok((_, true)) => return open_for_reading(at),
        Err(error) if cannot_write(&error) => return open_for_reading(at),
        Err(error) => Err(at.sqlite(error)),
    };
    match opened {
        Err(Error::ReadOnly { .. }) => open_for_reading(at),
        // There is no room for the index beside the log; it can be read all the same.
        Err(Error::DiskFull { .. }) => open_for_reading(at).map(|opened| Opened {
            full: true,
            ..opened
        }),
        other => other,
    }
}

/// Looks at the file before SQLite does, to give the plainer sentence.
fn look(at: At) -> Result<(), Error> {
    let not_ours = |why| {
        Err(Error::NotOurs {
            path: at.path.to_path_buf(),
            why,
        })
    };
    let metadata = match at.path.metadata() {
        Ok(metadata) => metadata,
        Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
            return Err(Error::NoProject {
                dir: at.path.parent().unwrap_or(at.path).to_path_buf(),
            });
        }
        Err(error) => return Err(at.file(error)),
    };
    if !metadata.is_file() {
        return not_ours("it is not a file");
    }
    let mut start = Vec::new();
    File::open(at.path)
        .and_then(|file| file.take(MAGIC.len() as u64).read_to_end(&mut start))
        .map_err(|error| at.file(error))?;
    if start.is_empty() {
        return not_ours("it is empty");
    }
    if start != MAGIC {
        return not_ours("it is not a database");
    }
    Ok(())
}

/// Checks whose the file is and brings it up to the newest schema.
fn ready(mut connection: Connection, at: At) -> Result<Opened, Error> {
    let sqlite = |error| at.sqlite(error);
    let version = known_version(&connection, at)?;
    use_log(&connection).map_err(sqlite)?;
    if version < schema::NEWEST {
        let transaction = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(sqlite)?;
        // Another process may have been faster.
        let version = known_version(&transaction, at)?;
        if version < schema::NEWEST {
            keep_before(at, schema::NEWEST)?;
            schema::bring_up(&transaction, version).map_err(sqlite)?;
            transaction.commit().map_err(sqlite)?;
        }
    }
    Ok(Opened {
        connection,
        read_only: false,
        full: false,
        _copy: None,
    })
}

/// The schema version of a file that is ours and not newer than this program.
fn known_version(connection: &Connection, at: At) -> Result<i64, Error> {
    let sqlite = |error| at.sqlite(error);
    if application_id(connection).map_err(sqlite)? != schema::APPLICATION_ID {
        return Err(Error::NotOurs {
            path: at.path.to_path_buf(),
            why: "it is the database of another program",
        });
    }
    let version = schema::version(connection).map_err(sqlite)?;
    if version > schema::NEWEST {
        return Err(Error::Newer {
            path: at.path.to_path_buf(),
            found: version,
            known: schema::NEWEST,
        });
    }
    if version < 1 {
        return Err(at.damaged(format!("its schema version is {version}")));
    }
    Ok(version)
}

/// Opens the file where it or its folder can't be written: as it is if SQLite can, otherwise
/// through a copy in the system's folder for temporary files.
fn open_for_reading(at: At) -> Result<Opened, Error> {
    let direct = connect(at.path, OpenFlags::SQLITE_OPEN_READ_ONLY, at.waited)
        .and_then(|connection| application_id(&connection).map(|_| connection));
    let direct = match direct {
        Err(error) if cannot_write(&error) && !has_log(at.path) => {
            // A write-ahead file needs a shared index beside it, which can't be made here. With
            // no log and nobody able to write, the file itself is all there is.
            connect(
                &immutable(at.path),
                OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI,
                at.waited,
            )
            .and_then(|connection| application_id(&connection).map(|_| connection))
        }
        other => other,
    };
    match direct {
        Ok(connection) => {
            if known_version(&connection, at)? == schema::NEWEST {
                return Ok(Opened {
                    connection,
                    read_only: true,
                    full: false,
                    _copy: None,
                });
            }
        }
        Err(error) if cannot_write(&error) => {}
        Err(error) => return Err(at.sqlite(error)),
    }
    let copy = tempfile::tempdir().map_err(|error| at.file(error))?;
    let path = copy.path().join("project.sqlite");
    std::fs::copy(at.path, &path)
        .and_then(|_| {
            if has_log(at.path) {
                std::fs::copy(log(at.path), log(&path))?;
            }
            // A copy takes the permissions along.
            for file in [&path, &log(&path)] {
                if file.exists() {
                    writable(file)?;
                }
            }
            Ok(())
        })
        .map_err(|error| at.file(error))?;
    let connection = connect(&path, OpenFlags::SQLITE_OPEN_READ_WRITE, at.waited)
        .map_err(|error| at.sqlite(error))?;
    let opened = ready(connection, At { path: &path, ..at }).map_err(|error| match error {
        // The sentence names the file the person knows.
        Error::NotOurs { why, .. } => Error::NotOurs {
            path: at.path.to_path_buf(),
            why,
        },
        Error::Newer { found, known, .. } => Error::Newer {
            path: at.path.to_path_buf(),
            found,
            known,
        },
        Error::Damaged { detail, .. } => at.damaged(detail),
        other => other,
    })?;
    Ok(Opened {
        read_only: true,
        _copy: Some(copy),
        ..opened
    })
}

fn connect(path: &Path, flags: OpenFlags, wait: Duration) -> rusqlite::Result<Connection> {
    let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.busy_timeout(wait)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    // A file made by somebody else must not run functions through its schema.
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update_and_check(None, "journal_size_limit", LOG_KEPT, |_| Ok(()))?;
    Ok(connection)
}

/// Turns on the write-ahead log; it stays on in the file. Where the file system can't share the
/// log's index the file keeps its rollback journal, which is slower and as safe.
fn use_log(connection: &Connection) -> rusqlite::Result<()> {
    let mode: String = connection.pragma_query_value(None, "journal_mode", |row| row.get(0))?;
    if mode != "wal" {
        connection
            .pragma_update_and_check(None, "journal_mode", "wal", |row| row.get::<_, String>(0))?;
    }
    Ok(())
}

fn application_id(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "application_id", |row| row.get(0))
}

fn cannot_write(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied)
    )
}

fn log(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_os_string();
    name.push("-wal");
    name.into()
}

fn has_log(path: &Path) -> bool {
    log(path).metadata().is_ok_and(|log| log.len() > 0)
}

fn writable(file: &Path) -> std::io::Result<()> {
    let mut permissions = file.metadata()?.permissions();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        permissions.set_mode(0o600);
    }
    #[cfg(not(unix))]
    permissions.set_readonly(false);
    std::fs::set_permissions(file, permissions)
}

/// `path` as a name that tells SQLite nobody will change the file (<https://www.sqlite.org/uri.html>).
fn immutable(path: &Path) -> PathBuf {
    let mut uri = String::from("file:");
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    if cfg!(windows) {
        uri.push('/');
    }
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'-' | b'_' | b'.' | b':' => {
                uri.push(char::from(*byte));
            }
            b'\\' if cfg!(windows) => uri.push('/'),
            other => uri.push_str(&format!("%{other:02x}")),
        }
    }
    uri.push_str("?immutable=1");
    uri.into()
}
