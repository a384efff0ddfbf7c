//! What a maker would expect of a cut, of its notes, and of the answer to "why"; and bad input.

use crate::questions::{Case, length, run, setup, song, take, time, wish};
use crate::{Answer, Error, assemble, why};
use model::{
    Alternative, FrameRate, Framing, Lock, PlacedTake, Purpose, Rating, Setup, SetupId, SongMap,
    Stretch, Weights,
};

fn case(map: SongMap, setups: Vec<Setup>, takes: Vec<PlacedTake>) -> Case {
    Case {
        map,
        rate: FrameRate::FPS_25,
        setups,
        wishes: Vec::new(),
        weights: Weights::default(),
        locks: Vec::new(),
        takes,
    }
}

fn cut(case: &Case) -> Answer {
    assemble(&case.question(), &|| true).unwrap()
}

/// What is shown, as `take from-to` in seconds.
fn seen(answer: &Answer) -> Vec<String> {
    answer
        .shots
        .iter()
        .map(|s| {
            let name = s.take.as_ref().map_or("black", |t| t.as_str());
            let lock = if s.locked { " locked" } else { "" };
            format!(
                "{name} {}-{}{lock}",
                s.from_frame as f64 / 25.0,
                s.to_frame as f64 / 25.0
            )
        })
        .collect()
}

fn stretch(from: f64, to: f64) -> Stretch {
    Stretch::between_seconds(from, to).unwrap()
}

fn lock(from: f64, to: f64, take: &PlacedTake) -> Lock {
    Lock {
        extra: Default::default(),
        at: stretch(from, to),
        take: take.id.clone(),
        take_start: None,
    }
}

/// Eight bars of two seconds at 120, sung from the third to the sixth.
fn eight_bars() -> SongMap {
    let bars: Vec<f64> = (0..=8).map(|n| f64::from(n) * 2.0).collect();
    let feel: Vec<(f32, f32)> = (0..8)
        .map(|n| (0.5, if (2..6).contains(&n) { 1.0 } else { 0.0 }))
        .collect();
    song(&bars, 4, &feel, &[0, 2, 6])
}

fn performance(id: &str, setup: &str) -> PlacedTake {
    take(id, Some(setup), 20.0, vec![run(2.0, 16.0, 0.0, 1.0)])
}

fn two_setups() -> Vec<Setup> {
    let mut setups = vec![
        setup("wide", Purpose::Performance, Framing::Wide),
        setup("close", Purpose::Performance, Framing::Close),
        setup("things", Purpose::BRoll, Framing::Detail),
    ];
    setups[1].state = 0;
    setups
}

#[test]
fn a_single_take_is_one_shot() {
    let whole = cut(&case(
        eight_bars(),
        Vec::new(),
        vec![performance("one", "wide")],
    ));
    assert_eq!(seen(&whole), ["one 0-16"]);
    assert!(whole.proven);
}

#[test]
fn performance_is_shown_where_there_is_voice() {
    let takes = vec![
        performance("w1", "wide"),
        performance("c1", "close"),
        take("r1", Some("things"), 12.0, Vec::new()),
        take("r2", Some("things"), 12.0, Vec::new()),
    ];
    let case = case(eight_bars(), two_setups(), takes);
    let answer = cut(&case);
    assert!(answer.proven);
    for shot in &answer.shots {
        let middle = (shot.from_frame + shot.to_frame) as f64 / 50.0;
        let sung = (4.0..12.0).contains(&middle);
        let things = shot.take.as_ref().unwrap().as_str().starts_with('r');
        if sung {
            assert!(!things, "{:?}", seen(&answer));
        }
    }
    assert!(
        answer.shots[0]
            .take
            .as_ref()
            .unwrap()
            .as_str()
            .starts_with('r')
    );
}

#[test]
fn the_circled_take_is_preferred_and_no_good_never_used() {
    let mut takes = vec![
        performance("w1", "wide"),
        performance("w2", "wide"),
        performance("c1", "close"),
    ];
    takes[1].rating = Rating::Circled;
    takes[2].rating = Rating::NoGood;
    let answer = cut(&case(eight_bars(), two_setups(), takes));
    let frames = |id: &str| -> i64 {
        answer
            .shots
            .iter()
            .filter(|s| s.take.as_ref().is_some_and(|t| t.as_str() == id))
            .map(|s| s.to_frame - s.from_frame)
            .sum()
    };
    // The other pass only breaks what would be too long a shot.
    assert!(
        frames("w2") >= 300 && frames("w1") <= 100,
        "{:?}",
        seen(&answer)
    );
    assert_eq!(frames("c1"), 0);
}

#[test]
fn powder_comes_after_clean() {
    let mut takes = vec![performance("clean", "wide"), performance("powder", "close")];
    takes[0].rating = Rating::Circled;
    takes[1].state = 1;
    let mut case = case(eight_bars(), two_setups(), takes);
    // The wish pulls the powdered setup to the front; it may still not come before the clean one.
    case.wishes = vec![wish("B")];
    case.wishes[0].setups = vec![SetupId::new("close").unwrap()];
    let answer = cut(&case);
    let order: Vec<&str> = answer
        .shots
        .iter()
        .map(|s| s.take.as_ref().unwrap().as_str())
        .collect();
    let mut sorted = order.clone();
    sorted.sort_unstable();
    assert_eq!(order, sorted);
}

#[test]
fn an_off_speed_pass_is_shown_at_its_speed_where_it_was_heard() {
    // Played at double speed: eight seconds of take hold the song.
    let fast = take("fast", Some("wide"), 12.0, vec![run(2.0, 8.0, 0.0, 2.0)]);
    let answer = cut(&case(
        eight_bars(),
        two_setups(),
        vec![fast, performance("c1", "close")],
    ));
    let mut fast_shots = 0;
    for shot in answer
        .shots
        .iter()
        .filter(|s| s.take.as_ref().unwrap().as_str() == "fast")
    {
        fast_shots += 1;
        let at = shot.from_frame as f64 / 25.0;
        assert_eq!(shot.speed, 2.0);
        assert!(shot.in_sync);
        assert!((shot.take_start.seconds() - (2.0 + at / 2.0)).abs() < 1e-6);
    }
    assert!(fast_shots > 0, "{:?}", seen(&answer));
}

#[test]
fn slow_motion_is_shown_frame_for_frame() {
    let mut setups = two_setups();
    setups[2].shot_rate = FrameRate::new(50, 1);
    let mut slow = take("slow", Some("things"), 6.0, Vec::new());
    slow.picture.as_mut().unwrap().rate = FrameRate::new(50, 1).unwrap();
    let conformed = take("conformed", Some("things"), 6.0, Vec::new());
    let answer = cut(&case(eight_bars(), setups, vec![slow, conformed]));
    for shot in answer.shots.iter().filter(|s| s.take.is_some()) {
        let slow = shot.take.as_ref().unwrap().as_str() == "slow";
        assert_eq!(shot.speed, if slow { 2.0 } else { 1.0 });
    }
    assert!(answer.shots.iter().any(|s| s.speed == 2.0));
    assert!(
        answer
            .shots
            .iter()
            .any(|s| s.take.is_some() && s.speed == 1.0)
    );
}

#[test]
fn where_nothing_was_shot_it_is_black_and_says_so() {
    let part = take("part", None, 12.0, vec![run(1.0, 8.0, 0.0, 1.0)]);
    let answer = cut(&case(eight_bars(), Vec::new(), vec![part]));
    assert_eq!(seen(&answer), ["part 0-8", "black 8-16"]);
    let note = answer
        .notes
        .iter()
        .find(|n| n.bars == Some([5, 8]))
        .unwrap();
    assert_eq!(
        note.text,
        "black in bars 5 to 8: there is nothing to cut to"
    );
}

#[test]
fn locks_stay_to_the_frame() {
    let takes = vec![performance("w1", "wide"), performance("c1", "close")];
    let mut case = case(eight_bars(), two_setups(), takes);
    // From between two beats to the end of a bar; and an explicit piece out of sync.
    case.locks = vec![
        lock(3.33, 6.0, &case.takes[1]),
        Lock {
            extra: Default::default(),
            take_start: Some(length(1.25)),
            ..lock(10.0, 11.0, &case.takes[0])
        },
    ];
    let answer = cut(&case);
    let locked: Vec<_> = answer.shots.iter().filter(|s| s.locked).collect();
    assert_eq!((locked[0].from_frame, locked[0].to_frame), (83, 150));
    assert!(locked[0].in_sync);
    assert!((locked[0].take_start.seconds() - (2.0 + 83.0 / 25.0)).abs() < 1e-6);
    assert_eq!((locked[1].from_frame, locked[1].to_frame), (250, 275));
    assert_eq!(locked[1].take_start, length(1.25));
    assert!(!locked[1].in_sync);
}

#[test]
fn a_lock_may_break_the_order_of_states_and_a_note_says_so() {
    let mut takes = vec![performance("clean", "wide"), performance("powder", "close")];
    takes[1].state = 1;
    let mut case = case(eight_bars(), two_setups(), takes);
    case.locks = vec![
        lock(2.0, 4.0, &case.takes[1]),
        lock(10.0, 12.0, &case.takes[0]),
    ];
    let answer = cut(&case);
    assert!(
        answer.shots.iter().all(|s| s.take.is_some()),
        "{:?}",
        seen(&answer)
    );
    assert!(
        answer
            .notes
            .iter()
            .any(|n| n.text.contains("goes back from 1 to 0 because of a lock")),
        "{:?}",
        answer.notes
    );
}

#[test]
fn locks_that_cannot_be_are_refused_in_a_sentence() {
    let mut case = case(eight_bars(), two_setups(), vec![performance("w1", "wide")]);
    let gone = performance("gone", "wide");
    case.locks = vec![lock(1.0, 2.0, &gone)];
    let said = assemble(&case.question(), &|| true)
        .unwrap_err()
        .to_string();
    assert_eq!(
        said,
        "the lock at 0:01.000–0:02.000 names the take `gone`, which is not among the takes; remove the lock or bring the take back"
    );
    case.locks = vec![
        lock(3.0, 5.0, &case.takes[0]),
        lock(1.0, 4.0, &case.takes[0]),
    ];
    let said = assemble(&case.question(), &|| true)
        .unwrap_err()
        .to_string();
    assert_eq!(
        said,
        "the locks of `w1` at 0:01.000–0:04.000 and of `w1` at 0:03.000–0:05.000 overlap; shorten or remove one"
    );
    // Outside the song there is nothing to hold.
    case.locks = vec![lock(100.0, 104.0, &case.takes[0])];
    assert!(
        cut(&case).notes[0]
            .text
            .contains("holds no whole frame of the song")
    );
}

#[test]
fn without_any_picture_a_timeline_is_still_made() {
    let mut takes = vec![performance("w1", "wide"), performance("c1", "close")];
    takes[0].picture = None;
    let some = cut(&case(eight_bars(), two_setups(), takes.clone()));
    assert!(
        some.shots
            .iter()
            .all(|s| s.take.as_ref().is_none_or(|t| t.as_str() == "c1"))
    );
    assert!(
        some.notes
            .iter()
            .any(|n| n.text == "`w1` has no picture and is not used")
    );
    takes[1].picture = None;
    let none = cut(&case(eight_bars(), two_setups(), takes));
    assert!(none.shots.iter().all(|s| s.take.is_some()));
}

#[test]
fn another_song_in_the_room_is_not_used() {
    let takes = vec![
        performance("w1", "wide"),
        take("other", Some("close"), 20.0, Vec::new()),
        take("lost", Some("nowhere"), 20.0, Vec::new()),
    ];
    let answer = cut(&case(eight_bars(), two_setups(), takes));
    assert_eq!(seen(&answer), ["w1 0-16"]);
    let notes: Vec<&str> = answer.notes.iter().map(|n| n.text.as_str()).collect();
    assert_eq!(
        notes,
        [
            "the song was not heard in `other`, and its setup is for performance; it is not used",
            "the song was not heard in `lost`, and the plan has no setup `nowhere` to say what it is for; it is not used"
        ]
    );
}

#[test]
fn why_tells_the_shot_and_the_runner_up() {
    let mut takes = vec![
        performance("w1", "wide"),
        performance("w2", "wide"),
        performance("c1", "close"),
    ];
    takes[0].rating = Rating::Circled;
    takes[2].placement.alternatives = vec![Alternative {
        song_offset_s: 4.0,
        confidence: 0.5,
    }];
    let mut case = case(eight_bars(), two_setups(), takes);
    let answer = cut(&case);
    for bar in 1..=8 {
        let told = why(&case.question(), &answer.shots, bar).unwrap();
        assert!(!told.choices.is_empty());
        for choice in &told.choices {
            let other = choice.runner_up_terms.unwrap();
            // The optimum is at least as good as any exchange of one shot.
            assert!(
                choice.terms.total() >= other.total() - 1e-6,
                "{}",
                told.to_text()
            );
            assert_ne!(choice.runner_up.as_ref().unwrap().take, choice.shot.take);
        }
        let text = told.to_text();
        assert!(
            text.contains("difference") && text.contains("rating"),
            "{text}"
        );
        serde_json::to_string(&told).unwrap();
    }
    assert_eq!(
        why(&case.question(), &answer.shots, 3).unwrap().to_text(),
        "\
frames 100 to 150: c1
                      c1        w2  difference
  wish              2.00      2.00           =
  rating            1.20      1.20           =
  sharpness         0.80      0.80           =
  exposure          1.20      1.20           =
  movement          1.60      1.60           =
  voice             4.80      4.80           =
  confidence        1.00      2.00       -1.00
  length           -0.17     -0.17           =
  same setup        0.00     -8.00       +8.00
  recent           -0.80      0.00       -0.80
  all              11.63      5.43       +6.20
"
    );
    assert_eq!(
        why(&case.question(), &answer.shots, 9)
            .unwrap_err()
            .to_string(),
        "the song has no bar 9; its bars go from 1 to 8"
    );
    // A cut made before the takes changed is still explained.
    case.takes.remove(0);
    why(&case.question(), &answer.shots, 1).unwrap_or_else(|e| match e {
        Error::NothingInBar { .. } => crate::Why {
            bar: 1,
            choices: Vec::new(),
        },
        other => panic!("{other}"),
    });
}

#[test]
fn the_sum_of_an_exchange_is_what_it_would_cost() {
    for seed in 0..40 {
        let case = crate::questions::large(seed, 8, 5, 2);
        let q = case.question();
        let answer = assemble(&q, &|| true).unwrap();
        let oracle = crate::oracle::Oracle::new(&q);
        let whole = oracle.worth(&answer.shots).unwrap();
        for bar in [1, 4, 7] {
            for choice in why(&q, &answer.shots, bar).unwrap().choices {
                let (Some(other), Some(terms)) = (choice.runner_up, choice.runner_up_terms) else {
                    continue;
                };
                let mut exchanged = answer.shots.clone();
                let n = exchanged.iter().position(|s| *s == choice.shot).unwrap();
                exchanged[n] = other;
                // Black beside black is one stretch to the oracle; that exchange has no cut to cost.
                let Ok(worth) = oracle.worth(&exchanged) else {
                    continue;
                };
                let cost = choice.terms.total() - terms.total();
                assert!(
                    (whole - worth - cost).abs() < 1e-5,
                    "{seed}: {} {cost}",
                    whole - worth
                );
            }
        }
    }
}

#[test]
fn unsound_input_is_answered_and_not_a_panic() {
    let bad_run = |f: &dyn Fn(&mut model::Run)| {
        let mut take = performance("t", "wide");
        f(&mut take.placement.runs[0]);
        take
    };
    let takes: Vec<Vec<PlacedTake>> = vec![
        Vec::new(),
        vec![bad_run(&|r| r.confidence = f64::NAN)],
        vec![bad_run(&|r| r.speed = f64::NAN)],
        vec![bad_run(&|r| r.speed = 0.0)],
        vec![bad_run(&|r| r.speed = -1.0)],
        vec![bad_run(&|r| r.drift_ppm = f64::INFINITY)],
        vec![bad_run(&|r| r.take_end = length(1e5))],
        vec![bad_run(&|r| r.take_start = length(1e5))],
        vec![bad_run(&|r| r.song_start = time(-600_000.0))],
        vec![take("empty", None, 0.0, Vec::new())],
        vec![take("dot", None, 0.001, Vec::new())],
        vec![{
            let mut take = performance("t", "wide");
            take.picture.as_mut().unwrap().start_s = f64::NAN;
            take.track = Some(model::PictureTrack {
                step: length(0.5),
                sharpness: vec![f32::NAN, 1.0],
                brightness: vec![f32::INFINITY, -1.0],
                clipped: vec![2.0],
                movement: vec![f32::NAN],
            });
            take
        }],
    ];
    let one_bar = song(&[0.0, 2.0], 4, &[(0.5, 0.5)], &[0]);
    let short = song(&[0.0, 3.0], 0, &[(f32::NAN, f32::NAN)], &[0]);
    let mut bare = eight_bars();
    bare.bars.clear();
    bare.sections.clear();
    bare.downbeats = vec![0, 999];
    let mut empty = eight_bars();
    empty.length = length(0.0);
    let mut odd = song(&[0.0, 3.0], 0, &[(0.5, 0.5)], &[0]);
    odd.tempo_bpm = f64::NAN;
    let mut crowded = song(&[0.0, 1.0], 1, &[(0.5, 0.5)], &[0]);
    crowded.beats = (0..5000).map(|n| time(f64::from(n) * 0.0003)).collect();
    for map in [eight_bars(), one_bar, short, bare, empty, odd, crowded] {
        for takes in &takes {
            let case = case(map.clone(), two_setups(), takes.clone());
            let answer = cut(&case);
            let total = case.rate.frames_to_hold(map.length);
            assert_eq!(answer.shots.last().map_or(0, |s| s.to_frame), total);
            assert!(answer.score.is_finite());
            let _ = why(&case.question(), &answer.shots, 1);
            let _ = why(&case.question(), &[], 1);
        }
    }
    for weight in [f64::NAN, -1.0, 1e9] {
        let mut case = case(eight_bars(), Vec::new(), Vec::new());
        case.weights.voice = weight;
        let said = assemble(&case.question(), &|| true)
            .unwrap_err()
            .to_string();
        assert!(said.starts_with("the weight `voice` is "), "{said}");
    }
}

#[test]
fn stopping_gives_the_best_so_far_or_says_so() {
    let case = crate::questions::large(3, 16, 4, 3);
    let q = case.question();
    assert_eq!(assemble(&q, &|| false).unwrap_err(), Error::Stopped);
    let calls = std::cell::Cell::new(0);
    let answer = assemble(&q, &|| {
        calls.set(calls.get() + 1);
        calls.get() < 2
    })
    .unwrap();
    assert!(answer.bound >= answer.score);
    assert_eq!(answer.shots.last().unwrap().to_frame, 800);
}
