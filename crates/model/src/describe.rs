//! What the document says of itself: for every field of every noun, once, its type, what it is when
//! nothing is said, its unit, its range, what a person calls it and where it is asked for.
//!
//! The nouns are declared with [`noun!`](crate::noun) and [`words!`](crate::noun); everything that
//! asks for, reads, checks or lists fields goes by these descriptions: the forms, the command
//! line's `set` and `get`, the plan file and its schema, the table in `docs/fields.md`.

use crate::edit::{Refusal, merged};
use crate::validate::{At, Check};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// A noun: what stands in a list of the document, or inside another noun.
#[derive(Clone, Copy, Debug)]
pub struct Noun {
    /// The document's list it stands in (`kit`), or its own field when there is one of it
    /// (`brief`); empty for what stands inside another noun.
    pub list: &'static str,
    /// What a person calls one.
    pub called: &'static str,
    /// What it is, sentences.
    pub doc: &'static [&'static str],
    /// Whether only what differs from its usual value is written.
    pub sparse: bool,
    /// Its fields, in the order in which they are written and asked for.
    pub fields: &'static [Field],
}

/// A field of a noun.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// Its name in files.
    pub name: &'static str,
    /// What it is, sentences.
    pub doc: &'static [&'static str],
    /// What can stand in it.
    pub shape: Shape,
    /// Whether it can be left unsaid, which is something else than empty.
    pub optional: bool,
    /// Whether there is no noun without it.
    pub needed: bool,
    /// What stands in it when nothing is said, where that is not simply nothing.
    pub usual: Option<fn() -> Value>,
    /// What a person calls it.
    pub label: &'static str,
    /// What to write, when label and unit do not say all.
    pub hint: &'static str,
    /// In what; empty for a plain number.
    pub unit: &'static str,
    /// Least and most, both allowed: of a number, or of a text's characters.
    pub range: Option<(f64, f64)>,
    /// Where it is asked for.
    pub asked: Asked,
    /// Of what it names one.
    pub of: Option<&'static Source>,
    /// How it is written by a person.
    pub look: Look,
    /// Who says so: the source of a usual value.
    pub source: &'static str,
}

/// Where a field is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// At first sight.
    First,
    /// Folded away.
    Later,
    /// In no form: other ways lead to it.
    Never,
}

/// What can stand in a field.
#[derive(Clone, Copy, Debug)]
pub enum Shape {
    /// Text.
    Text,
    /// A number.
    Number,
    /// A whole number.
    Whole,
    /// Yes or no.
    Truth,
    /// One of these words.
    Word(&'static [Word]),
    /// The id of a noun.
    Id,
    /// A clock time of the day.
    Clock,
    /// A picture rate.
    Rate,
    /// An instant of the song or a length of it.
    Time,
    /// A stretch of the song.
    Stretch,
    /// Two of the same.
    Pair(&'static Shape),
    /// Any number of the same.
    List(&'static Shape),
    /// A noun inside.
    Inside(&'static Noun),
    /// Something that describes itself nowhere: written by the program alone.
    Other,
}

/// A word of the document, and what a person calls it.
#[derive(Clone, Copy, Debug)]
pub struct Word {
    /// In files.
    pub word: &'static str,
    /// On screen.
    pub label: &'static str,
    /// What it means, sentences.
    pub doc: &'static [&'static str],
}

/// How a person writes what stands in a field, where its shape does not say it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Look {
    /// As its shape.
    Plain,
    /// Several lines of text; a list one a line.
    Lines,
    /// A calendar date, year-month-day.
    Date,
    /// An amount of money, kept in its smallest unit.
    Money,
    /// From and to, one alone standing for both.
    Span,
    /// One of these as a rule: the document's word, a person's words.
    Choices(&'static [(&'static str, &'static str)]),
}

/// A list of the document that a field names one of.
#[derive(Clone, Copy, Debug)]
pub struct Source {
    /// The list.
    pub list: &'static str,
    /// Only those in which one of these fields is said; empty for all.
    pub having: &'static [&'static str],
    /// Words that are good too, though no list holds them.
    pub or: &'static [&'static str],
    /// Whether it is named by its place in the list, from 0, and not by its id.
    pub by_place: bool,
}

impl Source {
    /// Everything in `list`.
    pub const fn all(list: &'static str) -> Self {
        Self {
            list,
            having: &[],
            or: &[],
            by_place: false,
        }
    }
}

/// Whether two names are one, at compile time too.
const fn same(a: &str, b: &str) -> bool {
    let (a, b) = (a.as_bytes(), b.as_bytes());
    let mut at = 0;
    while at < a.len() && at < b.len() && a[at] == b[at] {
        at += 1;
    }
    at == a.len() && at == b.len()
}

impl Noun {
    /// A noun of which nothing is said.
    pub const BARE: Self = Self {
        list: "",
        called: "",
        doc: &[],
        sparse: false,
        fields: &[],
    };

    /// The field called `name`.
    pub fn field(&self, name: &str) -> Option<&'static Field> {
        self.fields.iter().find(|field| field.name == name)
    }

    /// What its fields are called.
    pub fn names(&self) -> Vec<&'static str> {
        self.fields.iter().map(|field| field.name).collect()
    }

    /// Who says what is usual in the field called `name`; there must be one.
    pub const fn source(&self, name: &str) -> &'static str {
        let mut nth = 0;
        while !same(self.fields[nth].name, name) {
            nth += 1;
        }
        self.fields[nth].source
    }

    /// Whether it is known by an id.
    pub fn has_id(&self) -> bool {
        self.field("id").is_some()
    }
}

impl Field {
    /// A field that holds a `T`.
    pub const fn new<T: Part>(name: &'static str, label: &'static str) -> Self {
        Self {
            name,
            doc: &[],
            shape: T::SHAPE,
            optional: T::OPTIONAL,
            needed: T::NEEDED,
            usual: None,
            label,
            hint: "",
            unit: "",
            range: T::RANGE,
            asked: Asked::First,
            of: T::OF,
            look: Look::Plain,
            source: "",
        }
    }

    /// With what its documentation says.
    pub const fn documented(self, doc: &'static [&'static str]) -> Self {
        Self { doc, ..self }
    }

    /// With what stands in it when nothing is said.
    pub const fn usually(self, usual: fn() -> Value) -> Self {
        Self {
            usual: Some(usual),
            needed: false,
            ..self
        }
    }

    /// With a hint.
    pub const fn hint(self, hint: &'static str) -> Self {
        Self { hint, ..self }
    }

    /// In this unit.
    pub const fn unit(self, unit: &'static str) -> Self {
        Self { unit, ..self }
    }

    /// Between these, both allowed: a number, or a text's length in characters.
    pub const fn range(self, least: f64, most: f64) -> Self {
        Self {
            range: Some((least, most)),
            ..self
        }
    }

    /// A text that can't be empty.
    pub const fn filled(self) -> Self {
        self.range(1.0, f64::INFINITY)
    }

    /// A part of a whole.
    pub const fn share(self, least: f64, most: f64) -> Self {
        self.range(least, most).unit("share")
    }

    /// Asked for folded away.
    pub const fn later(self) -> Self {
        let asked = Asked::Later;
        Self { asked, ..self }
    }

    /// Asked for in no form.
    pub const fn never(self) -> Self {
        let asked = Asked::Never;
        Self { asked, ..self }
    }

    /// Names one of these.
    pub const fn of(self, source: &'static Source) -> Self {
        Self {
            of: Some(source),
            ..self
        }
    }

    /// Names something that may be gone from the plan.
    pub const fn unchecked(self) -> Self {
        Self { of: None, ..self }
    }

    const fn look(self, look: Look) -> Self {
        Self { look, ..self }
    }

    /// Several lines of text, or a list one a line.
    pub const fn lines(self) -> Self {
        self.look(Look::Lines)
    }

    /// A calendar date.
    pub const fn date(self) -> Self {
        self.look(Look::Date)
    }

    /// An amount of money in its smallest unit.
    pub const fn money(self) -> Self {
        self.look(Look::Money).range(0.0, 1e12)
    }

    /// From and to, one alone standing for both.
    pub const fn span(self) -> Self {
        self.look(Look::Span)
    }

    /// One of these as a rule.
    pub const fn choices(self, choices: &'static [(&'static str, &'static str)]) -> Self {
        self.look(Look::Choices(choices))
    }

    /// Who says that the usual value is usual.
    pub const fn source(self, source: &'static str) -> Self {
        Self { source, ..self }
    }

    /// Its label with its unit, as it stands beside an input.
    pub fn label_with_unit(&self) -> String {
        match self.unit {
            "" => self.label.to_owned(),
            "share" => format!("{}, 0 to 1", self.label),
            unit => format!("{}, {unit}", self.label),
        }
    }

    /// What stands in it when nothing is said; null for nothing.
    pub fn when_unsaid(&self) -> Value {
        self.usual.map_or(Value::Null, |usual| usual())
    }

    /// What is wrong with a number in it; `None` when it will do.
    pub fn number_problem(&self, value: f64) -> Option<String> {
        let (least, most) = self.range.unwrap_or((f64::MIN, f64::MAX));
        if (least..=most).contains(&value) {
            return None;
        }
        let unit = match self.unit {
            "" => String::new(),
            "share" => ", as a share (1 is all)".to_owned(),
            unit => format!(" {unit}"),
        };
        Some(match (self.range, self.look) {
            (None, _) => format!("{value} is no number one can reckon with"),
            (_, Look::Money) => format!("{value} is out of range; write it in cents, 0 or more"),
            _ if most == f64::INFINITY => {
                format!("{value} is out of range; {least} or more{unit}")
            }
            _ => format!("{value} is out of range; {least} to {most}{unit}"),
        })
    }

    /// What is wrong with a text in it; `None` when it will do.
    pub fn text_problem(&self, text: &str) -> Option<String> {
        use crate::validate::MAX_TEXT;
        if text.len() > MAX_TEXT {
            return Some(format!(
                "a text of {} bytes is too long; at most {MAX_TEXT}",
                text.len()
            ));
        }
        if text.contains('\0') {
            return Some("a text can't hold a null character; take it out".into());
        }
        if self.look == Look::Date
            && let Err(says) = text.parse::<crate::Date>()
        {
            return Some(says);
        }
        let (least, most) = self.range?;
        let long = text.chars().count() as f64;
        if long < least {
            Some("this is needed".into())
        } else if long > most {
            Some(format!(
                "{long} characters are too many; {least} to {most} will do"
            ))
        } else {
            None
        }
    }
}

/// What can stand in a field of the document.
pub trait Part: Sized + Clone + PartialEq + Serialize + DeserializeOwned {
    /// What it looks like in files.
    const SHAPE: Shape;
    /// Whether it can be left unsaid, which is something else than empty.
    const OPTIONAL: bool = false;
    /// Whether a noun can't be without it: it has no empty form.
    const NEEDED: bool = true;
    /// Of what it names one.
    const OF: Option<&'static Source> = None;
    /// What numbers it can hold at all.
    const RANGE: Option<(f64, f64)> = None;

    /// What stands for it when nothing is said; `None` when it is needed.
    fn unsaid() -> Option<Self> {
        None
    }

    /// Whether it says nothing, so that it is left out of files.
    fn says_nothing(&self) -> bool {
        false
    }

    /// The id it is known by.
    fn id(&self) -> Option<&str> {
        None
    }

    /// The ids of what it holds.
    fn ids(&self) -> Vec<&str> {
        Vec::new()
    }

    /// Finds what its field's description does not allow.
    fn check(&self, field: &Field, at: &At<'_>, check: &mut Check);

    /// Puts `new` in its place, or, in a list of nouns with ids, in the place of the one with its
    /// id or at the end; `kind` is what one is called. What somebody else changed since `was` stays.
    ///
    /// # Errors
    /// When `new` is none of these, its place is gone, or both changed the same field.
    fn put(&mut self, kind: &str, new: &Value, was: Option<&Value>) -> Result<(), Refusal> {
        put_whole(self, kind, new, was)
    }

    /// Takes the one called `id` out.
    ///
    /// # Errors
    /// When there is none.
    fn remove(&mut self, kind: &str, id: &str) -> Result<(), Refusal> {
        Err(Refusal::gone(kind, id))
    }
}

/// Puts `new` in the place of all that is `held`.
fn put_whole<T: Part>(
    held: &mut T,
    kind: &str,
    new: &Value,
    was: Option<&Value>,
) -> Result<(), Refusal> {
    let new: T = read(kind, new)?;
    let was = was.map(|was| read(kind, was)).transpose()?;
    *held = merged(&format!("the {kind}"), was.as_ref(), &new, held)?;
    Ok(())
}

/// `value` as what it should be.
pub(crate) fn read<T: DeserializeOwned>(kind: &str, value: &Value) -> Result<T, Refusal> {
    serde_path_to_error::deserialize(value).map_err(|error| {
        let field = error.path().to_string();
        let field = if field == "." { String::new() } else { field };
        Refusal::Unreadable {
            noun: kind.to_owned(),
            field,
            says: crate::plan_file::plainer(&error.inner().to_string()),
        }
    })
}

impl Part for String {
    const SHAPE: Shape = Shape::Text;
    const NEEDED: bool = false;
    fn unsaid() -> Option<Self> {
        Some(Self::new())
    }
    fn says_nothing(&self) -> bool {
        self.is_empty()
    }
    fn check(&self, field: &Field, at: &At<'_>, check: &mut Check) {
        check.say_if(at, field.text_problem(self));
    }
}

impl Part for bool {
    const SHAPE: Shape = Shape::Truth;
    const NEEDED: bool = false;
    fn unsaid() -> Option<Self> {
        Some(false)
    }
    fn says_nothing(&self) -> bool {
        !*self
    }
    fn check(&self, _: &Field, _: &At<'_>, _: &mut Check) {}
}

impl Part for f64 {
    const SHAPE: Shape = Shape::Number;
    fn check(&self, field: &Field, at: &At<'_>, check: &mut Check) {
        check.say_if(at, field.number_problem(*self));
    }
}

macro_rules! whole {
    ($($type:ty: $least:expr, $most:expr;)*) => {$(
        impl Part for $type {
            const SHAPE: Shape = Shape::Whole;
            const RANGE: Option<(f64, f64)> = Some(($least as f64, $most as f64));
            fn check(&self, field: &Field, at: &At<'_>, check: &mut Check) {
                check.say_if(at, field.number_problem(*self as f64));
                if let Some(source) = field.of {
                    check.place_in(source, *self as usize, at);
                }
            }
        }
    )*};
}
// JSON's readers know whole numbers to 2⁵³.
whole! {
    u32: 0, u32::MAX;
    u64: 0, 1u64 << 53;
    i64: -(1i64 << 53), 1i64 << 53;
    i32: i32::MIN, i32::MAX;
    i8: i8::MIN, i8::MAX;
}

/// Parts that are good as soon as they can be read.
macro_rules! plain {
    ($($type:ty: $shape:ident;)*) => {$(
        impl Part for $type {
            const SHAPE: Shape = Shape::$shape;
            fn check(&self, _: &Field, _: &At<'_>, _: &mut Check) {}
        }
    )*};
}
plain! {
    crate::ClockTime: Clock;
    crate::Date: Text;
    crate::FrameRate: Rate;
    crate::SongTime: Time;
    crate::Length: Time;
    crate::Stretch: Stretch;
    crate::LogWhat: Other;
}

impl<T: Part> Part for Option<T> {
    const SHAPE: Shape = T::SHAPE;
    const OPTIONAL: bool = true;
    const NEEDED: bool = false;
    const OF: Option<&'static Source> = T::OF;
    const RANGE: Option<(f64, f64)> = T::RANGE;
    fn unsaid() -> Option<Self> {
        Some(None)
    }
    fn says_nothing(&self) -> bool {
        self.is_none()
    }
    fn check(&self, field: &Field, at: &At<'_>, check: &mut Check) {
        if let Some(held) = self {
            held.check(field, at, check);
        }
    }
}

impl<T: Part> Part for [T; 2] {
    const SHAPE: Shape = Shape::Pair(&T::SHAPE);
    const RANGE: Option<(f64, f64)> = T::RANGE;
    fn check(&self, field: &Field, at: &At<'_>, check: &mut Check) {
        self.iter().for_each(|one| one.check(field, at, check));
    }
}

impl<T: Part> Part for Vec<T> {
    const SHAPE: Shape = Shape::List(&T::SHAPE);
    const NEEDED: bool = false;
    const OF: Option<&'static Source> = T::OF;
    const RANGE: Option<(f64, f64)> = T::RANGE;
    fn unsaid() -> Option<Self> {
        Some(Self::new())
    }
    fn says_nothing(&self) -> bool {
        self.is_empty()
    }
    fn ids(&self) -> Vec<&str> {
        self.iter().filter_map(Part::id).collect()
    }
    fn check(&self, field: &Field, at: &At<'_>, check: &mut Check) {
        check.count(at, self.len());
        let mut seen = std::collections::HashSet::new();
        for (index, one) in self.iter().enumerate() {
            let here = at.item(index);
            if let (Shape::Inside(_), Some(id)) = (T::SHAPE, one.id())
                && !seen.insert(id)
            {
                let list = field.name;
                let says =
                    format!("the id `{id}` is used twice in {list}; give one of them another");
                check.say(&here.field("id"), says);
            }
            one.check(field, &here, check);
        }
    }
    fn put(&mut self, kind: &str, new: &Value, was: Option<&Value>) -> Result<(), Refusal> {
        if new.is_array() {
            return put_whole(self, kind, new, was);
        }
        let new: T = read(kind, new)?;
        let was: Option<T> = was.map(|was| read(kind, was)).transpose()?;
        let id = new.id().unwrap_or_default().to_owned();
        match self.iter_mut().find(|known| known.id() == Some(&id)) {
            Some(known) => {
                *known = merged(&format!("the {kind} `{id}`"), was.as_ref(), &new, known)?;
            }
            None if was.is_some() => return Err(Refusal::gone(kind, &id)),
            None => self.push(new),
        }
        Ok(())
    }
    fn remove(&mut self, kind: &str, id: &str) -> Result<(), Refusal> {
        let index = self.iter().position(|one| one.id() == Some(id));
        self.remove(index.ok_or_else(|| Refusal::gone(kind, id))?);
        Ok(())
    }
}
