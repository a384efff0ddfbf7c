//! Forms for the nouns of the document, drawn from what each field says of itself and read by it.
//!
//! A form carries the revision its maker saw, so that what somebody else changed meanwhile stays. It is
//! read into the noun's own JSON, field by field over what was there, so that fields no form knows are kept.

mod draw;
#[cfg(test)]
mod new_noun;
mod read;

pub use draw::{draw, draw_one, id_of};
pub use read::{Faults, read, typed, values};

use model::Document;
use model::describe::{Asked, Field, Look, Noun, Shape, Source};
use serde_json::Value;

/// How a field is asked for.
#[derive(Clone, Debug)]
enum Ask {
    /// Several lines of text.
    Text,
    /// A line of text, of this type, keyboard and width.
    Line(&'static str, &'static str, &'static str),
    /// Yes or no.
    Tick,
    /// One of these: the document's word, a person's words. An empty word leaves it unsaid.
    OneOf(Vec<(String, String)>),
    /// Any of these.
    AnyOf(Vec<(String, String)>),
    /// Several things, each with fields of its own.
    Many(&'static Noun),
    /// A thing inside, there as soon as one of its fields is.
    Inside(&'static Noun),
}

/// How `field` is asked for in `document`.
fn ask(field: &Field, document: &dyn Document) -> Ask {
    let with_none = |none: &str, list: Vec<(String, String)>| {
        let mut all = vec![(String::new(), none.to_owned())];
        all.extend(list);
        Ask::OneOf(all)
    };
    let own = |pairs: &[(&str, &str)]| -> Vec<(String, String)> {
        pairs
            .iter()
            .map(|(word, words)| ((*word).to_owned(), (*words).to_owned()))
            .collect()
    };
    let words = |shape: &Shape| match shape {
        Shape::Word(words) => words
            .iter()
            .map(|one| (one.word.to_owned(), one.label.to_owned()))
            .collect(),
        _ => Vec::new(),
    };
    if let Look::Choices(choices) = field.look {
        return Ask::OneOf(own(choices));
    }
    match (field.shape, field.of) {
        (Shape::List(Shape::Id | Shape::Whole), Some(source)) => Ask::AnyOf(list(source, document)),
        (Shape::Id | Shape::Whole, Some(source)) => {
            let all = list(source, document);
            if field.usual.is_some() {
                Ask::OneOf(all)
            } else {
                with_none("—", all)
            }
        }
        (Shape::Truth, _) if field.optional => {
            with_none("not known", own(&[("yes", "yes"), ("no", "no")]))
        }
        (Shape::Truth, _) => Ask::Tick,
        (shape @ Shape::Word(_), _) if field.usual.is_some() => Ask::OneOf(words(&shape)),
        (shape @ Shape::Word(_), _) => with_none("not said", words(&shape)),
        (Shape::List(one @ Shape::Word(_)), _) => Ask::AnyOf(words(one)),
        (Shape::List(Shape::Inside(noun)), _) => Ask::Many(noun),
        (Shape::Inside(noun), _) => Ask::Inside(noun),
        _ if field.look == Look::Lines => Ask::Text,
        (Shape::Text, _) if field.look == Look::Date => Ask::Line("date", "", "number"),
        (Shape::Number, _) => Ask::Line("text", "decimal", "number"),
        (Shape::Whole, _) if field.look == Look::Money => Ask::Line("text", "decimal", "number"),
        (Shape::Whole, _) => Ask::Line("text", "numeric", "number"),
        (Shape::Clock, _) => Ask::Line("text", "", "number"),
        _ => Ask::Line("text", "", "line"),
    }
}

/// The document's word and a person's words for each that `source` holds.
fn list(source: &Source, document: &dyn Document) -> Vec<(String, String)> {
    let part = document.part(source.list).unwrap_or_default();
    let items = part.as_array().map(Vec::as_slice).unwrap_or_default();
    if source.by_place {
        let named = items.iter().enumerate();
        return named
            .map(|(nth, one)| (nth.to_string(), one.as_str().unwrap_or_default().to_owned()))
            .collect();
    }
    let fits = |one: &&Value| {
        source.having.is_empty() || source.having.iter().any(|field| !one[*field].is_null())
    };
    let named = items.iter().filter(fits).map(|one| {
        let id = one["id"].as_str().unwrap_or_default();
        let name = one["name"].as_str().filter(|name| !name.is_empty());
        (id.to_owned(), name.unwrap_or(id).to_owned())
    });
    let words = source
        .or
        .iter()
        .map(|word| ((*word).to_owned(), (*word).to_owned()));
    named.chain(words).collect()
}

/// The fields of `noun` that its form asks for.
fn asked(noun: &Noun, asked: Asked) -> impl Iterator<Item = &'static Field> {
    noun.fields.iter().filter(move |field| field.asked == asked)
}

/// What stands in `field` of a noun before anything is said.
fn or_usual(field: &Field, value: &Value) -> Value {
    if value.is_null() {
        field.when_unsaid()
    } else {
        value.clone()
    }
}
