//! Reading a noun's fields from a form, over the noun as its maker saw it.

use super::or_usual;
use model::describe::{Asked, Field, Noun, Shape};
use model::typed::{shown, typed as read_text};
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// What is wrong with a form, by the field it is wrong in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Faults(BTreeMap<String, String>);

impl Faults {
    /// One fault.
    pub fn one(name: impl Into<String>, says: impl Into<String>) -> Self {
        Self(BTreeMap::from([(plain(&name.into()), says.into())]))
    }

    /// What is wrong in the field `name`.
    pub fn at(&self, name: &str) -> Option<&str> {
        self.0.get(name).map(String::as_str)
    }

    /// Whether something is wrong in `name` or in what is inside it.
    pub fn under(&self, name: &str) -> bool {
        self.0.keys().any(|known| {
            known
                .strip_prefix(name)
                .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        })
    }

    /// Whether anything is wrong.
    pub fn has_any(&self) -> bool {
        !self.0.is_empty()
    }

    /// What is wrong that stands beside none of `fields`.
    pub fn elsewhere(&self, fields: &[Field]) -> Vec<&str> {
        let beside = |name: &str| stands_beside(fields, name);
        self.0
            .iter()
            .filter(|(name, _)| !beside(name))
            .map(|(_, says)| says.as_str())
            .collect()
    }

    /// Each field with what is wrong in it.
    pub fn all(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(name, says)| (name.as_str(), says.as_str()))
    }

    /// All in one sentence.
    pub fn sentence(&self) -> String {
        self.0.values().cloned().collect::<Vec<_>>().join("; ")
    }

    /// Takes in what else is wrong.
    pub fn merge(&mut self, other: Self) {
        other
            .0
            .into_iter()
            .for_each(|(name, says)| self.add(&name, says));
    }

    fn add(&mut self, name: &str, says: impl Into<String>) {
        self.0.entry(name.to_owned()).or_insert_with(|| says.into());
    }
}

/// Whether one of `fields` is called `name`, dots for what is inside.
fn stands_beside(fields: &[Field], name: &str) -> bool {
    let (first, rest) = name.split_once('.').unwrap_or((name, ""));
    let asked = |field: &&Field| field.name == first && field.asked != Asked::Never;
    let Some(field) = fields.iter().find(asked) else {
        return false;
    };
    match (field.shape, rest) {
        (_, "") => true,
        (Shape::Inside(inner), rest) => stands_beside(inner.fields, rest),
        (Shape::List(Shape::Inside(inner)), rest) => rest
            .split_once('.')
            .is_some_and(|(_, rest)| stands_beside(inner.fields, rest)),
        _ => false,
    }
}

/// `lights[2].level` as a form names it: `lights.2.level`. What is wrong with one entry of a list of plain
/// values is wrong with the list.
fn plain(name: &str) -> String {
    let name = match name.rsplit_once('[') {
        Some((list, rest)) if rest.ends_with(']') => list,
        _ => name,
    };
    name.replace('[', ".").replace(']', "")
}

type Posted = BTreeMap<String, Vec<String>>;

/// The noun that a form makes of `was`.
///
/// # Errors
/// What is wrong, by field.
pub fn read<T: DeserializeOwned>(noun: &Noun, posted: &Posted, was: &Value) -> Result<T, Faults> {
    let out = values(noun, posted, was)?;
    serde_path_to_error::deserialize(out).map_err(|error| {
        let at = error.path().to_string();
        Faults::unreadable(
            if at == "." { "" } else { &at },
            &error.into_inner().to_string(),
        )
    })
}

/// The noun that a form makes of `was`, as it is written.
///
/// # Errors
/// What can't be read, by field.
pub fn values(noun: &Noun, posted: &Posted, was: &Value) -> Result<Value, Faults> {
    let (out, faults) = over(noun, posted, was);
    match faults.has_any() {
        true => Err(faults),
        false => Ok(out),
    }
}

impl Faults {
    /// What a reader of the document says of the field at `at`. A missing one is told of at the noun around
    /// it; its name is in the sentence.
    pub fn unreadable(at: &str, says: &str) -> Self {
        let missing = says
            .strip_prefix("missing field `")
            .and_then(|rest| rest.split('`').next());
        match missing {
            Some(field) if at.is_empty() => Self::one(field, "this is needed"),
            Some(field) => Self::one(format!("{at}.{field}"), "this is needed"),
            None => Self::one(at, says),
        }
    }
}

/// What was typed, over `was`, readable or not: for showing a refused form again with nothing lost.
pub fn typed(noun: &Noun, posted: &Posted, was: &Value) -> Value {
    over(noun, posted, was).0
}

/// What was typed, over `was`, and what of it can't be read.
fn over(noun: &Noun, posted: &Posted, was: &Value) -> (Value, Faults) {
    let mut reader = Reader {
        posted,
        faults: Faults::default(),
    };
    let out = reader.noun(noun, "", was.clone());
    (out, reader.faults)
}

/// The most things a list takes from one form.
const MOST_ROWS: usize = 500;

/// Reads what was posted. What is not posted, or as it was, is `None`; what is taken back is null.
struct Reader<'a> {
    posted: &'a Posted,
    faults: Faults,
}

impl Reader<'_> {
    /// A noun whose fields were posted under `inside`, over what it was.
    fn noun(&mut self, noun: &Noun, inside: &str, mut out: Value) -> Value {
        for field in noun.fields {
            let name = format!("{inside}{}", field.name);
            let was = &out[field.name];
            let new = match field.shape {
                Shape::Inside(noun) => self.thing(noun, &format!("{name}."), was),
                Shape::List(Shape::Inside(noun)) => self.things(noun, &format!("{name}."), was),
                Shape::List(one @ (Shape::Word(_) | Shape::Id | Shape::Whole))
                    if field.of.is_some() || matches!(one, Shape::Word(_)) =>
                {
                    self.chosen(one, &name, was)
                }
                _ => self.text(field, &name, was),
            };
            if let Some(new) = new {
                put(&mut out, field.name, new);
            }
        }
        out
    }

    fn thing(&mut self, noun: &Noun, inside: &str, was: &Value) -> Option<Value> {
        if !self.posted.keys().any(|key| key.starts_with(inside)) {
            return None;
        }
        let held = Some(was.clone()).filter(Value::is_object);
        let thing = self.noun(noun, inside, held.unwrap_or_else(|| json!({})));
        // A choice that stands at its usual word says nothing: a thing is there when something was said of it.
        // One that was there and is not touched stays as it was.
        let stays = self.says_something(noun, inside) || thing == *was;
        Some(if stays { thing } else { Value::Null })
    }

    fn things(&mut self, noun: &Noun, inside: &str, was: &Value) -> Option<Value> {
        let rows = self.rows(inside);
        if rows.is_empty() {
            return None;
        }
        let mut list = Vec::new();
        for nth in rows {
            let inside = format!("{inside}{nth}.");
            if self.posted.contains_key(&format!("{inside}-drop")) {
                continue;
            }
            let known = was.get(nth).cloned();
            // An untouched empty row is no thing. Choices always say something.
            if known.is_some() || self.says_something(noun, &inside) {
                let held = known.unwrap_or_else(|| json!({}));
                list.push(self.noun(noun, &inside, held));
            }
        }
        Some(or_null(list))
    }

    /// What was ticked in a list of words, ids or places in a list.
    fn chosen(&self, one: &Shape, name: &str, was: &Value) -> Option<Value> {
        let chosen = self.posted.get(name)?.iter();
        let list: Vec<Value> = chosen
            .filter(|text| !text.is_empty())
            .map(|text| match (one, text.parse::<u32>()) {
                (Shape::Whole, Ok(whole)) => json!(whole),
                _ => json!(text),
            })
            .collect();
        // The same things in the page's order are no change.
        let was = was.as_array().map(Vec::as_slice).unwrap_or_default();
        let same = list.len() == was.len() && was.iter().all(|one| list.contains(one));
        (!same).then(|| or_null(list))
    }

    fn text(&mut self, field: &Field, name: &str, was: &Value) -> Option<Value> {
        // A browser sends lines of text with both signs of their end.
        let text = self.posted.get(name)?.last()?.replace("\r\n", "\n");
        let text = text.trim();
        let stood = |value: &Value| text == shown(field, value).trim();
        if stood(was) || (was.is_null() && stood(&or_usual(field, was))) {
            return None;
        }
        Some(read_text(field, text).unwrap_or_else(|says| {
            self.faults.add(name, says);
            // What can't be read is shown again as it was typed.
            json!(text)
        }))
    }

    /// The numbers of the rows that a list was posted with, in order.
    fn rows(&self, inside: &str) -> BTreeSet<usize> {
        let keys = self.posted.keys();
        keys.filter_map(|key| key.strip_prefix(inside)?.split('.').next()?.parse().ok())
            .filter(|nth| *nth < MOST_ROWS)
            .collect()
    }

    /// Whether something was said of a noun whose fields were posted under `inside`.
    fn says_something(&self, noun: &Noun, inside: &str) -> bool {
        noun.fields.iter().any(|field| {
            let name = format!("{inside}{}", field.name);
            let inner = format!("{name}.");
            match field.shape {
                Shape::Inside(noun) => self.says_something(noun, &inner),
                // An untouched row for a new thing says nothing either.
                Shape::List(Shape::Inside(noun)) => {
                    let mut rows = self.rows(&inner).into_iter();
                    rows.any(|nth| self.says_something(noun, &format!("{inner}{nth}.")))
                }
                // What stands there untouched says nothing.
                shape => {
                    let usual = match (shape, field.when_unsaid()) {
                        (Shape::Truth, Value::Null) => "no".to_owned(),
                        (_, usual) => shown(field, &usual),
                    };
                    let last = self.posted.get(&name).and_then(|values| values.last());
                    last.is_some_and(|text| !text.trim().is_empty() && text.trim() != usual)
                }
            }
        })
    }
}

/// A list; null for an empty one.
fn or_null(list: Vec<Value>) -> Value {
    match list.is_empty() {
        true => Value::Null,
        false => Value::Array(list),
    }
}

fn put(value: &mut Value, name: &str, new: Value) {
    if !value.is_object() {
        *value = Value::Object(Map::new());
    }
    let Value::Object(map) = value else { return };
    match new {
        Value::Null => map.remove(name),
        new => map.insert(name.to_owned(), new),
    };
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Day, Setup, SetupId};

    fn posted(pairs: &[(&str, &str)]) -> Posted {
        let mut out = Posted::new();
        for (name, value) in pairs {
            out.entry((*name).to_owned())
                .or_default()
                .push((*value).to_owned());
        }
        out
    }

    fn setup() -> Value {
        json!(Setup::new(SetupId::new("a").expect("an id")))
    }

    #[test]
    fn what_no_form_knows_stays() {
        let mut was = setup();
        was["from_the_future"] = json!({"x": 1});
        let made: Setup = read(
            &Setup::NOUN,
            &posted(&[("name", "Wide"), ("bars", "1–8, 12")]),
            &was,
        )
        .expect("read");
        assert_eq!(made.name, "Wide");
        assert_eq!(made.bars, vec![[1, 8], [12, 12]]);
        assert_eq!(made.extra["from_the_future"], json!({"x": 1}));
    }

    #[test]
    fn a_fault_stands_at_its_field() {
        let faults = read::<Setup>(
            &Setup::NOUN,
            &posted(&[("passes", "many"), ("hours", "late")]),
            &setup(),
        )
        .expect_err("faults");
        assert!(
            faults
                .at("passes")
                .is_some_and(|says| says.contains("whole number"))
        );
        assert!(
            faults
                .at("hours")
                .is_some_and(|says| says.contains("clock time"))
        );
        let faults = read::<Setup>(
            &Setup::NOUN,
            &posted(&[("optics.focal_mm", "35")]),
            &setup(),
        )
        .expect_err("no camera");
        assert_eq!(faults.at("optics.camera"), Some("this is needed"));
    }

    #[test]
    fn rows_are_added_changed_and_taken_out() {
        let mut was = setup();
        was["lights"] = json!([{"light": "tube", "distance_m": 2.0}, {"light": "panel", "distance_m": 3.0, "kept": 1}]);
        let form = posted(&[
            ("lights.0.light", "tube"),
            ("lights.0.-drop", "true"),
            ("lights.1.light", "panel"),
            ("lights.1.distance_m", "2,5"),
            ("lights.2.light", ""),
            ("lights.2.falls_on", "face"),
            ("lights.2.distance_m", ""),
        ]);
        let made: Setup = read(&Setup::NOUN, &form, &was).expect("read");
        assert_eq!(made.lights.len(), 1);
        assert_eq!(made.lights[0].distance_m, 2.5);
        assert_eq!(made.lights[0].extra["kept"], json!(1));
    }

    #[test]
    fn ticks_can_be_taken_away() {
        let mut was = setup();
        was["must"] = json!(true);
        let made: Setup = read(&Setup::NOUN, &posted(&[("must", "")]), &was).expect("read");
        assert!(!made.must);
    }

    #[test]
    fn a_thing_inside_is_there_only_when_something_was_said_of_it() {
        let was = json!({"id": "a", "name": "Camera", "sort": "camera"});
        let form = posted(&[
            ("battery.wh", ""),
            ("battery.chemistry", "lithium-ion"),
            ("battery.built_in", ""),
            ("camera.sensor_mm", "23.5, 15.6"),
            ("camera.frame", "1920, 1080"),
            ("camera.readout", "rolling"),
        ]);
        let made: model::KitItem = read(&model::KitItem::NOUN, &form, &was).expect("read");
        assert!(made.battery.is_none());
        assert!(made.camera.is_some());
        let half = posted(&[("battery.wh", ""), ("battery.chemistry", "lead-acid")]);
        let faults =
            read::<model::KitItem>(&model::KitItem::NOUN, &half, &was).expect_err("half a battery");
        assert_eq!(faults.at("battery.wh"), Some("this is needed"));
    }

    #[test]
    fn night_hours_count_on() {
        let was = json!({"id": "d", "date": "2026-11-13", "call": "16:00"});
        let made: Day = read(&Day::NOUN, &posted(&[("latest_wrap", "26:30")]), &was).expect("read");
        assert_eq!(
            made.latest_wrap.map(|at| at.to_string()).as_deref(),
            Some("02:30 (+1)")
        );
    }
}
