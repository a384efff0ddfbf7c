//! The assembly: the cut played at once, its shots changed by hand, made anew around what is locked, its
//! versions kept and compared, its timelines taken away.

mod change;
pub mod draw;
mod files;

use crate::app::{App, Head};
use crate::door::Session;
use crate::memo::{Answer, Part};
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::song_strip;
use crate::viewing;
use crate::work::Lane;
use assemble::Why;
use axum::Router;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use model::{Cut, Lock, PlacedTake, Shot, SongMap, SongTime, Stretch, TakeId};
use serde::Deserialize;
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

/// What is looked at.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Asked {
    /// The version; the newest otherwise.
    version: Option<u32>,
    /// The shot that is chosen, counted from 1.
    shot: Option<usize>,
    /// The version it is compared with.
    with: Option<u32>,
    /// Whether it is asked why the chosen shot stands there.
    why: Option<String>,
    /// What a change of the chosen shot was refused with.
    #[serde(skip)]
    said: Option<String>,
}

/// Where a change is posted there is nothing to see: the page itself is.
async fn back() -> Redirect {
    Redirect::to("/assembly")
}

/// All there is to show of one version.
pub(crate) struct Board<'a> {
    head: &'a Head,
    session: &'a Session,
    asked: &'a Asked,
    cut: &'a Cut,
    newest: bool,
    map: &'a SongMap,
    /// The takes placed, once that is done.
    placed: Option<&'a [PlacedTake]>,
}

impl Board<'_> {
    /// When a frame of the cut begins.
    fn at(&self, frame: i64) -> SongTime {
        SongTime::from_ticks(self.cut.rate.ticks_of_frame(frame))
    }

    /// Where a cut lies, for saying it in bars and beats: a cut on a beat begins up to half a frame before it.
    fn near(&self, frame: i64) -> SongTime {
        let begins = self.cut.rate.ticks_of_frame(frame);
        let next = self.cut.rate.ticks_of_frame(frame + 1);
        SongTime::from_ticks(begins + (next - begins) / 2)
    }

    /// The chosen shot, counted from 0.
    fn chosen(&self) -> Option<(usize, &Shot)> {
        let nth = self.asked.shot?.checked_sub(1)?;
        Some((nth, self.cut.shots.get(nth)?))
    }

    fn lock_of(&self, shot: &Shot) -> Option<&Lock> {
        lock_over(&self.head.project.locks, self.cut, shot)
    }
}

/// The frames of a shot on the song.
fn stretch(cut: &Cut, shot: &Shot) -> Option<Stretch> {
    let at = |frame| SongTime::from_ticks(cut.rate.ticks_of_frame(frame));
    Stretch::new(at(shot.from_frame), at(shot.to_frame))
}

/// The lock that holds most of a shot's frames with its take.
fn lock_over<'a>(locks: &'a [Lock], cut: &Cut, shot: &Shot) -> Option<&'a Lock> {
    let at = stretch(cut, shot)?;
    locks.iter().find(|lock| {
        Some(&lock.take) == shot.take.as_ref()
            && lock
                .at
                .overlap(at)
                .is_some_and(|both| both.length().ticks() * 2 > at.length().ticks())
    })
}

/// Bar and beat as a musician says them: `12.3`; bar 0 is what sounds before the first downbeat.
fn address(map: &SongMap, at: SongTime) -> String {
    let (bar, beat) = map.address(at);
    format!("{bar}.{beat}")
}

fn take_name(take: Option<&TakeId>) -> &str {
    take.map_or("black", TakeId::as_str)
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    page(&app, &session, &asked).await
}

/// The page as asked for.
async fn page(app: &Arc<App>, session: &Session, asked: &Asked) -> Result<Response, Refused> {
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
        Some(version) => project
            .cuts
            .iter()
            .find(|cut| cut.version == version)
            .ok_or_else(|| Refused::Gone(format!("version {version} of the cut")))?,
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
    let middle = board.at((shot.from_frame + shot.to_frame) / 2);
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
