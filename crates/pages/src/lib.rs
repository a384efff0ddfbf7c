//! What a browser shows: the whole job as pages on this machine, and to a second screen when asked.
//!
//! Server-rendered pages over the same [`steps`] and [`model::Edit`]s as the command line. A page is a
//! function of the document and of what the steps computed from it; every change is a form or a small
//! JSON post that becomes one typed edit. Forms work without script; script adds what must be live.
//!
//! # What it keeps to
//! - Loopback only unless shared; [`guard`] checks Host and Origin of every request, [`door`] the device's
//!   key, [`posted`] the token of every change.
//! - No path is ever taken from a request: media are asked for by their id in the document.
//! - Work that takes long runs beside the request ([`work`]) with progress and stop; what is computed is
//!   kept as long as the parts of the document it came from stay the same ([`memo`]).
//!
//! It computes nothing of the trade itself.

pub mod app;
pub mod assets;
pub mod computed;
pub mod door;
pub mod drawn;
pub mod events;
pub mod form;
pub mod guard;
pub mod media;
pub mod memo;
pub mod net;
pub mod page;
pub mod posted;
pub mod refusal;
pub mod shell;
pub mod song_strip;
pub mod upload;
pub mod viewing;
pub mod work;

pub use app::App;
pub use net::{Address, Error, Options, serve};

use axum::Router;
use axum::http::{Extensions, HeaderMap, StatusCode, Version, header};
use axum::middleware::from_fn_with_state;
use std::sync::Arc;
use tower_http::CompressionLevel;
use tower_http::compression::CompressionLayer;

/// Everything that can be asked for, behind the guard.
pub fn router(app: Arc<App>) -> Router {
    Router::new()
        .merge(page::routes())
        .merge(assets::routes())
        .merge(events::routes())
        .merge(media::routes())
        .merge(viewing::routes())
        .merge(door::routes())
        .merge(work::routes())
        .fallback(refusal::not_found)
        .layer(from_fn_with_state(app.clone(), guard::guard))
        .layer(
            CompressionLayer::new()
                .quality(CompressionLevel::Fastest)
                .compress_when(is_text),
        )
        .with_state(app)
}

/// Pages, style, scripts and drawings get shorter on the way; sound and pictures would not, and parts of them are
/// asked for by their place in the file.
fn is_text(_: StatusCode, _: Version, headers: &HeaderMap, _: &Extensions) -> bool {
    let kind = headers
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default();
    let kind = kind.split(';').next().unwrap_or_default();
    matches!(
        kind,
        "text/html" | "text/css" | "text/javascript" | "application/javascript" | "image/svg+xml"
    )
}
