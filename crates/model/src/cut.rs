//! The cut: what is on screen when, and what the assembly weighs to choose it.

use crate::ids::TakeId;
use crate::noun::noun;
use crate::time::{FrameRate, Length, Stretch};

noun! {
    /// One version of the cut.
    pub struct Cut {
        /// Counted from 1; `v001`.
        pub version: u32,
        /// The rate its frames are counted at.
        pub rate: FrameRate,
        /// The shots, in order. They tile the frames from 0 to the end of the song without gap or overlap.
        pub shots: Vec<Shot>,
        /// A remark.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
    }
}

impl Cut {
    /// How many frames it holds.
    pub fn frames(&self) -> i64 {
        self.shots.last().map_or(0, |shot| shot.to_frame)
    }
}

noun! {
    /// One shot of the cut.
    pub struct Shot {
        /// First frame of the cut it fills.
        pub from_frame: i64,
        /// First frame after it.
        pub to_frame: i64,
        /// The take seen; `None` is black, where nothing can be cut to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub take: Option<TakeId>,
        /// How far into the take its first frame lies.
        #[serde(default)]
        pub take_start: Length,
        /// Song seconds per take second (drift left out): 2 shows a pass made to double-speed playback at half speed.
        #[serde(default = "unity")]
        pub speed: f64,
        /// Whether the lips should fit here: the take is shown where it was heard.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        pub in_sync: bool,
        /// Whether the maker locked it.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        pub locked: bool,
    }
}

fn unity() -> f64 {
    1.0
}

noun! {
    /// A take the maker does not want to see here, while it may be seen elsewhere.
    pub struct Ban {
        /// Where on the song.
        pub at: Stretch,
        /// Which take.
        pub take: TakeId,
    }
}

noun! {
    /// A shot the maker locked: these bars show this take, whatever else is weighed.
    pub struct Lock {
        /// Where on the song. Rounded to whole frames of the cut.
        pub at: Stretch,
        /// Which take.
        pub take: TakeId,
        /// How far into the take its first frame lies. Absent: where it was heard.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub take_start: Option<Length>,
    }
}
