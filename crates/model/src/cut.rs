//! The cut: what is on screen when, and what the maker locked or does not want to see.

use crate::ids::TakeId;
use crate::noun;
use crate::time::{FrameRate, Length, SongTime, Stretch};

noun! {
    /// One version of the cut.
    pub struct Cut(called: "cut") {
        /// Counted from 1; `v001`.
        pub version: u32 => "Version",
        /// The rate its frames are counted at.
        pub rate: FrameRate => "Frames a second",
        /// The shots, in order. They tile the frames from 0 to the end of the song without gap or overlap.
        pub shots: Vec<Shot> => "Shots",
        /// A remark.
        pub remark: String => "Remark",
    }
}

impl Cut {
    /// Where on the song a frame begins.
    pub fn at(&self, frame: i64) -> SongTime {
        SongTime::from_ticks(self.rate.ticks_of_frame(frame))
    }

    /// The part of the song that one of its shots fills; `None` where it has no frame.
    pub fn stretch(&self, shot: &Shot) -> Option<Stretch> {
        Stretch::new(self.at(shot.from_frame), self.at(shot.to_frame))
    }

    /// How many frames it holds.
    pub fn frames(&self) -> i64 {
        self.shots.last().map_or(0, |shot| shot.to_frame)
    }
}

noun! {
    /// One shot of the cut.
    pub struct Shot(called: "shot") {
        /// First frame of the cut it fills.
        pub from_frame: i64 => "From frame",
        /// First frame after it.
        pub to_frame: i64 => "To frame",
        /// The take seen; `None` is black, where nothing can be cut to.
        pub take: Option<TakeId> => "Take".unchecked(),
        /// How far into the take its first frame lies.
        pub take_start: Length = Length::default() => "Into the take",
        /// Song seconds per take second (drift left out): 2 shows a pass made to double-speed playback at half speed.
        pub speed: f64 = 1.0 => "Speed".range(0.1, 10.0),
        /// Whether the lips should fit here: the take is shown where it was heard.
        pub in_sync: bool => "In sync",
        /// Whether the maker locked it.
        pub locked: bool => "Locked",
    }
}

noun! {
    /// A take the maker does not want to see here, while it may be seen elsewhere.
    pub struct Ban(called: "ban") {
        /// Where on the song.
        pub at: Stretch => "Where",
        /// Which take.
        pub take: TakeId => "Take",
    }
}

noun! {
    /// A shot the maker locked: these bars show this take, whatever else is weighed.
    pub struct Lock(called: "lock") {
        /// Where on the song. Rounded to whole frames of the cut.
        pub at: Stretch => "Where",
        /// Which take.
        pub take: TakeId => "Take",
        /// How far into the take its first frame lies. Absent: where it was heard.
        pub take_start: Option<Length> => "Into the take",
    }
}
