//! Where things lie in a project's folder.

use model::MediaFile;
use std::path::{Component, Path, PathBuf};

/// A project's folder. Naming a place in it makes nothing; [`Folder::make`] does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folder {
    root: PathBuf,
}

impl Folder {
    /// The folder at `root`, whether it is there or not.
    pub fn new(root: impl Into<PathBuf>) -> Self {
        Self { root: root.into() }
    }

    /// The folder itself.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The document with its history.
    pub fn database(&self) -> PathBuf {
        self.root.join("project.sqlite")
    }

    /// The song.
    pub fn song(&self) -> PathBuf {
        self.root.join("song")
    }

    /// Pictures and pages to look like.
    pub fn references(&self) -> PathBuf {
        self.root.join("references")
    }

    /// What the camera made.
    pub fn takes(&self) -> PathBuf {
        self.root.join("takes")
    }

    /// Papers the program makes.
    pub fn papers(&self) -> PathBuf {
        self.root.join("papers")
    }

    /// Cuts, timelines and previews the program makes.
    pub fn assembly(&self) -> PathBuf {
        self.root.join("assembly")
    }

    /// Sound files for the loudspeaker.
    pub fn playback(&self) -> PathBuf {
        self.root.join("playback")
    }

    /// What is handed over, and the report on it.
    pub fn handover(&self) -> PathBuf {
        self.root.join("handover")
    }

    /// What can be computed again. May be deleted at any time.
    pub fn cache(&self) -> PathBuf {
        self.root.join("cache")
    }

    /// Makes the folder and those in it that are missing.
    ///
    /// # Errors
    /// What the operating system says, with the path.
    pub fn make(&self) -> Result<(), crate::Error> {
        for path in [
            self.song(),
            self.references(),
            self.takes(),
            self.papers(),
            self.assembly(),
            self.handover(),
            self.cache(),
        ] {
            std::fs::create_dir_all(&path).map_err(|cause| crate::Error::File {
                doing: "make the folder",
                path,
                cause,
            })?;
        }
        Ok(())
    }

    /// Takes away what killed programs left half written in the folder and in those in it.
    pub fn sweep(&self) {
        let inside = |folder: &Path| -> Vec<PathBuf> {
            let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
            let folders = entries.filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()));
            folders.map(|entry| entry.path()).collect()
        };
        whole::sweep(&self.root);
        for folder in inside(&self.root).iter().chain(&inside(&self.cache())) {
            whole::sweep(folder);
        }
    }

    /// Where `file` lies on this machine. Whether it is there is not looked at.
    pub fn resolve(&self, file: &MediaFile) -> PathBuf {
        self.resolve_path(&file.path)
    }

    /// Where a path of the document lies on this machine: relative ones from the folder, with `/`
    /// on every system.
    pub fn resolve_path(&self, path: &str) -> PathBuf {
        let given = Path::new(path);
        if given.is_absolute() {
            return given.to_path_buf();
        }
        let mut at = self.root.clone();
        at.extend(path.split('/').filter(|part| !part.is_empty()));
        at
    }

    /// `path` as the document keeps it: relative to the folder and with `/` where it lies inside,
    /// otherwise absolute. A relative `path` is taken from the current directory, as the shell
    /// means it. A link inside the folder stays a path inside, wherever it leads.
    ///
    /// # Errors
    /// When the path is not Unicode text, which the document can't keep.
    pub fn to_document(&self, path: &Path) -> Result<String, crate::Error> {
        let full = tidy(path);
        let inside = full
            .strip_prefix(tidy(&self.root))
            .map(Path::to_path_buf)
            .or_else(|_| {
                // The same folder by another name: compare where the names lead.
                let root = self
                    .root
                    .canonicalize()
                    .unwrap_or_else(|_| tidy(&self.root));
                let real = full.canonicalize().unwrap_or_else(|_| full.clone());
                real.strip_prefix(root).map(Path::to_path_buf)
            });
        let kept = match &inside {
            Ok(inside) if inside.as_os_str().is_empty() => Some(".".to_owned()),
            Ok(inside) => inside
                .components()
                .map(|part| part.as_os_str().to_str())
                .collect::<Option<Vec<_>>>()
                .map(|parts| parts.join("/")),
            Err(_) => full.to_str().map(str::to_owned),
        };
        kept.ok_or_else(|| crate::Error::File {
            doing: "keep the name of",
            path: path.to_path_buf(),
            cause: std::io::Error::new(
                std::io::ErrorKind::InvalidFilename,
                "it is not Unicode text; rename it",
            ),
        })
    }
}

/// `path` made absolute, without `.` and `..`, without asking the disk.
fn tidy(path: &Path) -> PathBuf {
    let full = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let mut tidied = PathBuf::new();
    for part in full.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir => {
                tidied.pop();
            }
            other => tidied.push(other),
        }
    }
    tidied
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(path: &str) -> MediaFile {
        serde_json::from_value(serde_json::json!({ "path": path, "hash": "", "bytes": 0 })).unwrap()
    }

    #[test]
    fn folders_are_made_once_and_again() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::new(dir.path().join("a film's name 🎬"));
        folder.make().unwrap();
        folder.make().unwrap();
        assert!(folder.takes().is_dir() && folder.cache().is_dir());
    }

    #[test]
    fn a_path_inside_is_kept_relative_and_found_again() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::new(dir.path());
        for (given, kept) in [
            ("takes/a 01.mov", "takes/a 01.mov"),
            ("takes/./b/../c.mov", "takes/c.mov"),
            ("", "."),
        ] {
            let given = dir.path().join(given);
            assert_eq!(folder.to_document(&given).unwrap(), kept);
            assert_eq!(tidy(&folder.resolve(&file(kept))), tidy(&given));
        }
    }

    #[test]
    fn a_path_outside_is_kept_whole() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::new(dir.path().join("film"));
        let beside = dir.path().join("film-2/a.mov");
        let kept = folder.to_document(&beside).unwrap();
        assert_eq!(folder.resolve(&file(&kept)), beside);
        let above = folder.root().join("../b.mov");
        assert_eq!(
            Path::new(&folder.to_document(&above).unwrap()),
            dir.path().join("b.mov")
        );
    }

    #[cfg(unix)]
    #[test]
    fn links_and_names_that_are_no_text() {
        use std::os::unix::ffi::OsStrExt;
        let dir = tempfile::tempdir().unwrap();
        let card = dir.path().join("card");
        std::fs::create_dir_all(&card).unwrap();
        std::fs::write(card.join("a.mov"), "x").unwrap();
        let film = dir.path().join("film");
        std::fs::create_dir_all(&film).unwrap();
        // `takes` leads to where the media lies; the path stays one inside the folder.
        std::os::unix::fs::symlink(&card, film.join("takes")).unwrap();
        let folder = Folder::new(&film);
        assert_eq!(
            folder.to_document(&film.join("takes/a.mov")).unwrap(),
            "takes/a.mov"
        );
        // The folder itself called by another name.
        let other = dir.path().join("other");
        std::os::unix::fs::symlink(&film, &other).unwrap();
        std::fs::write(film.join("b.mov"), "x").unwrap();
        assert_eq!(folder.to_document(&other.join("b.mov")).unwrap(), "b.mov");

        let odd = film.join(std::ffi::OsStr::from_bytes(b"a\xff.mov"));
        let said = folder.to_document(&odd).unwrap_err().to_string();
        assert!(said.contains("not Unicode"), "{said}");
    }
}
