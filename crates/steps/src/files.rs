//! Media files on disk: which to take in, where a known one lies now, how a text is written.

use crate::job::keep;
use crate::{Error, Job, Progress};
use model::{Edit, MediaFile};
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;
use whole::Whole;

/// Endings of files that a camera or recorder makes. A file named outright is tried whatever its ending.
const ENDINGS: &[&str] = &[
    "mp4", "mov", "m4v", "mkv", "mxf", "avi", "mts", "m2ts", "mpg", "webm", "3gp", "wav", "aif",
    "aiff", "flac", "mp3", "m4a", "ogg",
];

/// Raised when content is told apart otherwise.
const CONTENT_VERSION: u32 = 1;

/// How deep folders are followed.
const DEEPEST: usize = 6;

/// Endings of files that a stills camera or phone makes.
const PHOTO_ENDINGS: &[&str] = &[
    "jpg", "jpeg", "heic", "heif", "hif", "avif", "png", "webp", "tif", "tiff", "dng",
];

/// The files meant by `paths`: files as they are, folders with everything in them that a camera
/// or recorder makes. Hidden files are passed over. Sorted within each folder.
pub(crate) fn expand(paths: &[PathBuf]) -> Result<Vec<PathBuf>, Error> {
    expand_to(paths, ENDINGS, Error::NothingFound)
}

/// As [`expand`], for photographs.
pub(crate) fn expand_photos(paths: &[PathBuf]) -> Result<Vec<PathBuf>, Error> {
    expand_to(paths, PHOTO_ENDINGS, Error::NoPhotos)
}

fn expand_to(
    paths: &[PathBuf],
    endings: &[&str],
    nothing: fn(PathBuf) -> Error,
) -> Result<Vec<PathBuf>, Error> {
    let mut out = Vec::new();
    for path in paths {
        if path.is_dir() {
            let before = out.len();
            walk(path, 0, endings, &mut out)?;
            if out.len() == before {
                return Err(nothing(path.clone()));
            }
        } else {
            out.push(path.clone());
        }
    }
    Ok(out)
}

fn walk(
    folder: &Path,
    depth: usize,
    endings: &[&str],
    out: &mut Vec<PathBuf>,
) -> Result<(), Error> {
    let read = |source| Error::Read {
        path: folder.to_path_buf(),
        cause: source,
    };
    let mut entries: Vec<_> = std::fs::read_dir(folder).map_err(read)?.flatten().collect();
    entries.sort_by_key(std::fs::DirEntry::file_name);
    for entry in entries {
        let path = entry.path();
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        let Ok(kind) = entry.file_type() else {
            continue;
        };
        if hidden {
            continue;
        }
        if kind.is_dir() && depth < DEEPEST {
            walk(&path, depth + 1, endings, out)?;
        } else if !kind.is_dir()
            && endings.iter().any(|ending| {
                path.extension()
                    .is_some_and(|e| e.eq_ignore_ascii_case(ending))
            })
        {
            out.push(path);
        }
    }
    Ok(())
}

impl Job {
    /// Where a known file lies now. One that was moved is looked for by its content in the
    /// project folder and beside where it was, and the document learns its new place.
    pub(crate) fn locate(
        &mut self,
        file: &MediaFile,
        progress: &dyn Progress,
    ) -> Result<Option<PathBuf>, Error> {
        let path = self.folder.resolve(file);
        if self.holds(&path, file, progress)? {
            return Ok(Some(path));
        }
        let root = self.folder.root().to_path_buf();
        let beside = path
            .parent()
            .filter(|parent| parent.is_dir())
            .map(Path::to_path_buf);
        let mut roots = vec![root.as_path()];
        if let Some(beside) = &beside
            && !beside.starts_with(&root)
        {
            roots.push(beside);
        }
        let Some(found) =
            media::find_moved(&file.hash, file.bytes, &roots, &|| progress.keep_going())
        else {
            return Ok(None);
        };
        let edit = Edit::MoveFile {
            hash: file.hash.clone(),
            path: self.folder.to_document(&found)?,
        };
        // A project that can't be written is still read with the file where it now lies.
        if let Err(error) = self.edit(&edit) {
            progress.note(&format!(
                "`{}` was found at `{}`, which could not be written down: {error}",
                file.path,
                found.display()
            ));
        }
        Ok(Some(found))
    }

    /// Whether the file at `path` holds what `file` says was brought in. A document from elsewhere may name any
    /// file of this machine; only what somebody here brought in is read and shown.
    ///
    /// # Errors
    /// When it was stopped. What can't be read does not hold it.
    pub fn holds(
        &self,
        path: &Path,
        file: &MediaFile,
        progress: &dyn Progress,
    ) -> Result<bool, Error> {
        let is_it = |about: std::fs::Metadata| about.is_file() && about.len() == file.bytes;
        if !std::fs::metadata(path).is_ok_and(is_it) {
            return Ok(false);
        }
        match self.content(path, progress) {
            Ok((hash, _)) => Ok(hash == file.hash),
            Err(media::Error::Cancelled) => Err(Error::Stopped),
            Err(_) => Ok(false),
        }
    }

    /// The hash of the file at `path`, and its size in bytes. It is read whole when it is met first, and again
    /// once its size or the time of its last change is another.
    fn content(&self, path: &Path, progress: &dyn Progress) -> Result<(String, u64), media::Error> {
        const KIND: &str = "content";
        let key = std::fs::metadata(path).ok().and_then(|about| {
            let changed = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
            let place = std::path::absolute(path).ok()?;
            Some(format!(
                "{}|{}|{}",
                place.display(),
                about.len(),
                changed.as_nanos()
            ))
        });
        let known = key
            .as_deref()
            .and_then(|key| self.cache.get_json(KIND, CONTENT_VERSION, key));
        if let Some(known) = known {
            return Ok(known);
        }
        let found = media::hash_file(path, &|| progress.keep_going())?;
        if let Some(key) = &key {
            keep(&self.cache, (KIND, CONTENT_VERSION, key), &found, progress);
        }
        Ok(found)
    }

    /// The document's words for the file at `path`: hashed, and relative to the project when inside it.
    pub(crate) fn media_file(
        &self,
        path: &Path,
        progress: &dyn Progress,
    ) -> Result<MediaFile, Error> {
        let (hash, bytes) = self.content(path, progress)?;
        Ok(MediaFile {
            path: self.folder.to_document(path)?,
            hash,
            bytes,
            extra: Default::default(),
        })
    }
}

/// All that is in the file at `path`, which holds `most` bytes at most: counted as it is read, since a device or
/// a pipe says nothing beforehand.
///
/// # Errors
/// [`Error::Read`], also for one that holds more.
pub fn read_at_most(path: &Path, most: usize) -> Result<Vec<u8>, Error> {
    let failed = |source| Error::Read {
        path: path.to_path_buf(),
        cause: source,
    };
    let file = std::fs::File::open(path).map_err(failed)?;
    let mut bytes = Vec::new();
    file.take(most as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    if bytes.len() > most {
        let says = format!("it is larger than {} MB; is it the right file?", most >> 20);
        return Err(failed(std::io::Error::other(says)));
    }
    Ok(bytes)
}

/// Writes a whole text under its final name or not at all.
///
/// # Errors
/// [`Error::Write`] when the folder can't be made or written.
pub fn write_text(path: &Path, text: &str) -> Result<(), Error> {
    let failed = |source| Error::Write {
        path: path.to_path_buf(),
        cause: source,
    };
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(failed)?;
    let mut file = Whole::beside(path).map_err(failed)?;
    file.file().write_all(text.as_bytes()).map_err(failed)?;
    file.stand().map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_card_is_read_in_order_without_what_is_hidden() {
        let card = tempfile::tempdir().unwrap();
        for name in ["b.MOV", "a.mp4", "a.txt", ".hidden.mp4", "sub/c.wav"] {
            let path = card.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, "x").unwrap();
        }
        let found: Vec<String> = expand(&[card.path().to_path_buf()])
            .unwrap()
            .iter()
            .map(|path| {
                path.strip_prefix(card.path())
                    .unwrap()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        assert_eq!(found, ["a.mp4", "b.MOV", "sub/c.wav"]);
        let empty = tempfile::tempdir().unwrap();
        assert!(matches!(
            expand(&[empty.path().to_path_buf()]),
            Err(Error::NothingFound(_))
        ));
    }

    #[test]
    fn a_file_found_elsewhere_that_cannot_be_written_down_is_told() {
        let dir = tempfile::tempdir().unwrap();
        let mut job = Job::create(dir.path(), &model::Project::default()).unwrap();
        let card = tempfile::tempdir().unwrap();
        std::fs::write(card.path().join("b.wav"), "sound").unwrap();
        let (hash, bytes) = media::hash_file(&card.path().join("b.wav"), &|| true).unwrap();
        let path = card.path().join("a.wav").to_string_lossy().into_owned();
        // The document knows nothing of such a file, so it refuses.
        let file = MediaFile {
            path,
            hash,
            bytes,
            extra: Default::default(),
        };
        let noted = crate::progress::Noted::default();
        let found = job.locate(&file, &noted).unwrap();
        assert_eq!(found, Some(card.path().join("b.wav")));
        let noted = noted.0.into_inner().unwrap();
        assert!(
            matches!(noted.as_slice(), [one] if one.contains("could not be written down")),
            "{noted:?}"
        );
    }

    #[test]
    fn a_text_is_written_whole_and_leaves_nothing_beside() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep/a.txt");
        write_text(&path, "one").unwrap();
        write_text(&path, "two").unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "two");
        assert_eq!(
            std::fs::read_dir(path.parent().unwrap()).unwrap().count(),
            1
        );
    }
}
