//! The plan: brief, ideas, references, people, and what each section wants.

use crate::clock::ClockTime;
use crate::date::Date;
use crate::ids::{NoteId, PersonId, SetupId, WishId};
use crate::noun::made;
use crate::setup::Purpose;
use crate::time::{FrameRate, Stretch};
use crate::{noun, words};
use serde_json::json;

noun! {
    /// What was agreed, and the shape of what is handed over.
    pub struct Brief(list: "brief", called: "brief") {
        /// Who the video is for.
        pub artist: String => "Artist",
        /// What was agreed, in words.
        pub agreed: String => "What was agreed".lines(),
        /// The fee that must also pay every hire, in minor units (cents).
        pub fee_minor: Option<i64> => "Fee".money().hint("It pays for everything that has to be hired."),
        /// Currency, three letters (ISO 4217).
        pub currency: Option<String> => "Currency".hint("Three letters (ISO 4217), such as EUR."),
        /// When it is due, year-month-day.
        pub due: Option<Date> => "Due".date(),
        /// The picture rate of the finished video.
        pub rate: FrameRate = FrameRate::FPS_25 => "Frames a second".choices(&[
            ("25", "25"),
            ("24", "24"),
            ("24000/1001", "23.976"),
            ("30000/1001", "29.97"),
            ("30", "30"),
            ("50", "50"),
            ("60000/1001", "59.94"),
            ("60", "60"),
        ]),
        /// The frame handed over, width and height.
        pub frame: [u32; 2] = [1920, 1080] => "Frame".unit("pixels").range(16.0, 16_384.0)
            .hint("Width and height, such as 1920 × 1080."),
        /// Shape of the active picture, width to height (`[4, 3]`), when it differs from the frame.
        pub active: Option<[u32; 2]> => "Aspect inside the frame".range(1.0, 10_000.0)
            .hint("Such as 4, 3. Empty: the whole frame."),
        /// How a take of another shape is brought into the active picture.
        pub fit: Fit = Fit::Crop => "A take of another shape is shown".later(),
    }
}

impl Default for Brief {
    fn default() -> Self {
        made(json!({}))
    }
}

words! {
    /// How a take of another shape is brought into the active picture.
    pub enum Fit = Crop {
        /// Fill it and cut off what stands over.
        Crop = "crop", "crop to fill it";
        /// Show all of it inside, with black beside.
        Inside = "inside", "all of it inside, bars at the edges";
    }
}

noun! {
    /// An idea that came while listening, pinned to its moment.
    pub struct Idea(list: "ideas", called: "idea") {
        /// Its id.
        pub id: NoteId => "Id".never(),
        /// The idea.
        pub text: String => "Idea".lines().filled(),
        /// Where on the song, when it belongs somewhere.
        pub at: Option<Stretch> => "Where in the song".hint("Such as 0:12.5–0:20. Empty: anywhere."),
    }
}

noun! {
    /// Something to look like: a picture, a page, a memory.
    pub struct Reference(list: "references", called: "reference") {
        /// Its id.
        pub id: NoteId => "Id".never(),
        /// What it is wanted for.
        pub text: String => "What it shows".lines().filled(),
        /// A file in `references/`, or an address.
        pub source: String => "Where it is from",
    }
}

noun! {
    /// Somebody who is part of it.
    pub struct Person(list: "people", called: "person") {
        /// Their id.
        pub id: PersonId => "Id".never(),
        /// Name.
        pub name: String => "Name".filled(),
        /// What they do: performer, friend who lends the launderette.
        pub role: String => "What they do",
        /// How to reach them on the day.
        pub contact: String => "How to reach them",
        /// When they can be there, from and to; none for any time.
        pub hours: Vec<[ClockTime; 2]> => "Hours they can be there".hint("Such as 18:00–26:00. Empty: always."),
        /// Whether they are a minor: their hours are for local law to say.
        pub minor: bool => "Under age: local law sets the hours and who must be there",
    }
}

impl Person {
    /// Somebody of whom only the name is known.
    pub fn new(id: PersonId, name: impl Into<String>) -> Self {
        made(json!({ "id": id, "name": name.into() }))
    }
}

noun! {
    /// What a section of the song wants to be cut with.
    pub struct Wish(list: "wishes", called: "wish") {
        /// Its id.
        pub id: WishId => "Id".never(),
        /// Which sections: a letter, a letter and count, or a name.
        pub section: String => "Section".filled().hint("Its letter, its letter and number (B2), or what you call it."),
        /// How many different setups each bar should have to cut to.
        pub options: Option<u32> => "Different setups each bar should have".range(0.0, 100.0),
        /// Setups to lean towards here.
        pub setups: Vec<SetupId> => "Setups it should be cut with",
        /// Performance or b-roll, when it matters.
        pub purpose: Option<Purpose> => "Cut with",
        /// How long a shot should last here, when it should differ from what energy suggests.
        pub shot_beats: Option<f64> => "Length of a shot".unit("beats").range(0.25, 256.0),
    }
}

impl Wish {
    /// A wish for a section that wants nothing yet.
    pub fn new(id: WishId, section: impl Into<String>) -> Self {
        made(json!({ "id": id, "section": section.into() }))
    }
}
