//! A file under a passing name, for content that must appear whole or not at all: written first,
//! then given its own name.

use std::io;
use std::path::Path;
use tempfile::NamedTempFile;

/// An empty file in `dir` that is taken away again unless it is given a name. Whoever may read
/// the folder's other files may read it (temporary files are usually their maker's alone).
pub(crate) fn in_folder(dir: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".making-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // What `open` asks for by default; the user's mask is taken off it.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(dir)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    #[test]
    fn it_may_be_read_by_whoever_may_read_an_ordinary_file() {
        let dir = tempfile::tempdir().unwrap();
        let ordinary = dir.path().join("ordinary");
        std::fs::write(&ordinary, "").unwrap();
        let mode = |path: &Path| path.metadata().unwrap().permissions().mode();
        let part = in_folder(dir.path()).unwrap();
        assert_eq!(mode(part.path()), mode(&ordinary));
    }
}
