//! The whole document.

use crate::cut::{Ban, Cut, Lock};
use crate::day::Day;
use crate::describe::{Noun, Shape, Source};
use crate::edit::Refusal;
use crate::kit::KitItem;
use crate::log::LogEntry;
use crate::noun::made;
use crate::place::Place;
use crate::plan::{Brief, Idea, Person, Reference, Wish};
use crate::practice::Practice;
use crate::setup::Setup;
use crate::song::Song;
use crate::take::Take;
use crate::weights::Weights;
use serde_json::Value;

/// The form of the document this version writes. A greater number was written by a newer
/// version, whose unknown fields are kept.
pub const FORMAT: u32 = 3;

/// The states the performer goes through, named by their place in the list.
pub const STATES: Source = Source {
    by_place: true,
    ..Source::all("states")
};

/// A document: a noun whose fields can be reached by their names.
pub trait Document {
    /// What it says of itself.
    fn noun(&self) -> &'static Noun;

    /// The field called `name`, as it is written; `None` when there is none.
    fn part(&self, name: &str) -> Option<Value>;

    /// Puts `new` into the field `part`, as [`Part::put`](crate::describe::Part::put) does.
    ///
    /// # Errors
    /// As there, and when there is no such field.
    fn put(&mut self, part: &str, new: &Value, was: Option<&Value>) -> Result<(), Refusal>;

    /// Takes the one called `id` out of the list `part`.
    ///
    /// # Errors
    /// When there is none.
    fn remove(&mut self, part: &str, id: &str) -> Result<(), Refusal>;

    /// The ids in the list called `name`.
    fn ids_in(&self, name: &str) -> Vec<&str>;
}

/// Declares a document, as [`noun!`] does a noun.
#[doc(hidden)]
#[macro_export]
macro_rules! document {
    ($(#[doc = $doc:literal])* pub struct $name:ident {
        $($(#[doc = $field_doc:literal])* pub $field:ident: $type:ty $(= $usual:expr)? => $label:literal $(.$option:ident($($arg:expr),*))*,)*
    }) => {
        $crate::noun! {
            $(#[doc = $doc])*
            pub struct $name {
                $($(#[doc = $field_doc])* pub $field: $type $(= $usual)? => $label $(.$option($($arg),*))*,)*
            }
        }

        impl $crate::Document for $name {
            fn noun(&self) -> &'static $crate::describe::Noun {
                &Self::NOUN
            }

            fn part(&self, name: &str) -> Option<serde_json::Value> {
                match name {
                    $(stringify!($field) => serde_json::to_value(&self.$field).ok(),)*
                    _ => self.extra.get(name).cloned(),
                }
            }

            fn put(&mut self, part: &str, new: &serde_json::Value, was: Option<&serde_json::Value>) -> Result<(), $crate::Refusal> {
                match part {
                    $(stringify!($field) => $crate::describe::Part::put(&mut self.$field, $crate::project::kind_in(&Self::NOUN, part), new, was),)*
                    _ => Err($crate::Refusal::no_part(&Self::NOUN, part)),
                }
            }

            fn remove(&mut self, part: &str, id: &str) -> Result<(), $crate::Refusal> {
                match part {
                    $(stringify!($field) => $crate::describe::Part::remove(&mut self.$field, $crate::project::kind_in(&Self::NOUN, part), id),)*
                    _ => Err($crate::Refusal::no_part(&Self::NOUN, part)),
                }
            }

            fn ids_in(&self, name: &str) -> Vec<&str> {
                match name {
                    $(stringify!($field) => $crate::describe::Part::ids(&self.$field),)*
                    _ => Vec::new(),
                }
            }
        }
    };
}

/// The noun that stands in the field `part` of `document`: in its list, or the one there is.
pub fn noun_in(document: &Noun, part: &str) -> Option<&'static Noun> {
    match document.field(part)?.shape {
        Shape::Inside(noun) => Some(noun),
        Shape::List(Shape::Inside(noun)) => Some(*noun),
        _ => None,
    }
}

/// What a person calls one of what stands in `part` of `document`.
pub fn kind_in<'a>(document: &Noun, part: &'a str) -> &'a str {
    noun_in(document, part).map_or(part, |noun| noun.called)
}

/// What a person calls one of what stands in `part` of a project.
pub fn kind(part: &str) -> &str {
    kind_in(&Project::NOUN, part)
}

document! {
    /// One music video, from brief to assembly.
    pub struct Project {
        /// The form the document was written in: the greatest [`FORMAT`] that ever wrote it.
        pub format: u32 = FORMAT => "Format".never(),
        /// What the video is called.
        pub title: String => "Title",
        /// What was agreed.
        pub brief: Brief => "Brief",
        /// The song, once there is one.
        pub song: Option<Song> => "Song".never(),
        /// Ideas.
        pub ideas: Vec<Idea> => "Ideas",
        /// References.
        pub references: Vec<Reference> => "References",
        /// Places.
        pub places: Vec<Place> => "Places",
        /// People.
        pub people: Vec<Person> => "People",
        /// States the performer goes through, in the order they can be had: clean, then powdered.
        /// They never run backwards in the cut.
        pub states: Vec<String> => "States of the performer",
        /// Setups.
        pub setups: Vec<Setup> => "Setups",
        /// The kit.
        pub kit: Vec<KitItem> => "Kit",
        /// Days of shooting.
        pub days: Vec<Day> => "Days",
        /// How one works, where it is not as usual.
        pub practice: Practice => "How you work",
        /// What each section wants.
        pub wishes: Vec<Wish> => "What each section wants",
        /// What was ticked and written down while shooting, by time, device and number.
        pub log: Vec<LogEntry> => "Log".never(),
        /// Takes.
        pub takes: Vec<Take> => "Takes",
        /// What the assembly weighs.
        pub weights: Weights => "What the assembly weighs",
        /// Shots the maker locked.
        pub locks: Vec<Lock> => "Locks".never(),
        /// Takes the maker does not want to see somewhere.
        pub bans: Vec<Ban> => "Bans".never(),
        /// The cuts made so far, oldest first.
        pub cuts: Vec<Cut> => "Cuts".never(),
    }
}

impl Default for Project {
    fn default() -> Self {
        made(serde_json::json!({}))
    }
}

impl Project {
    /// The setup called `id`.
    pub fn setup(&self, id: &crate::SetupId) -> Option<&Setup> {
        self.setups.iter().find(|setup| setup.id == *id)
    }

    /// What the setup `id` is called; its id where there is no such setup any more.
    pub fn setup_name<'a>(&'a self, id: &'a crate::SetupId) -> &'a str {
        self.setup(id).map_or(id.as_str(), Setup::called)
    }

    /// The place called `id`.
    pub fn place(&self, id: &crate::PlaceId) -> Option<&Place> {
        self.places.iter().find(|place| place.id == *id)
    }

    /// The person called `id`.
    pub fn person(&self, id: &crate::PersonId) -> Option<&Person> {
        self.people.iter().find(|person| person.id == *id)
    }

    /// The thing of the kit called `id`.
    pub fn item(&self, id: &crate::KitId) -> Option<&KitItem> {
        self.kit.iter().find(|item| item.id == *id)
    }

    /// What the thing `id` of the kit is called; its id where there is no such thing any more.
    pub fn item_name<'a>(&'a self, id: &'a crate::KitId) -> &'a str {
        self.item(id).map_or(id.as_str(), KitItem::called)
    }

    /// The take called `id`.
    pub fn take(&self, id: &crate::TakeId) -> Option<&Take> {
        self.takes.iter().find(|take| take.id == *id)
    }

    /// The days by their date and call.
    pub fn days_in_order(&self) -> Vec<&Day> {
        let mut days: Vec<&Day> = self.days.iter().collect();
        days.sort_by_key(|day| (day.date, day.call));
        days
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
