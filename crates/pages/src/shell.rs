//! What every page stands in: the list of pages, the song strip, undo, the dress, and who else is in.

use crate::app::{App, Head};
use crate::assets;
use crate::door::Session;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::song_strip;
use crate::work;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};
use std::sync::Arc;

pub use crate::song_strip::Layer;

/// Where one is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Here {
    /// The first page.
    First,
    /// What was agreed, people, references.
    Brief,
    /// The song.
    Song,
    /// Places and their sky.
    Places,
    /// Kit, light, power.
    Kit,
    /// Setups and coverage.
    Setups,
    /// The day.
    Day,
    /// Takes.
    Takes,
    /// The assembly.
    Assembly,
    /// What was done.
    History,
    /// Who is in.
    Devices,
}

impl Here {
    /// The pages of the job, in the order of the work.
    pub const WORK: [Self; 8] = [
        Self::Brief,
        Self::Song,
        Self::Places,
        Self::Kit,
        Self::Setups,
        Self::Day,
        Self::Takes,
        Self::Assembly,
    ];

    /// What it is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::First => "Where it stands",
            Self::Brief => "Brief",
            Self::Song => "Song",
            Self::Places => "Places",
            Self::Kit => "Kit",
            Self::Setups => "Setups",
            Self::Day => "Day",
            Self::Takes => "Takes",
            Self::Assembly => "Assembly",
            Self::History => "History",
            Self::Devices => "Devices",
        }
    }

    /// Its address.
    pub const fn path(self) -> &'static str {
        match self {
            Self::First => "/",
            Self::Brief => "/brief",
            Self::Song => "/song",
            Self::Places => "/places",
            Self::Kit => "/kit",
            Self::Setups => "/setups",
            Self::Day => "/day",
            Self::Takes => "/takes",
            Self::Assembly => "/assembly",
            Self::History => "/history",
            Self::Devices => "/devices",
        }
    }
}

/// What htmx is told: nothing of its own into the page's style, nothing evaluated.
const HTMX: &str = r#"{"includeIndicatorCSS":false,"defaultSwap":"outerMorph","morphSkip":"[data-keep]","history":true}"#;

/// The cookie that holds the dress.
const DRESS: &str = "dress";

/// A whole page around `body`.
///
/// # Errors
/// When the project file can't be read.
pub async fn page(
    app: &Arc<App>,
    session: &Session,
    here: Here,
    layer: Layer,
    body: &Markup,
) -> Result<Markup, Refused> {
    let head = app.head()?;
    page_at(app, &head, session, here, layer, body).await
}

/// As [`page`], for a document that was read already.
///
/// # Errors
/// When the project file can't be read.
pub async fn page_at(
    app: &Arc<App>,
    head: &Head,
    session: &Session,
    here: Here,
    layer: Layer,
    body: &Markup,
) -> Result<Markup, Refused> {
    let called = called(head);
    let strip = song_strip::draw(app, head, layer).await;
    let inside = html! {
        header.top {
            a.mark href="/" aria-current=[(here == Here::First).then_some("page")] {
                (bulb()) span { "Barebulb" }
            }
            p.video { (called) }
            nav aria-label="Pages" {
                ul {
                    @for one in Here::WORK {
                        li { a href=(one.path()) aria-current=[(one == here).then_some("page")] { (one.name()) } }
                    }
                }
            }
        }
        (strip)
        (work::draw(app, &session.token))
        main #page tabindex="-1" data-revision=(head.revision) {
            (body)
        }
        (foot(head, session, here))
    };
    Ok(document(
        &format!("{} – {called}", here.name()),
        Some(session),
        &inside,
    ))
}

fn foot(head: &Head, session: &Session, here: Here) -> Markup {
    html! {
        footer.foot {
            div.undo role="group" aria-label="What was done" {
                (step("undo", "Undo", session))
                (step("redo", "Redo", session))
                a href=(Here::History.path()) aria-current=[(here == Here::History).then_some("page")] { "History" }
                span.faint { "revision " data value=(head.revision) { (head.revision) } }
            }
            div.where {
                a href=(Here::Devices.path()) aria-current=[(here == Here::Devices).then_some("page")] { "Devices" }
                form method="post" action="/dress" data-plain="" {
                    input type="hidden" name="token" value=(session.token);
                    button.quiet name="dress" value="other" { "Change dress: paper or night" }
                }
            }
        }
    }
}

fn step(action: &str, name: &str, session: &Session) -> Markup {
    html! {
        form method="post" action=(format!("/{action}")) {
            input type="hidden" name="token" value=(session.token);
            button.quiet { (name) }
        }
    }
}

/// What the video is called.
pub fn called(head: &Head) -> String {
    if head.project.title.is_empty() {
        "Untitled".into()
    } else {
        head.project.title.clone()
    }
}

/// A page without the job around it: for whoever is not in yet.
pub fn bare(title: &str, body: &Markup) -> Markup {
    let inside = html! {
        header.top { p.mark { (bulb()) span { "Barebulb" } } }
        main #page tabindex="-1" { (body) }
    };
    document(title, None, &inside)
}

tokio::task_local! {
    /// The dress the request's browser asks for.
    pub static NIGHT: bool;
}

fn document(title: &str, session: Option<&Session>, inside: &Markup) -> Markup {
    let night = NIGHT.try_with(|night| *night).unwrap_or(false);
    html! {
        (DOCTYPE)
        html lang="en" data-dress=(if night { "night" } else { "paper" }) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content=(if night { "dark" } else { "light" });
                meta name="htmx-config" content=(HTMX);
                title { (title) " – Barebulb" }
                link rel="icon" href=(assets::at("bulb.svg")) type="image/svg+xml";
                link rel="stylesheet" href=(assets::at("style.css"));
                link rel="stylesheet" href=(assets::at("charts.css"));
                link rel="stylesheet" href=(assets::at("song.css"));
                link rel="stylesheet" href=(assets::at("assembly.css"));
                @if session.is_some() {
                    script src=(assets::at("vendor/htmx.min.js")) defer {}
                    script type="module" src=(assets::at("main.js")) {}
                }
            }
            body data-token=[session.map(|session| &session.token)] {
                a.skip href="#page" { "Skip to the page" }
                div #frame hx-history-elt="" hx-boost:inherited="true" hx-target:inherited="#frame" hx-select:inherited="#frame" hx-swap:inherited="outerMorph" {
                    (inside)
                }
                @if session.is_some() { audio #song-sound preload="auto" {} }
            }
        }
    }
}

fn bulb() -> Markup {
    html! {
        svg.bulb viewBox="0 0 24 24" width="24" height="24" aria-hidden="true" {
            path d="M12 2a7 7 0 0 0-4 12.7V17h8v-2.3A7 7 0 0 0 12 2Z" {}
            path.base d="M8.5 19h7M9.5 21.5h5" {}
        }
    }
}

/// `text` as a sentence: capital first, full stop last.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let Some(first) = letters.next() else {
        return String::new();
    };
    // A name in backticks stays as it is written.
    let mut out: String = first.to_uppercase().collect();
    out.push_str(letters.as_str());
    if !out.ends_with(['.', '!', '?', ':']) {
        out.push('.');
    }
    out
}

/// `text` as a sentence of a page: what stands in backticks is set as it is typed.
pub fn said(text: impl AsRef<str>) -> Markup {
    let text = sentence(text.as_ref());
    let parts: Vec<&str> = text.split('`').collect();
    // An odd backtick stands for itself.
    let whole = parts.len() % 2 == 1;
    html! {
        @if whole {
            @for (nth, part) in parts.iter().enumerate() {
                @if nth % 2 == 1 { code { (part) } } @else { (part) }
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

/// Remembers the dress of this browser.
pub async fn dress(State(_): State<Arc<App>>, posted: Posted) -> Response {
    let night = NIGHT.try_with(|night| *night).unwrap_or(false);
    let mut response = posted.back();
    let value = format!(
        "{DRESS}={}; Path=/; Max-Age=31536000; SameSite=Strict; HttpOnly",
        if night { "paper" } else { "night" }
    );
    if let Ok(value) = HeaderValue::from_str(&value) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    response.into_response()
}

/// Whether a browser asks for the night dress.
pub fn asks_for_night(headers: &axum::http::HeaderMap) -> bool {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(';'))
        .any(|pair| pair.trim() == "dress=night")
}
