//! ffmpeg and ffprobe: found, and new enough.

use crate::process::{self, Job, Out, Program};
use crate::{Error, KeepGoing, confine, kind};
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// The oldest ffmpeg that will do. 4.4 (2021) is the first whose options used here all mean what
/// they mean today, and older ones are no longer packaged.
const NEEDED: &str = "4.4";

/// libavutil of ffmpeg 4.4, for builds whose version is a date or a commit.
const NEEDED_AVUTIL: (u32, u32) = (56, 70);

/// ffmpeg and ffprobe, found and new enough (4.4).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tools {
    ffmpeg: PathBuf,
    ffprobe: PathBuf,
    version: String,
    held: bool,
}

impl Tools {
    /// Finds both: where `BAREBULB_FFMPEG` and `BAREBULB_FFPROBE` say, otherwise on the `PATH`.
    ///
    /// # Errors
    /// [`Error::Missing`], [`Error::TooOld`], [`Error::Killed`].
    pub fn find() -> Result<Self, Error> {
        Self::find_by(&|variable| std::env::var_os(variable))
    }

    /// Takes the programs at these places.
    ///
    /// # Errors
    /// As [`Tools::find`].
    pub fn at(ffmpeg: &Path, ffprobe: &Path) -> Result<Self, Error> {
        Self::find_by(&|variable| {
            let path = if variable == "BAREBULB_FFMPEG" {
                ffmpeg
            } else {
                ffprobe
            };
            Some(path.as_os_str().to_owned())
        })
    }

    /// As [`Tools::find`], with the environment as an argument.
    pub(crate) fn find_by(
        environment: &dyn Fn(&'static str) -> Option<OsString>,
    ) -> Result<Self, Error> {
        let ffmpeg = find_one("ffmpeg", "BAREBULB_FFMPEG", environment)?;
        let ffprobe = find_one("ffprobe", "BAREBULB_FFPROBE", environment)?;
        Ok(Self {
            ffmpeg: ffmpeg.path,
            ffprobe: ffprobe.path,
            version: ffmpeg.version,
            held: ffmpeg.held && ffprobe.held,
        })
    }

    /// The version as ffmpeg writes it.
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Whether this ffmpeg has the encoder called `name`.
    pub fn has_encoder(&self, name: &str) -> bool {
        let arguments = process::arguments(["-hide_banner", "-v", "error", "-encoders"]);
        process::capture(
            self.program("ffmpeg", &self.ffmpeg),
            &arguments,
            &self.ffmpeg,
            1 << 20,
            &|| true,
        )
        .is_ok_and(|list| {
            String::from_utf8_lossy(&list)
                .lines()
                .any(|line| line.split_whitespace().nth(1) == Some(name))
        })
    }

    /// Whether ffmpeg is held to the files that it is told of; where it does not start that way, or the
    /// system has no such thing, only its arguments hold it.
    pub fn held_to_its_files(&self) -> bool {
        self.held
    }

    fn program<'a>(&self, name: &'static str, path: &'a Path) -> Program<'a> {
        Program {
            name,
            path,
            held: self.held,
        }
    }

    /// Starts ffmpeg. The options every call has in common are put before `arguments`.
    pub(crate) fn ffmpeg(
        &self,
        arguments: &[OsString],
        doing: &'static str,
        path: &Path,
        out: Out,
        feed_ahead: Option<usize>,
    ) -> Result<Job, Error> {
        let mut all = process::arguments(["-hide_banner", "-nostats", "-v", "error"]);
        if feed_ahead.is_none() {
            all.push("-nostdin".into());
        }
        all.extend_from_slice(arguments);
        let program = self.program("ffmpeg", &self.ffmpeg);
        Job::start(program, &all, doing, path, out, feed_ahead)
    }

    /// Runs ffprobe on `path` and gives what it writes.
    pub(crate) fn ffprobe(
        &self,
        arguments: &[OsString],
        path: &Path,
        keep_going: KeepGoing,
    ) -> Result<Vec<u8>, Error> {
        let mut all = process::arguments(["-hide_banner", "-v", "error"]);
        all.extend_from_slice(arguments);
        all.extend(input(path)?);
        let program = self.program("ffprobe", &self.ffprobe);
        process::capture(program, &all, path, 64 << 20, keep_going)
    }
}

/// The arguments that open `path` as an input: as the one kind of file that its first bytes say it is, and
/// nothing inside it is opened as another kind, or by anything but a file.
///
/// # Errors
/// [`Error::NotMedia`] when it is of no kind that is read here, and what the system refuses.
pub(crate) fn input(path: &Path) -> Result<Vec<OsString>, Error> {
    let kind = kind::known(path)?;
    let mut list = process::words(&format!(
        "-protocol_whitelist file -format_whitelist {0} -f {0} -i",
        kind.demuxer
    ));
    list.push(confine::url(path));
    Ok(list)
}

/// A program that was found.
struct Found {
    path: PathBuf,
    version: String,
    held: bool,
}

fn find_one(
    program: &'static str,
    variable: &'static str,
    environment: &dyn Fn(&'static str) -> Option<OsString>,
) -> Result<Found, Error> {
    let named = environment(variable).filter(|value| !value.is_empty());
    let path = PathBuf::from(named.clone().unwrap_or_else(|| program.into()));
    let missing = || Error::Missing {
        program,
        where_looked: match &named {
            Some(_) => format!(" at `{}`, where {variable} points", path.display()),
            None => " on the PATH".to_owned(),
        },
        variable,
    };
    let ask = |held: bool| {
        let asked = Program {
            name: program,
            path: &path,
            held,
        };
        let version = process::arguments(["-version"]);
        process::capture(asked, &version, &path, 1 << 16, &|| true)
    };
    // One that is made of files that were not thought of starts only when it is not held.
    let held = ask(confine::is_known());
    let is_held = confine::is_known() && held.is_ok();
    let answer = match held.or_else(|_| ask(false)) {
        Ok(answer) => String::from_utf8_lossy(&answer).into_owned(),
        Err(Error::Io { source, .. })
            if matches!(
                source.kind(),
                std::io::ErrorKind::NotFound
                    | std::io::ErrorKind::NotADirectory
                    | std::io::ErrorKind::PermissionDenied
            ) =>
        {
            return Err(missing());
        }
        Err(error) => return Err(error),
    };
    match read_version(&answer) {
        Some((version, true)) => Ok(Found {
            path,
            version,
            held: is_held,
        }),
        Some((found, false)) => Err(Error::TooOld {
            program: path.display().to_string(),
            found,
            needed: NEEDED,
        }),
        // Something answers to the name that is not ffmpeg.
        None => Err(missing()),
    }
}

/// The version in what `-version` writes, and whether it is new enough; `None` when there is none.
fn read_version(answer: &str) -> Option<(String, bool)> {
    let mut words = answer.lines().next()?.split_whitespace();
    let version = loop {
        if words.next()? == "version" {
            break words.next()?;
        }
    };
    // `n7.0.2` is how some packagers write a tag.
    let digits = version.strip_prefix('n').unwrap_or(version);
    let mut numbers = digits
        .split(|c: char| !c.is_ascii_digit())
        .map(str::parse::<u32>);
    // Dates (2024-05-01-git) and commits (N-112233-gabc) say nothing; the library does.
    let dated = matches!(numbers.clone().next(), Some(Ok(2000..)));
    let new_enough = match (numbers.next(), numbers.next()) {
        (Some(Ok(major)), Some(Ok(minor))) if !dated => (major, minor) >= (4, 4),
        (Some(Ok(major)), _) if !dated => major > 4,
        _ => avutil(answer).is_none_or(|found| found >= NEEDED_AVUTIL),
    };
    Some((version.to_owned(), new_enough))
}

/// From the line `libavutil      57. 28.100 / 57. 28.100`.
fn avutil(answer: &str) -> Option<(u32, u32)> {
    let line = answer.lines().find_map(|l| l.strip_prefix("libavutil"))?;
    let mut numbers = line.split('.').map(|n| n.trim().parse::<u32>());
    Some((numbers.next()?.ok()?, numbers.next()?.ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_are_judged() {
        for (first_line, found, fits) in [
            (
                "ffmpeg version 5.1.9-0+deb12u1 Copyright (c) 2000",
                "5.1.9-0+deb12u1",
                true,
            ),
            ("ffmpeg version 4.4 Copyright", "4.4", true),
            (
                "ffmpeg version 4.3.6-0+deb11u1 Copyright",
                "4.3.6-0+deb11u1",
                false,
            ),
            ("ffmpeg version n7.0.2 Copyright", "n7.0.2", true),
            ("ffmpeg version 7 Copyright", "7", true),
            ("ffmpeg version 2.8.17 Copyright", "2.8.17", false),
            (
                "ffprobe version N-112233-gabcdef\nlibavutil      58. 29.100 / 58. 29.100",
                "N-112233-gabcdef",
                true,
            ),
            (
                "ffmpeg version 2019-05-01-git-ab\nlibavutil      56. 26.100 / 56. 26.100",
                "2019-05-01-git-ab",
                false,
            ),
        ] {
            assert_eq!(
                read_version(first_line),
                Some((found.to_owned(), fits)),
                "{first_line}"
            );
        }
        assert_eq!(read_version("hello\n"), None);
        assert_eq!(read_version(""), None);
    }

    #[cfg(unix)]
    fn answering(folder: &Path, script: &str) -> PathBuf {
        use std::os::unix::fs::PermissionsExt;
        let path = folder.join("pretender");
        std::fs::write(&path, format!("#!/bin/sh\n{script}\n")).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
        path
    }

    #[cfg(unix)]
    #[test]
    fn missing_too_old_and_killed_are_told_apart() {
        let folder = tempfile::tempdir().unwrap();
        let find = |path: &Path| {
            let named = path.as_os_str().to_owned();
            loop {
                let error = Tools::find_by(&|_| Some(named.clone())).unwrap_err();
                // While another test is starting a child, that child may still hold the script open.
                match &error {
                    Error::Io { source, .. }
                        if source.kind() == std::io::ErrorKind::ExecutableFileBusy => {}
                    _ => return error,
                }
            }
        };
        let absent = find(&folder.path().join("nothing here"));
        assert!(matches!(absent, Error::Missing { .. }), "{absent}");
        assert!(absent.to_string().contains("BAREBULB_FFMPEG"), "{absent}");
        let old = find(&answering(
            folder.path(),
            "echo ffmpeg version 4.2.7 Copyright",
        ));
        assert_eq!(
            old.to_string().split_once("is version").unwrap().1,
            " 4.2.7, and 4.4 or newer is needed; update ffmpeg"
        );
        let killed = find(&answering(folder.path(), "kill -9 $$"));
        assert!(matches!(killed, Error::Killed { .. }), "{killed}");
        let other = find(&answering(folder.path(), "echo hello"));
        assert!(matches!(other, Error::Missing { .. }), "{other}");
    }
}
