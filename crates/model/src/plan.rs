//! The plan: brief, ideas, references, people, and what each section wants.

use crate::clock::ClockTime;
use crate::ids::{NoteId, SetupId};
use crate::noun::noun;
use crate::setup::Purpose;
use crate::time::{FrameRate, Stretch};
use serde::{Deserialize, Serialize};

noun! {
    /// What was agreed, and the shape of what is handed over.
    pub struct Brief {
        /// Who the video is for.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub artist: String,
        /// What was agreed, in words.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub agreed: String,
        /// The fee that must also pay every hire, in minor units (cents).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub fee_minor: Option<i64>,
        /// Currency, three letters (ISO 4217).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub currency: Option<String>,
        /// When it is due, year-month-day.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub due: Option<String>,
        /// The picture rate of the finished video.
        pub rate: FrameRate,
        /// The frame handed over, width and height in pixels.
        pub frame: [u32; 2],
        /// Shape of the active picture, width to height (`[4, 3]`), when it differs from the frame.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub active: Option<[u32; 2]>,
        /// How a take of another shape is brought into the active picture.
        #[serde(default)]
        pub fit: Fit,
    }
}

impl Default for Brief {
    fn default() -> Self {
        Self {
            artist: String::new(),
            agreed: String::new(),
            fee_minor: None,
            currency: None,
            due: None,
            rate: FrameRate::FPS_25,
            frame: [1920, 1080],
            active: None,
            fit: Fit::Crop,
            extra: Default::default(),
        }
    }
}

/// How a take of another shape is brought into the active picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fit {
    /// Fill it and cut off what stands over.
    #[default]
    Crop,
    /// Show all of it inside, with black beside.
    Inside,
}

noun! {
    /// An idea that came while listening, pinned to its moment.
    pub struct Idea {
        /// Its id.
        pub id: NoteId,
        /// Where on the song, when it belongs somewhere.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub at: Option<Stretch>,
        /// The idea.
        pub text: String,
    }
}

noun! {
    /// Something to look like: a picture, a page, a memory.
    pub struct Reference {
        /// Its id.
        pub id: NoteId,
        /// A file in `references/`, or an address.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub source: String,
        /// What it is wanted for.
        pub text: String,
    }
}

noun! {
    /// Somebody who is part of it.
    pub struct Person {
        /// Name.
        pub name: String,
        /// What they do: performer, friend who lends the launderette.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub role: String,
        /// When they can be there, from and to; none for any time.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub hours: Vec<[ClockTime; 2]>,
        /// Whether they are a minor: their hours are for local law to say.
        #[serde(default, skip_serializing_if = "is_false")]
        pub minor: bool,
        /// How to reach them on the day.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub contact: String,
    }
}

noun! {
    /// What a section of the song wants to be cut with.
    pub struct Wish {
        /// Which sections: a letter, a letter and count, or a name.
        pub section: String,
        /// Setups to lean towards here.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub setups: Vec<SetupId>,
        /// Performance or b-roll, when it matters.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub purpose: Option<Purpose>,
        /// How long a shot should last here, in beats, when it should differ from what energy suggests.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub shot_beats: Option<f64>,
        /// How many different setups each bar should have to cut to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub options: Option<u32>,
    }
}

fn is_false(flag: &bool) -> bool {
    !*flag
}
