//! Changes of takes: brought in, rated, told which setup they are of, placed by hand.

use super::asked::RATINGS;
use crate::app::App;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::upload::{Kind, Upload, forget_unknown, free};
use crate::work::{End, Lane, told};
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use model::{Edit, HandPlacement, Project, SetupId, SongTime, Take, TakeId};
use std::path::PathBuf;
use std::sync::Arc;
use steps::known;
use steps::{Brought, Error, Job, Progress};

/// What bringing in came to, in words.
fn says(brought: &Brought) -> String {
    let mut text = match brought.added.len() {
        0 => "nothing new was brought in".to_owned(),
        1 => format!("{} was brought in", brought.added[0]),
        many => format!("{many} takes were brought in"),
    };
    if brought.known > 0 {
        text += &format!(", {} were there already", brought.known);
    }
    for one in brought.trouble.iter().take(3) {
        let name = one.file.rsplit(['/', '\\']).next().unwrap_or(&one.file);
        text += &format!("; `{name}`: {}", one.says.trim_end_matches('.'));
    }
    if brought.trouble.len() > 3 {
        text += &format!("; and {} more can't be used", brought.trouble.len() - 3);
    }
    text
}

/// Brings in and places, beside the request.
fn begin(
    app: &Arc<App>,
    does: impl FnOnce(&mut Job, &dyn Progress) -> Result<Brought, Error> + Send + 'static,
) -> Result<(), Refused> {
    app.start(
        "Bringing in takes",
        Lane::Long,
        move |job, progress| {
            let brought = does(job, progress)?;
            // Placed at once: what was heard is in the cache when the page asks for it.
            if !brought.added.is_empty() {
                job.gather(false, progress)?;
            }
            Ok(brought)
        },
        |_, out| match &out {
            Ok(brought) => End::Done(Some(says(brought))),
            Err(_) => told(&out),
        },
    )?;
    Ok(())
}

/// Takes in dropped files: saved beside the others under names of their own, then brought in.
pub async fn bring_in(State(app): State<Arc<App>>, request: Request) -> Result<Response, Response> {
    let upload = Upload::read(&app, Kind::Take, request).await?;
    if upload.files.is_empty() {
        let says = "no file was chosen; choose some and send them again";
        return Err(Refused::Unreadable(says.into()).into_response());
    }
    begin(&app, move |job, progress| {
        let folder = job.folder().takes();
        let write = |source| Error::Write {
            path: folder.clone(),
            cause: source,
        };
        std::fs::create_dir_all(&folder).map_err(write)?;
        let mut moved: Vec<PathBuf> = Vec::new();
        for from in &upload.files {
            let name = from.file_name().unwrap_or_default().to_string_lossy();
            let to = free(&folder, &name);
            // Both lie in the project's folder: a rename, whole or not at all.
            std::fs::rename(from, &to).map_err(write)?;
            moved.push(to);
        }
        drop(upload);
        let out = job.bring_in(&moved, progress);
        let takes = job.project().takes.iter();
        forget_unknown(job, &moved, takes.map(|take| &take.file));
        out
    })
    .map_err(IntoResponse::into_response)?;
    Ok(Redirect::to("/takes").into_response())
}

/// Brings in what lies in a folder of this computer; only whoever sits at it may say which.
pub async fn folder(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    if !posted.session.owner {
        return Err(Refused::NotHere(
            "folders of this computer are named at this computer; send the files from here instead"
                .into(),
        ));
    }
    let typed = posted.text("folder").to_owned();
    let path = PathBuf::from(&typed);
    if typed.is_empty() || !path.is_absolute() {
        return Err(Refused::Unreadable(format!(
            "`{typed}` is no whole path; write it from the root, such as /media/card/DCIM"
        )));
    }
    if !path.exists() {
        return Err(Refused::Unreadable(format!(
            "there is no `{typed}` on this computer; put the card in, or look how it is written"
        )));
    }
    begin(&app, move |job, progress| job.bring_in(&[path], progress))?;
    Ok(Redirect::to("/takes").into_response())
}

/// Rates a take.
pub async fn rate(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let take = known::take(&head.project, posted.text("take"))?;
    let word = posted.text("rating");
    let rating = RATINGS
        .iter()
        .find(|one| one.1 == word)
        .ok_or_else(|| Refused::Unreadable(format!("`{word}` is no rating")))?
        .0;
    if take.rating != rating {
        app.edit(&Edit::RateTake {
            id: take.id.clone(),
            rating,
        })?;
    }
    // A key pressed asks for nothing back: the page hears of the change.
    if posted.wants_fragment {
        return Ok(StatusCode::NO_CONTENT.into_response());
    }
    Ok(posted.back())
}

fn setup_of(project: &Project, text: &str) -> Result<Option<SetupId>, Refused> {
    match text {
        "" => Ok(None),
        id => Ok(Some(known::setup(project, id)?.id.clone())),
    }
}

/// Says of many takes at once which setup they are of; passes are counted on in their order.
pub async fn assign(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let setup = setup_of(project, posted.text("setup"))?;
    let chosen = posted.fields.get("take").cloned().unwrap_or_default();
    if chosen.is_empty() {
        return Err(Refused::Unreadable(
            "no take is ticked; tick those that are of this setup".into(),
        ));
    }
    let takes: Vec<&Take> = chosen
        .iter()
        .map(|id| known::take(project, id))
        .collect::<Result<_, _>>()?;
    if let Some(edit) = steps::assign(project, &takes, setup.as_ref()) {
        app.edit(&edit)?;
    }
    Ok(posted.back())
}

/// Places a take by hand, or as it was heard.
pub async fn place(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let id: TakeId = known::take(&head.project, posted.text("take"))?.id.clone();
    let by_hand = match posted.text("at") {
        "" => None,
        at => {
            let song_start: SongTime = at.parse().map_err(Refused::Unreadable)?;
            let speed = match posted.text("speed") {
                "" => 1.0,
                text => text.replace(',', ".").parse().map_err(|_| {
                    Refused::Unreadable(format!("`{text}` is no speed; write 1, 2 or 2.5"))
                })?,
            };
            Some(HandPlacement {
                song_start,
                speed,
                extra: Default::default(),
            })
        }
    };
    app.edit(&Edit::PlaceTake { id, by_hand })?;
    Ok(posted.back())
}

/// Setup, pass and remark of one take.
pub async fn about(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let was = known::take(&head.project, posted.text("take"))?;
    let pass = match posted.text("pass") {
        "" => None,
        text => Some(
            text.parse::<u32>()
                .ok()
                .filter(|pass| *pass > 0)
                .ok_or_else(|| Refused::Unreadable(format!("`{text}` is no pass; count from 1")))?,
        ),
    };
    let take = Take {
        setup: setup_of(&head.project, posted.text("setup"))?,
        pass,
        remark: posted.text("remark").to_owned(),
        ..was.clone()
    };
    if take != *was {
        app.edit(&Edit::change_of(was, &take))?;
    }
    Ok(posted.back())
}

#[cfg(test)]
mod tests {
    use super::*;
    use steps::Trouble;

    #[test]
    fn what_came_of_it_is_said_in_a_sentence() {
        let id = |text: &str| TakeId::new(text).expect("an id");
        let mut brought = Brought::default();
        assert_eq!(says(&brought), "nothing new was brought in");
        brought.added = vec![id("wide-1")];
        brought.known = 2;
        assert_eq!(
            says(&brought),
            "wide-1 was brought in, 2 were there already"
        );
        brought.added.push(id("wide-2"));
        brought.trouble = vec![Trouble {
            file: "/card/a.txt".into(),
            says: "it holds text.".into(),
        }];
        assert_eq!(
            says(&brought),
            "2 takes were brought in, 2 were there already; `a.txt`: it holds text"
        );
    }
}
