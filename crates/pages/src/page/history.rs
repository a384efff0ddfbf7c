//! What was done, newest first, with the way back and forward.

use crate::app::App;
use crate::door::Session;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use axum::Router;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use maud::html;
use std::sync::Arc;

/// `/history`, `/undo`, `/redo`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/history", get(show))
        .route("/undo", post(undo))
        .route("/redo", post(redo))
}

/// How many revisions are listed.
const LISTED: usize = 200;

async fn show(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let entries = app.history(LISTED)?;
    let body = html! {
        h1 { "History" }
        p { "Every change is kept. Undo goes back one; what was undone can be done again until something else is changed." }
        table {
            caption.unseen { "Changes, newest first" }
            thead { tr { th scope="col" { "Revision" } th scope="col" { "When" } th scope="col" { "What" } th scope="col" { "Stands" } } }
            tbody {
                @for entry in &entries {
                    tr data-stands[entry.stands] {
                        td.num { data value=(entry.id) { (entry.id) } }
                        td { time data-ms=(entry.at.0) { (entry.at.0 / 1000) " s" } }
                        td { (entry.what) }
                        td { @if entry.stands { "yes" } @else { "undone" } }
                    }
                }
            }
        }
    };
    Ok(
        shell::page(&app, &session, Here::History, Layer::default(), &body)
            .await?
            .into_response(),
    )
}

async fn undo(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    app.step_history(false)?;
    Ok(posted.back())
}

async fn redo(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    app.step_history(true)?;
    Ok(posted.back())
}
