//! Takes: brought in, heard on the song, told apart by setup and pass, rated, watched under the song.

mod asked;
mod change;
mod draw;

use crate::app::App;
use crate::door::Session;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::song_strip;
use crate::viewing;
use asked::Asked;
use axum::Router;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use maud::html;
use model::Project;
use std::sync::Arc;

/// `/takes` and what it posts.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/takes", get(show))
        .route("/takes/bring-in", post(change::bring_in))
        .route("/takes/folder", post(change::folder))
        .route("/takes/rate", post(change::rate))
        .route("/takes/assign", post(change::assign))
        .route("/takes/place", post(change::place))
        .route("/takes/about", post(change::about))
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let project: &Project = &head.project;
    let mut layer = Layer::None;
    let body = if project.song.is_none() {
        html! { h1 { "Takes" } p { "Takes are laid on the song by their sound, so the song comes first." } p { a.button href=(Here::Song.path()) { "To the song" } } }
    } else {
        let map = song_strip::heard(&app, &head).await;
        let gathered = match project.takes.is_empty() {
            true => None,
            false => Some(viewing::takes(&app, &head).await),
        };
        let views = viewing::views(&app, &head).await;
        let known = gathered.as_ref().and_then(|gathered| gathered.value());
        let stills = viewing::stills(&app, &head, known.map(|known| &**known));
        let ids = project.takes.iter().map(|take| &take.id);
        let player = viewing::for_player(&app, project, views.value().map(|views| &**views), ids);
        if let Some(known) = known {
            // Setups that lie nowhere on the song need no row.
            let mut rows = Layer::shot(project, &known.placed()).rows().to_vec();
            rows.retain(|row| !row.spans.is_empty());
            layer = Layer::Rows(rows);
        }
        draw::page(&draw::Board {
            head: &head,
            session: &session,
            asked: &asked,
            map: map.value().map(|heard| &heard.map),
            gathered: gathered.as_ref(),
            stills: &stills,
            player,
        })
    };
    Ok(
        shell::page_at(&app, &head, &session, Here::Takes, layer, &body)
            .await?
            .into_response(),
    )
}
