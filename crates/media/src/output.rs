//! Output files that are whole or not there: written beside the target, renamed when done.

use crate::Error;
use std::path::Path;
use tempfile::NamedTempFile;

/// A file that takes its name only when it is whole. Dropped before that, it is removed.
///
/// The name it has meanwhile does not depend on the target's, so a target name of 255 bytes works.
pub(crate) struct Output {
    temp: NamedTempFile,
}

impl Output {
    /// Opens an unnamed place beside `target`.
    pub(crate) fn beside(target: &Path) -> Result<Self, Error> {
        let folder = match target.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        if target.is_dir() {
            return Err(Error::Folder {
                path: target.display().to_string(),
            });
        }
        let mut builder = tempfile::Builder::new();
        builder.prefix(".barebulb-").suffix(".part");
        // tempfile makes files private by default; a result should be readable as any other file.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let temp = builder
            .tempfile_in(folder)
            .map_err(Error::io(target, "written"))?;
        Ok(Self { temp })
    }

    /// Where the bytes go meanwhile.
    pub(crate) fn path(&self) -> &Path {
        self.temp.path()
    }

    /// The open file.
    pub(crate) fn file(&mut self) -> &mut std::fs::File {
        self.temp.as_file_mut()
    }

    /// Gives it its name, once its bytes are on the disk.
    pub(crate) fn persist(self, target: &Path) -> Result<(), Error> {
        self.temp
            .as_file()
            .sync_all()
            .map_err(Error::io(target, "written"))?;
        self.temp
            .persist(target)
            .map_err(|refused| Error::io(target, "written")(refused.error))?;
        Ok(())
    }
}
