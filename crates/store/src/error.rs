//! What can go wrong with a project's file, each as one sentence that says what to do.

use crate::revision::RevisionId;
use rusqlite::ErrorCode;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Why an edit was refused, in whatever type the refuser has.
pub type BoxedRefusal = Box<dyn std::error::Error + Send + Sync>;

/// Why a project could not be opened, read or changed. Nothing was changed when one of these
/// comes back.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// There is no project in the folder.
    #[error("there is no project in {}; start one there with `barebulb new`", .dir.display())]
    NoProject {
        /// The folder.
        dir: PathBuf,
    },
    /// A project was to be started where one is.
    #[error("there already is a project at {}; open it, or start the new one in another folder", .path.display())]
    AlreadyThere {
        /// The file met.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{} is not a Barebulb project ({why}); move it away or name another folder", .path.display())]
    NotOurs {
        /// The file.
        path: PathBuf,
        /// How that was seen.
        why: &'static str,
    },
    /// The file's schema is of a later version.
    #[error("{} was made by a newer Barebulb (schema {found}, this one knows up to {known}); update Barebulb to open it", .path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its schema version.
        found: i64,
        /// The greatest this version knows.
        known: i64,
    },
    /// The file is damaged.
    #[error("{} is damaged ({detail}); `barebulb plan rescue` goes on with the newest change in it that can be read", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        detail: String,
    },
    /// Nothing in the file can be read.
    #[error("no change in {} can be read; go back to a backup of the folder", .path.display())]
    NothingToRescue {
        /// The file.
        path: PathBuf,
    },
    /// A revision holds something that this version can't read as a document.
    #[error("revision {revision} of {} can't be read as a document ({detail}); {remedy}", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Which revision.
        revision: RevisionId,
        /// Where in the document, and what.
        detail: String,
        /// What to do.
        remedy: &'static str,
    },
    /// Another process held the file for too long.
    #[error("{} is in use by another process and did not come free within {waited:.0?}; close the other one or try again", .path.display())]
    Busy {
        /// The file.
        path: PathBuf,
        /// How long was waited.
        waited: Duration,
    },
    /// The file or its folder can't be written.
    #[error("{} can only be read here; copy the folder to a place that can be written, or change its permissions", .path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// The disk is full.
    #[error("the disk that holds {} is full; nothing was changed: make room and repeat the edit", .path.display())]
    DiskFull {
        /// The file.
        path: PathBuf,
    },
    /// The edit was refused by the document.
    #[error(transparent)]
    Refused(BoxedRefusal),
    /// The document was changed since the one who edits looked at it.
    #[error(
        "the project was changed meanwhile (it is at revision {head}, the edit was made for {at}); look at it again and repeat the edit"
    )]
    Moved {
        /// The revision the edit was made for.
        at: RevisionId,
        /// The newest one.
        head: RevisionId,
    },
    /// The edit gives a document that would not come back the same from the file.
    #[error("the edit gives a document that can't be kept ({detail}); nothing was changed")]
    Unkeepable {
        /// Where, and what.
        detail: String,
    },
    /// There is no earlier revision.
    #[error("there is nothing to undo; this is the project as it was started")]
    NothingToUndo,
    /// There is no later revision.
    #[error("there is nothing to redo; this is the newest revision of its line")]
    NothingToRedo,
    /// No such revision.
    #[error("there is no revision {0} in this project; the history lists those there are")]
    NoRevision(RevisionId),
    /// The operating system would not do something with a file.
    #[error("could not {doing} {} ({cause}); check the disk, the path and its permissions", .path.display())]
    File {
        /// `open`, `read`, `back up`.
        doing: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// Something else that SQLite said.
    #[error("could not {doing} {} ({cause}); check the disk and try again", .path.display())]
    Database {
        /// `read`, `edit`, `migrate`.
        doing: &'static str,
        /// The file.
        path: PathBuf,
        /// What SQLite said.
        cause: rusqlite::Error,
    },
}

/// What is needed to turn SQLite's complaint into a sentence.
#[derive(Clone, Copy)]
pub(crate) struct At<'a> {
    pub path: &'a Path,
    pub doing: &'static str,
    pub waited: Duration,
}

impl At<'_> {
    /// The sentence for what SQLite said.
    pub fn sqlite(self, cause: rusqlite::Error) -> Error {
        use rusqlite::Error as Said;
        let path = self.path.to_path_buf();
        match (cause.sqlite_error_code(), &cause) {
            (
                Some(
                    ErrorCode::DatabaseBusy
                    | ErrorCode::DatabaseLocked
                    | ErrorCode::FileLockingProtocolFailed,
                ),
                _,
            ) => Error::Busy {
                path,
                waited: self.waited,
            },
            (Some(ErrorCode::DiskFull), _) => Error::DiskFull { path },
            // With no room for the shared index beside the log, SQLite speaks of an I/O error.
            (Some(ErrorCode::SystemIoFailure), _) if no_room_beside(self.path) => {
                Error::DiskFull { path }
            }
            (Some(ErrorCode::ReadOnly), _) => Error::ReadOnly { path },
            // The last two come when the tables are not the ones we made.
            (
                Some(
                    ErrorCode::NotADatabase
                    | ErrorCode::DatabaseCorrupt
                    | ErrorCode::TypeMismatch
                    | ErrorCode::Unknown,
                ),
                _,
            )
            | (
                None,
                Said::SqlInputError { .. }
                | Said::QueryReturnedNoRows
                | Said::InvalidColumnType(..)
                | Said::FromSqlConversionFailure(..)
                | Said::IntegralValueOutOfRange(..)
                | Said::Utf8Error(..),
            ) => self.damaged(said(&cause)),
            _ => Error::Database {
                doing: self.doing,
                path,
                cause,
            },
        }
    }

    /// The sentence for damage found by ourselves.
    pub fn damaged(self, detail: impl Into<String>) -> Error {
        Error::Damaged {
            path: self.path.to_path_buf(),
            detail: one_line(&detail.into()),
        }
    }

    /// The sentence for what the operating system said.
    pub fn file(self, cause: std::io::Error) -> Error {
        match cause.kind() {
            std::io::ErrorKind::StorageFull => Error::DiskFull {
                path: self.path.to_path_buf(),
            },
            std::io::ErrorKind::ReadOnlyFilesystem => Error::ReadOnly {
                path: self.path.to_path_buf(),
            },
            _ => Error::File {
                doing: self.doing,
                path: self.path.to_path_buf(),
                cause,
            },
        }
    }
}

/// `detail` as part of a sentence: SQLite and serde quote what they met, which in a damaged file
/// can be anything.
pub(crate) fn one_line(detail: &str) -> String {
    const LONGEST: usize = 200;
    let plain: String = detail
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let mut words = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    if let Some((end, _)) = words.char_indices().nth(LONGEST) {
        words.truncate(end);
        words.push('…');
    }
    words
}

/// What SQLite said, in its own words.
fn said(error: &rusqlite::Error) -> String {
    match error {
        rusqlite::Error::SqliteFailure(_, Some(text))
        | rusqlite::Error::SqlInputError { msg: text, .. } => text.clone(),
        other => other.to_string(),
    }
}

/// Whether the disk has no room for as much as SQLite's shared index (32 kB).
fn no_room_beside(path: &Path) -> bool {
    use std::io::Write as _;
    let Some(dir) = path.parent() else {
        return false;
    };
    let tried = tempfile::tempfile_in(dir).and_then(|mut file| {
        file.write_all(&[0; 32 * 1024])?;
        file.sync_all()
    });
    tried.is_err_and(|error| error.kind() == std::io::ErrorKind::StorageFull)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_detail_fits_into_a_sentence() {
        assert_eq!(
            one_line(" token: \"[< id),\n\t CHECK\0\u{7f}x\" "),
            "token: \"[< id), CHECK x\""
        );
        assert_eq!(one_line(&"é".repeat(300)), format!("{}…", "é".repeat(200)));
        assert_eq!(one_line(&"é".repeat(200)), "é".repeat(200));
    }
}
