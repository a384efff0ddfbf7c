//! What the parts of the page Song are drawn from and share: the song as it was heard, a form that was refused,
//! and what a form meant.

use crate::app::{App, Head};
use crate::door::Session;
use crate::form::Faults;
use crate::memo::Answer;
use crate::refusal::Refused;
use crate::song_strip;
use crate::text::said;
use maud::{Markup, html};
use model::{Edit, Project, Song};
use std::collections::BTreeMap;
use std::sync::Arc;
use steps::Heard;

/// What a form meant: which form it is, and the edit, none where nothing changes, or what is wrong.
pub type Meant = (&'static str, Result<Option<Edit>, Faults>);

/// A form that was refused: which, what was typed, and what is wrong.
#[derive(Default)]
pub struct Back {
    pub form: &'static str,
    pub faults: Faults,
    pub typed: BTreeMap<String, Vec<String>>,
}

impl Back {
    /// What is wrong with `form`.
    pub fn faults(&self, form: &str) -> Faults {
        if self.form == form {
            self.faults.clone()
        } else {
            Faults::default()
        }
    }

    /// What stands in the field `name` of `form`: what was typed, or `value`.
    pub fn value(&self, form: &str, name: &str, value: String) -> String {
        if self.form != form {
            return value;
        }
        self.typed
            .get(name)
            .and_then(|values| values.last())
            .cloned()
            .unwrap_or(value)
    }

    /// An input with its fault below it. Without a label of its own it needs `called`.
    pub fn input(&self, form: &str, name: &str, value: String, called: &Called<'_>) -> Markup {
        let id = crate::form::id_of(form, name);
        let faults = self.faults(form);
        let fault = faults.at(name);
        let fault_id = fault.map(|_| format!("{id}-fault"));
        let hint_id = (!called.hint.is_empty()).then(|| format!("{id}-hint"));
        let by: Vec<String> = hint_id.iter().chain(&fault_id).cloned().collect();
        let by = (!by.is_empty()).then(|| by.join(" "));
        let label = called.label;
        html! {
            @if called.seen { label for=(id) { (label) } }
            input id=(id) name=(name) type="text" autocomplete="off" value=(self.value(form, name, value))
                aria-label=[(!called.seen).then_some(label)] aria-describedby=[by] aria-invalid=[fault.map(|_| "true")];
            @if let Some(id) = hint_id { small.hint id=(id) { (called.hint) } }
            @if let (Some(id), Some(fault)) = (fault_id, fault) { small.bad id=(id) { (said(fault)) } }
        }
    }

    /// What is wrong with `form` that stands beside no field of it.
    pub fn summary(&self, form: &str, stands_beside: impl Fn(&str) -> bool) -> Markup {
        let faults = self.faults(form);
        let rest: Vec<&str> = faults
            .all()
            .filter(|(name, _)| !stands_beside(name))
            .map(|(_, says)| says)
            .collect();
        html! {
            @if faults.has_any() {
                div.faults role="alert" tabindex="-1" {
                    p { strong { "Not saved yet." } " What is wrong stands beside its field" @if rest.is_empty() { "." } @else { ", and:" } }
                    @if !rest.is_empty() { ul { @for one in rest { li { (said(one)) } } } }
                }
            }
        }
    }
}

/// How a field is called.
pub struct Called<'a> {
    pub label: &'a str,
    pub hint: &'a str,
    /// Whether the label is shown; a column's head says it otherwise.
    pub seen: bool,
}

impl<'a> Called<'a> {
    pub const fn shown(label: &'a str, hint: &'a str) -> Self {
        Self {
            label,
            hint,
            seen: true,
        }
    }

    pub const fn unseen(label: &'a str) -> Self {
        Self {
            label,
            hint: "",
            seen: false,
        }
    }
}

/// What the parts of the page are drawn from.
pub struct View<'a> {
    pub head: &'a Head,
    pub session: &'a Session,
    pub song: &'a Song,
    pub heard: &'a Heard,
    pub back: &'a Back,
}

impl View<'_> {
    pub fn project(&self) -> &Project {
        &self.head.project
    }

    /// The fields every form carries.
    pub fn carried(&self) -> Markup {
        html! {
            input type="hidden" name="token" value=(self.session.token);
            input type="hidden" name="-revision" value=(self.head.revision);
        }
    }
}

/// What is known of the song, or why it can't be corrected now.
pub async fn listened(app: &Arc<App>, head: &Head) -> Result<Arc<Heard>, Refused> {
    match song_strip::heard(app, head).await {
        Answer::Failed(why) => Err(Refused::Unreadable(why)),
        answer => answer.value().cloned().ok_or_else(|| {
            Refused::Unreadable(
                "the song is still being listened to; try again in some seconds".into(),
            )
        }),
    }
}

/// The song of a document.
pub fn song_of(project: &Project) -> Result<&Song, Refused> {
    project
        .song
        .as_ref()
        .ok_or_else(|| Refused::Gone("song yet".into()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_typed_stands_in_its_form_alone() {
        let back = Back {
            form: "idea",
            faults: Faults::one("at", "there is no bar 99"),
            typed: BTreeMap::from([("at".into(), vec!["99".into()])]),
        };
        let called = Called::shown("Bars", "Such as 12");
        let own = back
            .input("idea", "at", String::new(), &called)
            .into_string();
        assert!(own.contains(r#"value="99""#), "{own}");
        assert!(
            own.contains(r#"aria-describedby="idea--at-hint idea--at-fault" aria-invalid="true""#),
            "{own}"
        );
        assert!(own.contains("There is no bar 99."), "{own}");
        let other = back
            .input("downbeat", "at", "0:01".into(), &called)
            .into_string();
        assert!(
            other.contains(r#"value="0:01""#) && !other.contains("aria-invalid"),
            "{other}"
        );
    }
}
