//! Reading a noun's fields from a form, over the noun as its maker saw it.

use super::draw::shown;
use super::{Ask, Field};
use model::{ClockTime, SongTime};
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

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

    /// What is wrong that stands beside no field of `fields`.
    pub fn elsewhere(&self, fields: &[Field]) -> Vec<&str> {
        let shown = |name: &str| fields.iter().any(|field| stands_beside(field, "", name));
        self.0
            .iter()
            .filter(|(name, _)| !shown(name))
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

fn stands_beside(field: &Field, inside: &str, name: &str) -> bool {
    let own = format!("{inside}{}", field.name);
    if own == name {
        return true;
    }
    let rest = name
        .strip_prefix(&own)
        .and_then(|rest| rest.strip_prefix('.'));
    match (field.ask, rest) {
        (Ask::Inside(inner), Some(_)) => inner
            .iter()
            .any(|one| stands_beside(one, &format!("{own}."), name)),
        (Ask::Many(inner, _), Some(rest)) => {
            let nth = rest.split('.').next().unwrap_or_default();
            inner
                .iter()
                .any(|one| stands_beside(one, &format!("{own}.{nth}."), name))
        }
        _ => false,
    }
}

/// `lights[2].level` as a form names it: `lights.2.level`.
fn plain(name: &str) -> String {
    name.replace('[', ".").replace(']', "")
}

type Posted = BTreeMap<String, Vec<String>>;

/// The noun that a form makes of `was`.
///
/// # Errors
/// What is wrong, by field.
pub fn read<T: DeserializeOwned>(
    fields: &[Field],
    posted: &Posted,
    was: &Value,
) -> Result<T, Faults> {
    let mut faults = Faults::default();
    let mut out = was.clone();
    for field in fields {
        take(field, "", posted, &mut out, &mut faults);
    }
    if faults.has_any() {
        return Err(faults);
    }
    serde_path_to_error::deserialize(out).map_err(|error| {
        let at = plain(&error.path().to_string());
        // A missing field is told of at the noun around it; its name is in the sentence.
        let says = error.into_inner().to_string();
        let missing = says
            .strip_prefix("missing field `")
            .and_then(|rest| rest.split('`').next());
        match missing {
            Some(field) => {
                let at = if at == "." || at.is_empty() {
                    field.to_owned()
                } else {
                    format!("{at}.{field}")
                };
                Faults::one(at, "this is needed")
            }
            None => Faults::one(at, says),
        }
    })
}

/// What was typed, over `was`, readable or not: for showing a refused form again with nothing lost.
pub fn typed(fields: &[Field], posted: &Posted, was: &Value) -> Value {
    let mut out = was.clone();
    for field in fields {
        take(field, "", posted, &mut out, &mut Faults::default());
    }
    out
}

/// The most things a list takes from one form.
const MOST_ROWS: usize = 500;

fn take(field: &Field, inside: &str, posted: &Posted, out: &mut Value, faults: &mut Faults) {
    let name = format!("{inside}{}", field.name);
    match field.ask {
        Ask::Inside(inner) => {
            let prefix = format!("{name}.");
            if !posted.keys().any(|key| key.starts_with(&prefix)) {
                return;
            }
            let mut thing = match get(out, field.name) {
                Value::Object(map) => Value::Object(map.clone()),
                _ => json!({}),
            };
            for one in inner {
                take(one, &prefix, posted, &mut thing, faults);
            }
            // A choice that stands at its first word says nothing: a thing is there when something was said of it.
            let said = inner.iter().any(|one| says_something(one, &prefix, posted));
            // One that was there and is not touched stays as it was.
            let stays = said || thing == *get(out, field.name);
            put(out, field.name, stays.then_some(thing));
        }
        Ask::Many(inner, _) => {
            let prefix = format!("{name}.");
            let rows = rows(posted, &prefix);
            if rows.is_empty() {
                return;
            }
            let was = get(out, field.name).as_array().cloned().unwrap_or_default();
            let mut list = Vec::new();
            for nth in rows {
                let prefix = format!("{prefix}{nth}.");
                if posted.contains_key(&format!("{prefix}-drop")) {
                    continue;
                }
                let known = was.get(nth).cloned();
                let is_new = known.is_none();
                let mut thing = known.unwrap_or_else(|| json!({}));
                let mut mine = Faults::default();
                for one in inner {
                    take(one, &prefix, posted, &mut thing, &mut mine);
                }
                // An untouched empty row is no thing. Choices always say something.
                let said = inner.iter().any(|one| says_something(one, &prefix, posted));
                if is_new && !said {
                    continue;
                }
                mine.0
                    .iter()
                    .for_each(|(at, says)| faults.add(at, says.clone()));
                list.push(thing);
            }
            put(
                out,
                field.name,
                (!list.is_empty()).then_some(Value::Array(list)),
            );
        }
        Ask::AnyOf(_) | Ask::AnyOfThe(_) => {
            let Some(values) = posted.get(&name) else {
                return;
            };
            let list: Vec<Value> = values
                .iter()
                .filter(|text| !text.is_empty())
                .map(|text| match field.ask {
                    Ask::AnyOfThe(super::Source::States) => text
                        .parse::<u32>()
                        .map_or_else(|_| json!(text), |n| json!(n)),
                    _ => json!(text),
                })
                .collect();
            // The same things in the page's order are no change.
            let was = get(out, field.name).as_array().cloned().unwrap_or_default();
            if list.len() == was.len() && was.iter().all(|one| list.contains(one)) {
                return;
            }
            put(
                out,
                field.name,
                (!list.is_empty()).then_some(Value::Array(list)),
            );
        }
        Ask::Tick | Ask::TickedUnlessSaid => {
            let Some(values) = posted.get(&name) else {
                return;
            };
            put(
                out,
                field.name,
                Some(Value::Bool(values.iter().any(|text| text == "true"))),
            );
        }
        ask => {
            let Some(text) = posted.get(&name).and_then(|values| values.last()) else {
                return;
            };
            // A browser sends lines of text with both signs of their end.
            let text = text.replace("\r\n", "\n");
            let text = text.trim();
            if text == shown(ask, get(out, field.name)).trim() {
                return;
            }
            if text.is_empty() {
                put(out, field.name, None);
                return;
            }
            match one(ask, text) {
                Ok(value) => put(out, field.name, Some(value)),
                Err(says) => {
                    faults.add(&name, says);
                    // What can't be read is shown again as it was typed.
                    put(out, field.name, Some(json!(text)));
                }
            }
        }
    }
}

/// The numbers of the rows that a list was posted with, in order.
fn rows(posted: &Posted, prefix: &str) -> Vec<usize> {
    let mut rows: Vec<usize> = posted
        .keys()
        .filter_map(|key| key.strip_prefix(prefix)?.split('.').next()?.parse().ok())
        .filter(|nth| *nth < MOST_ROWS)
        .collect();
    rows.sort_unstable();
    rows.dedup();
    rows
}

fn says_something(field: &Field, prefix: &str, posted: &Posted) -> bool {
    let name = format!("{prefix}{}", field.name);
    let any = |test: &dyn Fn(&str) -> bool| {
        posted
            .get(&name)
            .is_some_and(|values| values.iter().any(|text| test(text.trim())))
    };
    match field.ask {
        Ask::Count => any(&|text| !matches!(text, "" | "1")),
        // The first choice is what stands there untouched.
        Ask::OneOf(list) => any(&|text| list.first().is_some_and(|(first, _)| text != *first)),
        Ask::Inside(inner) => inner
            .iter()
            .any(|one| says_something(one, &format!("{name}."), posted)),
        // An untouched row for a new thing says nothing either.
        Ask::Many(inner, _) => rows(posted, &format!("{name}.")).iter().any(|nth| {
            let row = format!("{name}.{nth}.");
            inner.iter().any(|one| says_something(one, &row, posted))
        }),
        _ => any(&|text| !text.is_empty()),
    }
}

fn get<'a>(value: &'a Value, name: &str) -> &'a Value {
    name.split('.')
        .fold(value, |value, part| value.get(part).unwrap_or(&Value::Null))
}

fn put(value: &mut Value, name: &str, new: Option<Value>) {
    let (first, rest) = name
        .split_once('.')
        .map_or((name, None), |(a, b)| (a, Some(b)));
    if !value.is_object() {
        *value = Value::Object(Map::new());
    }
    let Value::Object(map) = value else { return };
    match (rest, new) {
        (Some(rest), new) => put(map.entry(first).or_insert_with(|| json!({})), rest, new),
        (None, Some(new)) => {
            map.insert(first.to_owned(), new);
        }
        (None, None) => {
            map.remove(first);
        }
    }
}

/// A number as people write it: decimal point or comma.
fn number(text: &str) -> Result<f64, String> {
    let plain = text.trim().replace('\u{2212}', "-");
    let plain = if plain.contains('.') {
        plain
    } else {
        plain.replacen(',', ".", 1)
    };
    plain
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite())
        .ok_or_else(|| format!("`{text}` is not a number; write it as 12 or 12.5"))
}

fn whole(text: &str) -> Result<i64, String> {
    text.trim()
        .parse()
        .map_err(|_| format!("`{text}` is not a whole number"))
}

/// Splits `a–b` at any dash, or at `to`.
fn ends(text: &str) -> (&str, &str) {
    ["–", "—", " to ", "-"]
        .iter()
        .find_map(|dash| text.split_once(dash))
        .map_or((text.trim(), text.trim()), |(a, b)| (a.trim(), b.trim()))
}

fn items(text: &str) -> impl Iterator<Item = &str> {
    text.split([',', ';', '\n'])
        .map(str::trim)
        .filter(|part| !part.is_empty())
}

fn time(text: &str) -> Result<Value, String> {
    let at: SongTime = text.parse()?;
    Ok(json!(at))
}

fn stretch(text: &str) -> Result<Value, String> {
    let (from, to) = ends(text);
    if from == to {
        return Err(format!(
            "`{text}` is no stretch of the song; write from and to, such as 0:12.5–0:20"
        ));
    }
    Ok(Value::Array(vec![time(from)?, time(to)?]))
}

fn one(ask: Ask, text: &str) -> Result<Value, String> {
    let numbers = |text: &str| -> Result<Vec<f64>, String> {
        text.split([' ', ';', '×', 'x', '\t'])
            .flat_map(|part| {
                if part.matches(',').count() == 1 && !part.ends_with(',') {
                    vec![part]
                } else {
                    part.split(',').collect()
                }
            })
            .map(str::trim)
            .filter(|part| !part.is_empty())
            .map(number)
            .collect()
    };
    match ask {
        Ask::Number => number(text).map(tidy),
        Ask::Whole | Ask::Count => whole(text).map(|n| json!(n)),
        Ask::Money => {
            let amount = number(&text.replace([' ', '\u{a0}'], ""))?;
            Ok(json!((amount * 100.0).round() as i64))
        }
        Ask::Maybe => Ok(Value::Bool(text == "true")),
        Ask::Of(super::Source::States) | Ask::FirstOf(super::Source::States) => {
            whole(text).map(|n| json!(n))
        }
        Ask::Clock => text.parse::<ClockTime>().map(|at| json!(at)),
        Ask::Hours => items(text)
            .map(|part| {
                let (from, to) = ends(part);
                let clock = |text: &str| text.parse::<ClockTime>();
                let (from, mut to) = (clock(from)?, clock(to)?);
                // 22:00–02:00 counts on past midnight.
                if to < from {
                    to = to.later(24 * 60);
                }
                Ok(json!([from, to]))
            })
            .collect::<Result<Vec<_>, String>>()
            .map(Value::Array),
        Ask::Bars => items(text)
            .map(|part| {
                let (from, to) = ends(part);
                Ok(json!([whole(from)?, whole(to)?]))
            })
            .collect::<Result<Vec<_>, String>>()
            .map(Value::Array),
        Ask::Stretches => items(text).map(stretch).collect::<Result<Vec<_>, String>>().map(Value::Array),
        Ask::Stretch => stretch(text),
        Ask::Two => {
            let both = if text.matches(',').count() == 1 && !text.contains([' ', 'x', '×']) || text.contains(", ") {
                text.split(',').map(number).collect::<Result<Vec<_>, _>>()?
            } else {
                numbers(text)?
            };
            match both.as_slice() {
                [a, b] => Ok(Value::Array(vec![tidy(*a), tidy(*b)])),
                _ => Err(format!("`{text}` is not two numbers; write them with a comma and a space between")),
            }
        }
        Ask::Pairs => items(text)
            .map(|part| match numbers(part)?.as_slice() {
                [a, b] => Ok(Value::Array(vec![tidy(*a), tidy(*b)])),
                _ => Err(format!("`{part}` is not a pair of numbers; write two with a space between, pairs with commas")),
            })
            .collect::<Result<Vec<_>, String>>()
            .map(Value::Array),
        Ask::Numbers => items(text).map(|part| number(part).map(tidy)).collect::<Result<Vec<_>, _>>().map(Value::Array),
        Ask::Words => Ok(items(text).map(|part| json!(part)).collect()),
        Ask::Lines => Ok(text.lines().map(str::trim).filter(|line| !line.is_empty()).map(|line| json!(line)).collect()),
        _ => Ok(json!(text)),
    }
}

/// A number without a needless fraction, as whole fields want it.
fn tidy(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 9e15 {
        json!(value as i64)
    } else {
        json!(value)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{DAY, SETUP};
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
            SETUP,
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
            SETUP,
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
        let faults = read::<Setup>(SETUP, &posted(&[("optics.focal_mm", "35")]), &setup())
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
        let made: Setup = read(SETUP, &form, &was).expect("read");
        assert_eq!(made.lights.len(), 1);
        assert_eq!(made.lights[0].distance_m, 2.5);
        assert_eq!(made.lights[0].extra["kept"], json!(1));
    }

    #[test]
    fn ticks_can_be_taken_away() {
        let mut was = setup();
        was["must"] = json!(true);
        let made: Setup = read(SETUP, &posted(&[("must", "")]), &was).expect("read");
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
        let made: model::KitItem = read(super::super::KIT, &form, &was).expect("read");
        assert!(made.battery.is_none());
        assert!(made.camera.is_some());
        let half = posted(&[("battery.wh", ""), ("battery.chemistry", "lead-acid")]);
        let faults =
            read::<model::KitItem>(super::super::KIT, &half, &was).expect_err("half a battery");
        assert_eq!(faults.at("battery.wh"), Some("this is needed"));
    }

    #[test]
    fn night_hours_count_on() {
        let was = json!({"id": "d", "date": "2026-11-13", "call": "16:00"});
        let made: Day = read(DAY, &posted(&[("latest_wrap", "26:30")]), &was).expect("read");
        assert_eq!(
            made.latest_wrap.map(|at| at.to_string()).as_deref(),
            Some("26:30")
        );
        let hours = one(Ask::Hours, "22:00-02:00").expect("hours");
        assert_eq!(hours, json!([["22:00", "26:00"]]));
    }

    #[test]
    fn two_numbers_are_read_however_they_are_typed() {
        for text in ["41.14, -8.61", "41.14 -8.61", "41.14,-8.61"] {
            assert_eq!(one(Ask::Two, text), Ok(json!([41.14, -8.61])), "{text}");
        }
        assert_eq!(one(Ask::Two, "1920x1080"), Ok(json!([1920, 1080])));
        assert!(one(Ask::Two, "41").is_err());
    }
}
