//! The plan: brief, ideas, references, places, people, setups, and what each section wants.

use crate::ids::{NoteId, PlaceId, SetupId};
use crate::noun::noun;
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
    /// A place to shoot.
    pub struct Place {
        /// Its id.
        pub id: PlaceId,
        /// What it is called.
        pub name: String,
        /// Where it is, in words.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub address: String,
        /// Latitude and longitude in degrees, north and east positive (WGS 84).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub position_deg: Option<[f64; 2]>,
        /// What to mind there: water, edges, traffic, stairs, power.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub cautions: Vec<String>,
        /// A remark.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
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
        /// How to reach them on the day.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub contact: String,
    }
}

/// What a setup is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// The performer performs to playback.
    #[default]
    Performance,
    /// Everything else that can be cut to.
    BRoll,
}

/// How much of the subject the frame holds (common practice).
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(rename_all = "kebab-case")]
pub enum Framing {
    /// The place, the subject small in it.
    Wide,
    /// Head to foot.
    Full,
    /// Waist up.
    #[default]
    Medium,
    /// Head and shoulders.
    Close,
    /// Part of a face or of a thing.
    Detail,
}

noun! {
    /// One position of camera and light.
    pub struct Setup {
        /// Its id.
        pub id: SetupId,
        /// What it is called.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub name: String,
        /// Where.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub place: Option<PlaceId>,
        /// What it is for.
        #[serde(default)]
        pub purpose: Purpose,
        /// How much of the subject it holds.
        #[serde(default)]
        pub framing: Framing,
        /// The sections it is planned over, by letter, letter and count, or name (`B`, `B2`, `last chorus`).
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub sections: Vec<String>,
        /// The bars it is planned over, first and last, both included, counted from 1.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub bars: Vec<[u32; 2]>,
        /// The stretches it is planned over. With no sections, bars or stretches a setup is planned over the whole song.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub stretches: Vec<Stretch>,
        /// How many passes are planned.
        #[serde(default = "one")]
        pub passes: u32,
        /// The camera's rate, when it differs from the brief's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub shot_rate: Option<FrameRate>,
        /// Performer state, an index into [`crate::Project::states`].
        #[serde(default, skip_serializing_if = "is_first")]
        pub state: u32,
        /// Whether the video can't do without it.
        #[serde(default, skip_serializing_if = "is_false")]
        pub must: bool,
        /// What is seen and done.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub action: String,
        /// What to mind: powder, water, stairs, traffic.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub cautions: Vec<String>,
    }
}

fn one() -> u32 {
    1
}
fn is_first(state: &u32) -> bool {
    *state == 0
}
fn is_false(flag: &bool) -> bool {
    !*flag
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
