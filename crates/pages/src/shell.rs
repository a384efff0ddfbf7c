//! What every page stands in: the list of pages, the song strip, undo, the dress, and who else is in.

use crate::app::{App, Head};
use crate::door::Session;
use crate::dress;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::song_strip;
use crate::work;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use maud::{Markup, html};
use std::sync::Arc;
use steps::Step;

pub use crate::song_strip::Layer;
pub use crate::text::{said, sentence, words};

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

    /// The page of a step: both are listed in the order of the work.
    pub const fn of(step: Step) -> Self {
        Self::WORK[step as usize]
    }

    /// What it is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::First => "Where it stands",
            Self::Brief => Step::Brief.name(),
            Self::Song => Step::Song.name(),
            Self::Places => Step::Places.name(),
            Self::Kit => Step::Kit.name(),
            Self::Setups => Step::Setups.name(),
            Self::Day => Step::Day.name(),
            Self::Takes => Step::Takes.name(),
            Self::Assembly => Step::Assembly.name(),
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
                (dress::bulb()) span { "Barebulb" }
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
        (work::draw(&app.works.standing(), &session.token))
        main #page tabindex="-1" data-revision=(head.revision) {
            (body)
        }
        (foot(head, session, here))
    };
    Ok(dress::around(
        &format!("{} – {called}", here.name()),
        Some(&session.token),
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

/// Remembers the dress of this browser.
pub async fn dress(posted: Posted) -> Response {
    let mut response = posted.back();
    if let Ok(value) = HeaderValue::from_str(&dress::other()) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    response
}
