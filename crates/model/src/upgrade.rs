//! Older forms of the document, brought to the form of today before they are read.

use crate::ids::is_id;
use crate::plan::Person;
use serde_json::{Map, Value};
use std::collections::HashSet;

/// Brings a document, or the part of one that a plan file holds, to the form of today. `people` are those
/// of the project a plan file is taken into, whom its setups may name.
pub fn upgrade(document: &mut Map<String, Value>, people: &[Person]) {
    people_and_wishes_get_ids(document, people);
    yes_and_no_are_no_numbers(document);
}

/// Form 2 knew people by their names and wishes by their place in the list. A plan that is typed may still
/// leave their ids out.
fn people_and_wishes_get_ids(document: &mut Map<String, Value>, there: &[Person]) {
    give_ids(document.get_mut("wishes"), "section", "wish");
    give_ids(document.get_mut("people"), "name", "person");
    let mut named: Vec<(String, String)> = there
        .iter()
        .map(|person| (person.name.clone(), person.id.to_string()))
        .collect();
    let text = |value: &Value, field: &str| value[field].as_str().map(str::to_owned);
    let listed = document.get("people").and_then(Value::as_array);
    for person in listed.into_iter().flatten() {
        named.extend(text(person, "name").zip(text(person, "id")));
    }
    // Somebody whom only a setup named becomes one of the people. A plan file alone can't say who is there.
    let is_whole = document.contains_key("format");
    let mut new = Vec::new();
    let setups = document.get_mut("setups").and_then(Value::as_array_mut);
    let named_by_setups = setups
        .into_iter()
        .flatten()
        .filter_map(|setup| setup.get_mut("people")?.as_array_mut())
        .flatten();
    for who in named_by_setups {
        let Some(said) = who.as_str().map(str::to_owned) else {
            continue;
        };
        if named.iter().any(|(_, id)| *id == said) {
            continue;
        }
        let id = match named.iter().find(|(name, _)| *name == said) {
            Some((_, id)) => id.clone(),
            None if !is_whole && is_id(&said) => continue,
            None => {
                let id = free(&slug(&said, "person"), |id| {
                    named.iter().any(|(_, known)| known == id)
                });
                if is_whole {
                    new.push(serde_json::json!({ "id": id, "name": said }));
                }
                named.push((said, id.clone()));
                id
            }
        };
        *who = Value::String(id);
    }
    if !new.is_empty()
        && let Some(people) = document
            .entry("people")
            .or_insert_with(|| Value::Array(Vec::new()))
            .as_array_mut()
    {
        people.extend(new);
    }
}

fn give_ids(list: Option<&mut Value>, from: &str, kind: &str) {
    let Some(list) = list.and_then(Value::as_array_mut) else {
        return;
    };
    let mut taken: HashSet<String> = list
        .iter()
        .filter_map(|one| one.get("id")?.as_str().map(str::to_owned))
        .collect();
    for one in list.iter_mut().filter_map(Value::as_object_mut) {
        if one.contains_key("id") {
            continue;
        }
        let said = one.get(from).and_then(Value::as_str).unwrap_or_default();
        let id = free(&slug(said, kind), |id| taken.contains(id));
        taken.insert(id.clone());
        one.shift_insert(0, "id".into(), Value::String(id));
    }
}

/// Form 2 wrote yes and no of the practice as 1 and 0.
fn yes_and_no_are_no_numbers(document: &mut Map<String, Value>) {
    let practice = document.get_mut("practice").and_then(Value::as_object_mut);
    for (name, value) in practice.into_iter().flatten() {
        if matches!(name.as_str(), "lights_between_passes" | "mains_first")
            && let Some(number) = value.as_f64()
        {
            *value = Value::Bool(number != 0.0);
        }
    }
}

/// `text` as an id: small letters and digits with dashes; `word` when nothing is left.
pub fn slug(text: &str, word: &str) -> String {
    let mut out = String::new();
    for letter in text.to_lowercase().chars() {
        if letter.is_alphanumeric() {
            out.push(letter);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
        if out.chars().count() >= 32 {
            break;
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() { word } else { out }.to_owned()
}

/// `stem`, or, where it is taken, `stem` with the lowest free number from 2 on.
pub fn free(stem: &str, taken: impl Fn(&str) -> bool) -> String {
    if !taken(stem) {
        return stem.to_owned();
    }
    let stem: String = stem.chars().take(crate::ids::MAX_ID - 8).collect();
    (2u64..)
        .map(|number| format!("{stem}-{number}"))
        .find(|id| !taken(id))
        .unwrap_or(stem)
}
