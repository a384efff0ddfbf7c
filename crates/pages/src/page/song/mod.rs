//! The song: what was heard in it, corrections, sections, lyrics, and ideas pinned while listening.
//!
//! Everything is a form that works by typing; scripts add the playhead, dragging, tapping and keys.

mod address;
mod corrections;
mod ideas;
mod lyrics;
mod sections;

use crate::app::{App, Head};
use crate::door::Session;
use crate::form::Faults;
use crate::memo::Answer;
use crate::page::{first, noun};
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::song_strip;
use axum::Router;
use axum::extract::State;
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use model::{Edit, Project, Song};
use std::collections::BTreeMap;
use std::sync::Arc;
use steps::Heard;

/// `/song` and what it posts.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/song", get(show))
        .merge(corrections::routes())
        .merge(sections::routes())
        .merge(lyrics::routes())
        .merge(ideas::routes())
}

/// A form that was refused: which, what was typed, and what is wrong.
#[derive(Default)]
struct Back {
    form: &'static str,
    faults: Faults,
    typed: BTreeMap<String, Vec<String>>,
}

impl Back {
    /// What is wrong with `form`.
    fn faults(&self, form: &str) -> Faults {
        if self.form == form {
            self.faults.clone()
        } else {
            Faults::default()
        }
    }

    /// What stands in the field `name` of `form`: what was typed, or `value`.
    fn value(&self, form: &str, name: &str, value: String) -> String {
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
    fn input(&self, form: &str, name: &str, value: String, called: &Called<'_>) -> Markup {
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
            @if let (Some(id), Some(fault)) = (fault_id, fault) { small.bad id=(id) { (shell::said(fault)) } }
        }
    }

    /// What is wrong with `form` that stands beside no field of it.
    fn summary(&self, form: &str, stands_beside: impl Fn(&str) -> bool) -> Markup {
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
                    @if !rest.is_empty() { ul { @for one in rest { li { (shell::said(one)) } } } }
                }
            }
        }
    }
}

/// How a field is called.
struct Called<'a> {
    label: &'a str,
    hint: &'a str,
    /// Whether the label is shown; a column's head says it otherwise.
    seen: bool,
}

impl<'a> Called<'a> {
    const fn shown(label: &'a str, hint: &'a str) -> Self {
        Self {
            label,
            hint,
            seen: true,
        }
    }

    const fn unseen(label: &'a str) -> Self {
        Self {
            label,
            hint: "",
            seen: false,
        }
    }
}

/// What the parts of the page are drawn from.
struct View<'a> {
    head: &'a Head,
    session: &'a Session,
    song: &'a Song,
    heard: &'a Heard,
    back: &'a Back,
}

impl View<'_> {
    fn project(&self) -> &Project {
        &self.head.project
    }

    /// The fields every form carries.
    fn carried(&self) -> Markup {
        html! {
            input type="hidden" name="token" value=(self.session.token);
            input type="hidden" name="-revision" value=(self.head.revision);
        }
    }
}

async fn show(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let head = app.head()?;
    page(&app, &head, &session, &Back::default(), StatusCode::OK).await
}

async fn page(
    app: &Arc<App>,
    head: &Head,
    session: &Session,
    back: &Back,
    status: StatusCode,
) -> Result<Response, Refused> {
    let body = match &head.project.song {
        None => html! {
            h1 { "Song" }
            p { "Everything hangs from the song. Take the finished one in: it is listened to once, in some seconds." }
            (first::song_form(session))
        },
        Some(song) => match song_strip::heard(app, head).await {
            Answer::Failed(why) => html! {
                h1 { "Song" }
                p.bad role="alert" { (shell::said(&why)) }
                h2 { "Take it in again" }
                (first::song_form(session))
            },
            answer => match answer.value() {
                Some(heard) => full(&View {
                    head,
                    session,
                    song,
                    heard,
                    back,
                }),
                None => waiting(session, answer.is_working()),
            },
        },
    };
    let layer = Layer::ideas(&head.project)
        .and(Layer::lyrics(&head.project))
        .with_bounds();
    let page = shell::page_at(app, head, session, Here::Song, layer, &body).await?;
    Ok((status, page).into_response())
}

fn waiting(session: &Session, working: bool) -> Markup {
    html! {
        h1 { "Song" }
        @if working {
            p { "The song is being listened to. What was heard appears here by itself." }
        } @else {
            p { "Listening was stopped; without it there are no bars to plan by." }
            form method="post" action="/works/go-on" {
                input type="hidden" name="token" value=(session.token);
                button { "Listen to it" }
            }
        }
    }
}

fn full(view: &View<'_>) -> Markup {
    html! {
        h1 { "Song" }
        (corrections::facts(view))
        div.columns {
            div {
                (corrections::draw(view))
                (ideas::draw(view))
            }
            div {
                (sections::draw(view))
                (lyrics::draw(view))
            }
        }
        (keys())
        details.more {
            summary { "Another file of this song" }
            p { "Corrections and lyrics stay. Takes are placed on the new file by ear again." }
            (first::song_form(view.session))
        }
    }
}

fn keys() -> Markup {
    const KEYS: [(&str, &str); 9] = [
        ("Space", "play, pause"),
        ("N", "note an idea at the bar that plays"),
        ("T", "tap a beat, while the song plays"),
        (
            "← →",
            "on the song: a beat back or on; with Shift a bar; Home and End: its ends",
        ),
        ("Page up, Page down", "on the song: a section back or on"),
        (
            "← → on a bound of sections",
            "move it by a bar; with Shift by a beat",
        ),
        ("Delete on a bound", "join the two sections"),
        (
            "Enter on a bound",
            "split the section that plays, at the bar nearest to the playhead",
        ),
        (
            "Enter, Backspace",
            "while the lyrics are timed: this line starts now, take the last one back",
        ),
    ];
    html! {
        details.more.keys data-fold="keys" {
            summary { "Keys" }
            dl.facts { @for (key, does) in KEYS { dt { (key) } dd { (does) } } }
            single-keys.needs-script { label { input type="checkbox" checked; " N and T work as keys on this page" } }
            p.faint { "Click or tap the song to play from there; with Shift from the start of that bar. A bound that is dragged keeps to the bars; with Alt it goes where it is put." }
        }
    }
}

/// Makes the edit a form meant and shows the page again; refused, with what was typed and what is wrong.
async fn settle(
    app: &Arc<App>,
    posted: &Posted,
    form: &'static str,
    meant: Result<Option<Edit>, Faults>,
) -> Result<Response, Refused> {
    let faults = match meant {
        Ok(None) => return Ok(done()),
        Ok(Some(edit)) => match app.edit(&edit) {
            Ok(_) => return Ok(done()),
            Err(error) => noun::refused(error)?,
        },
        Err(faults) => faults,
    };
    let back = Back {
        form,
        faults,
        typed: posted.fields.clone(),
    };
    let head = app.head()?;
    let status = StatusCode::UNPROCESSABLE_ENTITY;
    let mut response = page(app, &head, &posted.session, &back, status).await?;
    // It is the page Song still, under its own address.
    response
        .headers_mut()
        .insert("hx-push-url", HeaderValue::from_static(Here::Song.path()));
    Ok(response)
}

/// An address that only takes forms, asked for as a page: loaded again after a refusal, say.
async fn to_the_page() -> Response {
    done()
}

fn done() -> Response {
    Redirect::to(Here::Song.path()).into_response()
}

/// What is known of the song, or why it can't be corrected now.
async fn listened(app: &Arc<App>, head: &Head) -> Result<Arc<Heard>, Refused> {
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
fn song_of(project: &Project) -> Result<&Song, Refused> {
    project
        .song
        .as_ref()
        .ok_or_else(|| Refused::Gone("song yet".into()))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A form as it is sent.
    pub(crate) fn posted(pairs: &[(&str, &str)]) -> Posted {
        Posted::for_tests(pairs)
    }

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
