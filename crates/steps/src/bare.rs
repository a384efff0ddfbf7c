//! Listening and sync on plain files, without a project.

use crate::error::because;
use crate::gather::{place_audio, prepare};
use crate::song::{Heard, hear};
use crate::{Error, Progress, noted};
use media::Tools;
use model::Finding;
use rayon::prelude::*;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// One file that was to be placed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BareTake {
    /// Where it lies.
    #[serde(flatten)]
    pub report: sync::Report,
    /// What a person should know.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<Finding>,
    /// Why it could not be read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
}

/// Listens to one file.
///
/// # Errors
/// When it is no song, or too long or short.
pub fn listen_file(path: &Path, progress: &dyn Progress) -> Result<Heard, Error> {
    progress.stage("listening", 0);
    let tools = Tools::find();
    let audio = media::decode_song(path, tools.as_ref().ok(), &|| progress.keep_going())
        .map_err(|error| because(&tools, error))?;
    let mut heard = Heard::new(hear(&audio, progress)?, &Default::default());
    heard.notes.splice(0..0, noted("song-file", &audio.notes));
    Ok(heard)
}

/// Places `takes` on `song`. A take that can't be read carries its sentence; the others go on.
///
/// # Errors
/// When the song can't be used, a folder can't be read, or it was stopped.
pub fn sync_files(
    song: &Path,
    takes: &[PathBuf],
    progress: &dyn Progress,
) -> Result<Vec<BareTake>, Error> {
    let tools = Tools::find();
    let keep_going = || progress.keep_going();
    progress.stage("making the song ready", 0);
    let audio = media::decode_song(song, tools.as_ref().ok(), &keep_going)?;
    let prepared = prepare(&audio)?;
    let takes = crate::files::expand(takes)?;
    progress.stage("placing takes", takes.len());
    let one = |path: &PathBuf| -> Result<BareTake, Error> {
        let file = path.display().to_string();
        let heard = media::probe(path, tools.as_ref().ok())
            .and_then(|probe| media::decode_take(path, &probe, tools.as_ref().ok(), &keep_going))
            .map_err(|error| because(&tools, error))
            .and_then(|audio| {
                let placed = place_audio(&audio, &prepared, progress)?;
                Ok((audio.notes, placed))
            });
        progress.part(&file);
        let nothing = sync::Placed {
            placement: Default::default(),
            channel: None,
            notes: Vec::new(),
        };
        match heard {
            Ok((notes, placed)) => Ok(BareTake {
                report: sync::report(&file, &placed),
                notes: noted("take-file", &notes).chain(placed.notes).collect(),
                error: None,
            }),
            // No sound is no failure: there is nothing to place it by.
            Err(Error::Media(error @ media::Error::NoSound { .. })) => Ok(BareTake {
                report: sync::report(&file, &nothing),
                notes: vec![Finding::warning("no-sound", error.to_string())],
                error: None,
            }),
            Err(error) if error.is_stop() => Err(Error::Stopped),
            Err(error) => Ok(BareTake {
                report: sync::report(&file, &nothing),
                notes: Vec::new(),
                error: Some(error.to_string()),
            }),
        }
    };
    takes.par_iter().map(one).collect()
}
