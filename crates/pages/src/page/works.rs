//! The works on every page: how they come on, stopped, and begun again.

use crate::app::App;
use crate::door::Session;
use crate::events::Event;
use crate::posted::Posted;
use crate::work;
use axum::Router;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use maud::Markup;
use std::sync::Arc;

/// `GET /works`, `POST /works/{id}/stop`, `POST /works/go-on`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/works", get(show))
        .route("/works/{id}/stop", post(stop))
        .route("/works/go-on", post(go_on))
}

async fn go_on(State(app): State<Arc<App>>, posted: Posted) -> Response {
    app.memo.go_on();
    posted.back()
}

async fn show(State(app): State<Arc<App>>, session: Session) -> Markup {
    work::draw(&app.works.standing(), &session.token)
}

async fn stop(State(app): State<Arc<App>>, Path(id): Path<u64>, posted: Posted) -> Response {
    app.works.stop(id);
    app.tell(Event::Work);
    if posted.wants_fragment {
        work::draw(&app.works.standing(), &posted.session.token).into_response()
    } else {
        posted.back()
    }
}
