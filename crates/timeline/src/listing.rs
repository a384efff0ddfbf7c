//! The cut shot by shot, as numbers for a machine and as a table for a person.

use crate::edit::Edit;
use serde::Serialize;

/// The cut, shot by shot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Listing {
    /// What the timeline is called.
    pub title: String,
    /// Version of the cut.
    pub version: u32,
    /// The cut's rate, as a fraction: `24000/1001`.
    pub rate: String,
    /// Frames of the cut.
    pub frames: i64,
    /// Frames that hold the song.
    pub song_frames: i64,
    /// Record timecode of frame 0.
    pub record_start: String,
    /// The shots, tiling the cut.
    pub shots: Vec<ListedShot>,
    /// The sections, in frames of the cut.
    pub sections: Vec<ListedSection>,
    /// What the reader should know.
    pub notes: Vec<String>,
}

/// One shot, both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ListedShot {
    /// First frame of the cut it fills.
    pub from_frame: i64,
    /// First frame after it.
    pub to_frame: i64,
    /// Record timecode of `from_frame`.
    pub record_in: String,
    /// Record timecode of `to_frame`.
    pub record_out: String,
    /// The take's id; `null` is black, and so are the five source fields.
    pub take: Option<String>,
    /// The take's file name.
    pub name: Option<String>,
    /// The take's frame it starts on, from 0.
    pub source_start_frame: Option<i64>,
    /// The take's own rate, as a fraction.
    pub source_rate: Option<String>,
    /// Timecode of `source_start_frame`.
    pub source_in: Option<String>,
    /// How many of the take's frames pass, as an exact fraction.
    pub source_frames: Option<String>,
    /// Take seconds per record second, as an exact fraction.
    pub time_scalar: Option<String>,
    /// Song seconds per take second.
    pub speed: Option<f64>,
    /// Whether the lips should fit here.
    pub in_sync: bool,
    /// Whether the maker locked it.
    pub locked: bool,
    /// The section it starts in: `B2`.
    pub section: String,
    /// Bar it starts in, counted from 1.
    pub bar: u32,
    /// Beat it starts on, counted from 1.
    pub beat: u32,
    /// The lyric line sung as it starts.
    pub lyric: Option<String>,
}

/// One section of the song, in frames of the cut.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ListedSection {
    /// What it is called: `B2`, or its name.
    pub call: String,
    /// First frame of the cut in it.
    pub from_frame: i64,
    /// First frame after it.
    pub to_frame: i64,
}

/// The cut as a listing.
pub fn listing(edit: &Edit<'_>) -> Listing {
    Listing {
        title: edit.title.to_owned(),
        version: edit.cut.version,
        rate: edit.cut.rate.to_string(),
        frames: edit.cut.frames(),
        song_frames: 0,
        record_start: edit.record_start().to_string(),
        shots: Vec::new(),
        sections: Vec::new(),
        notes: Vec::new(),
    }
}

impl Listing {
    /// A table for the terminal.
    pub fn to_text(&self) -> String {
        String::new()
    }
}
