//! A cut changed by hand: a cut moved, a shot given another take, two versions laid side by side.
//!
//! What is not touched stays as it is, to the frame. What is touched keeps its sync: the picture of a shot
//! whose beginning moves begins as much earlier or later in its take. Nothing is shown that a take does not hold.

use crate::answer::Question;
use crate::material::{SPEEDS, free_speed, on_song, purpose, sound_run, usable};
use model::{Cut, FrameRate, Length, PlacedTake, Purpose, Rating, Run, Shot, SongMap, TakeId};
use serde::Serialize;

/// Why a cut was left as it was.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// There is no such shot, or no cut before it.
    #[error("the cut has no shot {0}; it may have been made anew meanwhile")]
    NoShot(usize),
    /// A locked shot stays.
    #[error("`{take}` is locked there; free it first")]
    Locked {
        /// What it shows.
        take: String,
    },
    /// A shot would vanish.
    #[error("`{take}` would not be seen at all; move the cut less far")]
    Nothing {
        /// What it shows.
        take: String,
    },
    /// The take has no more picture.
    #[error("`{take}` has no picture there: it has {left} more frames on that side")]
    TakeEnds {
        /// Which.
        take: TakeId,
        /// By how many frames of the cut it could go at most.
        left: i64,
    },
    /// The take was heard no further.
    #[error("the song was heard in `{take}` only for {left} more frames on that side")]
    NotHeard {
        /// Which.
        take: TakeId,
        /// By how many frames of the cut it could go at most.
        left: i64,
    },
    /// The take is not among the takes, or can't be read.
    #[error("the take `{0}` is not there or can't be read")]
    NoTake(TakeId),
    /// It can't be shown there.
    #[error("`{0}` holds nothing to show over all of this shot")]
    NotHere(TakeId),
}

/// A take that could be shown instead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Other {
    /// The shot as it would be.
    pub shot: Shot,
    /// Trust in where it lies, 0 to 1; 1 where the song does not matter.
    pub confidence: f64,
    /// What the maker thinks of it.
    pub rating: Rating,
}

fn name(shot: &Shot) -> String {
    shot.take
        .as_ref()
        .map_or_else(|| "black".into(), TakeId::to_string)
}

fn seconds(rate: FrameRate, frame: i64) -> f64 {
    rate.ticks_of_frame(frame) as f64 / model::TICKS_PER_SECOND as f64
}

/// The run of `take` that the shot shows, when it is in sync.
fn run_shown(take: &PlacedTake, shot: &Shot, from_s: f64) -> Option<Run> {
    if !shot.in_sync {
        return None;
    }
    let usable = usable(take);
    let off = |run: &Run| (run.take_s_at(from_s) - shot.take_start.seconds()).abs();
    take.placement
        .runs
        .iter()
        .filter_map(|run| sound_run(run, usable))
        .min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// What a shot may show: the part of its take, in seconds, and the song seconds per take second.
struct Holds {
    pace: f64,
    /// The part of the take with picture.
    picture: (f64, f64),
    /// The part in which the song was heard, when it must be.
    heard: Option<(f64, f64)>,
}

fn holds(q: &Question, shot: &Shot) -> Result<Option<Holds>, Refused> {
    let Some(id) = &shot.take else {
        return Ok(None);
    };
    let take = q
        .takes
        .iter()
        .find(|take| take.id == *id)
        .ok_or_else(|| Refused::NoTake(id.clone()))?;
    let run = run_shown(take, shot, seconds(q.rate, shot.from_frame));
    let speed = if SPEEDS.contains(&shot.speed) {
        shot.speed
    } else {
        1.0
    };
    Ok(Some(Holds {
        pace: run.map_or(speed, |run| run.true_speed()),
        picture: usable(take),
        heard: run.map(|run| (run.take_start.seconds(), run.take_end.seconds())),
    }))
}

/// By how many frames a shot may be longer where `room_s` of its take are left. A frame of the take
/// that begins within half a frame of the cut still counts, as everywhere in the assembly.
fn frames_of(room_s: f64, pace: f64, rate: FrameRate) -> i64 {
    (room_s * pace * rate.fps() + 0.5).floor() as i64
}

/// How far a cut is moved; later is more than 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// By so many frames.
    Frames(i64),
    /// To a beat: 1 is the next after it, −1 the last before it.
    Beats(i64),
}

/// The frame that a cut at `frame` moves to; `None` where no beat is on that side, or it stays.
pub fn moved(map: &SongMap, rate: FrameRate, frame: i64, by: By) -> Option<i64> {
    let to = match by {
        By::Frames(by) => frame.checked_add(by)?,
        By::Beats(by) => {
            let nth = usize::try_from(by.unsigned_abs()).ok()?.checked_sub(1)?;
            let beats = map
                .beats
                .iter()
                .map(|beat| rate.nearest_frame_to_ticks(beat.ticks()));
            match by > 0 {
                true => beats.filter(|at| *at > frame).nth(nth)?,
                false => beats.rev().filter(|at| *at < frame).nth(nth)?,
            }
        }
    };
    (to != frame).then_some(to)
}

/// Moves the cut into shot `nth` (counted from 0, so from 1 on) to `to_frame`.
///
/// # Errors
/// [`Refused`]; the shots are then as before.
pub fn move_cut(
    q: &Question,
    shots: &[Shot],
    nth: usize,
    to_frame: i64,
) -> Result<Vec<Shot>, Refused> {
    let (Some(before), Some(after)) = (
        nth.checked_sub(1).and_then(|nth| shots.get(nth)),
        shots.get(nth),
    ) else {
        return Err(Refused::NoShot(nth + 1));
    };
    let by = to_frame - after.from_frame;
    if by == 0 {
        return Ok(shots.to_vec());
    }
    for shot in [before, after] {
        if shot.locked {
            return Err(Refused::Locked { take: name(shot) });
        }
    }
    if to_frame <= before.from_frame {
        return Err(Refused::Nothing { take: name(before) });
    }
    if to_frame >= after.to_frame {
        return Err(Refused::Nothing { take: name(after) });
    }
    let mut out = shots.to_vec();
    out[nth - 1].to_frame = to_frame;
    out[nth].from_frame = to_frame;
    let refuse = |shot: &Shot, holds: &Holds, room_s: f64, heard_s: Option<f64>| {
        let take = shot.take.clone()?;
        let left = frames_of(room_s.max(0.0), holds.pace, q.rate);
        if by.abs() > left {
            return Some(Refused::TakeEnds { take, left });
        }
        let left = frames_of(heard_s?.max(0.0), holds.pace, q.rate);
        (by.abs() > left).then_some(Refused::NotHeard { take, left })
    };
    if by > 0
        && let Some(held) = holds(q, before)?
    {
        let shown = seconds(q.rate, before.to_frame).min(q.map.length.seconds())
            - seconds(q.rate, before.from_frame);
        let end = before.take_start.seconds() + shown / held.pace;
        let heard = held.heard.map(|heard| heard.1 - end);
        if let Some(refused) = refuse(before, &held, held.picture.1 - end, heard) {
            return Err(refused);
        }
    }
    if let Some(held) = holds(q, after)? {
        let start = after.take_start.seconds();
        if by < 0 {
            let heard = held.heard.map(|heard| start - heard.0);
            if let Some(refused) = refuse(after, &held, start - held.picture.0, heard) {
                return Err(refused);
            }
        }
        // In ticks, so that moving there and back gives the same again.
        let ticks = q.rate.ticks_of_frame(to_frame) - q.rate.ticks_of_frame(after.from_frame);
        let moved = after.take_start.ticks() + (ticks as f64 / held.pace).round() as i64;
        out[nth].take_start = Length::from_ticks(moved.max(0));
    }
    Ok(out)
}

/// How `take` would be shown over the frames of `shot`; `None` when it holds nothing for all of it.
fn in_place_of(q: &Question, shot: &Shot, take: &PlacedTake) -> Option<Other> {
    let usable = usable(take);
    take.picture.as_ref()?;
    let half = 0.5 / q.rate.fps() + 1e-6;
    let from_s = seconds(q.rate, shot.from_frame);
    let to_s = seconds(q.rate, shot.to_frame).min(q.map.length.seconds());
    let made = |start_s: f64, speed: f64, in_sync: bool, confidence: f64| Other {
        shot: Shot {
            take: Some(take.id.clone()),
            take_start: Length::nearest_to_seconds(start_s.max(0.0)),
            speed,
            in_sync,
            locked: false,
            ..shot.clone()
        },
        confidence,
        rating: take.rating,
    };
    let run = take
        .placement
        .runs
        .iter()
        .filter_map(|run| sound_run(run, usable))
        .filter(|run| {
            let (from, to) = on_song(run, usable);
            from <= from_s + half && to >= to_s - half
        })
        .max_by(|a, b| a.confidence.total_cmp(&b.confidence));
    if let Some(run) = run {
        return Some(made(run.take_s_at(from_s), run.speed, true, run.confidence));
    }
    if purpose(q, take) != Purpose::BRoll {
        return None;
    }
    let speed = free_speed(q, take);
    let shown = (to_s - from_s) / speed;
    let room = usable.1 - usable.0 - shown;
    // Its middle, as a lock without a beginning shows it.
    (room >= -half).then(|| made(usable.0 + (room / 2.0).max(0.0), speed, false, 1.0))
}

/// Every other take that could be shown over all of shot `nth`: what was heard there first, better
/// rated before worse, then by name. Those marked no good are left out.
pub fn others(q: &Question, shots: &[Shot], nth: usize) -> Vec<Other> {
    let Some(shot) = shots.get(nth) else {
        return Vec::new();
    };
    let mut all: Vec<Other> = q
        .takes
        .iter()
        .filter(|take| take.rating != Rating::NoGood && shot.take.as_ref() != Some(&take.id))
        .filter_map(|take| in_place_of(q, shot, take))
        .collect();
    all.sort_by(|a, b| {
        (b.shot.in_sync, b.rating)
            .cmp(&(a.shot.in_sync, a.rating))
            .then_with(|| a.shot.take.cmp(&b.shot.take))
    });
    all
}

/// The shots with `take` in the place of what shot `nth` shows.
///
/// # Errors
/// [`Refused`]; the shots are then as before.
pub fn show_instead(
    q: &Question,
    shots: &[Shot],
    nth: usize,
    take: &TakeId,
) -> Result<Vec<Shot>, Refused> {
    let shot = shots.get(nth).ok_or(Refused::NoShot(nth + 1))?;
    let take = q
        .takes
        .iter()
        .find(|known| known.id == *take)
        .ok_or_else(|| Refused::NoTake(take.clone()))?;
    let other = in_place_of(q, shot, take).ok_or_else(|| Refused::NotHere(take.id.clone()))?;
    let mut out = shots.to_vec();
    out[nth] = other.shot;
    Ok(out)
}

/// A bar in which two versions show something else.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Its number.
    pub bar: u32,
    /// What the first version shows in it, in order; `None` is black.
    pub first: Vec<Option<TakeId>>,
    /// What the second shows.
    pub second: Vec<Option<TakeId>>,
}

/// The bars in which two cuts of one song don't show the same frames of the same takes, to half a frame.
pub fn differences(map: &SongMap, first: &Cut, second: &Cut) -> Vec<Difference> {
    map.bars
        .iter()
        .filter_map(|bar| {
            let over = |cut: &Cut| -> Vec<(Option<TakeId>, f64, f64, f64)> {
                let (from, to) = (bar.at.start().seconds(), bar.at.end().seconds());
                let half = 0.5 / cut.rate.fps();
                cut.shots
                    .iter()
                    .filter_map(|shot| {
                        let starts = seconds(cut.rate, shot.from_frame);
                        let (a, b) = (starts.max(from), seconds(cut.rate, shot.to_frame).min(to));
                        // Less than half a frame of it lies in the bar: the bar was cut to the frame.
                        (b - a > half).then(|| {
                            let at = shot.take_start.seconds() + (a - starts) / shot.speed;
                            (shot.take.clone(), a, b, at)
                        })
                    })
                    .collect()
            };
            let (one, two) = (over(first), over(second));
            let half = 0.5 / first.rate.fps().min(second.rate.fps()) + 1e-9;
            let same = one.len() == two.len()
                && one.iter().zip(&two).all(|(a, b)| {
                    a.0 == b.0
                        && (a.1 - b.1).abs() <= half
                        && (a.2 - b.2).abs() <= half
                        && (a.0.is_none() || (a.3 - b.3).abs() <= half)
                });
            let takes = |all: Vec<(Option<TakeId>, f64, f64, f64)>| {
                all.into_iter().map(|one| one.0).collect()
            };
            (!same).then(|| Difference {
                bar: bar.number,
                first: takes(one),
                second: takes(two),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::questions;
    use crate::{Answer, assemble};
    use proptest::prelude::*;

    #[test]
    fn cuts_move_by_frames_or_to_beats() {
        let map = SongMap {
            length: Length::nearest_to_seconds(4.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: (0..8)
                .map(|n| model::SongTime::nearest_to_seconds(f64::from(n) * 0.5))
                .collect(),
            downbeats: vec![0, 4],
            bars: Vec::new(),
            sections: Vec::new(),
        };
        let to = |frame, by| moved(&map, FrameRate::FPS_24, frame, by);
        assert_eq!(to(24, By::Frames(1)), Some(25));
        assert_eq!(to(24, By::Frames(-3)), Some(21));
        assert_eq!(to(24, By::Frames(0)), None);
        // Beats lie twelve frames apart.
        assert_eq!(to(24, By::Beats(1)), Some(36));
        assert_eq!(to(24, By::Beats(-1)), Some(12));
        assert_eq!(to(24, By::Beats(2)), Some(48));
        // Off the beat, the next beat is the one beside it.
        assert_eq!(to(25, By::Beats(-1)), Some(24));
        assert_eq!(to(25, By::Beats(1)), Some(36));
        assert_eq!(to(84, By::Beats(1)), None);
        assert_eq!(to(0, By::Beats(-1)), None);
    }

    fn solved(seed: u64) -> (questions::Case, Answer) {
        let case = questions::large(seed, 24, 8, 6);
        let answer = assemble(&case.question(), &|| true).expect("a cut");
        (case, answer)
    }

    fn cut(case: &questions::Case, shots: Vec<Shot>) -> Cut {
        Cut {
            version: 1,
            rate: case.rate,
            shots,
            remark: String::new(),
            extra: Default::default(),
        }
    }

    /// What is seen of the take at song time 0, were the shot that long: equal means in sync still.
    fn anchor(q: &Question, shot: &Shot) -> Option<f64> {
        let held = holds(q, shot).expect("its take")?;
        Some(shot.take_start.seconds() - seconds(q.rate, shot.from_frame) / held.pace)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn a_moved_cut_keeps_frames_and_sync(seed in 0u64..6, at in any::<prop::sample::Index>(), by in -40i64..40) {
            let (case, answer) = solved(seed);
            let q = case.question();
            prop_assume!(answer.shots.len() > 1);
            let nth = 1 + at.index(answer.shots.len() - 1);
            let to = answer.shots[nth].from_frame + by;
            let Ok(moved) = move_cut(&q, &answer.shots, nth, to) else {
                return Ok(());
            };
            prop_assert_eq!(moved.len(), answer.shots.len());
            let mut next = 0;
            for (n, (new, old)) in moved.iter().zip(&answer.shots).enumerate() {
                prop_assert_eq!(new.from_frame, next);
                prop_assert!(new.to_frame > new.from_frame);
                next = new.to_frame;
                prop_assert_eq!(&new.take, &old.take);
                prop_assert_eq!(new.in_sync, old.in_sync);
                if n != nth && n + 1 != nth {
                    prop_assert_eq!(new, old);
                }
                if let (Some(a), Some(b)) = (anchor(&q, new), anchor(&q, old)) {
                    prop_assert!((a - b).abs() < 1e-6, "{} {}", a, b);
                }
                if let Some(id) = &new.take {
                    let take = q.takes.iter().find(|take| take.id == *id).expect("it");
                    let (a, b) = usable(take);
                    let held = holds(&q, new).expect("its take").expect("a take");
                    let end = new.take_start.seconds()
                        + (seconds(q.rate, new.to_frame).min(q.map.length.seconds()) - seconds(q.rate, new.from_frame)) / held.pace;
                    let frame = 1.0 / q.rate.fps();
                    prop_assert!(new.take_start.seconds() >= a - frame && end <= b + frame, "{new:?}");
                }
            }
            prop_assert_eq!(next, answer.shots.last().expect("one").to_frame);
            // And back again.
            let back = move_cut(&q, &moved, nth, to - by).expect("there was room before");
            for (new, old) in back.iter().zip(&answer.shots) {
                prop_assert!((new.take_start.ticks() - old.take_start.ticks()).abs() <= 1);
                prop_assert_eq!((new.from_frame, new.to_frame), (old.from_frame, old.to_frame));
            }
        }

        #[test]
        fn another_take_fills_the_same_frames(seed in 0u64..6, at in any::<prop::sample::Index>()) {
            let (case, answer) = solved(seed);
            let q = case.question();
            let nth = at.index(answer.shots.len());
            for other in others(&q, &answer.shots, nth) {
                let id = other.shot.take.clone().expect("a take");
                let shown = show_instead(&q, &answer.shots, nth, &id).expect("it was offered");
                prop_assert_eq!(&shown[nth], &other.shot);
                prop_assert_eq!((shown[nth].from_frame, shown[nth].to_frame), (answer.shots[nth].from_frame, answer.shots[nth].to_frame));
                let differ = differences(q.map, &cut(&case, answer.shots.clone()), &cut(&case, shown));
                prop_assert!(!differ.is_empty());
            }
        }
    }

    #[test]
    fn locked_shots_and_vanishing_ones_stay() {
        let (case, answer) = solved(1);
        let q = case.question();
        let mut shots = answer.shots.clone();
        assert_eq!(move_cut(&q, &shots, 0, 5), Err(Refused::NoShot(1)));
        assert_eq!(
            move_cut(&q, &shots, shots.len(), 5),
            Err(Refused::NoShot(shots.len() + 1))
        );
        assert!(matches!(
            move_cut(&q, &shots, 1, 0),
            Err(Refused::Nothing { .. })
        ));
        let end = shots[1].to_frame;
        assert!(matches!(
            move_cut(&q, &shots, 1, end),
            Err(Refused::Nothing { .. })
        ));
        shots[1].locked = true;
        let at = shots[1].from_frame + 1;
        assert!(matches!(
            move_cut(&q, &shots, 1, at),
            Err(Refused::Locked { .. })
        ));
        assert!(matches!(
            move_cut(&q, &shots, 2, shots[2].from_frame + 1),
            Err(Refused::Locked { .. })
        ));
    }

    #[test]
    fn a_cut_does_not_differ_from_itself_and_differs_where_it_was_moved() {
        let (case, answer) = solved(2);
        let q = case.question();
        let one = cut(&case, answer.shots.clone());
        assert_eq!(differences(q.map, &one, &one), []);
        let moved = (1..answer.shots.len()).find_map(|nth| {
            let to = answer.shots[nth].from_frame - 3;
            let shots = move_cut(&q, &answer.shots, nth, to).ok()?;
            Some((to, shots))
        });
        let (to, shots) = moved.expect("some cut can move three frames");
        let differ = differences(q.map, &one, &cut(&case, shots));
        let at = model::SongTime::from_ticks(q.rate.ticks_of_frame(to));
        let bar = q.map.bars[q.map.bar_index_at(at)].number;
        assert!(
            (1..=2).contains(&differ.len()) && differ.iter().any(|one| one.bar == bar),
            "{differ:?} {bar}"
        );
    }
}
