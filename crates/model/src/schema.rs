//! The plan file described for editors (JSON Schema, draft 2020-12), and the table of fields for readers.

use crate::describe::{Field, Look, Noun, Shape, Word};
use crate::validate::{MAX_ENTRIES, MAX_TEXT};
use serde_json::{Map, Value, json};
use std::fmt::Write as _;

/// The schema of a plan file of the document `root`: types, ranges, words and what is needed. Rules that
/// take in several fields, and whether what is named is there, it can't say.
pub fn schema(root: &Noun) -> Value {
    let mut out = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A Barebulb plan",
    });
    if let (Value::Object(out), Value::Object(noun)) = (&mut out, noun(root)) {
        out.extend(noun);
        // A part of a plan may be written too.
        out.remove("required");
    }
    out
}

fn noun(of: &Noun) -> Value {
    let properties: Map<String, Value> = of
        .fields
        .iter()
        .map(|field| (field.name.to_owned(), property(field)))
        .collect();
    let needed: Vec<&str> = of
        .fields
        .iter()
        .filter(|field| field.needed && field.name != "id")
        .map(|field| field.name)
        .collect();
    json!({
        "type": "object",
        "description": of.doc.join(" ").trim(),
        "properties": properties,
        "required": needed,
        // What TOML has no form for stands as JSON in a string.
        "patternProperties": { ":json$": { "type": "string" } },
        "additionalProperties": false,
    })
}

fn property(field: &Field) -> Value {
    let mut out = shape(field, &field.shape);
    if let Value::Object(out) = &mut out {
        let doc = field.doc.join(" ");
        let unit = match field.unit {
            "" | "share" => String::new(),
            unit => format!(" In {unit}."),
        };
        out.insert("title".into(), field.label.into());
        out.insert("description".into(), format!("{}{unit}", doc.trim()).into());
        let usual = field.when_unsaid();
        if !usual.is_null() {
            out.insert("default".into(), usual);
        }
    }
    out
}

fn shape(field: &Field, of: &Shape) -> Value {
    let ranged = |kind: &str| match field.range {
        Some((least, most)) if most == f64::INFINITY => json!({ "type": kind, "minimum": least }),
        Some((least, most)) => json!({ "type": kind, "minimum": least, "maximum": most }),
        None => json!({ "type": kind }),
    };
    let time = json!({ "type": ["string", "number"], "pattern": r"^-?(\d+:){0,2}\d*(\.\d*)?$" });
    match of {
        Shape::Text if field.look == Look::Date => {
            json!({ "type": "string", "format": "date", "pattern": r"^\d{4}-\d{2}-\d{2}$" })
        }
        Shape::Text => match field.range {
            Some((least, most)) if most < MAX_TEXT as f64 => {
                json!({ "type": "string", "minLength": least as u64, "maxLength": most as u64 })
            }
            Some((least, _)) => {
                json!({ "type": "string", "minLength": least as u64, "maxLength": MAX_TEXT })
            }
            None => json!({ "type": "string", "maxLength": MAX_TEXT }),
        },
        Shape::Number => ranged("number"),
        Shape::Whole => ranged("integer"),
        Shape::Truth => json!({ "type": "boolean" }),
        Shape::Word(words) => {
            let words: Vec<&str> = words.iter().map(|word| word.word).collect();
            json!({ "type": "string", "enum": words })
        }
        // Letters and digits of any script, and three signs.
        Shape::Id => json!({ "type": "string", "pattern": r"^[^\s\x00-,/:-@\[-^`{-\x7f]{1,64}$" }),
        Shape::Clock => {
            json!({ "type": "string", "pattern": r"^\s*(([0-3]?\d|4[0-7]):[0-5]\d|48:00)\s*$" })
        }
        Shape::Rate => json!({ "type": ["string", "number"] }),
        Shape::Time => time,
        Shape::Stretch => json!({ "type": "array", "items": time, "minItems": 2, "maxItems": 2 }),
        Shape::Pair(one) => {
            json!({ "type": "array", "items": shape(field, one), "minItems": 2, "maxItems": 2 })
        }
        Shape::List(one) => {
            json!({ "type": "array", "items": shape(field, one), "maxItems": MAX_ENTRIES })
        }
        Shape::Inside(inner) => noun(inner),
        Shape::Other => json!({ "type": "object" }),
    }
}

/// Every field of the document `root`, as tables in Markdown: one for each noun, its own first.
pub fn table(root: &Noun) -> String {
    let mut out = String::new();
    inside(&mut out, "", ".ID", root);
    out
}

/// The nouns in the fields of `of`, at their paths after `before`; `one` stands after that of a list.
fn inside(out: &mut String, before: &str, one: &str, of: &Noun) {
    for field in of.fields {
        let path = format!("{before}{}", field.name);
        match field.shape {
            Shape::Inside(noun) => nouns(out, &path, noun),
            Shape::List(Shape::Inside(noun)) => nouns(out, &format!("{path}{one}"), noun),
            _ => {}
        }
    }
}

fn nouns(out: &mut String, path: &str, of: &Noun) {
    let _ = writeln!(out, "## `{path}`\n\n{}\n", of.doc.join(" ").trim());
    let with_source = of.fields.iter().any(|field| !field.source.is_empty());
    let from = if with_source {
        ["", " from |", "---|"]
    } else {
        ["", "", ""]
    };
    let _ = writeln!(
        out,
        "| field | what it is | kind | range | usual |{}",
        from[1]
    );
    let _ = writeln!(out, "|---|---|---|---|---|{}", from[2]);
    for field in of.fields {
        let doc = field.doc.join(" ");
        let doc = if doc.trim().is_empty() {
            format!("{}.", field.label)
        } else {
            doc.trim().to_owned()
        };
        let usual = match field.when_unsaid() {
            Value::Null if field.needed => "needed".to_owned(),
            Value::Null => String::new(),
            usual => crate::typed::shown(field, &usual),
        };
        let source = if with_source {
            format!(" {} |", field.source)
        } else {
            String::new()
        };
        let _ = writeln!(
            out,
            "| `{}` | {} | {} | {} | {usual} |{source}",
            field.name,
            doc.replace('|', "\\|"),
            kind(field, &field.shape),
            range(field)
        );
    }
    out.push('\n');
    inside(out, &format!("{path}."), ".N", of);
}

fn range(field: &Field) -> String {
    let unit = if field.unit == "share" {
        ""
    } else {
        field.unit
    };
    let text = match field.range {
        _ if matches!(field.look, Look::Money) => "0 or more".to_owned(),
        Some((least, most)) if most.abs() < 4e9 && !(least == 1.0 && most == f64::INFINITY) => {
            format!("{least} to {most} {unit}")
        }
        _ => unit.to_owned(),
    };
    text.trim().to_owned()
}

fn kind(field: &Field, shape: &Shape) -> String {
    match shape {
        Shape::Text if field.look == Look::Date => "date".into(),
        Shape::Text => "text".into(),
        Shape::Number => "number".into(),
        Shape::Whole if field.look == Look::Money => "money, in cents".into(),
        Shape::Whole => "whole number".into(),
        Shape::Truth => "yes or no".into(),
        Shape::Word(words) => {
            let names = |word: &Word| format!("`{}`", word.word);
            words.iter().map(names).collect::<Vec<_>>().join(", ")
        }
        Shape::Id => field.of.map_or_else(
            || "id".to_owned(),
            |source| format!("one of `{}`", source.list),
        ),
        Shape::Clock => "clock time".into(),
        Shape::Rate => "picture rate".into(),
        Shape::Time => "song time".into(),
        Shape::Stretch => "stretch of the song".into(),
        Shape::Pair(one) => format!("two: {}", kind(field, one)),
        Shape::List(Shape::Inside(_)) => "list, below".into(),
        Shape::List(one) => format!("list: {}", kind(field, one)),
        Shape::Inside(_) => "below".into(),
        Shape::Other => "written by the program".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Project;

    /// `UPDATE_DOCS=1` writes the page anew.
    #[test]
    fn the_page_of_fields_is_true() {
        let page = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/fields.md");
        let head = "# Fields\n\nEverything the document holds, as the plan file writes it and `barebulb set` and `get` reach it. Ranges include both ends.\n\
            This page is made from the code: `UPDATE_DOCS=1 cargo test -p model page_of_fields` writes it anew.\n\n";
        let wanted = format!("{head}{}", table(&Project::NOUN).trim_end()) + "\n";
        if std::env::var_os("UPDATE_DOCS").is_some() {
            std::fs::write(page, &wanted).unwrap();
        }
        assert!(
            std::fs::read_to_string(page).unwrap_or_default() == wanted,
            "docs/fields.md is not as the code has it"
        );
    }

    #[test]
    fn the_schema_says_types_ranges_and_words() {
        let schema = schema(&Project::NOUN);
        let kit = &schema["properties"]["kit"]["items"]["properties"];
        assert_eq!(kit["light"]["properties"]["kelvin"]["minimum"], 1000.0);
        assert_eq!(kit["light"]["required"], json!(["candela", "full_w"]));
        assert_eq!(kit["count"]["default"], 1);
        assert_eq!(kit["holding"]["enum"][1], "borrowed");
        assert_eq!(
            schema["properties"]["brief"]["properties"]["frame"]["items"]["maximum"],
            16_384.0
        );
    }
}
