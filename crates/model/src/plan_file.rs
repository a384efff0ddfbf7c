//! The plan as one TOML file: to be typed, kept under version control, or sent.
//!
//! [`export`] writes every top-level field, so that a plan read back into any project says the
//! same again; [`import`] reads a file in which only some fields may stand, and says which. A
//! mistake is answered with its line, its field, and what would be right. Unknown fields are a
//! typing mistake unless the file says it was written by a newer version (`format`), in which case
//! they are kept.

use crate::describe::{Noun, Part, Shape};
use crate::edit::Edit;
use crate::project::{Document, FORMAT, Project};
use crate::upgrade::upgrade;
use crate::validate::{At, Problem, described, problems};
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::fmt::Write as _;
use toml::de::{DeTable, DeValue};

/// The largest plan file read, in bytes.
pub const MAX_BYTES: usize = 16 * 1024 * 1024;

/// A plan as read: what it says, and which top-level fields it says it of.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The document the file describes, defaults where it is silent.
    pub project: Project,
    /// The top-level fields that stand in the file.
    pub fields: Vec<String>,
}

impl Plan {
    /// The edit that takes this plan into a document.
    pub fn edit(self) -> Edit {
        Edit::ImportPlan {
            plan: Box::new(self.project),
            fields: self.fields,
        }
    }
}

/// What is wrong with a plan file, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Line, counted from 1; 0 when it concerns the whole file.
    pub line: usize,
    /// Field, such as `setups[2].passes`; empty when it concerns no field.
    pub field: String,
    /// What is wrong and what would be right.
    pub says: String,
}

impl Fault {
    /// Of the whole file.
    fn whole(says: String) -> Self {
        Self {
            line: 0,
            field: String::new(),
            says,
        }
    }
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.line > 0 {
            write!(f, "line {}: ", self.line)?;
        }
        if !self.field.is_empty() && !self.says.contains(&format!("`{}`", self.field)) {
            write!(f, "`{}`: ", self.field)?;
        }
        f.write_str(&self.says)
    }
}

impl std::error::Error for Fault {}

/// The ending of a key whose value TOML has no form for; the value is JSON in a string.
const AS_JSON: &str = ":json";

/// The whole document as a plan file.
pub fn export(project: &Project) -> String {
    let mut head = String::from(
        "# A Barebulb plan. Times are \"minutes:seconds\"; a bare whole number counts 1/705600000 s.\n# What is left out of this file stays as it is when it is read into a project.\n\n",
    );
    let mut value = match serde_json::to_value(project) {
        Ok(Value::Object(map)) => map,
        _ => Map::new(),
    };
    // An empty list says "none", where a list left out would say "as it is".
    let mut ordered = Map::new();
    for field in Project::NOUN.fields {
        let empty = match field.shape {
            Shape::List(_) => Value::Array(Vec::new()),
            Shape::Inside(_) => Value::Object(Map::new()),
            _ => Value::String(String::new()),
        };
        match value.shift_remove(field.name) {
            Some(found) => ordered.insert(field.name.to_owned(), found),
            None if field.optional => None,
            None => ordered.insert(field.name.to_owned(), empty),
        };
    }
    ordered.extend(value);
    let ordered = without_nulls(ordered);
    match toml::to_string(&ordered) {
        Ok(text) => head.push_str(&text),
        // Every value was brought into a form TOML has; this can't be reached by a document.
        Err(error) => {
            let _ = writeln!(head, "# could not be written: {error}");
        }
    }
    head
}

/// Reads a plan file that stands for itself.
///
/// # Errors
/// The first [`Fault`] met.
pub fn import(text: &str) -> Result<Plan, Fault> {
    import_onto(text, &Project::default())
}

/// Reads a plan file that is to be taken into `onto`: what it leaves out stays as it is there, so
/// its setups may name kit and places that only `onto` has.
///
/// # Errors
/// The first [`Fault`] met; what is wrong with `onto` already is none of the file's.
pub fn import_onto(text: &str, onto: &Project) -> Result<Plan, Fault> {
    let (source, mut map) = Source::parsed(text)?;
    let fields: Vec<String> = map.keys().filter(|key| *key != "format").cloned().collect();
    upgrade(&mut map, &onto.people);
    map.entry("format").or_insert(FORMAT.into());
    let project: Project = source.typed(Value::Object(map), |project: &Project| {
        project.format > FORMAT
    })?;
    let before = problems(onto);
    let after = crate::edit::imported(onto, &project, &fields).map_err(Fault::whole)?;
    let fresh = problems(&after).into_iter().find(|p| !before.contains(p));
    source.held(fresh)?;
    Ok(Plan { project, fields })
}

/// Reads any document from a file like a plan file.
///
/// # Errors
/// The first [`Fault`] met.
pub fn document<D: Document + Part + DeserializeOwned>(text: &str) -> Result<D, Fault> {
    let (source, map) = Source::parsed(text)?;
    let document: D = source.typed(Value::Object(map), |_| false)?;
    source.held(described(&document).into_iter().next())?;
    Ok(document)
}

/// A file's text, and where each field stands in it.
struct Source<'a> {
    text: &'a str,
    table: DeTable<'a>,
}

impl<'a> Source<'a> {
    fn parsed(text: &'a str) -> Result<(Self, Map<String, Value>), Fault> {
        if text.len() > MAX_BYTES {
            let size = text.len();
            let says = format!("a plan of {size} bytes is too large; at most {MAX_BYTES}");
            return Err(Fault::whole(says));
        }
        let fault = |span: Option<std::ops::Range<usize>>, says: String| Fault {
            line: span.map_or(0, |span| line_at(text, span.start)),
            field: String::new(),
            says,
        };
        let table = DeTable::parse(text)
            .map_err(|error| fault(error.span(), plainer(error.message())))?
            .into_inner();
        let source = Self { text, table };
        let read = toml::Deserializer::parse(text)
            .map_err(|error| Fault::whole(one_line(error.message())))?;
        let mut value: Value = serde::Deserialize::deserialize(read)
            .map_err(|error: toml::de::Error| fault(error.span(), one_line(error.message())))?;
        // TOML has no null: what became one was `nan` or `inf`.
        if let Some(field) = null_in(&value, &At::ROOT) {
            return Err(source.fault(
                field,
                "is no number; write one, or take the line out".into(),
            ));
        }
        from_json_keys(&mut value).map_err(|(field, says)| source.fault(field, says))?;
        match value {
            Value::Object(map) => Ok((source, map)),
            _ => Err(Fault::whole("a plan is a table of fields".into())),
        }
    }

    fn fault(&self, field: String, says: String) -> Fault {
        Fault {
            line: line_of(self.text, &self.table, &field),
            field,
            says,
        }
    }

    /// `value` as what it should be. Fields that are not known are a mistake, unless it is `newer`.
    fn typed<D: Document + DeserializeOwned>(
        &self,
        value: Value,
        newer: impl Fn(&D) -> bool,
    ) -> Result<D, Fault> {
        let read: D = serde_path_to_error::deserialize(&value).map_err(|error| {
            let field = field_path(error.path());
            self.fault(field, plainer(&error.inner().to_string()))
        })?;
        let mut unknown = Vec::new();
        if !newer(&read) {
            unknown_fields(read.noun(), &value, &At::ROOT, &mut unknown);
        }
        match unknown.into_iter().next() {
            Some((field, says)) => Err(self.fault(field, says)),
            None => Ok(read),
        }
    }

    /// No problem, or the fault it is in the file.
    fn held(&self, problem: Option<Problem>) -> Result<(), Fault> {
        problem.map_or(Ok(()), |problem| {
            Err(self.fault(problem.field, problem.says))
        })
    }
}

/// Where a null stands in `value`.
fn null_in(value: &Value, at: &At) -> Option<String> {
    match value {
        Value::Null => Some(at.to_string()),
        Value::Array(items) => items
            .iter()
            .enumerate()
            .find_map(|(index, item)| null_in(item, &at.item(index))),
        Value::Object(map) => map
            .iter()
            .find_map(|(name, inner)| null_in(inner, &at.field(name))),
        _ => None,
    }
}

/// Puts values TOML has no form for (null, whole numbers beyond 64 bits) into strings of JSON.
fn without_nulls(map: Map<String, Value>) -> Map<String, Value> {
    map.into_iter()
        .map(|(key, value)| {
            if has_no_toml_form(&value) {
                match value {
                    Value::Object(inner) => (key, Value::Object(without_nulls(inner))),
                    Value::Array(items) if items.iter().all(Value::is_object) => {
                        let items = items.into_iter().map(|item| match item {
                            Value::Object(inner) => Value::Object(without_nulls(inner)),
                            other => other,
                        });
                        (key, Value::Array(items.collect()))
                    }
                    other => (format!("{key}{AS_JSON}"), Value::String(other.to_string())),
                }
            } else {
                (key, value)
            }
        })
        .collect()
}

fn has_no_toml_form(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Number(number) => number.is_u64() && number.as_i64().is_none(),
        Value::Array(items) => items.iter().any(has_no_toml_form),
        Value::Object(map) => map
            .iter()
            .any(|(key, value)| key.ends_with(AS_JSON) || has_no_toml_form(value)),
        Value::Bool(_) | Value::String(_) => false,
    }
}

/// The way back from [`without_nulls`].
fn from_json_keys(value: &mut Value) -> Result<(), (String, String)> {
    match value {
        Value::Array(items) => items.iter_mut().try_for_each(from_json_keys),
        Value::Object(map) => {
            let encoded: Vec<String> = map
                .keys()
                .filter(|key| key.ends_with(AS_JSON))
                .cloned()
                .collect();
            for key in encoded {
                let inner = map.shift_remove(&key).and_then(|value| {
                    value
                        .as_str()
                        .and_then(|text| serde_json::from_str(text).ok())
                });
                let inner = inner
                    .ok_or_else(|| (key.clone(), format!("`{key}` should be a string of JSON")))?;
                map.insert(key[..key.len() - AS_JSON.len()].to_owned(), inner);
            }
            map.values_mut().try_for_each(from_json_keys)
        }
        _ => Ok(()),
    }
}

/// Fields of `noun` and of what is inside it that this version does not know, each with a sentence.
fn unknown_fields(noun: &Noun, value: &Value, at: &At<'_>, out: &mut Vec<(String, String)>) {
    for (key, inner) in value.as_object().into_iter().flatten() {
        let here = at.field(key);
        match noun.field(key) {
            Some(field) => unknown_inside(&field.shape, inner, &here, out),
            None => {
                let meant = meant(key, &noun.names());
                let says = format!("there is no field `{key}` here; {meant}");
                out.push((here.to_string(), says));
            }
        }
    }
}

fn unknown_inside(shape: &Shape, value: &Value, at: &At<'_>, out: &mut Vec<(String, String)>) {
    match shape {
        Shape::Inside(noun) => unknown_fields(noun, value, at, out),
        Shape::List(one) => {
            let items = value.as_array().into_iter().flatten();
            items
                .enumerate()
                .for_each(|(index, item)| unknown_inside(one, item, &at.item(index), out));
        }
        _ => {}
    }
}

/// "did you mean …", or the list of what there is.
pub(crate) fn meant(key: &str, known: &[&str]) -> String {
    match nearest(key, known) {
        Some(name) => format!("did you mean `{name}`?"),
        None => format!(
            "known are {}",
            known
                .iter()
                .map(|name| format!("`{name}`"))
                .collect::<Vec<_>>()
                .join(", ")
        ),
    }
}

/// The one of `known` that `key` may have been meant for.
pub fn nearest<'a>(key: &str, known: &[&'a str]) -> Option<&'a str> {
    known
        .iter()
        .map(|name| {
            let likeness = strsim::normalized_damerau_levenshtein(key, name);
            // `fee` for `fee_minor`.
            let begun = name
                .strip_prefix(key)
                .is_some_and(|rest| rest.starts_with('_'));
            (likeness.max(if begun { 0.9 } else { 0.0 }), *name)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.55)
        .map(|(_, name)| name)
}

/// `setups[2].passes` from a deserialiser's path.
fn field_path(path: &serde_path_to_error::Path) -> String {
    let text = path.to_string();
    if text == "." { String::new() } else { text }
}

/// serde's words for a person: what is wanted here, and what stands here instead.
pub(crate) fn plainer(text: &str) -> String {
    let text = shortened(&one_line(text.split(" at line ").next().unwrap_or(text)));
    let kinds = |text: &str| {
        let text = text
            .strip_prefix("struct ")
            .map_or(text, |_| "a table of fields");
        text.replace("floating point", "the number")
            .replace("integer", "the whole number")
            .replace("string", "the text")
            .replace("boolean", "")
            .replace("a the", "a")
            .replace("sequence", "a list")
            .replace("f64", "a number")
            .replace("u32", "a whole number")
            .replace("i64", "a whole number")
            .replace("null", "nothing or NaN")
            .replace("map", "a table")
            .trim()
            .to_owned()
    };
    for start in ["invalid type: ", "invalid value: "] {
        if let Some((met, wanted)) = text
            .strip_prefix(start)
            .and_then(|rest| rest.split_once(", expected "))
        {
            return format!("{} is wanted here, not {}", kinds(wanted), kinds(met));
        }
    }
    text.replace("unknown variant", "there is no")
        .replace(", expected one of", "; there are")
        .replace("JSON number out of range", "a number here is too large")
}

/// A sentence with the middle of it left out, where somebody's text in it would make it endless.
fn shortened(text: &str) -> String {
    const ENDS: usize = 160;
    let long = text.chars().count();
    if long <= 2 * ENDS {
        return text.to_owned();
    }
    let first: String = text.chars().take(ENDS).collect();
    let last: String = text.chars().skip(long - ENDS).collect();
    format!("{first}…{last}")
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn line_at(text: &str, byte: usize) -> usize {
    text.as_bytes()[..byte.min(text.len())]
        .iter()
        .filter(|b| **b == b'\n')
        .count()
        + 1
}

/// The line of `field` (`setups[2].passes`), or of the nearest noun around it that stands in the file.
fn line_of(text: &str, table: &DeTable<'_>, field: &str) -> usize {
    let mut at = 0;
    let mut here: Option<&DeValue<'_>> = None;
    for (depth, step) in field.split('.').enumerate() {
        let (key, indices) = step
            .split_once('[')
            .map_or((step, ""), |(key, rest)| (key, rest));
        let inside = if depth == 0 {
            Some(table)
        } else {
            here.and_then(DeValue::as_table)
        };
        let found = inside.and_then(|table| {
            table
                .iter()
                .find(|(name, _)| name.get_ref().as_ref() == key)
        });
        let Some((name, value)) = found else { break };
        at = line_at(text, name.span().start);
        here = Some(value.get_ref());
        for index in indices
            .split('[')
            .filter_map(|part| part.trim_end_matches(']').parse::<usize>().ok())
        {
            let Some(item) = here
                .and_then(DeValue::as_array)
                .and_then(|items| items.get(index))
            else {
                break;
            };
            at = line_at(text, item.span().start);
            here = Some(item.get_ref());
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn fault(text: &str) -> String {
        import(text).unwrap_err().to_string()
    }

    #[test]
    fn a_typed_plan_is_read() {
        let plan = import(
            "title = \"Night\"\n[brief]\nrate = 25\nframe = [1280, 720]\n[[setups]]\nid = \"wide\"\nsections = [\"B\"]\nstretches = [[\"0:10\", \"0:20.5\"]]\n",
        )
        .unwrap();
        assert_eq!(plan.fields, ["brief", "setups", "title"]);
        assert_eq!(plan.project.setups[0].stretches[0].length().seconds(), 10.5);
        assert_eq!(plan.project.setups[0].passes, 1);
    }

    #[test]
    fn what_is_no_number_is_not_left_out_in_silence() {
        for (text, says) in [
            (
                "[[kit]]\nid = \"a\"\nweight_kg = nan\n",
                "line 3: `kit[0].weight_kg`: is no number",
            ),
            (
                "[[kit]]\nid = \"a\"\nweight_kg = -inf\n",
                "line 3: `kit[0].weight_kg`: is no number",
            ),
            (
                "later = [[1.0, nan]]\n",
                "line 1: `later[0][1]`: is no number",
            ),
        ] {
            assert!(fault(text).starts_with(says), "{}", fault(text));
        }
    }

    #[test]
    fn what_could_not_be_read_again_is_not_taken_in() {
        let nested = |depth: usize| {
            format!(
                "format = 99\nlater = {}1{}\n",
                "[".repeat(depth),
                "]".repeat(depth)
            )
        };
        assert!(import(&nested(16)).is_ok());
        for depth in [17, 79] {
            let says = fault(&nested(depth));
            assert!(says.contains("nested deeper than 16"), "{says}");
        }
    }

    #[test]
    fn mistakes_are_answered_with_line_field_and_what_is_right() {
        assert_eq!(
            fault("title = \"x\"\n[[setups]]\nid = \"a\"\npases = 3\n"),
            "line 4: `setups[0].pases`: there is no field `pases` here; did you mean `passes`?"
        );
        assert_eq!(
            fault("[[setups]]\nid = \"a\"\npasses = 1000000000\n"),
            "line 3: `setups[0].passes`: 1000000000 is out of range; 1 to 200"
        );
        assert_eq!(
            fault("[[setups]]\nid = \"a\"\n[[setups]]\nid = \"a\"\n"),
            "line 4: `setups[1].id`: the id `a` is used twice in setups; give one of them another"
        );
        assert_eq!(
            fault("[[ideas]]\nid = \"a b\"\ntext = \"\"\n"),
            "line 2: `ideas[0].id`: `a b` can't be an id; use letters, digits, `-`, `_` and `.`, at most 64 of them"
        );
        assert_eq!(
            fault("[brief]\nrate = 0\nframe = [2,2]\n"),
            "line 2: `brief.rate`: 0 is not a picture rate; it lies between 1 and 1000"
        );
        assert_eq!(
            fault("[[setups]]\nid = \"a\"\nstretches = [[\"-0:05\", \"0:01\"]]\n"),
            "line 3: `setups[0].stretches[0]`: a stretch can't start before the song"
        );
        assert_eq!(
            fault("[practice]\nbattery_reserve = 0.1\ntripkg = 3\n"),
            "line 3: `practice.tripkg`: there is no field `tripkg` here; did you mean `trip_kg`?"
        );
        assert_eq!(
            fault("[practice]\nbattery_reserve = 20\n"),
            "line 2: `practice.battery_reserve`: 20 is out of range; 0 to 0.95, as a share (1 is all)"
        );
        assert_eq!(
            fault("[practice]\nwind_weigh_m_s = 9\nwind_lower_m_s = 8\n"),
            "line 2: `practice.wind_weigh_m_s`: `wind_weigh_m_s` (9) should lie below `wind_lower_m_s` (8)"
        );
        assert_eq!(
            fault("title = \n"),
            "line 1: string values must be quoted, expected literal string"
        );
        assert_eq!(
            fault("title = \"a\"\ntitle = \"b\"\n"),
            "line 2: duplicate key"
        );
        assert!(
            fault("[[setups]]\nid = \"a\"\npurpose = \"dance\"\n")
                .starts_with("line 3: `setups[0].purpose`: there is no `dance`, expected")
        );
        let sections = "[song]\nlength = \"1:00\"\nfile = { path = \"s.wav\", hash = \"00000000000000000000000000000000\", bytes = 1 }\n[song.corrections]\nsections = [\n  { label = \"A\", at = [\"0:00\", \"0:30\"] },\n  { label = \"B\", at = [\"0:20\", \"1:00\"] },\n]\n";
        assert_eq!(
            fault(sections),
            "line 7: `song.corrections.sections[1].at`: section B starts at 0:20.000 before section A ends at 0:30.000; sections can't overlap"
        );
    }

    #[test]
    fn a_newer_plan_keeps_what_is_not_known() {
        let text = "format = 7\nmoonlight = 3\n[brief]\nrate = 25\nframe = [16, 16]\n\"mood:json\" = \"[null]\"\n";
        let plan = import(text).unwrap();
        assert_eq!(plan.project.extra["moonlight"], 3);
        assert_eq!(plan.project.brief.extra["mood"], serde_json::json!([null]));
        let again = import(&export(&plan.project)).unwrap();
        assert_eq!(again.project, plan.project);
    }

    #[test]
    fn a_part_of_a_plan_is_read_onto_what_is_there() {
        let there =
            import("[[kit]]\nid = \"lamp\"\nlight = { candela = 900, full_w = 60 }\n").unwrap();
        let setups = "[[setups]]\nid = \"a\"\nlights = [{ light = \"lamp\", distance_m = 2 }]\n";
        let says = fault(setups);
        assert_eq!(
            says,
            "line 3: `setups[0].lights[0].light`: there is no `lamp` in `kit`"
        );
        let plan = import_onto(setups, &there.project).unwrap();
        assert_eq!(plan.fields, ["setups"]);
        let after = plan.edit().apply(&there.project).unwrap();
        assert_eq!((after.kit.len(), after.setups.len()), (1, 1));
        // The other way round: kit that setups need can't be read away.
        let says = import_onto("kit = []\n", &after).unwrap_err().to_string();
        assert!(says.contains("there is no `lamp` in `kit`"), "{says}");
    }

    fn text() -> impl Strategy<Value = String> {
        prop_oneof!["[ -~]{0,12}", "\\PC{0,8}", Just("\"'\\\n\t#=[]".to_owned())]
    }

    prop_compose! {
        fn setup()(id in "[a-z]{1,6}", name in text(), passes in 1u32..200, start in 0i64..1_000_000_000_000, long in 1i64..1_000_000_000_000, sections in prop::collection::vec(text(), 0..3), shot in prop::option::of(1u32..240)) -> Value {
            serde_json::json!({"id": id, "name": name, "passes": passes, "sections": sections, "stretches": [[start, start + long]], "shot_rate": shot.map(|fps| fps.to_string())})
        }
    }

    prop_compose! {
        fn project()(title in text(), setups in prop::collection::vec(setup(), 0..5), idea in "[a-z]{1,9}", weight in 0.0f64..100.0, fee in prop::option::of(0i64..1_000_000), newer in any::<bool>()) -> Project {
            let mut json = serde_json::json!({"format": FORMAT, "title": title, "weights": {"voice": weight}, "ideas": [{"id": "i", "text": idea}], "brief": {"rate": "30000/1001", "frame": [1920, 1080], "fee_minor": fee}});
            let mut seen = std::collections::HashSet::new();
            let setups: Vec<Value> = setups.into_iter().filter(|setup| seen.insert(setup["id"].to_string())).collect();
            json["setups"] = setups.into();
            json["kit"] = serde_json::json!([
                {"id": "lamp", "sort": "light", "cost_minor": fee, "light": {"candela": weight + 1.0, "full_w": 60.0}},
                {"id": "cell", "name": title, "battery": {"wh": 99.5, "chemistry": "lithium-iron-phosphate"}},
            ]);
            json["places"] = serde_json::json!([{"id": "quay", "name": title, "access": [["20:00", "26:30"]], "horizon_deg": [[90.0, weight / 2.0]], "hazards": [{"danger": "water", "water_c": 11.5}]}]);
            json["days"] = serde_json::json!([{"id": "night", "date": "2026-10-03", "call": "16:00", "air_c": weight / 4.0}]);
            json["practice"] = serde_json::json!({"trips": 4, "trip_kg": weight + 1.0});
            if newer {
                json["format"] = 5.into();
                json["later"] = serde_json::json!({"a": null, "b": [1.5, {"c": u64::MAX}]});
            }
            serde_json::from_value(json).unwrap()
        }
    }

    proptest! {
        #[test]
        fn a_plan_comes_back_exactly(project in project()) {
            let written = export(&project);
            let plan = import(&written).map_err(|fault| TestCaseError::fail(format!("{fault}\n{written}")))?;
            prop_assert_eq!(&plan.project, &project);
            // … also on top of a project that says something else everywhere.
            let other = Project { title: "other".into(), states: vec!["clean".into()], ..Project::default() };
            let after = plan.edit().apply(&other).unwrap();
            prop_assert_eq!(export(&after), written);
        }

        #[test]
        fn any_text_is_read_or_refused(text in "\\PC{0,200}") {
            let _ = import(&text);
        }

        #[test]
        fn a_damaged_plan_is_read_or_refused(project in project(), cut in 0usize..2000, with in "[\\[\\]=\"0-9.a-z\n-]{0,6}") {
            let mut text = export(&project);
            let mut at = cut.min(text.len());
            while !text.is_char_boundary(at) { at -= 1; }
            let end = (at + with.len()).min(text.len());
            if text.is_char_boundary(end) {
                text.replace_range(at..end, &with);
            }
            if let Err(fault) = import(&text) {
                prop_assert!(!fault.says.is_empty() && !fault.says.contains('\n'));
            }
        }
    }
}
