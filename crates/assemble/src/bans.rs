//! Takes that a person does not want to see somewhere.
//!
//! A take's runs are cut where it is banned, so that nothing can be shown of it there in sync, and all that
//! follows works as if it had not been shot there. What is cut to anywhere (b-roll) lies nowhere on the song and can't be
//! banned from a part of it.

use model::{Ban, Length, PlacedTake, Run, SongTime, Stretch};

/// What is left of a run is worth keeping from this length on, seconds of song.
const LEAST_S: f64 = 0.1;

/// The takes with the banned parts of their runs taken out; one of which no run is left is left out altogether.
pub fn without(takes: &[PlacedTake], bans: &[Ban]) -> Vec<PlacedTake> {
    let allowed = |take: &PlacedTake| {
        let mine: Vec<Stretch> = bans
            .iter()
            .filter(|ban| ban.take == take.id)
            .map(|ban| ban.at)
            .collect();
        if mine.is_empty() || !take.placement.matched() {
            return Some(take.clone());
        }
        let mut take = take.clone();
        let banned = Stretch::joined(mine);
        take.placement.runs = take
            .placement
            .runs
            .iter()
            .flat_map(|run| pieces(run, &banned))
            .collect();
        take.placement.matched().then_some(take)
    };
    takes.iter().filter_map(allowed).collect()
}

/// The parts of a run outside `banned`, which is in order and does not overlap itself.
fn pieces(run: &Run, banned: &[Stretch]) -> Vec<Run> {
    let Some(whole) = run.on_song() else {
        return vec![*run];
    };
    let mut out = Vec::new();
    let mut from = whole.start();
    let mut keep = |from: SongTime, to: SongTime| {
        if to.since(from).seconds() >= LEAST_S {
            out.push(part(run, whole, from, to));
        }
    };
    for at in banned.iter().filter(|at| at.overlap(whole).is_some()) {
        keep(from, at.start());
        from = from.max(at.end());
    }
    keep(from, whole.end());
    out
}

/// The part of `run` between two instants of the song.
fn part(run: &Run, whole: Stretch, from: SongTime, to: SongTime) -> Run {
    // The run's own ends stay to the tick; only new ends are reckoned.
    let in_take = |at: SongTime| Length::nearest_to_seconds(run.take_s_at(at.seconds()).max(0.0));
    Run {
        take_start: if from == whole.start() {
            run.take_start
        } else {
            in_take(from)
        },
        take_end: if to == whole.end() {
            run.take_end
        } else {
            in_take(to)
        },
        song_start: if from == whole.start() {
            run.song_start
        } else {
            from
        },
        ..*run
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::questions::{self, Case};
    use proptest::prelude::*;

    fn banned(case: &Case, bans: &[Ban]) -> Case {
        Case {
            takes: without(&case.takes, bans),
            locks: Vec::new(),
            ..case.clone()
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

        /// Whatever the cut shows in sync somewhere, banned there, is not shown there in sync any more; elsewhere it may be.
        #[test]
        fn what_is_banned_is_not_seen_there(seed in 0_u64..10_000) {
            let case = Case { locks: Vec::new(), ..questions::small(seed) };
            let first = crate::assemble(&case.question(), &|| true).expect("a cut");
            let Some(shot) = first.shots.iter().find(|shot| shot.in_sync) else { return Ok(()) };
            let at = Stretch::new(
                SongTime::from_ticks(case.rate.ticks_of_frame(shot.from_frame)),
                SongTime::from_ticks(case.rate.ticks_of_frame(shot.to_frame)),
            ).expect("a stretch");
            let take = shot.take.clone().expect("a take");
            let ban = Ban { at, take: take.clone(), extra: Default::default() };
            let case = banned(&case, &[ban]);
            let next = crate::assemble(&case.question(), &|| true).expect("a cut");
            for again in next.shots.iter().filter(|again| again.in_sync && again.take.as_ref() == Some(&take)) {
                prop_assert!(again.to_frame <= shot.from_frame || again.from_frame >= shot.to_frame, "{again:?} in {shot:?}");
            }
        }
    }
}
