//! What can go wrong, and what the reader of a timeline should know.

use crate::timecode::TimecodeError;
use model::{FrameRate, Length};

/// `1 frame`, `2 frames`.
fn counted(n: &i64, noun: &str) -> String {
    format!("{n} {noun}{}", if *n == 1 { "" } else { "s" })
}

/// Why no timeline could be written.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// More frames than the form can label.
    #[error(
        "the cut holds {}, and this form has labels for {most} at {rate} frames a second; cut a shorter song",
        counted(.frames, "frame")
    )]
    TooLong {
        /// Frames of the cut.
        frames: i64,
        /// The most it can hold.
        most: i64,
        /// The cut's rate.
        rate: FrameRate,
    },
    /// A rate without two-digit frame labels.
    #[error(
        "an edit list can't be written at {rate} frames a second: its labels have two digits for frames; set the cut's rate to 100 or less"
    )]
    NoLabels {
        /// The cut's rate.
        rate: FrameRate,
    },
}

/// What the reader of a timeline should know: set right, approximated or left out.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Note {
    /// A shot names a take that was not given.
    #[error("shot {shot} names take `{take}`, which is not among the takes; black is shown there")]
    NoSuchTake {
        /// Counted from 1.
        shot: usize,
        /// The id.
        take: String,
    },
    /// A take without a probed picture.
    #[error(
        "the picture of take `{take}` was not probed; {rate} frames a second and a start at 00:00:00:00 are assumed"
    )]
    NotProbed {
        /// The id.
        take: String,
        /// The rate assumed.
        rate: FrameRate,
    },
    /// A start timecode that cannot be read.
    #[error("the start timecode of take `{take}` can't be used ({why}); 00:00:00:00 is taken")]
    StartTimecode {
        /// The id.
        take: String,
        /// Why.
        why: TimecodeError,
    },
    /// A take whose frames come at uneven times.
    #[error(
        "take `{take}` has a variable frame rate; its frames are counted at {rate} a second and may be off by some; convert it to a constant rate before finishing"
    )]
    VariableRate {
        /// The id.
        take: String,
        /// The mean rate.
        rate: FrameRate,
    },
    /// A shot runs past the end of its take.
    #[error(
        "shot {shot} needs {} of take `{take}`, which has {has}; the end of it will be missing",
        counted(.needed, "frame")
    )]
    PastTheEnd {
        /// Counted from 1.
        shot: usize,
        /// The id.
        take: String,
        /// Frames up to the shot's end.
        needed: i64,
        /// Frames there are.
        has: i64,
    },
    /// A speed that cannot be played.
    #[error(
        "the speed {speed} of shot {shot} can't be played; it may lie between 0.01 and 100, and 1 is taken"
    )]
    Speed {
        /// Counted from 1.
        shot: usize,
        /// What it was.
        speed: f64,
    },
    /// A shot that is empty, backwards or wholly covered by earlier ones.
    #[error(
        "shot {shot} runs from frame {from} to {to} and shows nothing after the shots before it; it is left out"
    )]
    Covered {
        /// Counted from 1.
        shot: usize,
        /// First frame.
        from: i64,
        /// First frame after.
        to: i64,
    },
    /// A shot that begins before the one before it ends.
    #[error(
        "shot {shot} begins {} before what comes before it has ended; it is shortened by as much",
        counted(.frames, "frame")
    )]
    Overlap {
        /// Counted from 1.
        shot: usize,
        /// By how many.
        frames: i64,
    },
    /// Nothing is said to be on screen.
    #[error("nothing is on screen from frame {from} to {to}; black is shown there")]
    Hole {
        /// First frame.
        from: i64,
        /// First frame after.
        to: i64,
    },
    /// The cut and the song end at different frames.
    #[error("the cut holds {} and the song {song}; assemble it again, or trim it, so that both end together", counted(.cut, "frame"))]
    NotTheSong {
        /// Frames of the cut.
        cut: i64,
        /// Frames that hold the song.
        song: i64,
    },
    /// Edit list: a take at another rate than the cut's.
    #[error(
        "take `{take}` runs at {rate} frames a second and the edit list counts {cut}; its source points are given to the nearest frame of the cut"
    )]
    RecountedSource {
        /// The id.
        take: String,
        /// The take's rate.
        rate: FrameRate,
        /// The cut's rate.
        cut: FrameRate,
    },
    /// Edit list: a speed finer than the form can say.
    #[error(
        "take `{take}` plays at {exact:.6} of its speed, and the edit list can only say {said:.6}; the OpenTimelineIO file has it exactly"
    )]
    CoarseSpeed {
        /// The id.
        take: String,
        /// Source labels per record label.
        exact: f64,
        /// What the list says.
        said: f64,
    },
    /// Edit list: more events than three digits number.
    #[error(
        "the edit list has {events} events; those after 999 have numbers of four digits or more, which older readers may refuse"
    )]
    ManyEvents {
        /// How many.
        events: usize,
    },
    /// Captions: lines without a time.
    #[error("{count} of the {of} lyric lines have no time yet and are not among the captions")]
    Untimed {
        /// How many.
        count: usize,
        /// Of how many.
        of: usize,
    },
    /// Captions: a line that lies outside the song.
    #[error(
        "the lyric line `{text}` lies outside the song ({length}) and is not among the captions"
    )]
    OutsideSong {
        /// The words.
        text: String,
        /// How long the song is.
        length: Length,
    },
}
