//! Drawing a noun's fields.

use super::{Ask, Faults, ask, asked, or_usual};
use maud::{Markup, html};
use model::Document;
use model::describe::{Asked, Field, Noun};
use model::typed::shown;
use serde_json::Value;

/// The id of a field's input on the page.
pub fn id_of(form: &str, name: &str) -> String {
    let plain =
        |text: &str| text.replace(|c: char| !c.is_alphanumeric() && c != '-' && c != '_', "-");
    format!("{}--{}", plain(form), plain(name))
}

struct Pen<'a> {
    form: &'a str,
    document: &'a dyn Document,
    faults: &'a Faults,
    /// What is as usual stands in an empty field as its hint, and not as typed.
    sparse: bool,
}

/// The fields of a noun as inputs, filled with `value`, each fault beside its field. `form` tells this
/// form's ids from others' on the page.
pub fn draw(
    form: &str,
    noun: &Noun,
    value: &Value,
    document: &dyn Document,
    faults: &Faults,
) -> Markup {
    let pen = Pen {
        form,
        document,
        faults,
        sparse: noun.sparse,
    };
    let (first, later): (Vec<&Field>, Vec<&Field>) = (
        asked(noun, Asked::First).collect(),
        asked(noun, Asked::Later).collect(),
    );
    // What is folded but filled, or wrong, should be seen to be there.
    let filled = later
        .iter()
        .filter(|field| is_filled(&value[field.name]))
        .count();
    let wrong = later.iter().any(|field| faults.under(field.name));
    html! {
        @if faults.has_any() { (pen.summary(noun.fields)) }
        div.fields { @for one in &first { (pen.field(one, "", &value[one.name])) } }
        @if !later.is_empty() {
            details.more open[wrong] {
                summary { "More" @if filled > 0 { " (" (filled) " filled in)" } }
                div.fields { @for one in &later { (pen.field(one, "", &value[one.name])) } }
            }
        }
    }
}

/// One field alone, as [`draw`] draws it.
pub fn draw_one(
    form: &str,
    field: &Field,
    value: &Value,
    document: &dyn Document,
    faults: &Faults,
) -> Markup {
    let pen = Pen {
        form,
        document,
        faults,
        sparse: false,
    };
    html! {
        @if faults.has_any() { (pen.summary(std::slice::from_ref(field))) }
        div.fields { (pen.field(field, "", value)) }
    }
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

/// A scalar as it stands in an input.
fn text(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// What stands beside the input called `id`: its hint, what is usual, what is wrong; and the ids of that.
fn beside(field: &Field, id: &str, usual: &str, fault: Option<&str>) -> (Markup, Option<String>) {
    let hinted = !field.hint.is_empty() || !usual.is_empty();
    let hint_id = hinted.then(|| format!("{id}-hint"));
    let fault_id = fault.map(|_| format!("{id}-fault"));
    let ids: Vec<String> = hint_id.iter().chain(&fault_id).cloned().collect();
    let beside = html! {
        @if let Some(id) = hint_id { small.hint id=(id) { (field.hint) @if !usual.is_empty() { "usual: " (usual) } } }
        @if let (Some(id), Some(fault)) = (fault_id, fault) { small.bad id=(id) { (crate::text::said(fault)) } }
    };
    (beside, (!ids.is_empty()).then(|| ids.join(" ")))
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
        let label = field.label_with_unit();
        let fault = self.faults.at(&name);
        let usual = if self.sparse && inside.is_empty() {
            shown(field, &field.when_unsaid())
        } else {
            String::new()
        };
        let (beside, described) = beside(field, &id, &usual, fault);
        let invalid = fault.map(|_| "true");
        let held_or_usual = or_usual(field, value);
        let value_shown = shown(field, if self.sparse { value } else { &held_or_usual });
        let input = match ask(field, self.document) {
            Ask::Text => {
                html! { textarea id=(id) name=(name) rows="3" aria-describedby=[&described] aria-invalid=[invalid] { (value_shown) } }
            }
            Ask::Line(kind, mode, size) => html! {
                input id=(id) name=(name) value=(value_shown) type=(kind) inputmode=[(!mode.is_empty()).then_some(mode)] data-size=(size)
                    placeholder=[(!usual.is_empty()).then_some(&usual)] autocomplete="off" aria-describedby=[&described] aria-invalid=[invalid];
            },
            Ask::OneOf(list) => {
                let list = with_held(list, &held_or_usual);
                html! {
                    select id=(id) name=(name) aria-describedby=[&described] aria-invalid=[invalid] {
                        @for (word, words) in &list {
                            option value=(word) selected[held(&held_or_usual, word)] { (words) }
                        }
                    }
                }
            }
            Ask::Tick => {
                let on = held_or_usual.as_bool().unwrap_or(false);
                return html! {
                    div.field.tick data-wrong[fault.is_some()] {
                        input type="hidden" name=(name) value="no";
                        label { input type="checkbox" id=(id) name=(name) value="yes" checked[on] aria-describedby=[&described]; " " (label) }
                        (beside)
                    }
                };
            }
            Ask::AnyOf(list) => {
                let list = with_held(list, value);
                return html! {
                    fieldset.several {
                        legend { (label) }
                        input type="hidden" name=(name) value="";
                        @if list.is_empty() { p.faint { "There is none to choose from yet." } }
                        @for (word, words) in &list {
                            label { input type="checkbox" name=(name) value=(word) checked[held(value, word)]; " " (words) }
                        }
                        (beside)
                    }
                };
            }
            Ask::Many(noun) => return self.many(field, &name, noun, value, &beside),
            Ask::Inside(noun) => {
                return html! {
                    fieldset.inside {
                        legend { (label) }
                        (beside)
                        (self.inner(noun, &format!("{name}."), value))
                    }
                };
            }
        };
        html! {
            div.field data-wrong[fault.is_some()] {
                label for=(id) { (label) }
                (input)
                (beside)
            }
        }
    }

    /// The fields of a noun inside another.
    fn inner(&self, noun: &Noun, inside: &str, value: &Value) -> Markup {
        let fields = noun
            .fields
            .iter()
            .filter(|field| field.asked != Asked::Never);
        html! { div.fields { @for one in fields { (self.field(one, inside, &value[one.name])) } } }
    }

    fn many(
        &self,
        field: &Field,
        name: &str,
        noun: &Noun,
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
                        legend { (noun.called) " " (nth + 1) }
                        (self.inner(noun, &format!("{name}.{nth}."), item))
                        label.drop { input type="checkbox" name=(format!("{name}.{nth}.-drop")) value="true"; " Take it out when saving" }
                    }
                }
                details.one open[items.is_empty() && self.faults.under(name)] {
                    summary { "Add: " (noun.called) }
                    (self.inner(noun, &format!("{name}.{}.", items.len()), &Value::Null))
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
