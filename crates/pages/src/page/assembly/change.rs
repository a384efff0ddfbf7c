//! Changes of the cut, each one edit (or two, where a lock makes room for another).

use super::board::{Asked, lock_over, stretch};
use super::page::page;
use crate::app::{App, Head};
use crate::events::Event;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::song_strip;
use crate::text::sentence;
use crate::viewing;
use crate::work::{End, Lane, told};
use assemble::Question;
use assemble::by_hand;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use model::{Ban, Cut, Edit, Lock, PlacedTake, Rating, Shot, SongMap, SongTime, TakeId};
use std::sync::Arc;

/// The cut a form was about, and which of its shots.
struct About {
    head: Head,
    cut: Cut,
    nth: usize,
}

impl About {
    fn of(app: &App, posted: &Posted) -> Result<Self, Refused> {
        let head = app.head()?;
        let version: u32 = number(posted, "version")?;
        let cut = cut_of(&head, version)?;
        let nth: usize = number(posted, "shot")?;
        let nth = nth
            .checked_sub(1)
            .filter(|nth| *nth < cut.shots.len())
            .ok_or_else(|| Refused::Gone(format!("shot {nth} in version {version}")))?;
        Ok(Self { head, cut, nth })
    }

    fn shot(&self) -> &Shot {
        &self.cut.shots[self.nth]
    }

    /// The page with this shot chosen, in the newest version.
    fn after(&self) -> Response {
        Redirect::to(&format!("/assembly?shot={}", self.nth + 1)).into_response()
    }
}

fn number<T: std::str::FromStr>(posted: &Posted, name: &str) -> Result<T, Refused> {
    let text = posted.text(name);
    text.parse()
        .map_err(|_| Refused::Unreadable(format!("`{text}` is no number for `{name}`")))
}

fn cut_of(head: &Head, version: u32) -> Result<Cut, Refused> {
    let mut cuts = head.project.cuts.iter();
    cuts.find(|cut| cut.version == version)
        .cloned()
        .ok_or_else(|| Refused::Gone(format!("version {version} of the cut")))
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

/// The question of the document, at the rate of the cut.
fn question<'a>(about: &'a About, map: &'a SongMap, takes: &'a [PlacedTake]) -> Question<'a> {
    Question {
        rate: about.cut.rate,
        ..steps::question(&about.head.project, map, takes)
    }
}

/// The shots with what is locked by now marked.
fn marked(about: &About) -> Vec<Shot> {
    let locks = &about.head.project.locks;
    about
        .cut
        .shots
        .iter()
        .map(|shot| Shot {
            locked: lock_over(locks, &about.cut, shot).is_some(),
            ..shot.clone()
        })
        .collect()
}

fn refused(why: by_hand::Refused) -> Refused {
    Refused::Step(why.into())
}

fn version(about: &About, shots: Vec<Shot>, remark: String) -> Edit {
    Edit::AddCut {
        cut: Cut {
            shots,
            remark,
            ..about.cut.clone()
        },
    }
}

/// The edits that lock the shot, in the place of whatever held its frames.
fn lock_edits(about: &About, shot: &Shot) -> Result<Vec<Edit>, Refused> {
    let (Some(take), Some(at)) = (&shot.take, stretch(&about.cut, shot)) else {
        return Err(Refused::Unreadable(
            "black can't be locked; show a take there first".into(),
        ));
    };
    let held = about.head.project.locks.iter();
    let mut edits: Vec<Edit> = held
        .filter(|lock| lock.at.overlap(at).is_some())
        .map(|lock| Edit::RemoveLock {
            at: lock.at.start(),
        })
        .collect();
    edits.push(Edit::PutLock {
        lock: Lock {
            at,
            take: take.clone(),
            // In sync, it goes on following where the take was heard.
            take_start: (!shot.in_sync).then_some(shot.take_start),
            extra: Default::default(),
        },
    });
    Ok(edits)
}

/// Makes the cut anew around the locks.
pub async fn make(State(app): State<Arc<App>>, posted: Posted) -> Response {
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
    );
    if posted.from().starts_with("/assembly") {
        Redirect::to("/assembly").into_response()
    } else {
        posted.back()
    }
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
    let about = About::of(app, posted)?;
    let take = TakeId::new(posted.text("take")).map_err(Refused::Unreadable)?;
    let (map, takes) = known(app, &about.head).await?;
    let mut shots = by_hand::show_instead(
        &question(&about, &map, &takes),
        &marked(&about),
        about.nth,
        &take,
    )
    .map_err(refused)?;
    shots[about.nth].locked = true;
    let mut edits = lock_edits(&about, &shots[about.nth])?;
    let what = format!("shot {} shows {take}", about.nth + 1);
    edits.push(version(&about, shots, what.clone()));
    app.edit(&Edit::Together { what, edits })?;
    Ok(about.after())
}

/// Locks the shot as it is.
pub async fn lock(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let about = About::of(&app, &posted)?;
    let what = format!("lock shot {}", about.nth + 1);
    let done = lock_edits(&about, about.shot())
        .and_then(|edits| app.edit(&Edit::Together { what, edits }))
        .map(|_| posted.back());
    or_said(&app, &posted, done).await
}

/// Frees the shot.
pub async fn free(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let about = About::of(&app, &posted)?;
    let lock = lock_over(&about.head.project.locks, &about.cut, about.shot());
    let at = lock
        .ok_or_else(|| Refused::Gone("lock on this shot".into()))?
        .at
        .start();
    app.edit(&Edit::RemoveLock { at })?;
    Ok(posted.back())
}

/// Keeps the shot's take out of this part of the song, from the next cut on.
pub async fn not_here(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let about = About::of(&app, &posted)?;
    let shot = about.shot();
    let (Some(take), Some(at)) = (&shot.take, stretch(&about.cut, shot)) else {
        return Err(Refused::Gone("take in this shot".into()));
    };
    app.edit(&Edit::PutBan {
        ban: Ban {
            at,
            take: take.clone(),
            extra: Default::default(),
        },
    })?;
    Ok(posted.back())
}

/// Lets a take be seen again where it was kept out.
pub async fn here_again(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let take = TakeId::new(posted.text("take")).map_err(Refused::Unreadable)?;
    let at = SongTime::from_ticks(number(&posted, "at")?);
    app.edit(&Edit::RemoveBan { take, at })?;
    Ok(posted.back())
}

/// Marks the shot's take no good, so that it is never cut to again.
pub async fn never(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let about = About::of(&app, &posted)?;
    let id = about
        .shot()
        .take
        .clone()
        .ok_or_else(|| Refused::Gone("take in this shot".into()))?;
    app.edit(&Edit::RateTake {
        id,
        rating: Rating::NoGood,
    })?;
    Ok(posted.back())
}

/// The frame a cut at `frame` moves to: by frames, or to the beats beside it.
fn moved_to(map: &SongMap, cut: &Cut, frame: i64, by: i64, beats: bool) -> i64 {
    if !beats {
        return frame + by;
    }
    let frames: Vec<i64> = map
        .beats
        .iter()
        .map(|beat| cut.rate.nearest_frame_to_ticks(beat.ticks()))
        .collect();
    let steps = by.unsigned_abs() as usize;
    let beat = if by > 0 {
        frames.iter().filter(|at| **at > frame).nth(steps - 1)
    } else {
        frames.iter().rev().filter(|at| **at < frame).nth(steps - 1)
    };
    // Before the first beat and after the last there is the frame alone.
    beat.copied().unwrap_or(frame)
}

/// Moves the cut before the shot, or after it, by frames or to another beat.
pub async fn nudge(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let done = moved(&app, &posted).await;
    or_said(&app, &posted, done).await
}

async fn moved(app: &Arc<App>, posted: &Posted) -> Result<Response, Refused> {
    let about = About::of(app, posted)?;
    let (map, takes) = known(app, &about.head).await?;
    let cut = match posted.text("cut") {
        "after" => about.nth + 1,
        _ => about.nth,
    };
    let by: String = posted.text("by").replace('−', "-");
    let (count, beats) = match by.split_once(' ') {
        Some((count, unit)) => (count.to_owned(), unit.starts_with("beat")),
        None => (by, false),
    };
    let by = count
        .parse::<i64>()
        .ok()
        .filter(|by| *by != 0 && by.abs() <= 10_000)
        .ok_or_else(|| {
            Refused::Unreadable(format!(
                "`{count}` is no distance; write a number of frames or beats other than 0"
            ))
        })?;
    let from = about.cut.shots.get(cut).map_or(0, |shot| shot.from_frame);
    let to = moved_to(&map, &about.cut, from, by, beats);
    if to == from {
        return Err(Refused::Unreadable(
            "there is no beat on that side to move the cut to; move it by frames".into(),
        ));
    }
    let shots = by_hand::move_cut(&question(&about, &map, &takes), &marked(&about), cut, to)
        .map_err(refused)?;
    let moved = to - from;
    let frames = if moved.abs() == 1 { "frame" } else { "frames" };
    let remark = format!("cut into shot {} moved by {moved:+} {frames}", cut + 1);
    app.edit(&version(&about, shots, remark))?;
    Ok(about.after())
}

/// An earlier version as the newest.
pub async fn back_to(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let head = app.head()?;
    let version: u32 = number(&posted, "version")?;
    let cut = cut_of(&head, version)?;
    app.edit(&Edit::AddCut {
        cut: Cut {
            remark: format!("as version {version}"),
            ..cut
        },
    })?;
    Ok(Redirect::to("/assembly").into_response())
}

/// Removes a version.
pub async fn remove(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    let version: u32 = number(&posted, "version")?;
    app.edit(&Edit::RemoveCut { version })?;
    Ok(Redirect::to("/assembly").into_response())
}

/// Renders the newest version to a file.
pub async fn preview(State(app): State<Arc<App>>, posted: Posted) -> Response {
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
    );
    posted.back()
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{FrameRate, Length, SongTime};

    fn map() -> SongMap {
        SongMap {
            length: Length::nearest_to_seconds(4.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: (0..8)
                .map(|n| SongTime::nearest_to_seconds(f64::from(n) * 0.5))
                .collect(),
            downbeats: vec![0, 4],
            bars: Vec::new(),
            sections: Vec::new(),
        }
    }

    #[test]
    fn cuts_move_by_frames_or_to_beats() {
        let cut = Cut {
            version: 1,
            rate: FrameRate::FPS_24,
            shots: Vec::new(),
            remark: String::new(),
            extra: Default::default(),
        };
        let to = |frame, by, beats| moved_to(&map(), &cut, frame, by, beats);
        assert_eq!(to(24, 1, false), 25);
        assert_eq!(to(24, -3, false), 21);
        // Beats lie twelve frames apart.
        assert_eq!(to(24, 1, true), 36);
        assert_eq!(to(24, -1, true), 12);
        assert_eq!(to(24, 2, true), 48);
        // Off the beat, the next beat is the one beside it.
        assert_eq!(to(25, -1, true), 24);
        assert_eq!(to(25, 1, true), 36);
        assert_eq!(to(84, 1, true), 84);
        assert_eq!(to(0, -1, true), 0);
    }
}
