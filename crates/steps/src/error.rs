//! Why a step could not be done.

use model::{ClockTime, DayId, SetupId};
use serde::Serialize;
use std::path::PathBuf;

/// Why a step could not be done. Each message is one sentence.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file.
    #[error(transparent)]
    Media(#[from] media::Error),
    /// A file that only ffmpeg can read, where there is none that will do.
    #[error("`{path}` can't be read without ffmpeg: {why}")]
    NeedsTools {
        /// The file.
        path: String,
        /// Why there is none.
        why: String,
    },
    /// The project file.
    #[error(transparent)]
    Store(#[from] store::Error),
    /// The song.
    #[error(transparent)]
    Listen(#[from] listen::Error),
    /// Sync as a whole (not one take).
    #[error(transparent)]
    Sync(#[from] sync::Error),
    /// The assembly.
    #[error(transparent)]
    Assemble(#[from] assemble::Error),
    /// Photographs that can't be grouped.
    #[error(transparent)]
    Scout(#[from] scout::Error),
    /// A timeline.
    #[error(transparent)]
    Timeline(#[from] timeline::Error),
    /// The sky.
    #[error(transparent)]
    Sky(#[from] sky::Error),
    /// A fault of the program itself.
    #[error("{0}")]
    Fault(String),
    /// A setup, place, day or take that is not there.
    #[error("there is no {noun} `{id}` in this project; {instead}")]
    NoSuch {
        /// What sort of thing.
        noun: &'static str,
        /// Its id.
        id: String,
        /// Which was perhaps meant, or which there are.
        instead: String,
    },
    /// Bars that can't be planned so.
    #[error(transparent)]
    Bars(#[from] coverage::BarsError),
    /// Advice that is not there.
    #[error(
        "there is no advice {nth}; there are {there}, and `barebulb coverage DIR` lists them, best first"
    )]
    NoAdvice {
        /// Its number, counted from 1.
        nth: usize,
        /// How many there are.
        there: usize,
    },
    /// Advice that no plan holds.
    #[error("this advice is to shoot what is planned already, so there is nothing to plan")]
    OnlyShooting,
    /// The day contradicts itself.
    #[error("the day `{day}`: {source}")]
    Day {
        /// Which.
        day: String,
        /// What is wrong.
        source: schedule::Error,
    },
    /// A pin that is not there.
    #[error("`{setup}` is not pinned on the day `{day}`, so there is nothing to let go")]
    NotPinned {
        /// Which setup.
        setup: SetupId,
        /// On which day.
        day: DayId,
    },
    /// Two pins at one time.
    #[error(
        "`{setup}` can't be pinned there: `{other}` is, from {from} to {to}; let it go first, or choose another time"
    )]
    PinInTheWay {
        /// Which setup.
        setup: SetupId,
        /// Which is pinned there.
        other: SetupId,
        /// From when.
        from: ClockTime,
        /// To when.
        to: ClockTime,
    },
    /// A shoot that would end before it begins.
    #[error(
        "`{setup}` can't end at {end} when its shoot begins at {shoot}; write a later end, or leave it out"
    )]
    EndsBefore {
        /// Which setup.
        setup: SetupId,
        /// When its shoot begins.
        shoot: ClockTime,
        /// When it would end.
        end: ClockTime,
    },
    /// There are no days yet.
    #[error("the plan has no day yet; write one under `days` with its date and its call")]
    NoDays,
    /// Nothing to plan a day from.
    #[error(
        "the plan has no setups yet, so there is nothing to put into a day; write some under `setups`"
    )]
    NoSetups,
    /// Setups, places and days that have nothing in common.
    #[error("no setup of the plan is in {0}; `barebulb coverage DIR` lists them")]
    NothingThere(String),
    /// Neither a date nor a day.
    #[error("no date is known; give one with --date, or write a day into the plan")]
    NoDate,
    /// There is no song yet.
    #[error("the project in `{0}` has no song yet; add one with `barebulb listen DIR --song FILE`")]
    NoSong(PathBuf),
    /// There are no takes yet.
    #[error("the project in `{0}` has no takes yet; bring them in with `barebulb sync DIR FOLDER`")]
    NoTakes(PathBuf),
    /// A take that is not there.
    #[error("there is no take `{0}` in this project; it may have been removed meanwhile")]
    NoTake(String),
    /// A take's file is gone.
    #[error(
        "`{path}` is not where it was and was not found near it; put it back, or bring it in again from where it lies"
    )]
    TakeMissing {
        /// Where it was.
        path: String,
    },
    /// A shot that shows nothing.
    #[error("shot {0} is black; show a take there first")]
    Black(usize),
    /// A shot that no lock holds.
    #[error("shot {0} is not locked")]
    NotLocked(usize),
    /// A cut that no beat is beside.
    #[error("there is no beat on that side to move the cut to; move it by frames")]
    NoBeat,
    /// A cut can't be changed so.
    #[error(transparent)]
    ByHand(#[from] assemble::by_hand::Refused),
    /// A version of the cut that is not there.
    #[error("there is no version {0} of the cut; it may have been removed meanwhile")]
    NoVersion(u32),
    /// There is no cut yet.
    #[error("the project in `{0}` has no cut yet; make one with `barebulb assemble DIR`")]
    NoCut(PathBuf),
    /// The song's file is gone.
    #[error(
        "the song `{path}` is not where it was and was not found near it; put it back, or add it again with `barebulb listen DIR --song FILE`"
    )]
    SongMissing {
        /// Where it was.
        path: String,
    },
    /// A file could not be written.
    #[error("`{path}` could not be written: {cause}; make room or choose another folder")]
    Write {
        /// Which.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// A folder could not be read.
    #[error("`{path}` could not be read: {cause}")]
    Read {
        /// Which.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// Nothing that looks like a take.
    #[error(
        "no take was found in `{0}`; name the files, or a folder that holds sound or picture files"
    )]
    NothingFound(PathBuf),
    /// Nothing that looks like a photograph.
    #[error("no photograph was found in `{0}`; name the files, or a folder that holds them")]
    NoPhotos(PathBuf),
    /// No photograph could be brought in.
    #[error("{0}")]
    NoneBroughtIn(String),
    /// A log that can't be read.
    #[error("`{path}`: {source}")]
    Log {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: pocket::log::Error,
    },
    /// Pictures without a log's codes.
    #[error(
        "no QR code of a log could be read in these pictures; photograph each code straight on, sharp, with its white edge, or give the file that the page saved"
    )]
    NoCodes,
    /// The log of another project.
    #[error(
        "this log is another project's: it tells of the setup `{0}`, which this one does not have; give the project whose page it was ticked on"
    )]
    OtherProject(String),
    /// Stopped from outside.
    #[error("stopped; what was finished before is kept")]
    Stopped,
}

/// Puts why there is no ffmpeg in the place of the bare fact that there is none.
pub(crate) fn because(
    tools: &Result<media::Tools, media::Error>,
    error: impl Into<Error>,
) -> Error {
    match (error.into(), tools) {
        (Error::Media(media::Error::NeedsTools { path }), Err(why)) => Error::NeedsTools {
            path,
            why: why.to_string(),
        },
        (error, _) => error,
    }
}

impl From<model::edit::Refusal> for Error {
    fn from(refusal: model::edit::Refusal) -> Self {
        store::Error::Refused(Box::new(refusal)).into()
    }
}

impl Error {
    /// Whether it was only stopped.
    pub fn is_stop(&self) -> bool {
        matches!(
            self,
            Self::Stopped
                | Self::Media(media::Error::Cancelled)
                | Self::Listen(listen::Error::Stopped)
                | Self::Sync(sync::Error::Stopped)
                | Self::Assemble(assemble::Error::Stopped)
        )
    }
}

/// A file that something could not be done with, and the sentence about it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Trouble {
    /// The file, as given or as the document knows it.
    pub file: String,
    /// What is wrong and what to do.
    pub says: String,
}
