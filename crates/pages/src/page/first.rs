//! The first page: where this video stands, and the next three things to do. Taking in the song begins here.

use crate::app::App;
use crate::computed;
use crate::door::Session;
use crate::memo::Answer;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::upload::{Kind, Upload};
use crate::work::Lane;
use axum::Router;
use axum::extract::{Request, State};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use model::{Edit, Project};
use std::sync::Arc;
use std::time::Duration;
use steps::{Known, Next, Step};

/// `/`, `/title`, `/take-in/song`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/", get(show))
        .route("/title", post(title))
        .route("/take-in/song", post(take_in_song))
}

/// The way to where something is done, and what it is called.
fn way(project: &Project, next: &Next) -> (&'static str, String) {
    match next.step {
        Step::Setups if project.setups.is_empty() => ("/make/setup", "Make a setup".into()),
        Step::Day if project.days.is_empty() => ("/make/day", "Make a day".into()),
        step => {
            let here = Here::of(step);
            (here.path(), format!("To the page {}", here.name()))
        }
    }
}

async fn show(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let setups = !project.setups.is_empty();
    let kit = match setups || !project.kit.is_empty() {
        true => Some(computed::kit(&app, &head, None).await),
        false => None,
    };
    let days = match setups && !project.days.is_empty() {
        true => Some(computed::days(&app, &head).await),
        false => None,
    };
    let standing = steps::standing(
        project,
        Known {
            kit: kit.as_ref().and_then(|kit| kit.value()).map(|kit| &**kit),
            days: days
                .as_ref()
                .and_then(|days| days.value())
                .map(|days| &**days),
            no_kit: kit.as_ref().and_then(Answer::failed),
            no_days: days.as_ref().and_then(Answer::failed),
        },
    );
    let body = html! {
        @if project.song.is_none() {
            (welcome(&session))
        } @else {
            h1 { "Next" }
            ol.next {
                @for one in &standing.next {
                    @let (path, go) = way(project, one);
                    li {
                        h2 { (one.what) }
                        p { (one.why) }
                        p { a.button href=(path) { (go) } }
                    }
                }
            }
            @if standing.next.is_empty() { p { "Nothing is waiting. The pages above show everything there is." } }
        }
        h2 { "Where it stands" }
        dl.facts.standing {
            @for one in &standing.stands {
                dt { a href=(Here::of(one.step).path()) { (one.step.name()) } }
                dd { (one.says) }
            }
        }
        section {
            h2 { "What it is called" }
            form.row method="post" action="/title" {
                input type="hidden" name="token" value=(session.token);
                div.field { label for="title" { "Title of the video" } input #title name="title" value=(project.title) maxlength="200"; }
                button { "Save" }
            }
        }
    };
    Ok(shell::page_at(
        &app,
        &head,
        &session,
        Here::First,
        Layer::ideas(project).and(Layer::cut(project)),
        &body,
    )
    .await?
    .into_response())
}

fn welcome(session: &Session) -> Markup {
    html! {
        h1 { "Begin with the song" }
        p { "Everything hangs from it. It is listened to once, in some seconds: tempo, bars, sections, voice. You correct what was heard, plan setups over its bars, and later every take is laid on it by ear." }
        (song_form(session))
    }
}

/// The form a song comes in by.
pub fn song_form(session: &Session) -> Markup {
    html! {
        drop-here.drop-here {
            form method="post" action="/take-in/song" enctype="multipart/form-data" data-plain="" hx-boost="false" {
                input type="hidden" name="token" value=(session.token);
                label for="song-file" { strong { "The finished song" } br; "WAV, FLAC, MP3, AIFF, Ogg or M4A; drop it here or choose it" }
                input #song-file type="file" name="song" accept="audio/*,.wav,.flac,.mp3,.aif,.aiff,.ogg,.m4a" required;
                button { "Take it in" }
            }
        }
    }
}

async fn title(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    app.edit(&Edit::title(posted.text("title")))?;
    Ok(posted.back())
}

async fn take_in_song(State(app): State<Arc<App>>, request: Request) -> Result<Response, Response> {
    let upload = Upload::read(&app, Kind::Song, request).await?;
    let Some(path) = upload.files.first().cloned() else {
        return Err(Refused::Unreadable(
            "no song was chosen; choose a file and send it again".into(),
        )
        .into_response());
    };
    let named = path
        .file_stem()
        .map(|stem| stem.to_string_lossy().into_owned());
    app.start_and_wait(
        ("Listening to the song", Lane::Quick),
        Duration::from_secs(8),
        move |job, progress| {
            // It is copied into the project only once it is known to be a song.
            let out = job.set_song(&upload.files[0], progress);
            drop(upload);
            out
        },
        move |app, heard| {
            let mut notes: Vec<String> = heard.notes.iter().map(ToString::to_string).collect();
            if let (Ok(head), Some(name)) = (app.head(), named)
                && head.project.title.is_empty()
            {
                // A video is called like its song until somebody says otherwise.
                let title = name.replace(['-', '_'], " ");
                if let Err(why) = app.edit(&Edit::title(title)) {
                    notes.push(format!(
                        "the video could not be called like its song: {why}"
                    ));
                }
            }
            (!notes.is_empty()).then(|| notes.join("; "))
        },
    )
    .await
    .map_err(IntoResponse::into_response)?;
    Ok(Redirect::to("/song").into_response())
}
