//! Takes: what the camera made, where it lies on the song, and what its picture is like.

use crate::ids::{SetupId, TakeId};
use crate::project::STATES;
use crate::song::MediaFile;
use crate::time::{FrameRate, Length, SongTime, Stretch};
use crate::{noun, words};
use serde::{Deserialize, Serialize};

noun! {
    /// One file the camera made.
    pub struct Take(list: "takes", called: "take") {
        /// What it is called; by default the file's name without its ending.
        pub id: TakeId => "Id".never(),
        /// The file.
        pub file: MediaFile => "File".never(),
        /// The setup it was shot from, when known.
        pub setup: Option<SetupId> => "Setup",
        /// Which pass of that setup, counted from 1.
        pub pass: Option<u32> => "Pass",
        /// What the maker thinks of it.
        pub rating: Rating = Rating::Unrated => "Rating",
        /// The performer's state in it, as an index into [`crate::Project::states`], where it differs from the setup's.
        pub state: Option<u32> => "State of the performer, when it is not its setup's".of(&STATES),
        /// Where it lies on the song, placed by hand. Holds against what was heard.
        pub placed_by_hand: Option<HandPlacement> => "Placed by hand",
        /// A remark.
        pub remark: String => "Remark".lines(),
    }
}

words! {
    /// What the maker thinks of a take.
    pub enum Rating = Unrated {
        /// Never cut to it.
        NoGood = "no-good", "no good";
        /// Not looked at yet.
        Unrated = "unrated", "not rated";
        /// Can be cut to.
        Usable = "usable", "usable";
        /// The one to use: a circled take.
        Circled = "circled", "circled";
    }
}

noun! {
    /// A placement typed or dragged by a person.
    pub struct HandPlacement {
        /// Song time at the take's first sample.
        pub song_start: SongTime => "Song time at its first frame"
            .hint("Such as 0:12.345; -0:03 when it began before the song."),
        /// Song seconds that passed on set in one second of the take.
        pub speed: f64 => "Speed".range(0.1, 10.0).hint("Song seconds per second of take; 1 as a rule."),
    }
}

/// One start of playback within a take, placed on the song.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// When in the take the song begins to be heard.
    pub take_start: Length,
    /// When in the take it stops.
    pub take_end: Length,
    /// Song time heard at `take_start`.
    pub song_start: SongTime,
    /// Song seconds per take second as played on set: 2 when the song ran at double speed. Without drift.
    pub speed: f64,
    /// How much faster the recorder's clock made the song seem, parts per million: the song
    /// advances `speed × (1 + drift_ppm / 1 000 000)` per second of take.
    pub drift_ppm: f64,
    /// 0 to 1.
    pub confidence: f64,
}

impl Run {
    /// Song seconds per take second, drift included.
    pub fn true_speed(&self) -> f64 {
        self.speed * (1.0 + self.drift_ppm * 1e-6)
    }

    /// Song time at `take_s` seconds into the take.
    pub fn song_s_at(&self, take_s: f64) -> f64 {
        self.song_start.seconds() + (take_s - self.take_start.seconds()) * self.true_speed()
    }

    /// Seconds into the take at which the song stands at `song_s`.
    pub fn take_s_at(&self, song_s: f64) -> f64 {
        self.take_start.seconds() + (song_s - self.song_start.seconds()) / self.true_speed()
    }

    /// The part of the song heard; `None` when it is shorter than a tick.
    pub fn on_song(&self) -> Option<Stretch> {
        Stretch::between_seconds(
            self.song_start.seconds(),
            self.song_s_at(self.take_end.seconds()),
        )
    }
}

/// Another place on the song that a take fits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Alternative {
    /// Song time at the take's first sample.
    pub song_offset_s: f64,
    /// 0 to 1.
    pub confidence: f64,
}

/// Where a take lies on the song, as heard or as placed by hand.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Placement {
    /// Each start of playback, in the order of the take. Empty: the song is not in this take.
    pub runs: Vec<Run>,
    /// Other places it fits about as well. Not empty means: a person should choose.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub alternatives: Vec<Alternative>,
}

impl Placement {
    /// Whether the song is in the take.
    pub fn matched(&self) -> bool {
        !self.runs.is_empty()
    }

    /// The longest run on the song.
    pub fn main_run(&self) -> Option<&Run> {
        let heard = |run: &Run| (run.take_end.ticks() - run.take_start.ticks()) as f64 * run.speed;
        self.runs
            .iter()
            .max_by(|a, b| heard(a).total_cmp(&heard(b)))
    }
}

/// What a probe of the picture says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Picture {
    /// Width in pixels as stored, before rotation.
    pub width: u32,
    /// Height in pixels as stored, before rotation.
    pub height: u32,
    /// Clockwise quarter turns to show it upright, in degrees: 0, 90, 180 or 270.
    pub rotation_deg: u32,
    /// Pixel width over height, as written in the file.
    pub pixel_aspect: (u32, u32),
    /// Frames per second: the rate the file declares, or the mean rate when it varies.
    pub rate: FrameRate,
    /// Whether frames come at uneven times.
    pub variable_rate: bool,
    /// Codec, as ffmpeg names it.
    pub codec: String,
    /// Pixel format, as ffmpeg names it.
    pub pixel_format: String,
    /// Colour tags as ffmpeg names them: primaries, transfer, matrix, range. `None` where untagged.
    pub colour: [Option<String>; 4],
    /// Timecode of the first frame, as written in the file (`01:00:00:00`, `;` before the frames when drop-frame).
    pub start_timecode: Option<String>,
    /// Number of frames, counted or declared.
    pub frames: Option<u64>,
    /// When the first frame is shown, from the start of the file, in seconds (edit lists included).
    pub start_s: f64,
    /// How long the picture runs.
    pub length: Length,
}

/// What the picture is like over time, measured from its frames.
///
/// All vectors have the same length; entry `i` covers `[i × step, (i + 1) × step)` of the take.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PictureTrack {
    /// Length of one entry.
    pub step: Length,
    /// Edge sharpness, 0 (a blur) to 1 (crisp).
    pub sharpness: Vec<f32>,
    /// Mean brightness, 0 (black) to 1 (white), on the coded scale.
    pub brightness: Vec<f32>,
    /// Share of pixels crushed to black or clipped to white, 0 to 1.
    pub clipped: Vec<f32>,
    /// Change from frame to frame, 0 (still) to 1 (all of it changes).
    pub movement: Vec<f32>,
}

/// Everything the assembly needs to know of one take, gathered from the document, the probe, the
/// sync and the frames.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedTake {
    /// Its id.
    pub id: TakeId,
    /// Its setup; takes without one count each as a setup of their own.
    pub setup: Option<SetupId>,
    /// What the maker thinks of it.
    pub rating: Rating,
    /// Performer state, an index into [`crate::Project::states`]; 0 when there are no states.
    pub state: u32,
    /// How long the take is.
    pub length: Length,
    /// Its picture; `None` for sound alone.
    pub picture: Option<Picture>,
    /// Where it lies on the song. A take that does not match can serve as b-roll anywhere.
    pub placement: Placement,
    /// What its picture is like, when measured.
    pub track: Option<PictureTrack>,
}
