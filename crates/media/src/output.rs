//! Files written here: whole or not there, with this crate's errors.

use crate::Error;
use std::path::Path;
use whole::Whole;

/// A file that takes its name only when it is whole.
pub(crate) struct Output(Whole);

impl Output {
    /// Opens a passing place beside `target`.
    pub(crate) fn beside(target: &Path) -> Result<Self, Error> {
        Whole::beside(target)
            .map(Self)
            .map_err(Error::io(target, "written"))
    }

    /// Where the bytes go meanwhile.
    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }

    /// The open file.
    pub(crate) fn file(&mut self) -> &mut std::fs::File {
        self.0.file()
    }

    /// Gives it its name, once its bytes are on the disk.
    pub(crate) fn persist(self, target: &Path) -> Result<(), Error> {
        self.0.stand().map_err(Error::io(target, "written"))
    }
}
