//! The document's own form: small functions, each from one format to the next, over plain JSON.
//!
//! Revisions are never rewritten: an old one is brought up each time it is read, so that undo
//! reaches back past an update of the program. A format newer than ours is left as it is; its
//! unknown fields ride along in the document's `extra` maps.

use serde_json::{Map, Value, json};

/// Step `n` leads from format `n` to `n + 1`.
const STEPS: [fn(&mut Map<String, Value>); 3] = [from_0_to_1, from_1_to_2, from_2_to_3];

/// Brings `document` to [`model::FORMAT`]. What can't be understood is left for the reader of the
/// document to complain about, with the place named.
pub(crate) fn bring_up(document: &mut Value) {
    let Some(fields) = document.as_object_mut() else {
        return;
    };
    // The earliest form had no number.
    let format = match fields.get("format") {
        None => 0,
        Some(number) => match number.as_u64() {
            Some(number) => number,
            None => return,
        },
    };
    for (from, step) in (0u32..).zip(STEPS) {
        if u64::from(from) >= format {
            step(fields);
            fields.insert("format".into(), json!(from + 1));
        }
    }
}

/// Whether `document` says that a later version than this one wrote it.
pub(crate) fn is_newer(document: &Value) -> bool {
    document
        .get("format")
        .and_then(Value::as_u64)
        .is_some_and(|format| format > u64::from(model::FORMAT))
}

/// Format 0 kept the brief's picture rate as a decimal `fps`, and an idea was its words alone.
fn from_0_to_1(fields: &mut Map<String, Value>) {
    if let Some(brief) = fields.get_mut("brief").and_then(Value::as_object_mut)
        && let Some(fps) = brief.remove("fps")
    {
        let rate = fps
            .as_f64()
            .and_then(model::FrameRate::from_decimal)
            .map_or(fps, |rate| json!(rate.to_string()));
        brief.entry("rate").or_insert(rate);
    }
    if let Some(ideas) = fields.get_mut("ideas").and_then(Value::as_array_mut) {
        for (index, idea) in ideas.iter_mut().enumerate() {
            if let Value::String(text) = idea {
                *idea = json!({ "id": format!("idea-{}", index + 1), "text": text });
            }
        }
    }
}

/// Format 2 added the kit, the days, and what places and setups say of them; nothing old changed.
fn from_1_to_2(_fields: &mut Map<String, Value>) {}

/// Format 3 knows people and wishes by ids. A plan file is brought up the same way.
fn from_2_to_3(fields: &mut Map<String, Value>) {
    model::upgrade::upgrade(fields, &[]);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_is_a_step_up_to_the_format_we_write() {
        assert_eq!(STEPS.len(), model::FORMAT as usize);
    }

    #[test]
    fn the_earliest_form_is_brought_up() {
        let mut document = json!({
            "title": "Paper Weather",
            "brief": { "fps": 23.976, "frame": [1920, 1080], "mood": "wet" },
            "ideas": ["steam on the glass", "hands in the drum"],
        });
        bring_up(&mut document);
        assert_eq!(
            document,
            json!({
                "title": "Paper Weather",
                "brief": { "frame": [1920, 1080], "mood": "wet", "rate": "24000/1001" },
                "ideas": [
                    { "id": "idea-1", "text": "steam on the glass" },
                    { "id": "idea-2", "text": "hands in the drum" },
                ],
                "format": model::FORMAT,
            })
        );
        let once = document.clone();
        bring_up(&mut document);
        assert_eq!(document, once);
    }

    #[test]
    fn what_is_newer_or_no_document_is_left_alone() {
        for document in [
            json!({ "format": 9, "brief": { "fps": 25 } }),
            json!({ "format": "x", "brief": { "fps": 25 } }),
            json!([1, 2]),
            json!(null),
        ] {
            let mut after = document.clone();
            bring_up(&mut after);
            assert_eq!(after, document);
        }
        assert!(is_newer(&json!({ "format": model::FORMAT + 1 })));
        assert!(!is_newer(&json!({ "format": model::FORMAT })));
    }
}
