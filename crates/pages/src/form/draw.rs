//! Drawing a noun's fields.

use super::{Ask, Faults, Field};
use maud::{Markup, html};
use model::Project;
use serde_json::Value;

/// The id of a field's input on the page.
pub fn id_of(form: &str, name: &str) -> String {
    let plain =
        |text: &str| text.replace(|c: char| !c.is_alphanumeric() && c != '-' && c != '_', "-");
    format!("{}--{}", plain(form), plain(name))
}

struct Pen<'a> {
    form: &'a str,
    project: &'a Project,
    faults: &'a Faults,
}

/// The fields of a noun as inputs, filled with `value`, each fault beside its field. `form` tells this
/// form's ids from others' on the page.
pub fn draw(
    form: &str,
    fields: &[Field],
    value: &Value,
    project: &Project,
    faults: &Faults,
) -> Markup {
    let pen = Pen {
        form,
        project,
        faults,
    };
    let (first, later): (Vec<&Field>, Vec<&Field>) = fields.iter().partition(|field| field.first);
    // What is folded but filled, or wrong, should be seen to be there.
    let filled = later
        .iter()
        .filter(|field| is_filled(at(value, field.name)))
        .count();
    let wrong = later.iter().any(|field| faults.under(field.name));
    html! {
        @if faults.has_any() { (pen.summary(fields)) }
        div.fields { @for one in &first { (pen.field(one, "", at(value, one.name))) } }
        @if !later.is_empty() {
            details.more open[wrong] {
                summary { "More" @if filled > 0 { " (" (filled) " filled in)" } }
                div.fields { @for one in &later { (pen.field(one, "", at(value, one.name))) } }
            }
        }
    }
}

/// The value at a dotted name.
fn at<'a>(value: &'a Value, name: &str) -> &'a Value {
    name.split('.')
        .fold(value, |value, part| value.get(part).unwrap_or(&Value::Null))
}

fn is_filled(value: &Value) -> bool {
    match value {
        Value::Null => false,
        Value::Array(items) => !items.is_empty(),
        Value::Object(map) => map.values().any(is_filled),
        Value::String(text) => !text.is_empty(),
        Value::Bool(_) | Value::Number(_) => true,
    }
}

/// What stands in the field of a value. Reading knows it too: what is sent back as it stood changes nothing.
pub(super) fn shown(ask: Ask, value: &Value) -> String {
    match ask {
        Ask::Money => money(value),
        Ask::Count if value.is_null() => "1".into(),
        Ask::Hours | Ask::Bars => pairs(value, "–"),
        Ask::Pairs => pairs(value, " "),
        Ask::Two | Ask::Numbers | Ask::Words => joined(value, ", "),
        Ask::Lines => joined(value, "\n"),
        Ask::Stretch => stretch(value),
        Ask::Stretches => match value {
            Value::Array(items) => items.iter().map(stretch).collect::<Vec<_>>().join(", "),
            other => text(other),
        },
        _ => text(value),
    }
}

/// A scalar as it stands in an input.
fn text(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// Pairs, each written with `between` in it.
fn pairs(value: &Value, between: &str) -> String {
    if let Value::String(typed) = value {
        return typed.clone();
    }
    let items = value.as_array().map(Vec::as_slice).unwrap_or_default();
    let pair = |item: &Value| {
        let parts: Vec<String> = item
            .as_array()
            .map(Vec::as_slice)
            .unwrap_or_default()
            .iter()
            .map(text)
            .collect();
        match parts.as_slice() {
            [a, b] if a == b && between == "–" => a.clone(),
            _ => parts.join(between),
        }
    };
    items.iter().map(pair).collect::<Vec<_>>().join(", ")
}

/// A stretch of the song as it is typed: `0:12.5–0:20.25`.
fn stretch(value: &Value) -> String {
    if let Value::String(typed) = value {
        return typed.clone();
    }
    let time = |value: &Value| {
        value
            .as_i64()
            .map(|ticks| model::SongTime::from_ticks(ticks).to_string())
            .unwrap_or_default()
    };
    match value.as_array().map(Vec::as_slice) {
        Some([a, b]) => format!("{}–{}", time(a), time(b)),
        _ => String::new(),
    }
}

fn joined(value: &Value, between: &str) -> String {
    if let Value::String(typed) = value {
        return typed.clone();
    }
    let items = value.as_array().map(Vec::as_slice).unwrap_or_default();
    items.iter().map(text).collect::<Vec<_>>().join(between)
}

fn held(value: &Value, word: &str) -> bool {
    match value {
        Value::Array(items) => items.iter().any(|item| text(item) == word),
        other => text(other) == word,
    }
}

impl Pen<'_> {
    fn summary(&self, fields: &[Field]) -> Markup {
        let rest = self.faults.elsewhere(fields);
        html! {
            div.faults role="alert" tabindex="-1" {
                p { strong { "Not saved yet." } " What is wrong stands beside its field" @if rest.is_empty() { "." } @else { ", and:" } }
                @if !rest.is_empty() { ul { @for one in rest { li { (crate::text::said(one)) } } } }
            }
        }
    }

    fn field(&self, field: &Field, inside: &str, value: &Value) -> Markup {
        let name = format!("{inside}{}", field.name);
        let id = id_of(self.form, &name);
        let fault = self.faults.at(&name);
        let hint_id = (!field.hint.is_empty()).then(|| format!("{id}-hint"));
        let fault_id = fault.map(|_| format!("{id}-fault"));
        let described: Vec<String> = hint_id.iter().chain(&fault_id).cloned().collect();
        let described = (!described.is_empty()).then(|| described.join(" "));
        let described = described.as_deref();
        let invalid = fault.map(|_| "true");
        let beside = html! {
            @if let Some(id) = &hint_id { small.hint id=(id) { (field.hint) } }
            @if let (Some(id), Some(fault)) = (&fault_id, fault) { small.bad id=(id) { (crate::text::said(fault)) } }
        };
        let line = |value: String, kind: &str, mode: &str, size: &str| {
            html! {
                input id=(id) name=(name) value=(value) type=(kind) inputmode=[(!mode.is_empty()).then_some(mode)] data-size=(size)
                    autocomplete="off" aria-describedby=[described] aria-invalid=[invalid];
            }
        };
        let input = match field.ask {
            Ask::Text | Ask::Lines => {
                html! { textarea id=(id) name=(name) rows="3" aria-describedby=[described] aria-invalid=[invalid] { (shown(field.ask, value)) } }
            }
            Ask::Date => line(shown(field.ask, value), "date", "", "number"),
            Ask::Number | Ask::Money => line(shown(field.ask, value), "text", "decimal", "number"),
            Ask::Whole | Ask::Count => line(shown(field.ask, value), "text", "numeric", "number"),
            Ask::Clock => line(shown(field.ask, value), "text", "", "number"),
            Ask::Line
            | Ask::Hours
            | Ask::Bars
            | Ask::Pairs
            | Ask::Two
            | Ask::Numbers
            | Ask::Words
            | Ask::Stretch
            | Ask::Stretches => line(shown(field.ask, value), "text", "", "line"),
            Ask::Maybe => self.choice(
                &id,
                &name,
                &[("", "not known"), ("true", "yes"), ("false", "no")].map(own),
                value,
                described,
                invalid,
            ),
            Ask::OneOf(list) => {
                let list = with_held(list.iter().copied().map(own).collect(), value);
                self.choice(&id, &name, &list, value, described, invalid)
            }
            Ask::Of(source) => {
                let mut list = vec![own(("", "—"))];
                list.extend(source.list(self.project));
                let list = with_held(list, value);
                self.choice(&id, &name, &list, value, described, invalid)
            }
            Ask::FirstOf(source) => {
                let list = with_held(source.list(self.project), value);
                self.choice(&id, &name, &list, value, described, invalid)
            }
            Ask::Tick | Ask::TickedUnlessSaid => {
                let on = match value.as_bool() {
                    Some(on) => on,
                    None => matches!(field.ask, Ask::TickedUnlessSaid),
                };
                return html! {
                    div.field.tick data-wrong[fault.is_some()] {
                        input type="hidden" name=(name) value="";
                        label { input type="checkbox" id=(id) name=(name) value="true" checked[on] aria-describedby=[described]; " " (field.label) }
                        (beside)
                    }
                };
            }
            Ask::AnyOf(list) => {
                let list = with_held(list.iter().copied().map(own).collect(), value);
                return self.several(field, &name, &list, value, &beside);
            }
            Ask::AnyOfThe(source) => {
                let list = with_held(source.list(self.project), value);
                return self.several(field, &name, &list, value, &beside);
            }

            Ask::Many(fields, one) => return self.many(field, &name, fields, one, value, &beside),
            Ask::Inside(fields) => {
                return html! {
                    fieldset.inside {
                        legend { (field.label) }
                        (beside)
                        div.fields { @for one in fields { (self.field(one, &format!("{name}."), at(value, one.name))) } }
                    }
                };
            }
        };
        html! {
            div.field data-wrong[fault.is_some()] {
                label for=(id) { (field.label) }
                (input)
                (beside)
            }
        }
    }

    fn choice(
        &self,
        id: &str,
        name: &str,
        list: &[(String, String)],
        value: &Value,
        described: Option<&str>,
        invalid: Option<&str>,
    ) -> Markup {
        html! {
            select id=(id) name=(name) aria-describedby=[described] aria-invalid=[invalid] {
                @for (word, words) in list {
                    option value=(word) selected[held(value, word) || (value.is_null() && word.is_empty())] { (words) }
                }
            }
        }
    }

    fn several(
        &self,
        field: &Field,
        name: &str,
        list: &[(String, String)],
        value: &Value,
        beside: &Markup,
    ) -> Markup {
        html! {
            fieldset.several {
                legend { (field.label) }
                input type="hidden" name=(name) value="";
                @if list.is_empty() { p.faint { "There is none to choose from yet." } }
                @for (word, words) in list {
                    label { input type="checkbox" name=(name) value=(word) checked[held(value, word)]; " " (words) }
                }
                (beside)
            }
        }
    }

    fn many(
        &self,
        field: &Field,
        name: &str,
        fields: &[Field],
        one: &str,
        value: &Value,
        beside: &Markup,
    ) -> Markup {
        let items = value.as_array().map(Vec::as_slice).unwrap_or_default();
        html! {
            fieldset.many {
                legend { (field.label) }
                (beside)
                @for (nth, item) in items.iter().enumerate() {
                    fieldset.one {
                        legend { (one) " " (nth + 1) }
                        div.fields { @for inner in fields { (self.field(inner, &format!("{name}.{nth}."), at(item, inner.name))) } }
                        label.drop { input type="checkbox" name=(format!("{name}.{nth}.-drop")) value="true"; " Take it out when saving" }
                    }
                }
                details.one open[items.is_empty() && self.faults.under(name)] {
                    summary { "Add: " (one) }
                    div.fields { @for inner in fields { (self.field(inner, &format!("{name}.{}.", items.len()), &Value::Null)) } }
                }
            }
        }
    }
}

/// The choices with what is held and not among them: what a form does not know it must not lose.
fn with_held(mut list: Vec<(String, String)>, value: &Value) -> Vec<(String, String)> {
    let held: Vec<String> = match value {
        Value::Array(items) => items.iter().map(text).collect(),
        Value::Null => Vec::new(),
        other => vec![text(other)],
    };
    for word in held {
        if !word.is_empty() && !list.iter().any(|(known, _)| *known == word) {
            list.push((word.clone(), format!("{word} (not in the list)")));
        }
    }
    list
}

fn own((word, words): (&str, &str)) -> (String, String) {
    (word.to_owned(), words.to_owned())
}

/// Smallest units as an amount with two decimals.
fn money(value: &Value) -> String {
    if let Value::String(typed) = value {
        return typed.clone();
    }
    value
        .as_i64()
        .map(|minor| {
            format!(
                "{}{}.{:02}",
                if minor < 0 { "-" } else { "" },
                minor.abs() / 100,
                minor.abs() % 100
            )
        })
        .unwrap_or_default()
}
