//! Text as a page shows it: sentences, and words of the document as people write them.

use maud::{Markup, html};

pub use model::text::sentence;

/// `text` as a sentence of a page: what stands in backticks is set as it is typed.
pub fn said(text: impl AsRef<str>) -> Markup {
    said_with(text, &|_| None)
}

/// The same, with what stands in backticks set as `set` has it, where it knows it.
pub fn said_with(text: impl AsRef<str>, set: &dyn Fn(&str) -> Option<Markup>) -> Markup {
    let text = sentence(text.as_ref());
    let parts: Vec<&str> = text.split('`').collect();
    // An odd backtick stands for itself.
    let whole = parts.len() % 2 == 1;
    html! {
        @if whole {
            @for (nth, part) in parts.iter().enumerate() {
                @if nth % 2 == 0 { (part) } @else if let Some(own) = set(part) { (own) } @else { code { (part) } }
            }
        } @else { (text) }
    }
}

/// A word of the document as people write it: `blue-hour` is blue hour.
pub fn words(word: &impl serde::Serialize) -> String {
    match serde_json::to_value(word) {
        Ok(serde_json::Value::String(text)) => text.replace(['-', '_'], " "),
        _ => String::new(),
    }
}
