//! Style, scripts and what they need, compiled in and served by content, so that a browser keeps them.

use axum::Router;
use axum::body::Body;
use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use rust_embed::RustEmbed;
use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::{Duration, Instant};

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Assets;

/// What the charts bring, served beside it: name, type, text.
static CHARTS: LazyLock<[(&str, &str, String); 3]> = LazyLock::new(|| {
    let script = "text/javascript";
    [
        ("charts.css", "text/css", charts::stylesheet()),
        ("day-line.js", script, charts::DAY_LINE_JS.into()),
        ("coverage-grid.js", script, charts::COVERAGE_GRID_JS.into()),
    ]
});

/// `GET /assets/{hash}/{*name}`. The hash stands in the path, so that scripts that name each other
/// relatively are kept together.
pub fn routes<S: Clone + Send + Sync + 'static>() -> Router<S> {
    Router::new().route("/assets/{hash}/{*name}", get(show))
}

/// A number that changes when any of the assets does.
pub fn hash() -> String {
    let mut all = xxhash_rust::xxh3::Xxh3::new();
    for name in Assets::iter() {
        if let Some(file) = Assets::get(&name) {
            all.update(name.as_bytes());
            all.update(&file.metadata.sha256_hash());
        }
    }
    for (name, _, text) in CHARTS.iter() {
        all.update(name.as_bytes());
        all.update(text.as_bytes());
    }
    format!("{:016x}", all.digest())
}

/// How long a hash is believed while developing, when files are read anew from disk.
const FRESH: Duration = Duration::from_secs(2);

/// The address of an asset.
pub fn at(name: &str) -> String {
    static KNOWN: Mutex<Option<(Instant, String)>> = Mutex::new(None);
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    let stale = known
        .as_ref()
        .is_none_or(|(at, _)| cfg!(debug_assertions) && at.elapsed() > FRESH);
    if stale {
        *known = Some((Instant::now(), hash()));
    }
    let hash = known.as_ref().map_or("", |(_, hash)| hash.as_str());
    format!("/assets/{hash}/{name}")
}

async fn show(Path((_, name)): Path<(String, String)>) -> Response {
    let own = CHARTS.iter().find(|(known, ..)| *known == name);
    let found = match own {
        Some((_, kind, text)) => Some(((*kind).to_owned(), Body::from(text.as_str()))),
        None => Assets::get(&name).map(|file| {
            let kind = file.metadata.mimetype().to_owned();
            (kind, Body::from(file.data.into_owned()))
        }),
    };
    match found {
        Some((kind, body)) => (
            [
                (header::CONTENT_TYPE, kind),
                (
                    header::CACHE_CONTROL,
                    "public, max-age=31536000, immutable".into(),
                ),
            ],
            body,
        )
            .into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
