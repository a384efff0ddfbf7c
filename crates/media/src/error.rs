//! What can go wrong with a file or with ffmpeg, by cause, and what is worth telling although the
//! work was done.

use std::io;
use std::path::{Path, PathBuf};

/// Why a file could not be read or written. Each message is one sentence: what, where, what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// ffmpeg or ffprobe is not there.
    #[error(
        "`{program}` was not found{where_looked}; install ffmpeg 4.4 or newer, or set {variable} to where it is"
    )]
    Missing {
        /// `ffmpeg` or `ffprobe`.
        program: &'static str,
        /// Where it was looked for, as the end of a sentence.
        where_looked: String,
        /// The environment variable that can name it.
        variable: &'static str,
    },
    /// ffmpeg is there but too old.
    #[error("`{program}` is version {found}, and {needed} or newer is needed; update ffmpeg")]
    TooOld {
        /// Path of the program.
        program: String,
        /// The version found.
        found: String,
        /// The oldest that will do.
        needed: &'static str,
    },
    /// The work needs ffmpeg and there is none.
    #[error("`{path}` needs ffmpeg to be read, and there is none; install ffmpeg 4.4 or newer")]
    NeedsTools {
        /// The file.
        path: String,
    },
    /// ffmpeg was ended by a signal or by someone.
    #[error("`{program}` was killed while it worked on `{path}`; run the command again")]
    Killed {
        /// `ffmpeg` or `ffprobe`.
        program: &'static str,
        /// The file it worked on.
        path: String,
    },
    /// ffmpeg gave no sign of life for long.
    #[error(
        "`{program}` gave nothing for {seconds} s on `{path}` and was stopped; check that the disk answers"
    )]
    Stalled {
        /// `ffmpeg` or `ffprobe`.
        program: &'static str,
        /// The file it worked on.
        path: String,
        /// How long it was waited for.
        seconds: u64,
    },
    /// ffmpeg refused.
    #[error("`{program}` could not {doing} `{path}`: {said}")]
    Refused {
        /// `ffmpeg` or `ffprobe`.
        program: &'static str,
        /// What it was to do, as a verb: `read`, `write`.
        doing: &'static str,
        /// The file.
        path: String,
        /// The last it said.
        said: String,
    },
    /// The operating system refused.
    #[error("`{path}` could not be {done}: {source}")]
    Io {
        /// The file or folder.
        path: String,
        /// What was tried, as a participle: `opened`, `written`.
        done: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// No room left.
    #[error("the disk is full: `{path}` could not be written; make room and run it again")]
    DiskFull {
        /// The file that was being written.
        path: String,
    },
    /// There is no such file.
    #[error("there is no file `{path}`; check the name, or where the disk is mounted")]
    NoFile {
        /// The path as given.
        path: String,
    },
    /// The path names a folder.
    #[error("`{path}` is a folder; name a file in it")]
    Folder {
        /// The path as given.
        path: String,
    },
    /// The file has no bytes.
    #[error("`{path}` is empty; copy it again from the card")]
    Empty {
        /// The path as given.
        path: String,
    },
    /// The file holds nothing that can be heard or seen.
    #[error("`{path}` is not a sound or picture file that can be read ({said})")]
    NotMedia {
        /// The path as given.
        path: String,
        /// What the readers said.
        said: String,
    },
    /// The file is no photograph.
    #[error(
        "`{path}` is not a photograph that can be read; JPEG, HEIF, AVIF, PNG, WebP and TIFF files can"
    )]
    NotPhoto {
        /// The path as given.
        path: String,
    },
    /// A photograph that breaks off.
    #[error("`{path}` breaks off or is damaged ({said}); copy it again from the camera")]
    BrokenPhoto {
        /// The path as given.
        path: String,
        /// What the reader said.
        said: String,
    },
    /// There was no end to reading it.
    #[error(
        "`{path}` was given up after {seconds} s: nothing that a camera makes takes so long to be read; take the picture again"
    )]
    TooSlow {
        /// The path as given.
        path: String,
        /// How long it was tried.
        seconds: u64,
    },
    /// What reads it is still at another one.
    #[error(
        "`{path}` was not looked at: the search for codes in an earlier picture has not ended yet; try again in some minutes, give the log as its file, or start the program again"
    )]
    NotItsTurn {
        /// The path as given.
        path: String,
    },
    /// The file is still being written, or the camera lost power.
    #[error(
        "`{path}` has no index yet: it is still being written, or its recording was cut off; copy it again when the camera has closed it"
    )]
    Unfinished {
        /// The path as given.
        path: String,
    },
    /// The file has no sound.
    #[error("`{path}` has no sound in it; place it on the song by hand")]
    NoSound {
        /// The path as given.
        path: String,
    },
    /// The file has no picture.
    #[error("`{path}` has no picture in it")]
    NoPicture {
        /// The path as given.
        path: String,
    },
    /// Longer than is read into memory.
    #[error(
        "`{path}` lasts {minutes:.0} min ({channels} channels at {rate_hz} Hz), and at most {most} is read; cut it into shorter files"
    )]
    TooLong {
        /// The path as given.
        path: String,
        /// How long it is, or how far it was read.
        minutes: f64,
        /// Channels.
        channels: usize,
        /// Rate.
        rate_hz: u32,
        /// The limit, in words.
        most: String,
    },
    /// The work was cancelled.
    #[error("cancelled")]
    Cancelled,
    /// A value that cannot be worked with.
    #[error("{what} is {met}, and must be {allowed}")]
    OutOfRange {
        /// What it is.
        what: String,
        /// What was given.
        met: String,
        /// What is allowed.
        allowed: String,
    },
}

impl Error {
    /// For `map_err`: the system's refusal, told apart where that helps.
    pub(crate) fn io(path: &Path, done: &'static str) -> impl FnOnce(io::Error) -> Self {
        let path = path.display().to_string();
        move |source| match source.kind() {
            io::ErrorKind::NotFound if done == "opened" => Self::NoFile { path },
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull { path },
            io::ErrorKind::IsADirectory => Self::Folder { path },
            _ => Self::Io { path, done, source },
        }
    }
}

/// Something worth telling although the work was done.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Note {
    /// Less sound was there than the file says.
    #[error(
        "`{path}` breaks off: {found_s:.1} s could be read of the {promised_s:.1} s it promises"
    )]
    Truncated {
        /// The file.
        path: String,
        /// Seconds read.
        found_s: f64,
        /// Seconds promised.
        promised_s: f64,
    },
    /// Samples that are no numbers.
    #[error("`{path}` holds {count} samples that are not numbers; they were made silent")]
    NotNumbers {
        /// The file.
        path: String,
        /// How many.
        count: u64,
    },
    /// Damaged packets were left out.
    #[error("`{path}` is damaged in {count} places, which were skipped")]
    Damaged {
        /// The file.
        path: String,
        /// How many packets.
        count: u64,
    },
    /// The picture has no steady rate.
    #[error("`{path}` has a variable frame rate, {fps:.3} frames a second on average")]
    VariableRate {
        /// The file.
        path: String,
        /// Mean rate.
        fps: f64,
    },
    /// A shot wants more of the take than there is.
    #[error("shot {shot}: `{path}` ends {frames} frames early; its last frame was held")]
    HeldLast {
        /// Which shot, counted from 1.
        shot: usize,
        /// The take.
        path: PathBuf,
        /// How many frames were held.
        frames: i64,
    },
    /// A shot's take could not be shown.
    #[error("shot {shot}: a card with its name stands for `{path}`: {why}")]
    Card {
        /// Which shot, counted from 1.
        shot: usize,
        /// The take.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// A stand-in for an encoder that this ffmpeg lacks.
    #[error("this ffmpeg has no {wanted}, so {used} was used: the file is larger or less sharp")]
    OtherEncoder {
        /// What would have been used.
        wanted: &'static str,
        /// What was.
        used: &'static str,
    },
    /// Anything else, said in a sentence.
    #[error("`{path}`: {what}")]
    Other {
        /// The file.
        path: String,
        /// What, as a sentence.
        what: String,
    },
}
