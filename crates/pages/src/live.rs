//! What happens, sent to every open page as it happens (server-sent events).

use crate::app::App;
use crate::blocking;
use crate::door::Session;
use crate::events::Event;
use axum::Router;
use axum::extract::State;
use axum::response::sse::{KeepAlive, Sse};
use axum::routing::get;
use futures_util::Stream;
use futures_util::stream::unfold;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use store::RevisionId;
use tokio::sync::broadcast::error::RecvError;

/// `GET /events`
pub fn routes() -> Router<Arc<App>> {
    Router::new().route("/events", get(listen))
}

async fn listen(
    State(app): State<Arc<App>>,
    session: Session,
) -> Sse<impl Stream<Item = Result<axum::response::sse::Event, Infallible>>> {
    let receiver = app.events.listen();
    let first = app.revision().map_or(0, RevisionId::number);
    // The revision at the time of connecting comes first, so that a page that was away looks again.
    let hello = Some(wire("changed", &first.to_string()));
    let stream = unfold((receiver, hello), move |(mut receiver, hello)| {
        let (app, session) = (app.clone(), session.clone());
        async move {
            let event = match hello {
                Some(hello) => hello,
                None => match receiver.recv().await {
                    Ok(event) => wire(event.name(), &event.data()),
                    // Too slow: what it missed it learns by looking at the page again.
                    Err(RecvError::Lagged(_)) => wire("computed", ""),
                    Err(RecvError::Closed) => return None,
                },
            };
            // Whoever was sent away hears nothing more, and that is told as an event too.
            app.door
                .holds(&session)
                .then_some((Ok(event), (receiver, None)))
        }
    });
    Sse::new(stream).keep_alive(KeepAlive::new().interval(Duration::from_secs(15)))
}

fn wire(name: &str, data: &str) -> axum::response::sse::Event {
    axum::response::sse::Event::default().event(name).data(data)
}

/// How often somebody else's edits are looked for.
const LOOK_EVERY: Duration = Duration::from_millis(400);

/// Tells pages of edits that another program makes to the same project, for as long as it runs.
pub async fn watch(app: Arc<App>) {
    let look = async || {
        let app = app.clone();
        blocking::run(move || app.revision().ok())
            .await
            .ok()
            .flatten()
    };
    let mut last = look().await;
    loop {
        tokio::time::sleep(LOOK_EVERY).await;
        let now = look().await;
        if now != last
            && let Some(revision) = now
        {
            app.tell(Event::Changed(revision));
        }
        last = now;
    }
}
