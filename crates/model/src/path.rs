//! Ways to what the document holds: `kit.panel.light.kelvin`, `setups.wide`, `brief.rate`, `states`.
//!
//! First the document's field; where that is a list of nouns, the id of one; then its fields. Entries of
//! lists that have no ids go by their number, from 1: `places.quay.hazards.2.distance_m`.

use crate::describe::{Asked, Field, Noun, Shape};
use crate::edit::Edit;
use crate::ids::is_id;
use crate::plan_file::nearest;
use crate::project::{Document, noun_in};
use crate::typed::{clipped, typed};
use serde_json::{Map, Value};

/// Why a way leads nowhere, or a value can't stand at its end.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// No such thing there.
    #[error("there is no `{name}` in {of}{}", meant(.near.as_deref()))]
    Nowhere {
        /// What was asked for.
        name: String,
        /// Where.
        of: String,
        /// What may have been meant.
        near: Option<String>,
    },
    /// It ends too early.
    #[error("`{path}` holds several things; say which, such as `{path}.{such_as}`")]
    TooShort {
        /// As it was written.
        path: String,
        /// A field in it.
        such_as: String,
    },
    /// What stands there is not typed.
    #[error("`{path}` is not set by hand; {instead}")]
    NotByHand {
        /// As it was written.
        path: String,
        /// What to do instead.
        instead: &'static str,
    },
    /// The value can't be read.
    #[error("`{path}`: {says}")]
    Value {
        /// As it was written.
        path: String,
        /// What is wrong.
        says: String,
    },
    /// A noun with this id is there.
    #[error("there is a `{path}` already; change it with `set`, or give the new one another id")]
    Taken {
        /// As it was written.
        path: String,
    },
    /// It can't be an id.
    #[error("{0}")]
    NoId(String),
}

fn meant(near: Option<&str>) -> String {
    near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"))
}

/// Where a way leads: into a field of the document, to one noun of its list, and inside that.
struct Way<'a> {
    part: &'a str,
    field: &'static Field,
    noun: Option<&'static Noun>,
    id: Option<String>,
    inside: Vec<&'a str>,
}

fn way<'a>(document: &dyn Document, path: &'a str) -> Result<Way<'a>, Error> {
    let path = path.trim();
    let (part, rest) = path.split_once('.').unwrap_or((path, ""));
    let root = document.noun();
    let field = root.field(part);
    let field = field.ok_or_else(|| no_such(part, "the document".into(), &root.names()))?;
    let noun = noun_in(root, part);
    let mut way = Way {
        part,
        field,
        noun,
        id: None,
        inside: Vec::new(),
    };
    let mut rest = rest;
    if matches!(field.shape, Shape::List(_)) && noun.is_some_and(Noun::has_id) && !rest.is_empty() {
        // An id may hold points: the longest that is there is meant.
        let ids = ids_in(document, part);
        let found = ids
            .iter()
            .filter(|id| {
                rest.strip_prefix(id.as_str())
                    .is_some_and(|after| after.is_empty() || after.starts_with('.'))
            })
            .max_by_key(|id| id.len());
        match found {
            Some(id) => {
                way.id = Some(id.clone());
                rest = rest[id.len()..].trim_start_matches('.');
            }
            None => {
                let said = rest.split('.').next().unwrap_or(rest);
                let known: Vec<&str> = ids.iter().map(String::as_str).collect();
                return Err(no_such(said, format!("`{part}`"), &known));
            }
        }
    }
    way.inside = rest.split('.').filter(|step| !step.is_empty()).collect();
    Ok(way)
}

fn ids_in(document: &dyn Document, part: &str) -> Vec<String> {
    let list = document.part(part);
    list.iter()
        .filter_map(Value::as_array)
        .flatten()
        .filter_map(|one| one.get("id")?.as_str().map(str::to_owned))
        .collect()
}

impl Way<'_> {
    /// What stands in the document's field, or the noun with the id in it.
    fn held(&self, document: &dyn Document) -> Value {
        let part = document.part(self.part).unwrap_or_default();
        match &self.id {
            None => part,
            Some(id) => {
                let mut list = part.as_array().into_iter().flatten();
                let one = list.find(|one| one["id"].as_str() == Some(id));
                one.cloned().unwrap_or_default()
            }
        }
    }

    fn by_hand(&self, path: &str) -> Result<(), Error> {
        let instead = match (self.field.asked, self.part, self.inside.first()) {
            (Asked::Never, "song", _) => "`barebulb listen` corrects what is heard",
            (Asked::Never, "log", _) => "`barebulb pocket DIR --log` takes a log in",
            (Asked::Never, "format", _) => "the program keeps it",
            (Asked::Never, ..) => "`barebulb assemble` makes cuts and locks",
            (_, _, Some(&"id")) => "a thing keeps its id; add a new one instead",
            (_, "takes", Some(&"file")) => "`barebulb sync` brings takes in",
            _ => return Ok(()),
        };
        Err(Error::NotByHand {
            path: clipped(path),
            instead,
        })
    }

    fn shape(&self) -> Shape {
        match (self.noun, &self.id) {
            (Some(noun), Some(_)) => Shape::Inside(noun),
            _ => self.field.shape,
        }
    }
}

/// What stands at `path`, as the document writes it; null where nothing is said.
///
/// # Errors
/// When the way leads nowhere.
pub fn get(document: &dyn Document, path: &str) -> Result<Value, Error> {
    let way = way(document, path)?;
    let mut value = way.held(document);
    let mut shape = way.shape();
    let mut so_far = String::from(way.part);
    if let Some(id) = &way.id {
        so_far = format!("{so_far}.{id}");
    }
    let mut usual = way.field.when_unsaid();
    for step in &way.inside {
        (shape, value, usual) = match shape {
            Shape::Inside(noun) => {
                let field = field_of(noun, step, &so_far)?;
                let held = value.get(field.name).cloned().unwrap_or_default();
                (field.shape, held, field.when_unsaid())
            }
            Shape::List(one) => (*one, entry(&value, step, &so_far)?, Value::Null),
            _ => return Err(nowhere(step, &so_far)),
        };
        so_far = format!("{so_far}.{step}");
    }
    Ok(if value.is_null() { usual } else { value })
}

/// Something the document says, at its path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// Where.
    pub path: String,
    /// What, as it is typed.
    pub value: String,
    /// In what.
    pub unit: &'static str,
    /// Whether nobody said it: it is what is usual.
    pub usual: bool,
}

/// Everything that is said at `path` and inside it, in the document's order; of a noun that writes only
/// what is not as usual, what is usual too.
///
/// # Errors
/// When the way leads nowhere.
pub fn said(document: &dyn Document, path: &str) -> Result<Vec<Said>, Error> {
    let way = way(document, path)?;
    let (mut field, mut shape, mut held) = (*way.field, way.shape(), way.held(document));
    for step in &way.inside {
        match shape {
            Shape::Inside(noun) => {
                field = *field_of(noun, step, path)?;
                held = held.get(field.name).cloned().unwrap_or_default();
                shape = field.shape;
            }
            Shape::List(one) => {
                held = entry(&held, step, path)?;
                shape = *one;
            }
            _ => return Err(nowhere(step, path)),
        }
    }
    let mut out = Vec::new();
    // Of a field in which nobody said anything, what is usual.
    let usual = held.is_null() && field.usual.is_some();
    let held = if usual { field.when_unsaid() } else { held };
    walk(&mut out, path.trim(), &Field { shape, ..field }, &held);
    out.iter_mut().for_each(|said| said.usual |= usual);
    Ok(out)
}

fn walk(out: &mut Vec<Said>, path: &str, field: &Field, held: &Value) {
    match (field.shape, held) {
        (Shape::Inside(noun), _) if noun.sparse || held.is_object() => {
            for inner in noun.fields {
                let there = held.get(inner.name);
                let usual = inner.when_unsaid();
                let value = there.or((noun.sparse && !usual.is_null()).then_some(&usual));
                if let Some(value) = value {
                    let before = out.len();
                    walk(out, &format!("{path}.{}", inner.name), inner, value);
                    out[before..]
                        .iter_mut()
                        .for_each(|said| said.usual = there.is_none());
                }
            }
        }
        (Shape::List(one @ Shape::Inside(_)), Value::Array(items)) => {
            for (nth, item) in items.iter().enumerate() {
                let name = item["id"]
                    .as_str()
                    .map_or_else(|| (nth + 1).to_string(), str::to_owned);
                walk(
                    out,
                    &format!("{path}.{name}"),
                    &Field {
                        shape: *one,
                        ..*field
                    },
                    item,
                );
            }
        }
        (_, Value::Null) => {}
        (_, value) => out.push(Said {
            path: path.to_owned(),
            value: crate::typed::shown(field, value),
            unit: field.unit,
            usual: false,
        }),
    }
}

/// What the document holds, field by field, in a few words.
pub fn contents(document: &dyn Document) -> Vec<(&'static str, String)> {
    let said = |field: &Field| {
        let value = document.part(field.name).unwrap_or_default();
        match (&value, field.shape) {
            (Value::Array(items), _) => {
                let names: Vec<&str> = items
                    .iter()
                    .filter_map(|one| one["id"].as_str().or(one.as_str()))
                    .take(12)
                    .collect();
                let more = if items.len() > names.len() && !names.is_empty() {
                    ", …"
                } else {
                    ""
                };
                format!(
                    "{}{}{}{more}",
                    items.len(),
                    if names.is_empty() { "" } else { ": " },
                    names.join(", ")
                )
            }
            (Value::Object(fields), _) if fields.is_empty() => "as usual".to_owned(),
            (Value::Object(fields), _) => fields.keys().cloned().collect::<Vec<_>>().join(", "),
            (Value::Null, _) => "nothing yet".to_owned(),
            (value, _) => crate::typed::shown(field, value),
        }
    };
    document
        .noun()
        .fields
        .iter()
        .map(|field| (field.name, said(field)))
        .collect()
}

fn nowhere(step: &str, of: &str) -> Error {
    no_such(step, format!("`{}`", clipped(of)), &[])
}

/// There is no `name` in `of`, where there are these.
fn no_such(name: &str, of: String, known: &[&str]) -> Error {
    let name = clipped(name);
    Error::Nowhere {
        near: nearest(&name, known).map(str::to_owned),
        name,
        of,
    }
}

fn field_of(noun: &'static Noun, name: &str, of: &str) -> Result<&'static Field, Error> {
    let field = noun.field(name);
    field.ok_or_else(|| no_such(name, format!("`{}`", clipped(of)), &noun.names()))
}

/// The place in a list that a step names, counted from 1 there and from 0 here.
fn place(step: &str) -> Option<usize> {
    step.parse::<usize>().ok()?.checked_sub(1)
}

fn entry(list: &Value, step: &str, of: &str) -> Result<Value, Error> {
    let found = place(step).and_then(|nth| list.get(nth)).cloned();
    found.ok_or_else(|| nowhere(step, of))
}

/// The change that puts each text at its path: all of them are one change, or none is made.
///
/// # Errors
/// When a way leads nowhere or a text can't be read.
pub fn set(document: &dyn Document, sets: &[(String, String)]) -> Result<Edit, Error> {
    let mut touched = Touched::default();
    for (path, text) in sets {
        let way = way(document, path)?;
        way.by_hand(path)?;
        let held = touched.of(document, &way);
        put(held, way.field, &way.shape(), &way.inside, path, Some(text))?;
    }
    Ok(touched.edit(format!("set {} values", sets.len())))
}

/// The change that adds a noun called as `path` says (`kit.lamp`), with each text at its path inside it.
///
/// # Errors
/// When there is no such list, the id is taken or can't be one, or a text can't be read.
pub fn add(document: &dyn Document, path: &str, sets: &[(String, String)]) -> Result<Edit, Error> {
    let (part, id) = path.split_once('.').unwrap_or((path, ""));
    let root = document.noun();
    let noun = noun_in(root, part).filter(|noun| {
        noun.has_id()
            && root
                .field(part)
                .is_some_and(|field| field.asked != Asked::Never)
    });
    let Some(noun) = noun.filter(|_| part != "takes") else {
        let mut lists = root.names();
        lists.retain(|name| noun_in(root, name).is_some_and(Noun::has_id));
        let of = format!("what can be added to ({})", lists.join(", "));
        return Err(no_such(part, of, &lists));
    };
    if !is_id(id) {
        return Err(Error::NoId(format!(
            "`{}` can't be an id; write the list and a new id of letters, digits, `-`, `_` and `.`, such as `{part}.new-one`",
            clipped(id)
        )));
    }
    if ids_in(document, part).iter().any(|known| known == id) {
        return Err(Error::Taken {
            path: clipped(path),
        });
    }
    let mut new = Value::Object(Map::from_iter([(
        "id".to_owned(),
        Value::String(id.to_owned()),
    )]));
    let field = root.field(part).unwrap_or(&noun.fields[0]);
    for (inside, text) in sets {
        let steps: Vec<&str> = inside.split('.').filter(|step| !step.is_empty()).collect();
        if steps == ["id"] {
            return Err(Error::NotByHand {
                path: clipped(inside),
                instead: "it stands in what is added",
            });
        }
        put(
            &mut new,
            field,
            &Shape::Inside(noun),
            &steps,
            inside,
            Some(text),
        )?;
    }
    Ok(Edit::Put {
        part: part.to_owned(),
        new,
        was: None,
    })
}

/// The change that takes what `path` names out: a noun, an entry of a list, or what is said in a field.
///
/// # Errors
/// When the way leads nowhere.
pub fn remove(document: &dyn Document, path: &str) -> Result<Edit, Error> {
    let way = way(document, path)?;
    way.by_hand(path)?;
    match &way.id {
        Some(id) if way.inside.is_empty() => Ok(Edit::Remove {
            part: way.part.to_owned(),
            id: id.clone(),
        }),
        _ => {
            let mut touched = Touched::default();
            let held = touched.of(document, &way);
            put(held, way.field, &way.shape(), &way.inside, path, None)?;
            Ok(touched.edit(String::new()))
        }
    }
}

/// Nouns as they were and as they become.
#[derive(Default)]
struct Touched(Vec<(String, Option<String>, Value, Value)>);

impl Touched {
    fn of(&mut self, document: &dyn Document, way: &Way<'_>) -> &mut Value {
        let at = self
            .0
            .iter()
            .position(|(part, id, ..)| part == way.part && *id == way.id);
        let at = at.unwrap_or_else(|| {
            let held = way.held(document);
            self.0
                .push((way.part.to_owned(), way.id.clone(), held.clone(), held));
            self.0.len() - 1
        });
        &mut self.0[at].3
    }

    fn edit(self, what: String) -> Edit {
        let mut edits: Vec<Edit> = self
            .0
            .into_iter()
            .map(|(part, _, was, new)| Edit::Put {
                part,
                new,
                was: Some(was),
            })
            .collect();
        match edits.pop() {
            Some(only) if edits.is_empty() => only,
            Some(last) => {
                edits.push(last);
                Edit::Together { what, edits }
            }
            None => Edit::Together {
                what: "nothing".into(),
                edits,
            },
        }
    }
}

fn value_error(path: &str, says: String) -> Error {
    Error::Value {
        path: clipped(path),
        says,
    }
}

/// Puts `text` at `steps` inside `held`; without one what stands there goes.
fn put(
    held: &mut Value,
    field: &Field,
    shape: &Shape,
    steps: &[&str],
    path: &str,
    text: Option<&str>,
) -> Result<(), Error> {
    let Some((step, rest)) = steps.split_first() else {
        return put_whole(held, field, shape, path, text);
    };
    match shape {
        Shape::Inside(noun) => {
            let inner = field_of(noun, step, parent(path, steps))?;
            if !held.is_object() {
                *held = Value::Object(Map::new());
            }
            let Value::Object(map) = held else {
                return Err(nowhere(step, path));
            };
            let place = map.entry(inner.name).or_insert(Value::Null);
            put(place, inner, &inner.shape, rest, path, text)?;
            if place.is_null() {
                map.remove(inner.name);
            }
            Ok(())
        }
        Shape::List(one) => {
            if !held.is_array() {
                *held = Value::Array(Vec::new());
            }
            let Value::Array(list) = held else {
                return Err(nowhere(step, path));
            };
            let there = list.len();
            let nth = place(step).filter(|nth| *nth < there + usize::from(text.is_some()));
            let nth = nth.ok_or_else(|| {
                let step = clipped(step);
                let says = format!("there is no entry `{step}`; there are {there}, counted from 1");
                value_error(path, says)
            })?;
            if text.is_none() && rest.is_empty() {
                list.remove(nth);
                return Ok(());
            }
            if nth == there {
                list.push(Value::Null);
            }
            put(&mut list[nth], field, one, rest, path, text)
        }
        _ => Err(nowhere(step, parent(path, steps))),
    }
}

/// Puts `text` in the place of all that is `held`.
fn put_whole(
    held: &mut Value,
    field: &Field,
    shape: &Shape,
    path: &str,
    text: Option<&str>,
) -> Result<(), Error> {
    if let (Shape::Inside(noun), Some(text)) = (shape, text)
        && noun.fields.len() > 1
        && !text.trim_start().starts_with('{')
    {
        let first = noun.fields.iter().find(|field| field.name != "id");
        return Err(Error::TooShort {
            path: clipped(path),
            such_as: first.map_or_else(String::new, |field| field.name.to_owned()),
        });
    }
    let shape = *shape;
    *held = match text {
        Some(text) => {
            typed(&Field { shape, ..*field }, text).map_err(|says| value_error(path, says))?
        }
        None => Value::Null,
    };
    // A text or a list that is emptied is empty, not gone.
    if held.is_null() && !field.optional {
        *held = match shape {
            Shape::Text => Value::String(String::new()),
            Shape::List(_) => Value::Array(Vec::new()),
            _ => field.when_unsaid(),
        };
    }
    Ok(())
}

/// The part of `path` before the steps that are still to go.
fn parent<'a>(path: &'a str, steps: &[&str]) -> &'a str {
    let left: usize = steps.iter().map(|step| step.len() + 1).sum();
    path.get(..path.len().saturating_sub(left)).unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Project;

    fn project() -> Project {
        crate::plan_file::import(
            "[[kit]]\nid = \"panel\"\nname = \"LED panel\"\nlight = { candela = 900, full_w = 60 }\n[[kit]]\nid = \"a.b\"\n\
             [[places]]\nid = \"quay\"\nname = \"quay\"\n[[places.hazards]]\ndanger = \"water\"\n\
             [[setups]]\nid = \"wide\"\nplace = \"quay\"\n",
        )
        .unwrap()
        .project
    }

    fn pairs(sets: &[(&str, &str)]) -> Vec<(String, String)> {
        sets.iter()
            .map(|(a, b)| ((*a).to_owned(), (*b).to_owned()))
            .collect()
    }

    fn done(sets: &[(&str, &str)]) -> Project {
        set(&project(), &pairs(sets))
            .unwrap()
            .apply(&project())
            .unwrap()
    }

    fn says(sets: &[(&str, &str)]) -> String {
        let edit = match set(&project(), &pairs(sets)) {
            Ok(edit) => edit,
            Err(error) => return error.to_string(),
        };
        edit.apply(&project()).unwrap_err().to_string()
    }

    #[test]
    fn values_are_set_all_at_once() {
        let after = done(&[
            ("kit.panel.light.kelvin", "5600 K"),
            ("kit.panel.holding", "borrowed"),
            ("kit.a.b.count", "3"),
            ("setups.wide.bars", "9–16, 25"),
            ("places.quay.hazards.1.distance_m", "2"),
            ("places.quay.hazards.2.danger", "an edge"),
            ("brief.fee_minor", "1,900"),
            ("states", "clean, powdered"),
            ("title", "Paper Weather"),
            ("practice.battery_reserve", "30 %"),
        ]);
        let light = after.kit[0].light.as_ref().unwrap();
        assert_eq!((light.kelvin, light.candela), (Some(5600.0), 900.0));
        assert_eq!(after.kit[1].count, 3);
        assert_eq!(after.setups[0].bars, [[9, 16], [25, 25]]);
        assert_eq!(after.places[0].hazards.len(), 2);
        assert_eq!(after.brief.fee_minor, Some(190_000));
        assert_eq!(after.states, ["clean", "powdered"]);
        assert_eq!(after.title, "Paper Weather");
        assert_eq!(after.practice.battery_reserve, 0.3);
        assert_eq!(
            get(&after, "kit.panel.light.kelvin"),
            Ok(5600.into()).map(|n: i64| serde_json::json!(n as f64))
        );
        assert_eq!(get(&after, "practice.trips"), Ok(3.into()));
        assert_eq!(
            get(&after, "places.quay.hazards.2.danger"),
            Ok("edge".into())
        );
    }

    #[test]
    fn mistakes_are_one_sentence_each() {
        for (path, text, sentence) in [
            (
                "kitt.panel.count",
                "2",
                "there is no `kitt` in the document; did you mean `kit`?",
            ),
            (
                "kit.pannel.count",
                "2",
                "there is no `pannel` in `kit`; did you mean `panel`?",
            ),
            (
                "kit.panel.light.kelvins",
                "2",
                "there is no `kelvins` in `kit.panel.light`; did you mean `kelvin`?",
            ),
            (
                "kit.panel.light.kelvin",
                "5600 W",
                "`kit.panel.light.kelvin`: `5600 W` is in W, and K are wanted here",
            ),
            (
                "kit.panel.light.kelvin",
                "warm",
                "`kit.panel.light.kelvin`: `warm` is not a number; write it as 12 or 12.5",
            ),
            (
                "kit.panel.light.kelvin",
                "100",
                "100 is out of range; 1000 to 40000 K (kit[0].light.kelvin)",
            ),
            (
                "kit.panel.light",
                "5600",
                "`kit.panel.light` holds several things; say which, such as `kit.panel.light.candela`",
            ),
            (
                "kit.panel.id",
                "b",
                "`kit.panel.id` is not set by hand; a thing keeps its id; add a new one instead",
            ),
            (
                "kit.panel.count.x",
                "1",
                "there is no `x` in `kit.panel.count`",
            ),
            (
                "places.quay.hazards.4.danger",
                "water",
                "`places.quay.hazards.4.danger`: there is no entry `4`; there are 1, counted from 1",
            ),
            (
                "setups.wide.place",
                "quey",
                "there is no `quey` in `places`; did you mean `quay`? (setups[0].place)",
            ),
            (
                "cuts",
                "x",
                "`cuts` is not set by hand; `barebulb assemble` makes cuts and locks",
            ),
        ] {
            assert_eq!(says(&[(path, text)]), sentence, "{path}");
        }
        let long = "x".repeat(1_000_000);
        assert!(says(&[("kit.panel.light.kelvin", &long)]).len() < 300);
        assert!(says(&[("kit.panel.remark", &long)]).contains("too long"));
        assert!(says(&[(&long, "1")]).len() < 300);
    }

    #[test]
    fn nouns_are_added_and_removed() {
        let project = project();
        let lamp = add(
            &project,
            "kit.lamp",
            &pairs(&[("light.candela", "575 lx @ 2 m"), ("light.full_w", "60")]),
        );
        let after = lamp.unwrap().apply(&project).unwrap();
        assert_eq!(after.kit[2].light.as_ref().unwrap().candela, 2300.0);
        let error = |path: &str| add(&project, path, &[]).unwrap_err().to_string();
        assert_eq!(
            error("kit.panel"),
            "there is a `kit.panel` already; change it with `set`, or give the new one another id"
        );
        assert!(
            error("kit.").contains("can't be an id")
                && error("kid.x").contains("did you mean `kit`?")
        );
        // Half a light is no light.
        let half = add(&project, "kit.lamp", &pairs(&[("light.candela", "9")])).unwrap();
        assert!(
            half.apply(&project)
                .unwrap_err()
                .to_string()
                .contains("full_w")
        );
        let gone = remove(&after, "kit.lamp").unwrap().apply(&after).unwrap();
        assert_eq!(gone.kit, project.kit);
        let dark = remove(&project, "kit.panel.light")
            .unwrap()
            .apply(&project)
            .unwrap();
        assert_eq!(dark.kit[0].light, None);
        let safe = remove(&project, "places.quay.hazards.1")
            .unwrap()
            .apply(&project)
            .unwrap();
        assert!(safe.places[0].hazards.is_empty());
        let used = remove(&project, "places.quay")
            .unwrap()
            .apply(&project)
            .unwrap_err();
        assert_eq!(
            used.to_string(),
            "the place `quay` is still used by the setup `wide` (place); change that first"
        );
        assert!(
            remove(&project, "kit.none")
                .unwrap_err()
                .to_string()
                .starts_with("there is no `none` in `kit`")
        );
    }
}
