//! The song: what was heard in it, corrections, sections, lyrics, and ideas pinned while listening.
//!
//! Everything is a form that works by typing; scripts add the playhead, dragging, tapping and keys.

mod address;
mod corrections;
mod ideas;
mod lyrics;
mod sections;
mod view;

use crate::app::{App, Head};
use crate::door::Session;
use crate::memo::Answer;
use crate::page::{first, noun};
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::song_strip;
use axum::Router;
use axum::extract::State;
use axum::handler::Handler;
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{MethodRouter, get, post};
use maud::{Markup, html};
use std::sync::Arc;
use view::{Back, Meant, View};

/// `/song` and what it posts.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/song", get(show))
        .route("/song/correct", form(correct))
        .route("/song/taps", post(corrections::taps))
        .route("/song/sections", form(save_sections))
        .route("/song/sections/as-heard", form(sections_as_heard))
        .route("/song/bounds", post(sections::by_hand))
        .route("/song/lyrics", form(save_words))
        .route("/song/lyrics/times", form(save_times))
        .route("/song/lyrics/tapped", post(lyrics::tapped))
        .route("/song/idea", form(note))
}

/// An address that takes a form; asked for as a page, after a refusal and a reload say, it leads to the page.
fn form<T: 'static>(takes: impl Handler<T, Arc<App>>) -> MethodRouter<Arc<App>> {
    post(takes).get(async || done())
}

async fn correct(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    settle(&app, &posted, corrections::correct(&posted)?).await
}

async fn save_sections(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    settle(&app, &posted, sections::save(&app, &posted).await?).await
}

async fn sections_as_heard(
    State(app): State<Arc<App>>,
    posted: Posted,
) -> Result<Response, Refused> {
    settle(&app, &posted, sections::as_heard(&app, &posted)?).await
}

async fn save_words(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    settle(&app, &posted, lyrics::save_words(&app, &posted)?).await
}

async fn save_times(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    settle(&app, &posted, lyrics::save_times(&app, &posted)?).await
}

async fn note(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    settle(&app, &posted, ideas::note(&app, &posted).await?).await
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
            "← → on a boundary of sections",
            "move it by a bar; with Shift by a beat",
        ),
        ("Delete on a boundary", "join the two sections"),
        (
            "Enter on a boundary",
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
            p.faint { "Click or tap the song to play from there; with Shift from the start of that bar. A boundary that is dragged keeps to the bars; with Alt it goes where it is put." }
        }
    }
}

fn done() -> Response {
    Redirect::to(Here::Song.path()).into_response()
}

/// Makes the edit a form meant and shows the page again; refused, with what was typed and what is wrong.
async fn settle(
    app: &Arc<App>,
    posted: &Posted,
    (form, meant): Meant,
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
