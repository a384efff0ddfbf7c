//! The assembly: the cut played at once, its shots changed by hand, made anew around what is locked, its
//! versions kept and compared, its timelines taken away.

mod board;
mod change;
pub mod draw;
mod files;
mod page;

use crate::app::App;
use crate::door::Session;
use crate::refusal::Refused;
use axum::Router;
use axum::extract::{Query, State};
use axum::response::{Redirect, Response};
use axum::routing::{get, post};
use board::Asked;
use page::page;
use std::sync::Arc;

/// `/assembly` and what it posts.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/assembly", get(show))
        .route("/assembly/make", post(change::make))
        .route("/assembly/show", post(change::show).get(back))
        .route("/assembly/lock", post(change::lock).get(back))
        .route("/assembly/free", post(change::free))
        .route("/assembly/never", post(change::never))
        .route("/assembly/not-here", post(change::not_here))
        .route("/assembly/here-again", post(change::here_again))
        .route("/assembly/move", post(change::nudge).get(back))
        .route("/assembly/back", post(change::back_to))
        .route("/assembly/remove", post(change::remove))
        .route("/assembly/preview", post(change::preview))
        .route("/assembly/file/{kind}", get(files::send))
}

/// Where a change is posted there is nothing to see: the page itself is.
async fn back() -> Redirect {
    Redirect::to("/assembly")
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    page(&app, &session, &asked).await
}
