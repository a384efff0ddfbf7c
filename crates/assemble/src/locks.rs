//! What the maker holds fast, brought onto the frames of the cut.

use crate::answer::{Note, Question};
use crate::error::Error;
use crate::grid::Grid;
use crate::material::{
    Kind, Material, Source, counted_state, free_speed, on_song, purpose, rating_value, setup_of,
    sound_run, usable,
};
use model::{Length, Lock, PlacedTake, Rating, Run};

/// A lock on whole frames.
#[derive(Clone, Debug)]
pub struct OnFrames<'a> {
    /// First frame.
    pub from: i64,
    /// First frame after it.
    pub to: i64,
    /// As the maker set it.
    pub lock: &'a Lock,
    /// Index of its take.
    pub take: usize,
}

/// A lock as a shot.
#[derive(Clone, Debug)]
pub struct Held {
    /// The point it starts at.
    pub from: usize,
    /// The point it ends at.
    pub to: usize,
    /// What it shows.
    pub source: Source,
    /// Where in the take it starts, seconds.
    pub start: f64,
    /// The same, as the timeline is told.
    pub take_start: Length,
}

/// The locks on the frames of the cut, in order, and what to say of those that lie outside it.
///
/// # Errors
/// A lock whose take is missing; two locks that overlap.
pub fn on_frames<'a>(q: &Question<'a>) -> Result<(Vec<OnFrames<'a>>, Vec<Note>), Error> {
    let total = q.rate.frames_to_hold(q.map.length).max(0);
    let mut notes = Vec::new();
    let mut locks = Vec::new();
    for lock in q.locks {
        let take = q
            .takes
            .iter()
            .position(|take| take.id == lock.take)
            .ok_or_else(|| Error::LockWithoutTake {
                take: lock.take.clone(),
                at: lock.at,
            })?;
        let frame = |ticks: i64| q.rate.nearest_frame_to_ticks(ticks).clamp(0, total);
        let mut to = frame(lock.at.end().ticks());
        if lock.at.end().ticks() >= q.map.length.ticks() {
            to = total;
        }
        let from = frame(lock.at.start().ticks());
        if from < to {
            locks.push(OnFrames {
                from,
                to,
                lock,
                take,
            });
        } else {
            notes.push(Note {
                text: format!(
                    "the lock of `{}` at {} holds no whole frame of the song and is not used",
                    lock.take, lock.at
                ),
                bars: None,
                take: Some(lock.take.clone()),
            });
        }
    }
    locks.sort_by_key(|lock| lock.from);
    for pair in locks.windows(2) {
        if pair[1].from < pair[0].to {
            return Err(Error::LocksOverlap {
                first: pair[0].lock.take.clone(),
                first_at: pair[0].lock.at,
                second: pair[1].lock.take.clone(),
                second_at: pair[1].lock.at,
            });
        }
    }
    Ok((locks, notes))
}

/// The run of `take` that holds most of the song from `from_s` to `to_s`.
fn run_over(take: &PlacedTake, usable: (f64, f64), from_s: f64, to_s: f64) -> Option<Run> {
    let held = |run: &Run| {
        let (a, b) = on_song(run, usable);
        b.min(to_s) - a.max(from_s)
    };
    take.placement
        .runs
        .iter()
        .filter_map(|run| sound_run(run, usable))
        .filter(|run| held(run) > 0.0)
        .max_by(|a, b| {
            held(a)
                .total_cmp(&held(b))
                .then(a.confidence.total_cmp(&b.confidence))
        })
}

/// The locks as shots on `grid`, whose points they must be, and what to say of them.
pub fn held(
    q: &Question,
    grid: &Grid,
    material: &Material,
    locks: &[OnFrames],
) -> (Vec<Held>, Vec<Note>) {
    let mut notes = Vec::new();
    let mut held = Vec::new();
    for lock in locks {
        let Some((shot, said)) = hold(q, grid, material, lock) else {
            continue;
        };
        let take = &q.takes[lock.take].id;
        notes.extend(said.into_iter().map(|what| Note {
            text: format!("the lock of `{take}` at {}: {what}", lock.lock.at),
            bars: None,
            take: Some(take.clone()),
        }));
        held.push(shot);
    }
    (held, notes)
}

/// `lock` as a shot on `grid`, and what is to be said of it.
fn hold(
    q: &Question,
    grid: &Grid,
    material: &Material,
    lock: &OnFrames,
) -> Option<(Held, Vec<String>)> {
    let mut said = Vec::new();
    let (from, to) = (grid.point(lock.from)?, grid.point(lock.to)?);
    let (from_s, to_s) = (grid.at_s[from], grid.at_s[to]);
    let take = &q.takes[lock.take];
    let usable = usable(take);
    let run = run_over(take, usable, from_s, to_s);
    let heard_at = run.map(|run| run.take_s_at(from_s));
    let (start, run) = match (lock.lock.take_start, heard_at) {
        (Some(asked), heard) => {
            let asked = asked.seconds();
            let fits = heard.zip(run).is_some_and(|(heard, run)| {
                (heard - asked).abs() * run.true_speed() <= grid.frame_s / 2.0 + 1e-6
            });
            (asked, run.filter(|_| fits))
        }
        (None, Some(heard)) => (heard.max(0.0), run),
        (None, None) => {
            said.push("the song was not heard there; its middle is shown".into());
            let shown = (to_s - from_s) / free_speed(q, take);
            (
                usable.0 + ((usable.1 - usable.0 - shown) / 2.0).max(0.0),
                None,
            )
        }
    };
    let (speed, pace) = match run {
        Some(run) => (run.speed, run.true_speed()),
        None => {
            // A piece out of place still moves as the pass was meant to.
            let speed = match take.placement.main_run() {
                Some(run) => sound_run(run, usable).map_or(1.0, |run| run.speed),
                None => free_speed(q, take),
            };
            (speed, speed)
        }
    };
    said.extend(wrong_with(
        q,
        grid,
        take,
        run,
        [from_s, to_s],
        [start, pace],
    ));
    let planned = setup_of(q, take);
    let source = Source {
        take: lock.take,
        kind: Kind::Free {
            starts: vec![start],
        },
        group: material.groups[lock.take],
        setup: planned.map(|(index, _)| index),
        purpose: purpose(q, take),
        state: counted_state(q, take),
        rating: rating_value(take.rating),
        confidence: run.map_or(1.0, |run| run.confidence),
        usable,
        speed,
        pace,
        in_sync: run.is_some(),
    };
    let held = Held {
        from,
        to,
        source,
        start,
        take_start: lock
            .lock
            .take_start
            .unwrap_or_else(|| Length::nearest_to_seconds(start)),
    };
    Some((held, said))
}

/// What is wrong with a lock of `take` that is shown from `start` on at `pace`.
fn wrong_with(
    q: &Question,
    grid: &Grid,
    take: &PlacedTake,
    run: Option<Run>,
    [from_s, to_s]: [f64; 2],
    [start, pace]: [f64; 2],
) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    let usable = usable(take);
    let end = start + (to_s.min(grid.song_s) - from_s) / pace;
    if end > usable.1 + grid.frame_s || start + grid.frame_s < usable.0 {
        said.push(format!(
            "it asks for {start:.2} s to {end:.2} s of a take whose picture runs from {:.2} s to {:.2} s",
            usable.0, usable.1
        ));
    } else if let Some(run) = run {
        let (a, b) = on_song(&run, usable);
        if a > from_s + grid.frame_s || b < to_s.min(grid.song_s) - grid.frame_s {
            said.push("the song was not heard in all of it".into());
        }
    }
    if take.rating == Rating::NoGood {
        said.push("the take is marked no good".into());
    }
    if take.picture.is_none() && q.takes.iter().any(|take| take.picture.is_some()) {
        said.push("the take has no picture".into());
    }
    said
}
