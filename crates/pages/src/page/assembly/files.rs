//! What is taken away from the assembly, asked for by kind: timelines written when they are asked for, and
//! the preview once it was rendered.

use crate::app::App;
use crate::door::Session;
use crate::media::serve_path;
use crate::memo::{Answer, Part};
use crate::refusal::Refused;
use crate::work::Lane;
use axum::extract::{Path, Query, Request, State};
use axum::http::{HeaderValue, header};
use axum::response::Response;
use serde::Deserialize;
use std::path::PathBuf;
use std::sync::Arc;
use steps::{Job, MadeFiles};

/// Which version.
#[derive(Debug, Deserialize)]
pub struct Of {
    version: Option<u32>,
}

/// Sends one file of a version: `otio`, `edl`, `captions`, `listing`, `preview`.
pub async fn send(
    State(app): State<Arc<App>>,
    _: Session,
    Path(kind): Path<String>,
    Query(of): Query<Of>,
    request: Request,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let newest = head.project.newest_cut().map(|cut| cut.version);
    let version = of.version.or(newest);
    let version = version.ok_or_else(|| Refused::Gone("cut yet".into()))?;
    if kind == "preview" {
        return attached(Job::preview_path(app.folder(), version), request).await;
    }
    let made = app
        .ask(
            &head,
            "timelines",
            &version.to_string(),
            ("Writing the timelines", Lane::Quick),
            &[
                Part::Song,
                Part::Takes,
                Part::Cut,
                Part::Brief,
                Part::Setups,
            ],
            move |job, progress| job.timelines(version, progress),
        )
        .await;
    let files = match made {
        Answer::Ready(made) => made.0.clone(),
        Answer::Failed(why) => return Err(Refused::Unreadable(why)),
        Answer::Working(_) | Answer::Stopped(_) => {
            return Err(Refused::Unreadable(
                "the timelines are being written; ask for them again in a moment".into(),
            ));
        }
    };
    let path = path_of(files, &kind)
        .ok_or_else(|| Refused::Gone(format!("file of the kind `{kind}` in this version")))?;
    attached(path, request).await
}

fn path_of(files: MadeFiles, kind: &str) -> Option<PathBuf> {
    match kind {
        "otio" => Some(files.otio),
        "edl" => Some(files.edl),
        "listing" => Some(files.listing),
        "captions" => files.captions,
        _ => None,
    }
}

async fn attached(path: PathBuf, request: Request) -> Result<Response, Refused> {
    let name = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let mut response = serve_path(&path, request).await?;
    // Names of ours: a version and an ending.
    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\"")) {
        response
            .headers_mut()
            .insert(header::CONTENT_DISPOSITION, value);
    }
    Ok(response)
}
