//! The page Assembly, put together.

use super::board::{Asked, Board};
use super::draw;
use crate::app::{App, Head};
use crate::door::Session;
use crate::memo::{Answer, Part};
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::song_strip;
use crate::viewing;
use crate::work::Lane;
use assemble::Why;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use model::Shot;
use std::sync::Arc;

/// The page as asked for.
pub async fn page(app: &Arc<App>, session: &Session, asked: &Asked) -> Result<Response, Refused> {
    let head = app.head()?;
    let body = if head.project.song.is_none() {
        html! { h1 { "Assembly" } p { "There is no song yet." } p { a.button href=(Here::Song.path()) { "To the song" } } }
    } else if head.project.takes.is_empty() {
        html! { h1 { "Assembly" } p { "There are no takes yet: once some are in, the cut is made of them." } p { a.button href=(Here::Takes.path()) { "Bring in takes" } } }
    } else {
        board(app, &head, session, asked).await?
    };
    Ok(shell::page_at(
        app,
        &head,
        session,
        Here::Assembly,
        layer(&head, asked),
        &body,
    )
    .await?
    .into_response())
}

/// What lies under the song on this page.
fn layer(head: &Head, _asked: &Asked) -> Layer {
    Layer::cut(&head.project)
}

async fn board(
    app: &Arc<App>,
    head: &Head,
    session: &Session,
    asked: &Asked,
) -> Result<Markup, Refused> {
    let project = &head.project;
    let Some(newest) = project.newest_cut() else {
        return Ok(draw::first(session, project.takes.len()));
    };
    let cut = match asked.version {
        Some(version) => steps::known::version(project, version)?,
        None => newest,
    };
    let heard = match song_strip::heard(app, head).await {
        Answer::Failed(why) => return Ok(draw::failed(&why)),
        Answer::Ready(heard) | Answer::Working(Some(heard)) | Answer::Stopped(Some(heard)) => heard,
        Answer::Working(None) => return Ok(draw::waiting("The song is being listened to.")),
        Answer::Stopped(None) => {
            return Ok(draw::waiting("Listening to the song was stopped."));
        }
    };
    let gathered = viewing::takes(app, head).await;
    let views = viewing::views(app, head).await;
    let placed = gathered.value().map(|gathered| gathered.placed());
    let board = Board {
        head,
        session,
        asked,
        cut,
        newest: cut.version == newest.version,
        map: &heard.map,
        placed: placed.as_deref(),
    };
    let why = match board.chosen() {
        Some((_, shot)) if asked.why.is_some() && board.newest => {
            Some(why(app, head, &board, shot).await)
        }
        _ => None,
    };
    let used = cut.shots.iter().filter_map(|shot| shot.take.as_ref());
    let takes = viewing::for_player(app, project, views.value().map(|views| &**views), used);
    let trouble = gathered.value().map(|gathered| gathered.trouble());
    Ok(draw::page(
        app,
        &board,
        takes,
        why,
        trouble.unwrap_or_default(),
    ))
}

/// Why the newest cut shows what it shows where `shot` begins.
async fn why(app: &Arc<App>, head: &Head, board: &Board<'_>, shot: &Shot) -> Answer<Why> {
    let middle = board.cut.at((shot.from_frame + shot.to_frame) / 2);
    let bar = board.map.bars[board.map.bar_index_at(middle)].number;
    app.ask(
        head,
        "why",
        &bar.to_string(),
        ("Weighing the shots", Lane::Long),
        &[
            Part::Song,
            Part::Setups,
            Part::Wishes,
            Part::Takes,
            Part::Brief,
            Part::Cut,
        ],
        move |job, progress| job.why(bar, progress),
    )
    .await
}
