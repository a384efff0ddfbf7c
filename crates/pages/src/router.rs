//! Every address with what answers it, behind the guard.

use crate::app::App;
use crate::{assets, blocking, guard, live, media, page, refusal, viewing};
use axum::Router;
use axum::http::{Extensions, HeaderMap, StatusCode, Version, header};
use axum::middleware::{from_fn, from_fn_with_state};
use std::sync::Arc;
use tower_http::CompressionLevel;
use tower_http::compression::CompressionLayer;

/// Everything that can be asked for, behind the guard.
pub fn router(app: Arc<App>) -> Router {
    Router::new()
        .merge(page::routes())
        .merge(assets::routes())
        .merge(live::routes())
        .merge(media::routes())
        .merge(viewing::routes())
        .fallback(refusal::not_found)
        .layer(from_fn_with_state(app.clone(), guard::guard))
        .layer(from_fn(blocking::answer))
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
