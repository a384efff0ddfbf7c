//! What goes in: the cut, the song, and the takes with where they lie.

use crate::error::Note;
use crate::timecode::{Counting, Timecode};
use model::{Cut, Length, LyricLine, Picture, SongMap, TakeId};

/// Everything a timeline is written from.
#[derive(Clone, Copy, Debug)]
pub struct Edit<'a> {
    /// What the timeline is called.
    pub title: &'a str,
    /// The cut.
    pub cut: &'a Cut,
    /// Bars and sections of the song.
    pub map: &'a SongMap,
    /// The song's file.
    pub song: &'a SongRef,
    /// The takes that the cut may name, in any order.
    pub takes: &'a [TakeRef],
    /// The lyrics, timed or not.
    pub lyrics: &'a [LyricLine],
    /// The way from the timeline's folder to the project's, ending in `/`: `../` for a timeline in
    /// `assembly/`. Put before every relative path.
    pub to_project: &'a str,
    /// Whether the OpenTimelineIO file gets a marker per bar beside those per section.
    pub bar_markers: bool,
}

/// The song as a file.
#[derive(Clone, Debug, PartialEq)]
pub struct SongRef {
    /// What it is called: the file's name.
    pub name: String,
    /// Where it lies: relative to the project folder, with `/`, or absolute.
    pub path: String,
    /// How long it sounds.
    pub length: Length,
    /// Samples per second.
    pub rate_hz: u32,
}

/// A take as a file.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeRef {
    /// Its id.
    pub id: TakeId,
    /// What it is called: the file's name.
    pub name: String,
    /// Where it lies: relative to the project folder, with `/`, or absolute.
    pub path: String,
    /// The reel it is known by in an edit list; made from the name when absent.
    pub reel: Option<String>,
    /// Its picture, when it could be probed. Without one, the cut's rate and a start at
    /// 00:00:00:00 are taken, with a note.
    pub picture: Option<Picture>,
    /// How long it is.
    pub length: Length,
}

/// A text made, and what the reader should know about it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Written {
    /// The file's text, UTF-8.
    pub text: String,
    /// What could not be said in it exactly, or was set right.
    pub notes: Vec<Note>,
}

impl Edit<'_> {
    /// Where the record side starts: 01:00:00:00 (common practice), drop-frame at 29.97 and 59.94.
    pub fn record_start(&self) -> Timecode {
        let rate = self.cut.rate;
        Timecode::at_clock(1, 0, 0, rate, Counting::usual(rate))
    }

    /// Record timecode of frame `frame` of the cut.
    pub fn record_timecode(&self, frame: i64) -> Timecode {
        self.record_start().plus(frame)
    }
}
