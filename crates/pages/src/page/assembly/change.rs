//! Changes of the cut, each one edit (or two, where a lock makes room for another).

use super::board::Asked;
use super::page::page;
use crate::app::{App, Head};
use crate::events::Event;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::song_strip;
use crate::text::sentence;
use crate::viewing;
use crate::work::{End, Lane, told};
use assemble::by_hand::By;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use model::{Edit, PlacedTake, SongMap, SongTime, TakeId};
use std::sync::Arc;
use steps::{Error, ShotAt};

/// The shot a form was about.
fn about<'a>(head: &'a Head, posted: &Posted) -> Result<ShotAt<'a>, Refused> {
    let (version, shot) = (number(posted, "version")?, number(posted, "shot")?);
    Ok(ShotAt::find(&head.project, version, shot)?)
}

/// The page with this shot chosen, in the newest version.
fn after(shot: ShotAt) -> Response {
    Redirect::to(&format!("/assembly?shot={}", shot.number())).into_response()
}

fn number<T: std::str::FromStr>(posted: &Posted, name: &str) -> Result<T, Refused> {
    let text = posted.text(name);
    text.parse()
        .map_err(|_| Refused::Unreadable(format!("`{text}` is no number for `{name}`")))
}

/// Ruler and placed takes, or a sentence when they are not known yet.
async fn known(app: &Arc<App>, head: &Head) -> Result<(SongMap, Vec<PlacedTake>), Refused> {
    let heard = song_strip::heard(app, head).await;
    let takes = viewing::takes(app, head).await;
    match (heard.value(), takes.value()) {
        (Some(heard), Some(takes)) => Ok((heard.map.clone(), takes.placed())),
        _ => Err(Refused::Unreadable(
            "the takes are being placed on the song; once that is done, change it again".into(),
        )),
    }
}

/// Makes the cut anew around the locks.
pub async fn make(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    app.start(
        "Making the cut",
        Lane::Long,
        |job, progress| job.assemble(progress),
        |_, out| match out {
            Ok(made) => {
                // Where it is not proven, the first note says how far it may be from the best.
                let proof = if made.answer.proven {
                    "; no better one exists under these weights"
                } else {
                    ""
                };
                let which = if made.fresh {
                    format!(
                        "version {} has {} shots",
                        made.cut.version,
                        made.cut.shots.len()
                    )
                } else {
                    format!("the same as version {}", made.cut.version)
                };
                let notes: String = made
                    .notes
                    .iter()
                    .take(2)
                    .map(|note| format!(". {}", sentence(&note.to_string()).trim_end_matches('.')))
                    .collect();
                End::Done(Some(format!("{which}{proof}{notes}")))
            }
            other => told(&other),
        },
    )?;
    Ok(if posted.from().starts_with("/assembly") {
        Redirect::to("/assembly").into_response()
    } else {
        posted.back()
    })
}

/// What was done, or the page again with the sentence of what was refused beside the shot.
async fn or_said(
    app: &Arc<App>,
    posted: &Posted,
    done: Result<Response, Refused>,
) -> Result<Response, Refused> {
    let why = match done {
        Err(why @ (Refused::Step(_) | Refused::Store(_) | Refused::Unreadable(_))) => why,
        done => return done,
    };
    let newest = app.head()?.project.newest_cut().map(|cut| cut.version);
    let asked = Asked {
        version: posted
            .text("version")
            .parse()
            .ok()
            .filter(|one| Some(*one) != newest),
        shot: posted.text("shot").parse().ok(),
        said: Some(why.to_string()),
        ..Asked::default()
    };
    let mut response = page(app, &posted.session, &asked).await?;
    *response.status_mut() = why.status();
    Ok(response)
}

/// Shows another take over the shot's frames, and locks it there.
pub async fn show(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let done = shown(&app, &posted).await;
    or_said(&app, &posted, done).await
}

async fn shown(app: &Arc<App>, posted: &Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let shot = about(&head, posted)?;
    let take = TakeId::new(posted.text("take")).map_err(Refused::Unreadable)?;
    let (map, takes) = known(app, &head).await?;
    app.edit(&shot.show(&take, &map, &takes)?)?;
    Ok(after(shot))
}

/// Makes one edit of a shot, and goes back to where it was asked for.
fn one(
    app: &App,
    posted: &Posted,
    edit: impl FnOnce(ShotAt) -> Result<Edit, Error>,
) -> Result<Response, Refused> {
    app.edit(&edit(about(&app.head()?, posted)?)?)?;
    Ok(posted.back())
}

/// Locks the shot as it is.
pub async fn lock(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let done = one(&app, &posted, |shot| shot.lock());
    or_said(&app, &posted, done).await
}

/// Frees the shot.
pub async fn free(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    one(&app, &posted, |shot| shot.free())
}

/// Keeps the shot's take out of this part of the song, from the next cut on.
pub async fn not_here(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    one(&app, &posted, |shot| shot.not_here())
}

/// Marks the shot's take no good, so that it is never cut to again.
pub async fn never(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    one(&app, &posted, |shot| shot.never())
}

/// Lets a take be seen again where it was kept out.
pub async fn here_again(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let take = TakeId::new(posted.text("take")).map_err(Refused::Unreadable)?;
    let at = SongTime::from_ticks(number(&posted, "at")?);
    app.edit(&Edit::RemoveBan { take, at })?;
    Ok(posted.back())
}

/// Moves the cut before the shot, or after it, by frames or to another beat.
pub async fn nudge(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let done = moved(&app, &posted).await;
    or_said(&app, &posted, done).await
}

async fn moved(app: &Arc<App>, posted: &Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let shot = about(&head, posted)?;
    let (map, takes) = known(app, &head).await?;
    let by = by(&posted.text("by").replace('−', "-"))?;
    let out_of_it = posted.text("cut") == "after";
    app.edit(&shot.move_cut(out_of_it, by, &map, &takes)?)?;
    Ok(after(shot))
}

/// `3`, `-1`, `1 beat`
fn by(text: &str) -> Result<By, Refused> {
    let (count, unit) = text.split_once(' ').unwrap_or((text, ""));
    let by = count.parse::<i64>().ok();
    match by.filter(|by| *by != 0 && by.abs() <= 10_000) {
        Some(by) if unit.starts_with("beat") => Ok(By::Beats(by)),
        Some(by) => Ok(By::Frames(by)),
        None => Err(Refused::Unreadable(format!(
            "`{count}` is no distance; write a number of frames or beats other than 0"
        ))),
    }
}

/// An earlier version as the newest.
pub async fn back_to(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let version: u32 = number(&posted, "version")?;
    app.edit(&steps::back_to(&app.head()?.project, version)?)?;
    Ok(Redirect::to("/assembly").into_response())
}

/// Removes a version.
pub async fn remove(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let version: u32 = number(&posted, "version")?;
    app.edit(&Edit::RemoveCut { version })?;
    Ok(Redirect::to("/assembly").into_response())
}

/// Renders the newest version to a file.
pub async fn preview(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let labelled = !posted.text("labels").is_empty();
    app.start(
        "Rendering the preview",
        Lane::Long,
        move |job, progress| job.preview(labelled, progress),
        |app, out| match out {
            Ok(made) => {
                app.tell(Event::Computed("preview"));
                let notes: String = made
                    .notes
                    .iter()
                    .take(3)
                    .map(|note| format!("; {note}"))
                    .collect();
                End::Done(Some(format!(
                    "the preview is there, {} frames{notes}",
                    made.frames
                )))
            }
            other => told(&other),
        },
    )?;
    Ok(posted.back())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_read() {
        assert_eq!(by("-1").ok(), Some(By::Frames(-1)));
        assert_eq!(by("2 beats").ok(), Some(By::Beats(2)));
        for wrong in ["", "0", "1.5", "beat", "10001", "99999999999999999999"] {
            assert!(by(wrong).is_err(), "{wrong}");
        }
    }
}
