//! The log of a pocket page taken into the project: from its file, or from pictures of its QR codes.

use crate::files::read_at_most;
use crate::{Error, Job, Progress, Trouble};
use model::{DeviceId, Edit, Finding, LogEntry, SoFar};
use pocket::log::{LogFile, MAX_BYTES, is_part, join, mark};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// What came of taking in a log.
#[derive(Clone, Debug, Serialize)]
pub struct LogTaken {
    /// Entries that were new.
    pub new: usize,
    /// Entries that the project had already.
    pub known: usize,
    /// How many of each device the project now has.
    pub devices: BTreeMap<DeviceId, usize>,
    /// What all of the project's log comes to.
    pub so_far: SoFar,
    /// Takes that were given a rating or a remark from it.
    pub takes: Vec<String>,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

/// A file read.
enum Read {
    Log(LogFile),
    Codes(Vec<String>),
}

impl Job {
    /// Takes in the log that `files` hold: files that a page saved, and pictures of its QR codes, in any
    /// order and as often as one likes. One edit, and none where nothing is new.
    ///
    /// A picture in which no code could be read is named; it stops nothing when the others make the whole.
    ///
    /// # Errors
    /// When a file is neither, codes are missing, it is another project's log, or it says something else
    /// than what was taken in before. The project is then as it was.
    pub fn take_log(
        &mut self,
        files: &[PathBuf],
        progress: &dyn Progress,
    ) -> Result<(LogTaken, Vec<Trouble>), Error> {
        progress.stage("reading the log", files.len());
        let mut logs = Vec::new();
        let mut texts = Vec::new();
        let mut trouble = Vec::new();
        let mut pictures = false;
        for path in files {
            Self::stop_if_asked(progress)?;
            match read(path, progress)? {
                Read::Log(log) => logs.push(log),
                Read::Codes(codes) => {
                    pictures = true;
                    let parts: Vec<String> = codes.into_iter().filter(|t| is_part(t)).collect();
                    if parts.is_empty() {
                        trouble.push(Trouble {
                            file: path.display().to_string(),
                            says: "no QR code of a log could be read in it; photograph the code straight on, sharp, with its white edge".into(),
                        });
                    }
                    texts.extend(parts);
                }
            }
            progress.part(&path.display().to_string());
        }
        let of = |source| Error::Log {
            path: files.first().cloned().unwrap_or_default(),
            source,
        };
        logs.extend(join(texts.iter().map(String::as_str)).map_err(of)?);
        if logs.is_empty() && pictures {
            return Err(Error::NoCodes);
        }
        let mut notes = Vec::new();
        let entries = self.entries(logs, &mut notes)?;
        let known: BTreeSet<(&DeviceId, u32)> = self
            .project()
            .log
            .iter()
            .map(|entry| (&entry.device, entry.number))
            .collect();
        let mut seen = BTreeSet::new();
        let new = entries
            .iter()
            .map(|entry| (&entry.device, entry.number))
            .filter(|key| seen.insert(*key) && !known.contains(key))
            .count();
        let known = seen.len() - new;
        let edit = Edit::AddLog { entries };
        match new {
            // Nothing to save; what contradicts is refused all the same.
            0 => drop(edit.apply(self.project())?),
            _ => drop(self.edit(&edit)?),
        }
        let mut devices = BTreeMap::new();
        for entry in &self.project().log {
            *devices.entry(entry.device.clone()).or_insert(0) += 1;
        }
        let taken = LogTaken {
            new,
            known,
            devices,
            so_far: SoFar::of(&self.project().log),
            takes: Vec::new(),
            notes,
        };
        Ok((taken, trouble))
    }

    /// The entries of all logs, when they are this project's.
    fn entries(
        &self,
        logs: Vec<LogFile>,
        notes: &mut Vec<Finding>,
    ) -> Result<Vec<LogEntry>, Error> {
        let project = self.project();
        let own = mark(project);
        let mut unknown = BTreeSet::new();
        let mut entries = Vec::new();
        for log in logs {
            let strange: BTreeSet<String> = log
                .entries
                .iter()
                .filter_map(|entry| entry.what.setup())
                .filter(|id| project.setup(id).is_none())
                .map(ToString::to_string)
                .collect();
            if log.project != own && !strange.is_empty() {
                return Err(Error::OtherProject(
                    strange.into_iter().next().unwrap_or_default(),
                ));
            }
            unknown.extend(strange);
            entries.extend(log.entries);
        }
        if !unknown.is_empty() {
            let names: Vec<&str> = unknown.iter().map(String::as_str).collect();
            let says = format!(
                "the log tells of setups that the plan no longer has: {}; what it says of them is kept",
                names.join(", ")
            );
            notes.push(Finding::note("unknown-setup", says));
        }
        Ok(entries)
    }

    /// Gives ratings and notes of the log to the takes of the same setup and pass, where there is one such
    /// take and nothing was said of it yet; which those were.
    ///
    /// # Errors
    /// When it can't be saved.
    pub fn log_to_takes(&mut self) -> Result<Vec<String>, Error> {
        let before = self.project().takes.clone();
        let next = Edit::LogToTakes.apply(self.project())?;
        if next.takes == before {
            return Ok(Vec::new());
        }
        self.edit(&Edit::LogToTakes)?;
        let changed = self.project().takes.iter().zip(&before);
        Ok(changed
            .filter(|(after, before)| after != before)
            .map(|(take, _)| take.id.to_string())
            .collect())
    }
}

fn read(path: &Path, progress: &dyn Progress) -> Result<Read, Error> {
    let failed = |source| Error::Read {
        path: path.to_path_buf(),
        cause: source,
    };
    let mut file = std::fs::File::open(path).map_err(failed)?;
    if path.is_dir() {
        return Err(media::Error::Folder {
            path: path.display().to_string(),
        }
        .into());
    }
    let mut start = [0u8; 64];
    let count = file.read(&mut start).map_err(failed)?;
    let text = start[..count].trim_ascii_start().first() == Some(&b'{');
    let named = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("json"));
    if !text && !named {
        return Ok(Read::Codes(media::read_codes(path, &|| {
            progress.keep_going()
        })?));
    }
    drop(file);
    let bytes = read_at_most(path, MAX_BYTES)?;
    let log = LogFile::read(&bytes).map_err(|source| Error::Log {
        path: path.to_path_buf(),
        source,
    })?;
    Ok(Read::Log(log))
}
