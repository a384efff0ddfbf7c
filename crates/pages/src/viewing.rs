//! Takes as pages show them: what is known of each, the file or the copy a browser plays, its still.

use crate::app::{App, Head};
use crate::door::Session;
use crate::events::Event;
use crate::media::{serve_path, take_called};
use crate::memo::{Answer, Part};
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::work::{Lane, told};
use axum::Router;
use axum::extract::{Path, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use model::{Project, Take, TakeId};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::sync::Arc;
use steps::{Gathered, Job, Progress, TakeView};

/// `/media/view/{take}`, `/media/still/{take}`, `/takes/{take}/copy`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/media/view/{id}", get(view))
        .route("/media/still/{id}", get(still))
        .route("/takes/{id}/copy", post(copy))
}

/// Every take with where it lies on the song, from the memo.
pub async fn takes(app: &Arc<App>, head: &Head) -> Answer<Gathered> {
    app.ask(
        head,
        "takes",
        "",
        ("Placing the takes on the song", Lane::Long),
        &[Part::Song, Part::Takes],
        |job, progress| job.gather(false, progress),
    )
    .await
}

/// Every take as a browser may show it, from the memo.
pub async fn views(app: &Arc<App>, head: &Head) -> Answer<Vec<TakeView>> {
    app.ask(
        head,
        "take-views",
        "",
        ("Looking at the takes", Lane::Quick),
        &[Part::Files],
        |job, progress| job.viewing(progress),
    )
    .await
}

/// Which takes have a still. Missing ones are begun, beside the request.
pub fn stills(app: &Arc<App>, head: &Head, gathered: Option<&Gathered>) -> Vec<TakeId> {
    let has =
        |take: &&Take| steps::still_path(app.folder(), take).is_some_and(|path| path.is_file());
    let at: BTreeMap<TakeId, f64> = gathered
        .iter()
        .flat_map(|gathered| &gathered.takes)
        .filter_map(|state| {
            let run = state.placed.as_ref()?.placement.main_run()?;
            let middle = run.take_start.seconds() + run.take_end.seconds();
            Some((state.take.id.clone(), middle / 2.0))
        })
        .collect();
    if gathered.is_some() && !head.project.takes.iter().all(|take| has(&take)) {
        // The page is not kept waiting: it is shown anew once they are there.
        let work = ("Taking a still of each take", Lane::Long);
        let make = move |job: &mut Job, progress: &dyn Progress| {
            job.make_stills(&|id| at.get(id).copied(), progress)
        };
        let known = app.begin(head, "stills", work, &[Part::Files], make);
        // Made and gone again, as the cache may be at any time: the next look makes them once more.
        if matches!(known, Some(Answer::Ready(made)) if *made > 0) {
            app.memo.forget("stills");
        }
    }
    let takes = head.project.takes.iter();
    takes.filter(has).map(|take| take.id.clone()).collect()
}

/// What the player is told of takes: where each one's file and copy are, and what it is like.
pub fn for_player<'a>(
    app: &App,
    project: &Project,
    views: Option<&Vec<TakeView>>,
    wanted: impl IntoIterator<Item = &'a TakeId>,
) -> Value {
    let mut all = serde_json::Map::new();
    for id in wanted {
        let take = project.take(id);
        let view = views
            .into_iter()
            .flatten()
            .find(|view| view.take == *id)
            .filter(|_| take.is_some());
        let ready = take
            .and_then(|take| steps::view_path(app.folder(), take))
            .is_some_and(|path| path.is_file());
        let picture = view.and_then(|view| view.picture.as_ref());
        all.insert(
            id.to_string(),
            json!({
                "file": format!("/media/take/{id}"),
                "copy": ready.then(|| format!("/media/view/{id}")),
                "ask": format!("/takes/{id}/copy"),
                // Not looked at yet is not the same as having no picture.
                "known": views.is_some(),
                "picture": picture.is_some(),
                "type": view.and_then(|view| view.plays_as),
                "heavy": view.and_then(|view| view.heavy.as_deref()),
                "fps": picture.map(|picture| picture.rate.fps()),
                "length": picture.map(|picture| picture.length.seconds()),
            }),
        );
    }
    Value::Object(all)
}

async fn view(
    State(app): State<Arc<App>>,
    _: Session,
    Path(id): Path<String>,
    request: Request,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let path = steps::view_path(app.folder(), take_called(&head.project, &id)?);
    let path = path.ok_or_else(|| Refused::Gone("such copy".into()))?;
    store::used_at(&path);
    serve_path(&path, request).await
}

async fn still(
    State(app): State<Arc<App>>,
    _: Session,
    Path(id): Path<String>,
    request: Request,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let path = steps::still_path(app.folder(), take_called(&head.project, &id)?);
    let path = path.ok_or_else(|| Refused::Gone("such still".into()))?;
    store::used_at(&path);
    serve_path(&path, request).await
}

/// Begins the copy a browser needs, unless it is there or under way.
async fn copy(
    State(app): State<Arc<App>>,
    Path(id): Path<String>,
    posted: Posted,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let id = take_called(&head.project, &id)?.id.clone();
    let what = format!("A copy of {id} to watch");
    let under_way = app
        .works
        .standing()
        .iter()
        .any(|work| work.what == what && work.end.is_none());
    let there = head
        .project
        .take(&id)
        .and_then(|take| steps::view_path(app.folder(), take))
        .is_some_and(|path| path.is_file());
    if !under_way && !there {
        app.start(
            &what,
            Lane::Long,
            move |job, progress| job.make_view(&id, progress),
            |app, out| {
                if out.is_ok() {
                    app.tell(Event::Computed("copy"));
                }
                told(&out)
            },
        )?;
    }
    if posted.wants_fragment {
        return Ok(StatusCode::NO_CONTENT.into_response());
    }
    Ok(posted.back())
}
