//! Forms for the nouns of the document: one table of fields says how each is asked for, drawn and read.
//!
//! A form carries the revision its maker saw, so that what somebody else changed meanwhile stays. It is
//! read into the noun's own JSON, field by field over what was there, so that fields no form knows are kept.

mod draw;
mod nouns;
mod read;

pub use draw::{draw, id_of};
pub use nouns::{BRIEF, DAY, IDEA, KIT, PERSON, PLACE, REFERENCE, SETUP, TAKE, WISH};
pub use read::{Faults, read, typed};

use model::Project;

/// One field of a noun.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// Its name in the document, dots for what is inside: `optics.focal_mm`.
    pub name: &'static str,
    /// What a person calls it, with its unit.
    pub label: &'static str,
    /// How it is asked for.
    pub ask: Ask,
    /// What to write, when the label does not say all.
    pub hint: &'static str,
    /// Whether it is asked for at first sight; the others stand folded.
    pub first: bool,
}

/// How a field is asked for.
#[derive(Clone, Copy, Debug)]
pub enum Ask {
    /// A line of text.
    Line,
    /// Several lines of text.
    Text,
    /// A number with a fraction.
    Number,
    /// A whole number.
    Whole,
    /// How many: a whole number, 1 where nothing is said.
    Count,
    /// An amount of money, kept in its smallest unit.
    Money,
    /// Yes or no; no where nothing is said.
    Tick,
    /// Yes or no; yes where nothing is said.
    TickedUnlessSaid,
    /// Yes, no, or not known.
    Maybe,
    /// One of these: the document's word, a person's words. An empty word leaves it out.
    OneOf(&'static [(&'static str, &'static str)]),
    /// Any of these.
    AnyOf(&'static [(&'static str, &'static str)]),
    /// One of the document's own, or none.
    Of(Source),
    /// One of the document's own; the first where nothing is said.
    FirstOf(Source),
    /// Any of the document's own.
    AnyOfThe(Source),
    /// A clock time of the day, `26:30` being half past two in the following morning.
    Clock,
    /// A date.
    Date,
    /// Hours: `18:00–20:30, 22:00–26:00`.
    Hours,
    /// Bars: `9–16, 25`.
    Bars,
    /// Stretches of the song: `0:12.5–0:20`.
    Stretches,
    /// One stretch of the song.
    Stretch,
    /// Two numbers: a position, a sensor's sides.
    Two,
    /// Pairs of numbers: `90 12, 180 5`.
    Pairs,
    /// Numbers: `800, 3200`.
    Numbers,
    /// Words with commas between them.
    Words,
    /// A sentence per line.
    Lines,
    /// Several things, each with fields of its own.
    Many(&'static [Field], &'static str),
    /// A thing inside, there as soon as one of its fields is.
    Inside(&'static [Field]),
}

/// What of the document can be chosen from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Setups.
    Setups,
    /// Places.
    Places,
    /// People, by name.
    People,
    /// All kit.
    Kit,
    /// Cameras.
    Cameras,
    /// Lenses.
    Lenses,
    /// Filters.
    Filters,
    /// Lights.
    Lights,
    /// What power comes from: batteries, inverters, mains by their places.
    Power,
    /// States of the performer, by number.
    States,
}

impl Source {
    /// The document's word and a person's words for each that there is.
    pub fn list(self, project: &Project) -> Vec<(String, String)> {
        let kit = |keep: &dyn Fn(&model::KitItem) -> bool| {
            project
                .kit
                .iter()
                .filter(|item| keep(item))
                .map(|item| (item.id.to_string(), item.called().to_owned()))
                .collect()
        };
        match self {
            Self::Setups => project
                .setups
                .iter()
                .map(|setup| (setup.id.to_string(), setup.called().to_owned()))
                .collect(),
            Self::Places => project
                .places
                .iter()
                .map(|place| (place.id.to_string(), place.name.clone()))
                .collect(),
            Self::People => project
                .people
                .iter()
                .map(|person| (person.name.clone(), person.name.clone()))
                .collect(),
            Self::Kit => kit(&|_| true),
            Self::Cameras => kit(&|item| item.camera.is_some()),
            Self::Lenses => kit(&|item| item.lens.is_some()),
            Self::Filters => kit(&|item| item.filter.is_some()),
            Self::Lights => kit(&|item| item.light.is_some()),
            Self::Power => kit(&|item| item.battery.is_some() || item.inverter.is_some()),
            Self::States => {
                let names = project.states.iter().enumerate();
                names
                    .map(|(number, name)| (number.to_string(), name.clone()))
                    .collect()
            }
        }
    }
}

/// A field asked for at first sight.
pub const fn field(name: &'static str, label: &'static str, ask: Ask) -> Field {
    Field {
        name,
        label,
        ask,
        hint: "",
        first: true,
    }
}

impl Field {
    /// The same with a hint.
    pub const fn hint(self, hint: &'static str) -> Self {
        Self { hint, ..self }
    }

    /// The same, folded.
    pub const fn later(self) -> Self {
        Self {
            first: false,
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every field a form asks for is one the document has.
    #[test]
    fn every_field_is_the_documents() {
        let check = |fields: &[Field], known: &[&str], noun: &str| {
            for field in fields {
                let first = field.name.split('.').next().unwrap_or_default();
                assert!(known.contains(&first), "{noun} has no `{first}`");
            }
        };
        check(BRIEF, model::Brief::FIELDS, "the brief");
        check(IDEA, model::Idea::FIELDS, "an idea");
        check(REFERENCE, model::Reference::FIELDS, "a reference");
        check(PERSON, model::Person::FIELDS, "a person");
        check(PLACE, model::Place::FIELDS, "a place");
        check(KIT, model::KitItem::FIELDS, "the kit");
        check(SETUP, model::Setup::FIELDS, "a setup");
        check(DAY, model::Day::FIELDS, "a day");
        check(WISH, model::Wish::FIELDS, "a wish");
        check(TAKE, model::Take::FIELDS, "a take");
    }
}
