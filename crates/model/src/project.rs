//! The whole document.

use crate::cut::{Ban, Cut, Lock};
use crate::day::Day;
use crate::kit::KitItem;
use crate::log::LogEntry;
use crate::noun::noun;
use crate::place::Place;
use crate::plan::{Brief, Idea, Person, Reference, Wish};
use crate::practice::Practice;
use crate::setup::Setup;
use crate::song::Song;
use crate::take::Take;
use crate::weights::Weights;

/// The form of the document this version writes. A greater number was written by a newer
/// version, whose unknown fields are kept.
pub const FORMAT: u32 = 2;

noun! {
    /// One music video, from brief to assembly.
    pub struct Project {
        /// The form the document was written in: the greatest [`FORMAT`] that ever wrote it.
        pub format: u32,
        /// What the video is called.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub title: String,
        /// What was agreed.
        #[serde(default)]
        pub brief: Brief,
        /// The song, once there is one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub song: Option<Song>,
        /// Ideas.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub ideas: Vec<Idea>,
        /// References.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub references: Vec<Reference>,
        /// Places.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub places: Vec<Place>,
        /// People.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub people: Vec<Person>,
        /// States the performer goes through, in the order they can be had: clean, then powdered.
        /// They never run backwards in the cut.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub states: Vec<String>,
        /// Setups.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub setups: Vec<Setup>,
        /// The kit.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub kit: Vec<KitItem>,
        /// Days of shooting.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub days: Vec<Day>,
        /// How one works, where it is not as usual.
        #[serde(default, skip_serializing_if = "Practice::is_usual")]
        pub practice: Practice,
        /// What each section wants.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub wishes: Vec<Wish>,
        /// What was ticked and written down while shooting, by time, device and number.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub log: Vec<LogEntry>,
        /// Takes.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub takes: Vec<Take>,
        /// What the assembly weighs.
        #[serde(default, skip_serializing_if = "Weights::is_default")]
        pub weights: Weights,
        /// Shots the maker locked.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub locks: Vec<Lock>,
        /// Takes the maker does not want to see somewhere.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub bans: Vec<Ban>,
        /// The cuts made so far, oldest first.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub cuts: Vec<Cut>,
    }
}

impl Default for Project {
    fn default() -> Self {
        Self {
            format: FORMAT,
            title: String::new(),
            brief: Brief::default(),
            song: None,
            ideas: Vec::new(),
            references: Vec::new(),
            places: Vec::new(),
            people: Vec::new(),
            states: Vec::new(),
            setups: Vec::new(),
            kit: Vec::new(),
            days: Vec::new(),
            practice: Practice::default(),
            wishes: Vec::new(),
            log: Vec::new(),
            takes: Vec::new(),
            weights: Weights::default(),
            locks: Vec::new(),
            bans: Vec::new(),
            cuts: Vec::new(),
            extra: Default::default(),
        }
    }
}

impl Project {
    /// The setup called `id`.
    pub fn setup(&self, id: &crate::SetupId) -> Option<&Setup> {
        self.setups.iter().find(|setup| setup.id == *id)
    }

    /// The place called `id`.
    pub fn place(&self, id: &crate::PlaceId) -> Option<&Place> {
        self.places.iter().find(|place| place.id == *id)
    }

    /// The thing of the kit called `id`.
    pub fn item(&self, id: &crate::KitId) -> Option<&KitItem> {
        self.kit.iter().find(|item| item.id == *id)
    }

    /// The take called `id`.
    pub fn take(&self, id: &crate::TakeId) -> Option<&Take> {
        self.takes.iter().find(|take| take.id == *id)
    }

    /// The newest cut.
    pub fn newest_cut(&self) -> Option<&Cut> {
        self.cuts.last()
    }

    /// The performer's state in `take`: its own where it differs, otherwise its setup's.
    pub fn state_of(&self, take: &Take) -> u32 {
        take.state
            .or_else(|| {
                take.setup
                    .as_ref()
                    .and_then(|id| self.setup(id))
                    .map(|setup| setup.state)
            })
            .unwrap_or(0)
    }
}
