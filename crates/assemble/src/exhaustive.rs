//! The oracle against sums done by hand, then the search against the oracle, then what holds of
//! every cut.

use crate::oracle::Oracle;
use crate::questions::{Case, length, run, setup, small, song, take};
use crate::{Answer, assemble};
use model::{FrameRate, Framing, Purpose, Rating, Shot, TakeId, Weights};

fn go() -> impl Fn() -> bool {
    || true
}

fn shot(from: i64, to: i64, take: Option<&str>, start_s: f64, in_sync: bool) -> Shot {
    Shot {
        extra: Default::default(),
        from_frame: from,
        to_frame: to,
        take: take.map(|id| TakeId::new(id).unwrap()),
        take_start: length(start_s),
        speed: 1.0,
        in_sync,
        locked: false,
    }
}

/// Two bars of two beats at 60 beats a minute; a circled performance heard from its third second on,
/// and three seconds of b-roll.
fn by_hand() -> Case {
    let mut takes = vec![
        take("song", Some("one"), 10.0, vec![run(2.0, 4.0, 0.0, 1.0)]),
        take("cat", Some("broll"), 3.0, Vec::new()),
    ];
    takes[0].rating = Rating::Circled;
    Case {
        map: song(&[0.0, 2.0, 4.0], 2, &[(0.5, 1.0), (1.0, 0.0)], &[0]),
        rate: FrameRate::FPS_25,
        setups: vec![
            setup("one", Purpose::Performance, Framing::Wide),
            setup("broll", Purpose::BRoll, Framing::Wide),
        ],
        wishes: Vec::new(),
        weights: Weights::default(),
        locks: Vec::new(),
        takes,
    }
}

#[test]
fn the_oracle_agrees_with_sums_done_by_hand() {
    let case = by_hand();
    let q = case.question();
    let oracle = Oracle::new(&q);
    assert_eq!(oracle.points, [0, 25, 50, 75, 100]);
    // One performance over all four beats. Intent ½ × 4 beats = 2; rating 1 × 4 = 4; unmeasured picture
    // ½: sharpness 0.4 × 4 × ½ = 0.8, exposure 0.6 × 4 × ½ = 1.2, movement against energy ½ and 1:
    // 0.4 × (2 × 1 + 2 × ½) = 1.2; voice 1.2 × 2 = 2.4; trust 0.5 × 4 = 2. Expected length: √24
    // beats at energy ½, 3 at 1, so √(3√24) over all. Handles there are.
    let whole = [shot(0, 100, Some("song"), 2.0, true)];
    let off = |beats: f64, expected: f64| -2.0 * (beats / expected).log2().powi(2);
    let at_half = 24f64.sqrt();
    let expected = 2.0 + 4.0 + 0.8 + 1.2 + 1.2 + 2.4 + 2.0 + off(4.0, (3.0 * at_half).sqrt());
    assert!((oracle.worth(&whole).unwrap() - expected).abs() < 1e-9);
    // B-roll from 0.5 s in for the second bar: cut on a downbeat (−0.8 × ¼). First bar: intent 1,
    // rating 2, sharpness 0.4, exposure 0.6, movement 0.8, voice 2.4, trust 1, length: 2 beats where √24
    // are expected. Second: intent 1, rating 0.6, sharpness 0.4, exposure 0.6, movement 0.4, no
    // voice 2.4, trust 1, 2 beats where 3 are expected; half a second of handle on both sides.
    let cut = [
        shot(0, 50, Some("song"), 2.0, true),
        shot(50, 100, Some("cat"), 0.5, false),
    ];
    let first = 1.0 + 2.0 + 0.4 + 0.6 + 0.8 + 2.4 + 1.0 + off(2.0, at_half);
    let content = 1.0 + 0.6 + 0.4 + 0.6 + 0.4 + 2.4 + 1.0;
    let second = content + off(2.0, 3.0) - 0.2;
    assert!((oracle.worth(&cut).unwrap() - first - second).abs() < 1e-9);
    // Black for a beat in the middle: −20 − 60, two cuts, one of them off the bar.
    let dark = [
        shot(0, 50, Some("song"), 2.0, true),
        shot(50, 75, None, 0.0, false),
        shot(75, 100, Some("cat"), 0.5, false),
    ];
    let last = content / 2.0 + off(1.0, 3.0) - 0.8;
    let got = oracle.worth(&dark).unwrap();
    // Half the beats: half the content; the cut costs 0.8 instead of 0.2, one beat where three
    // are expected.
    assert!((got - (first - 80.0 - 0.2 + last)).abs() < 1e-9, "{got}");
}

#[test]
fn the_oracle_refuses_what_no_cut_does() {
    let case = by_hand();
    let q = case.question();
    let oracle = Oracle::new(&q);
    let refused = |shots: &[Shot]| oracle.worth(shots).unwrap_err();
    assert_eq!(
        refused(&[
            shot(0, 50, Some("song"), 2.0, true),
            shot(50, 100, Some("song"), 4.0, true)
        ]),
        "no cut"
    );
    assert_eq!(
        refused(&[
            shot(0, 50, Some("cat"), 0.5, false),
            shot(50, 100, Some("cat"), 0.5, false)
        ]),
        "shown twice"
    );
    assert_eq!(
        refused(&[shot(0, 100, Some("song"), 3.0, true)]),
        "not where it was heard"
    );
    assert_eq!(refused(&[shot(0, 50, None, 0.0, false)]), "it ends at 50");
    assert_eq!(
        refused(&[shot(0, 100, Some("cat"), 0.0, false)]),
        "beyond the take"
    );
}

fn compared(case: &Case) -> (Answer, f64) {
    let q = case.question();
    let answer = assemble(&q, &go()).unwrap();
    let oracle = Oracle::new(&q);
    let (best, shots) = oracle.exhaust();
    let worth = oracle.worth(&answer.shots);
    let worth = worth.unwrap_or_else(|rule| panic!("{rule}: {:#?}\n{case:#?}", answer.shots));
    assert!(
        (worth - answer.score).abs() < 1e-5,
        "says {} and is {worth}: {:#?}",
        answer.score,
        answer.shots
    );
    assert!(
        (best - worth).abs() < 1e-5,
        "the best is {best} {shots:#?}, not {worth} {:#?}",
        answer.shots
    );
    assert!(
        answer.proven,
        "not proven: {} of {}",
        answer.score, answer.bound
    );
    (answer, best)
}

#[test]
fn the_search_finds_the_best_of_all_cuts() {
    let mut seen = [0; 8];
    for seed in 0..300 {
        let case = small(seed);
        let (answer, _) = compared(&case);
        let shots = &answer.shots;
        let q = case.question();
        let late = |s: &Shot| (s.to_frame - s.from_frame) as f64 > 8.5 * q.rate.fps();
        let twice = |in_sync: bool| {
            shots.iter().enumerate().any(|(n, a)| {
                !a.locked
                    && a.take.is_some()
                    && shots[..n]
                        .iter()
                        .any(|b| b.take == a.take && a.in_sync == in_sync)
            })
        };
        for (count, holds) in seen.iter_mut().zip([
            !case.locks.is_empty(),
            case.takes.iter().any(|t| t.state > 0),
            twice(false),
            shots.iter().any(|s| s.take.is_none()),
            shots.iter().any(late),
            shots.iter().any(|s| s.in_sync && s.speed != 1.0),
            case.takes.iter().any(|t| t.placement.runs.len() > 1),
            shots.len() > 3,
        ]) {
            *count += usize::from(holds);
        }
    }
    // Each kind of case was met often enough to mean something.
    println!(
        "locks, states, b-roll twice, black, too long, off-speed, two runs, more than three shots: {seen:?}"
    );
    assert!(seen.iter().all(|count| *count >= 8), "{seen:?}");
}

#[test]
fn the_programme_reckons_as_the_terms_do() {
    let mut held_on = 0;
    for seed in 0..400 {
        let case = if seed % 4 == 0 {
            crate::questions::large(seed, 12, (seed % 3) as usize + 1, 1)
        } else {
            small(seed)
        };
        let q = case.question();
        let (locks, mut notes) = crate::prepare(&q).unwrap();
        let objective = crate::set(&q, &locks, &[], &mut notes);
        let search = crate::search::Search::new(&objective);
        let way = search.best(&crate::search::Limits::default());
        let sum: f64 = objective.terms(&way.segs).iter().map(|t| t.total()).sum();
        assert!(
            (way.value - sum).abs() < 1e-6,
            "{seed}: {} {sum}",
            way.value
        );
        held_on += way
            .segs
            .iter()
            .filter(|seg| seg.source.is_some() && seg.to > objective.grid.reach[seg.from])
            .count();
    }
    assert!(held_on > 20, "{held_on}");
}

mod whatever {
    use super::*;
    use crate::questions::{large, lock_some};
    use proptest::prelude::*;

    fn holds(case: &Case, answer: &Answer) -> Result<(), TestCaseError> {
        let q = case.question();
        // The oracle checks every rule: tiling, locks, states, runs, repeated pieces.
        let oracle = Oracle::new(&q);
        match oracle.worth(&answer.shots) {
            Ok(worth) => prop_assert!((worth - answer.score).abs() < 1e-4),
            Err(rule) => prop_assert!(false, "{}", rule),
        }
        let sum: f64 = answer.terms.iter().map(|t| t.total()).sum();
        prop_assert!((sum - answer.score).abs() < 1e-6);
        prop_assert!(answer.bound >= answer.score - 1e-6);
        prop_assert_eq!(
            answer.shots.last().unwrap().to_frame,
            case.rate.frames_to_hold(case.map.length)
        );
        for lock in &case.locks {
            let from = case.rate.nearest_frame_to_ticks(lock.at.start().ticks());
            prop_assert!(
                answer.shots.iter().any(|s| s.locked
                    && s.from_frame == from
                    && s.take.as_ref() == Some(&lock.take)
                    && lock.take_start.is_none_or(|t| t == s.take_start)),
                "the lock at {} is not kept",
                lock.at
            );
        }
        Ok(())
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        #[test]
        fn a_song_is_cut_by_the_rules(seed in 0u64..1_000_000, bars in 4usize..24, p in 0usize..8, b in 0usize..5) {
            let mut case = large(seed, bars, p, b);
            lock_some(&mut case, seed, (seed % 4) as usize);
            let q = case.question();
            let answer = crate::assemble_within(&q, 60_000_000, &go()).unwrap();
            holds(&case, &answer)?;
            let again = crate::assemble_within(&q, 60_000_000, &go()).unwrap();
            prop_assert_eq!(answer, again);
        }
    }
}
