//! The page in the pocket, served: made for this device, and its log taken in as it is written.

use crate::app::{App, Head};
use crate::computed;
use crate::door::Session;
use crate::memo::{Answer, Part};
use crate::posted::PostedJson;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::upload::{Kind, Upload};
use crate::work::Lane;
use axum::Router;
use axum::extract::{Query, Request, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use model::{Edit, SetupShot, SoFar};
use pocket::Link;
use pocket::log::{Post, known, mark};
use serde::Deserialize;
use std::sync::Arc;
use std::time::Duration;
use steps::{PocketMade, PocketOptions};

/// `/pocket`, `/pocket/file`, `/pocket/log`, `/take-in/log`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/pocket", get(show))
        .route("/pocket/file", get(file))
        .route("/pocket/log", post(log))
        .route("/take-in/log", post(take_in))
}

/// What stands in the page for the device's token until it is served.
const TOKEN: &str = "the-token-of-this-device";

#[derive(Deserialize)]
struct Asked {
    day: Option<String>,
}

async fn made(
    app: &Arc<App>,
    head: &Head,
    day: Option<String>,
    served: bool,
) -> Answer<PocketMade> {
    let extra = format!("{day:?} {}", head.project.log.len());
    let link = served.then(|| Link {
        address: "/pocket/log".into(),
        token: TOKEN.into(),
    });
    app.ask(
        head,
        if served { "pocket" } else { "pocket-file" },
        &extra,
        ("Making the page for the pocket", Lane::Long),
        &[
            Part::Song,
            Part::Night,
            Part::Setups,
            Part::Wishes,
            Part::Brief,
        ],
        move |job, progress| {
            let options = PocketOptions {
                day,
                without_sound: false,
                link,
            };
            job.pocket(&options, progress)
        },
    )
    .await
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let answer = made(&app, &head, asked.day.filter(|day| !day.is_empty()), true).await;
    match &answer {
        Answer::Ready(made) => Ok(page(made, Some(&session.token))),
        other => {
            let body = html! {
                h1 { "The page for the pocket" }
                p data-becomes="page" { "It is being made; it opens here as soon as it is there." }
                (computed::waiting(other, "the page", &session.token))
            };
            Ok(
                shell::page_at(&app, &head, &session, Here::Day, Layer::default(), &body)
                    .await?
                    .into_response(),
            )
        }
    }
}

/// The page as an answer, with the policy that lets its own style and script run and nothing else.
fn page(made: &PocketMade, token: Option<&str>) -> Response {
    let html = match token {
        Some(token) => made.page.html.replacen(TOKEN, token, 1),
        None => made.page.html.clone(),
    };
    let mut response = maud::PreEscaped(html).into_response();
    let policy = format!("{}; frame-ancestors 'none'", made.page.policy);
    if let Ok(policy) = HeaderValue::from_str(&policy) {
        response
            .headers_mut()
            .insert(header::CONTENT_SECURITY_POLICY, policy);
    }
    response
}

async fn file(
    State(app): State<Arc<App>>,
    session: Session,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let answer = made(&app, &head, asked.day.filter(|day| !day.is_empty()), false).await;
    match &answer {
        Answer::Ready(made) => {
            let mut response = page(made, None);
            let name = steps::pocket_file(&made.report);
            let value = format!(
                "attachment; filename=\"{}\"",
                name.replace(|c: char| !c.is_ascii() || c == '"', "_")
            );
            if let Ok(value) = HeaderValue::from_str(&value) {
                response
                    .headers_mut()
                    .insert(header::CONTENT_DISPOSITION, value);
            }
            Ok(response)
        }
        other => {
            let body = html! {
                h1 { "The page for the pocket" }
                (computed::waiting(other, "the file", &session.token))
                p { "Ask for it again in a moment: " a href="/pocket/file" hx-boost="false" { "the file" } "." }
            };
            Ok(
                shell::page_at(&app, &head, &session, Here::Day, Layer::default(), &body)
                    .await?
                    .into_response(),
            )
        }
    }
}

/// Entries of a page that is near: taken in at once; the answer says what is known.
async fn log(State(app): State<Arc<App>>, posted: PostedJson<Post>) -> Result<Response, Refused> {
    let head = app.head()?;
    let post = posted.value;
    if post.project != mark(&head.project) {
        return Err(Refused::Unreadable(
            "this page was made for another song; load it again from the laptop, its log stays in the phone".into(),
        ));
    }
    if !post.entries.is_empty() {
        app.edit(&Edit::AddLog {
            entries: post.entries,
        })?;
    }
    Ok(axum::Json(known(&app.head()?.project.log)).into_response())
}

async fn take_in(State(app): State<Arc<App>>, request: Request) -> Result<Response, Response> {
    let upload = Upload::read(&app, Kind::Log, request).await?;
    if upload.files.is_empty() {
        return Err(Refused::Unreadable(
            "no log was chosen; choose its file, or pictures of its codes".into(),
        )
        .into_response());
    }
    app.start_and_wait(
        ("Taking in the log", Lane::Quick),
        Duration::from_secs(5),
        move |job, progress| {
            let out = job.take_log(&upload.files, progress);
            drop(upload);
            out
        },
        |_, (taken, trouble)| {
            let mut says = format!("{} new entries, {} known already", taken.new, taken.known);
            let notes = taken.notes.iter().map(ToString::to_string);
            for one in notes.chain(trouble.iter().map(|one| one.says.clone())) {
                says += &format!("; {one}");
            }
            Some(says)
        },
    )
    .await
    .map_err(IntoResponse::into_response)?;
    Ok(Redirect::to("/day").into_response())
}

/// How many passes of a setup were shot.
fn passes(of: &SetupShot) -> String {
    match of
        .passes
        .iter()
        .filter(|pass| pass.done_ms.is_some())
        .count()
    {
        1 => "1 pass".into(),
        count => format!("{count} passes"),
    }
}

/// What the Day page says of the pocket page: how to get it, what came back.
pub fn section(head: &Head, session: &Session) -> Markup {
    let project = &head.project;
    let so_far = SoFar::of(&project.log);
    html! {
        section aria-labelledby="in-the-pocket" {
            h2 #in-the-pocket { "In the pocket" }
            p { "One page for the phone: the day, setups, cautions, sky, playback and a slate. It works without any network and keeps a log of what was shot." }
            div.actions {
                a.button.quiet href="/pocket" hx-boost="false" { "Open it here" }
                a.button.quiet href="/pocket/file" hx-boost="false" { "Save it as a file" }
            }
            @if !project.log.is_empty() {
                h3 { "What came back" }
                ul.plain {
                    @for one in &so_far.setups {
                        li {
                            strong { (project.setup_name(&one.setup)) } ": "
                            @if let Some(at) = one.done_ms { "done, " time data-ms=(at) {} }
                            @else if one.dropped_ms.is_some() { "dropped" }
                            @else { (passes(one)) }
                            @for note in one.notes.iter().chain(one.passes.iter().flat_map(|pass| &pass.notes)) { br; span.faint { (note) } }
                        }
                    }
                    @if !so_far.swaps.is_empty() { li { (so_far.swaps.len()) " batteries swapped" } }
                    @if let Some(at) = so_far.meal_ms { li { "Meal had, " time data-ms=(at) {} } }
                    @for note in &so_far.notes { li { (note) } }
                }
            }
            drop-here.drop-here {
                form method="post" action="/take-in/log" enctype="multipart/form-data" hx-boost="false" {
                    input type="hidden" name="token" value=(session.token);
                    label for="log-files" { strong { "The phone's log" } br; "its file, or pictures of its codes" }
                    input #log-files type="file" name="log" multiple accept=".json,application/json,image/jpeg,image/png,image/webp" required;
                    button { "Take it in" }
                }
            }
        }
    }
}

/// The day a log tells of begun: which setups are done, and whether the meal was had.
pub fn begun(head: &Head) -> (Vec<String>, bool) {
    let so_far = SoFar::of(&head.project.log);
    (
        so_far.done().iter().map(ToString::to_string).collect(),
        so_far.meal_ms.is_some(),
    )
}
