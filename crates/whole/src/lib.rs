//! Files that are there whole or not at all: written under a passing name beside their own, then given it.
//!
//! A passing name begins with [`PREFIX`] and ends with [`SUFFIX`]. Whoever writes under one holds a lock on it,
//! so that what a killed program left behind can be told from what another one is just writing, and is taken
//! away ([`sweep`]).

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind, Seek as _};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::{NamedTempFile, TempDir};

/// How a passing name begins: hidden, so that nobody takes it for a take.
pub const PREFIX: &str = ".barebulb-";
/// How a passing name ends.
pub const SUFFIX: &str = ".part";

/// Where there are no locks to tell by, what was not touched for so long was left behind.
const LEFT_BEHIND: Duration = Duration::from_secs(24 * 3600);

/// A file that takes its own name only when it is whole. Dropped before that, it is removed.
///
/// The passing name does not depend on its own, so one of 255 bytes works.
pub struct Whole {
    temp: NamedTempFile,
    target: PathBuf,
    kind: Target,
}

/// What lies where the file is to stand.
#[derive(Clone, Copy, PartialEq)]
enum Target {
    /// Nothing, or a file that is replaced.
    File,
    /// A device or a pipe, which is written into and stays what it is.
    Stream,
}

impl Whole {
    /// Opens a passing place for what is to stand at `target`; its folder is there already.
    ///
    /// # Errors
    /// [`ErrorKind::IsADirectory`] when `target` is a folder, [`ErrorKind::InvalidInput`] when it is a link to a
    /// file or to nothing (whoever names it may not know what would be written over), and what the system says.
    pub fn beside(target: &Path) -> io::Result<Self> {
        let kind = look(target)?;
        let folder = match target.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let temp = match kind {
            Target::File => {
                sweep(folder);
                passing_file(folder)?
            }
            Target::Stream => NamedTempFile::new()?,
        };
        Ok(Self {
            temp,
            target: target.to_path_buf(),
            kind,
        })
    }

    /// Where the bytes go meanwhile.
    pub fn path(&self) -> &Path {
        self.temp.path()
    }

    /// The open file.
    pub fn file(&mut self) -> &mut File {
        self.temp.as_file_mut()
    }

    /// Gives it its own name, in the place of whatever file has it, once its bytes are on the disk.
    ///
    /// # Errors
    /// What the system says; it is removed then.
    pub fn stand(self) -> io::Result<()> {
        self.temp.as_file().sync_all()?;
        self.stand_unsynced()
    }

    /// As [`Self::stand`], without waiting for the disk: after a power cut it may be there and damaged.
    ///
    /// # Errors
    /// As [`Self::stand`].
    pub fn stand_unsynced(mut self) -> io::Result<()> {
        match self.kind {
            Target::File => self
                .temp
                .persist(&self.target)
                .map(drop)
                .map_err(|refused| refused.error),
            Target::Stream => {
                let mut to = OpenOptions::new().write(true).open(&self.target)?;
                self.temp.rewind()?;
                io::copy(&mut self.temp, &mut to).map(drop)
            }
        }
    }
}

fn look(target: &Path) -> io::Result<Target> {
    let leads_to = |kind: std::fs::FileType| match kind {
        kind if kind.is_dir() => Err(ErrorKind::IsADirectory.into()),
        kind if kind.is_file() => Ok(Target::File),
        _ => Ok(Target::Stream),
    };
    match target.symlink_metadata() {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Target::File),
        Err(error) => Err(error),
        Ok(is) if is.is_symlink() => match target.metadata().map(|it| leads_to(it.file_type())) {
            Ok(Ok(Target::Stream)) => Ok(Target::Stream),
            Ok(Err(folder)) => Err(folder),
            _ => Err(io::Error::new(
                ErrorKind::InvalidInput,
                "it is a link; name the file that it leads to",
            )),
        },
        Ok(is) => leads_to(is.file_type()),
    }
}

/// An empty file of a passing name in `folder`, locked, that is taken away again unless it is given a name.
/// Whoever may read the folder's other files may read it (temporary files are usually their maker's alone).
///
/// # Errors
/// What the system says.
pub fn passing_file(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // What `open` asks for by default; the user's mask is taken off it.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    loop {
        let temp = builder.tempfile_in(folder)?;
        if is_ours(temp.as_file(), temp.path()) {
            return Ok(temp);
        }
    }
}

/// A folder that goes when it is dropped, or is swept away once its program has ended.
pub struct Passing {
    folder: TempDir,
    /// Holds the lock.
    _held: Option<File>,
}

impl Passing {
    /// A folder of a passing name in `folder`.
    ///
    /// # Errors
    /// What the system says.
    pub fn inside(folder: &Path) -> io::Result<Self> {
        loop {
            let made = tempfile::Builder::new()
                .prefix(PREFIX)
                .suffix(SUFFIX)
                .tempdir_in(folder)?;
            let held = File::open(made.path()).ok();
            if held.as_ref().is_none_or(|held| is_ours(held, made.path())) {
                return Ok(Self {
                    folder: made,
                    _held: held,
                });
            }
        }
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }
}

/// Locks what was just made; false when somebody swept it away in between.
fn is_ours(made: &File, path: &Path) -> bool {
    match lock(made) {
        Err(TryLockError::WouldBlock) => false,
        // Where there are no locks, age tells.
        Ok(()) | Err(TryLockError::Error(_)) => path.symlink_metadata().is_ok(),
    }
}

/// On Windows a lock would keep others from writing, and the programs that do are others.
#[cfg(unix)]
fn lock(file: &File) -> Result<(), TryLockError> {
    file.try_lock()
}

#[cfg(not(unix))]
fn lock(_: &File) -> Result<(), TryLockError> {
    Err(TryLockError::Error(ErrorKind::Unsupported.into()))
}

/// Takes away what programs that were killed left in `folder` under passing names. What can't be is left.
pub fn sweep(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        if !(name.starts_with(PREFIX) && name.ends_with(SUFFIX)) {
            continue;
        }
        let path = entry.path();
        // Nothing but files and folders is made under such a name; a pipe would be waited for.
        let Ok(is) = entry.metadata().map(|is| is.file_type()) else {
            continue;
        };
        if !(is.is_file() || is.is_dir()) {
            continue;
        }
        let Ok(left) = File::open(&path) else {
            continue;
        };
        let gone = match lock(&left) {
            Ok(()) => true,
            Err(TryLockError::WouldBlock) => false,
            Err(TryLockError::Error(_)) => is_old(&left),
        };
        if gone {
            let _ = match is.is_dir() {
                true => std::fs::remove_dir_all(&path),
                false => std::fs::remove_file(&path),
            };
        }
    }
}

fn is_old(file: &File) -> bool {
    let touched = file.metadata().and_then(|about| about.modified());
    touched.is_ok_and(|at| at.elapsed().is_ok_and(|since| since > LEFT_BEHIND))
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::io::Write as _;
    use std::os::unix::fs::{FileTypeExt as _, PermissionsExt as _};

    fn names(folder: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(folder).unwrap().flatten();
        let mut names: Vec<String> = entries
            .map(|entry| entry.file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    fn write(target: &Path, text: &str) -> io::Result<()> {
        let mut whole = Whole::beside(target)?;
        whole.file().write_all(text.as_bytes())?;
        whole.stand()
    }

    #[test]
    fn it_stands_whole_or_not_at_all_and_may_be_read_like_any_file() {
        let dir = tempfile::tempdir().unwrap();
        let target = dir.path().join(format!("{}.txt", "a".repeat(250)));
        write(&target, "one").unwrap();
        write(&target, "two").unwrap();
        assert_eq!(std::fs::read_to_string(&target).unwrap(), "two");
        let mut dropped = Whole::beside(&target).unwrap();
        dropped.file().write_all(b"three").unwrap();
        drop(dropped);
        assert_eq!(names(dir.path()).len(), 1);
        let ordinary = dir.path().join("ordinary");
        std::fs::write(&ordinary, "").unwrap();
        let mode = |path: &Path| path.metadata().unwrap().permissions().mode();
        assert_eq!(mode(&target), mode(&ordinary));
    }

    #[test]
    fn pipes_stay_pipes_and_links_are_not_followed() {
        let dir = tempfile::tempdir().unwrap();
        let pipe = dir.path().join("pipe");
        let made = std::process::Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap();
        assert!(made.success());
        let reader = {
            let pipe = pipe.clone();
            std::thread::spawn(move || std::fs::read_to_string(pipe).unwrap())
        };
        write(&pipe, "through").unwrap();
        assert_eq!(reader.join().unwrap(), "through");
        assert!(pipe.symlink_metadata().unwrap().file_type().is_fifo());

        let own = dir.path().join("own");
        std::fs::write(&own, "mine").unwrap();
        for to in [own.clone(), dir.path().join("nothing")] {
            let link = dir.path().join("link");
            std::os::unix::fs::symlink(&to, &link).unwrap();
            assert_eq!(
                write(&link, "x").unwrap_err().kind(),
                ErrorKind::InvalidInput
            );
            assert!(link.symlink_metadata().unwrap().is_symlink());
            std::fs::remove_file(&link).unwrap();
        }
        assert_eq!(std::fs::read_to_string(&own).unwrap(), "mine");
        assert_eq!(
            write(dir.path(), "x").unwrap_err().kind(),
            ErrorKind::IsADirectory
        );
        write(Path::new("/dev/null"), "x").unwrap();
        assert!(
            Path::new("/dev/null")
                .metadata()
                .unwrap()
                .file_type()
                .is_char_device()
        );
    }

    #[test]
    fn what_was_left_behind_goes_and_what_is_being_written_stays() {
        let dir = tempfile::tempdir().unwrap();
        let left = |name: &str| dir.path().join(format!("{PREFIX}{name}{SUFFIX}"));
        std::fs::write(left("file"), "half").unwrap();
        std::fs::create_dir(left("folder")).unwrap();
        std::fs::write(left("folder").join("take.mov"), "half").unwrap();
        std::fs::write(dir.path().join("take.part"), "own").unwrap();
        let mut writing = Whole::beside(&dir.path().join("a")).unwrap();
        let coming = Passing::inside(dir.path()).unwrap();
        sweep(dir.path());
        sweep(dir.path());
        writing.file().write_all(b"x").unwrap();
        writing.stand().unwrap();
        assert!(coming.path().is_dir());
        drop(coming);
        assert_eq!(names(dir.path()), ["a", "take.part"]);
    }
}
