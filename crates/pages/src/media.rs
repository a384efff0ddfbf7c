//! Sound and picture to a browser: by their id in the document, never by a path.

use crate::app::App;
use crate::door::Session;
use crate::refusal::Refused;
use axum::Router;
use axum::extract::{Path, Request, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use model::{MediaFile, Project, Take};
use std::sync::Arc;
use tower::ServiceExt as _;
use tower_http::services::ServeFile;

/// `GET /media/song`, `GET /media/take/{id}`, `GET /media/photo/{hash}`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/media/song", get(song))
        .route("/media/take/{id}", get(take))
        .route("/media/photo/{hash}", get(photo))
}

async fn song(
    State(app): State<Arc<App>>,
    _: Session,
    request: Request,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let song = head.project.song.as_ref();
    let file = song.ok_or_else(|| Refused::Gone("song".into()))?;
    serve(&app, &file.file, request).await
}

async fn take(
    State(app): State<Arc<App>>,
    _: Session,
    Path(id): Path<String>,
    request: Request,
) -> Result<Response, Refused> {
    let head = app.head()?;
    serve(&app, &take_called(&head.project, &id)?.file, request).await
}

/// The take that a request names by its id.
///
/// # Errors
/// When there is none.
pub fn take_called<'a>(project: &'a Project, id: &str) -> Result<&'a Take, Refused> {
    let mut takes = project.takes.iter();
    takes
        .find(|take| take.id.as_str() == id)
        .ok_or_else(|| Refused::Gone(format!("take `{id}`")))
}

async fn photo(
    State(app): State<Arc<App>>,
    _: Session,
    Path(hash): Path<String>,
    request: Request,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let photo = head
        .project
        .places
        .iter()
        .flat_map(|place| &place.photos)
        .find(|photo| photo.file.hash == hash);
    let photo = photo.ok_or_else(|| Refused::Gone("such photograph".into()))?;
    serve(&app, &photo.file, request).await
}

/// Sends a file of the document, or the part of it a player asks for: only what was brought in, whatever the
/// document names.
async fn serve(app: &App, file: &MediaFile, request: Request) -> Result<Response, Refused> {
    let path = app.folder().resolve(file);
    if !app.holds(&path, file)? {
        return Err(gone(&path));
    }
    serve_path(&path, request).await
}

fn gone(path: &std::path::Path) -> Refused {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    Refused::Gone(format!(
        "file `{name}` as it was brought in; bring it in again from where it lies now"
    ))
}

/// What a file of sound or picture may do when it is opened by itself: nothing.
const POLICY: HeaderValue = HeaderValue::from_static("default-src 'none'; sandbox");
/// The type of what is no sound or picture that is known here.
const UNKNOWN: &str = "application/octet-stream";

/// Sends a file this program found or made, or the part of it a player asks for: as the kind that its first
/// bytes say it is, whatever it is called, and never as something that runs. What is of no kind that is known
/// here is for keeping alone.
///
/// # Errors
/// When it is not there.
pub async fn serve_path(path: &std::path::Path, request: Request) -> Result<Response, Refused> {
    if !path.is_file() {
        return Err(gone(path));
    }
    let kind = media::kind_of(path).ok().flatten();
    let mut response = ServeFile::new(path)
        .oneshot(request)
        .await
        .unwrap_or_else(|never| match never {})
        .into_response();
    let headers = response.headers_mut();
    if kind.is_none() {
        headers.insert(
            header::CONTENT_DISPOSITION,
            HeaderValue::from_static("attachment"),
        );
    }
    let is = kind.map_or(UNKNOWN, |kind| kind.mime);
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(is));
    headers.insert(header::CONTENT_SECURITY_POLICY, POLICY);
    // Its bytes do not change as long as the document names them; asked again, it says so cheaply.
    headers.insert(
        header::CACHE_CONTROL,
        HeaderValue::from_static("private, no-cache"),
    );
    Ok(response)
}
