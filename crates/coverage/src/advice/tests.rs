//! Sums done by hand, every choice tried on small cases, and what a person reads.

use super::best::{Piece, best};
use super::*;
use crate::coverage;
use crate::tests::{night_planned, setup, song, take, wish};
use model::{PlacedTake, Practice, Purpose::BRoll, Purpose::Performance};
use proptest::prelude::*;

/// Advice for a plan, `wanted` options in each bar.
fn advised(map: &SongMap, setups: &[Setup], takes: &[PlacedTake], wanted: u32) -> Advice {
    let covered = coverage(map, setups, &[], takes, &Options { wanted });
    advise(
        map,
        setups,
        &covered,
        FrameRate::FPS_25,
        &Practice::default(),
    )
}

/// The sentences, with gain and gain per minute.
fn said(advice: &Advice) -> String {
    let one = |one: &Suggestion| {
        format!(
            "{} {:.1}, {:.1} a minute",
            one.says, one.gain, one.gain_per_minute
        )
    };
    let all: Vec<String> = advice.suggestions.iter().map(one).collect();
    all.join("\n")
}

fn grouped(id: &str, sections: &[&str]) -> Setup {
    Setup {
        rig_group: Some("post".into()),
        ..setup(id, Performance, sections)
    }
}

fn near(got: f64, want: f64) -> bool {
    (got - want).abs() < 1e-9
}

/// Bars of two seconds in which a voice is as likely as not; two options wanted of the usual three. So a bar
/// that gets its second option from somebody who performs gains 2 s × 2/3 × 0.6 × 1.5 = 1.2, from b-roll 0.8;
/// its first 2 × 2/3 × 1 × 1.5 = 2.
#[test]
fn gains_and_minutes_by_hand() {
    let map = song(&[("A", 4), ("B", 8)]);
    let all = || setup("one", Performance, &[]);
    let two = || setup("two", Performance, &["A"]);
    let of_one = || take("T1", Some("one"), Some((1, 12)));
    let minute = |s: f64| s / 60.0;
    let cases = [
        (
            "its rig stands",
            vec![all(), two()],
            vec![],
            8.0 * 1.2,
            minute(16.0) + 2.0,
            "Shoot `two` over B too (bars 5–12): 3 min, fills 8 bars that have one setup.",
        ),
        (
            "double speed, a reset of its own",
            vec![
                all(),
                Setup {
                    shot_rate: Some(FrameRate::FPS_50),
                    reset_minutes: Some(4),
                    ..two()
                },
            ],
            vec![],
            8.0 * 1.2,
            minute(8.0) + 4.0,
            "Shoot `two` over B too (bars 5–12): 5 min, fills 8 bars that have one setup.",
        ),
        (
            "b-roll gains nothing by the voice",
            vec![all(), setup("two", BRoll, &["A"])],
            vec![],
            8.0 * 0.8,
            minute(16.0) + 2.0,
            "Shoot `two` over B too (bars 5–12): 3 min, fills 8 bars that have one setup.",
        ),
        (
            "nothing stands that could be shot over more",
            vec![all()],
            vec![],
            12.0 * 1.2,
            15.0 + minute(24.0) + 2.0,
            "Plan one more setup, somebody singing, over the whole song (bars 1–12): 18 min, fills 12 bars that have one setup.",
        ),
        (
            "the first option counts most",
            vec![two()],
            vec![],
            8.0 * 2.0,
            minute(16.0) + 2.0,
            "Shoot `two` over B too (bars 5–12): 3 min, fills 8 bars that have nothing to cut to.",
        ),
        (
            "shot once: rigged again",
            vec![all(), two()],
            vec![of_one(), take("T2", Some("two"), Some((1, 4)))],
            8.0 * 1.2,
            15.0 + minute(16.0) + 2.0,
            "Shoot `two` over B too (bars 5–12): 18 min, fills 8 bars that have one setup shot.",
        ),
        (
            "planned and not shot, rigged as it says",
            vec![
                all(),
                Setup {
                    rig_minutes: Some(10),
                    ..setup("two", Performance, &[])
                },
            ],
            vec![of_one()],
            12.0 * 1.2,
            10.0 + minute(24.0) + 2.0,
            "Shoot `two`, as planned, over the whole song (bars 1–12): 13 min, fills 12 bars that have one setup shot.",
        ),
    ];
    for (what, setups, takes, gain, minutes, says) in cases {
        let got = advised(&map, &setups, &takes, 2);
        let first = &got.suggestions[0];
        assert_eq!(first.says, says, "{what}");
        assert!(
            near(first.gain, gain) && near(first.minutes, minutes),
            "{what}: {first:?}"
        );
        assert!(near(first.gain_per_minute, gain / minutes), "{what}");
        assert_eq!(got.as_shot, !takes.is_empty(), "{what}");
    }
}

#[test]
fn what_stands_needs_no_set_up() {
    let map = song(&[("A", 4), ("B", 8)]);
    let one = setup("one", Performance, &["A"]);
    let relit = Setup {
        relight_minutes: Some(7),
        rig_minutes: Some(30),
        ..grouped("relit", &["Z"])
    };
    let setups = [
        one,
        grouped("usual", &["Z"]),
        relit,
        grouped("mains", &["A"]),
    ];
    let set_up = |board: &Board| [0, 1, 2, 3].map(|at| board.set_up_and_reset(Some(at)).0);
    let on = |takes: &[PlacedTake], setups: &[Setup]| {
        let covered = coverage(&map, setups, &[], takes, &Options::default());
        let practice = Practice::default();
        let mut board = Board::new(&map, setups, &covered, FrameRate::FPS_25, &practice);
        let first = set_up(&board);
        let (_, chosen) = board.best().unwrap();
        board.follow(Some(3), &chosen);
        (first, set_up(&board))
    };
    // Planned: what lies in the song will be rigged; two lie nowhere in it, and their group's rig stands.
    assert_eq!(on(&[], &setups).0, [0.0, 5.0, 7.0, 0.0]);
    // As shot nothing stands, until the advice has come to one of the group.
    let takes = [take("T1", Some("one"), Some((1, 4)))];
    assert_eq!(
        on(&takes, &setups),
        ([15.0, 15.0, 30.0, 15.0], [15.0, 5.0, 7.0, 0.0])
    );
    // At another place it does not stand.
    let mut moved = setups.clone();
    moved[3].place = model::PlaceId::new("quay").ok();
    assert_eq!(on(&[], &moved).0, [0.0, 15.0, 30.0, 0.0]);
}

#[test]
fn stretches_are_joined_where_playing_on_is_quicker_than_beginning_anew() {
    // What lies between is covered. Two bars of it last 4 s, a hundred 200 s; a reset 120 s.
    for (between, bars, minutes) in [
        (2, vec![[1, 6]], 15.0 + 12.0 / 60.0 + 2.0),
        (100, vec![[1, 2], [103, 104]], 15.0 + 8.0 / 60.0 + 4.0),
    ] {
        let map = song(&[("A", 2), ("B", between), ("A", 2)]);
        let setups = [setup("one", Performance, &[])];
        let covered = coverage(
            &map,
            &setups,
            &[wish("A", 2), wish("B", 1)],
            &[],
            &Options::default(),
        );
        let got = advise(
            &map,
            &setups,
            &covered,
            FrameRate::FPS_25,
            &Practice::default(),
        );
        let first = &got.suggestions[0];
        assert_eq!(
            (&first.bars, first.fills.len(), first.fills_s),
            (&bars, 4, 8.0)
        );
        assert!(near(first.minutes, minutes), "{first:?}");
        assert_eq!(got.suggestions.len(), 1);
    }
}

#[test]
fn each_is_reckoned_after_those_before_it() {
    let map = song(&[("A", 4)]);
    let got = advised(&map, &[setup("one", Performance, &[])], &[], 10);
    // Second to sixth option of ten: 4 bars × 2 s × 10/3 × 1.5 × value.
    let gains: Vec<f64> = got.suggestions.iter().map(|one| one.gain).collect();
    for (gain, value) in gains.iter().zip([0.6, 0.4, 0.27, 0.18, 0.12]) {
        assert!(near(*gain, 40.0 * value), "{gains:?}");
    }
    assert_eq!(gains.len(), MOST);
}

#[test]
fn what_there_is_nothing_to_say_about() {
    let map = song(&[("A", 30)]);
    let one = [setup("one", Performance, &[])];
    let none = |got: Advice| {
        assert!(got.suggestions.is_empty());
        got.none_because.unwrap()
    };
    insta::assert_snapshot!([
        none(advised(&map, &[], &[], 3)),
        none(advised(&map, &one, &[], 1)),
        none(advised(&SongMap { bars: vec![], sections: vec![], ..map.clone() }, &one, &[], 3)),
    ].join("\n"), @r"
    No setup is planned yet; begin with one over the whole song, about 18 min.
    Every bar has as many setups as wanted; nothing needs to be added.
    The song has no bars, so nothing can be advised; let it be listened to first.
    ");
    // Takes without a plan can be added to.
    let takes = [take("T1", None, Some((1, 30)))];
    assert_eq!(advised(&map, &[], &takes, 3).suggestions[0].work, Work::Add);
    // B-roll shot without the song can be cut anywhere: neither to be shot again nor to be extended.
    let setups = [one[0].clone(), setup("drum", BRoll, &["A"])];
    let takes = [
        take("T1", Some("one"), Some((1, 30))),
        take("T2", Some("drum"), None),
    ];
    let got = advised(&map, &setups, &takes, 2);
    assert_eq!(got.suggestions.len(), 1);
    assert_eq!(got.suggestions[0].work, Work::Add);
}

#[test]
fn minutes_go_by_how_one_works() {
    let (map, setups, covered) = night_planned();
    let slow = Practice {
        rig_minutes: 45.0,
        reset_minutes: 7.0,
        ..Practice::default()
    };
    let of_rooftop = |practice: &Practice| {
        let got = advise(&map, &setups, &covered, FrameRate::FPS_25, practice);
        let mut all = got.suggestions.iter();
        let one = all.find(|one| {
            one.setup
                .as_ref()
                .is_some_and(|id| id.as_str().starts_with("rooftop"))
        });
        one.map(|one| one.minutes).unwrap_or_default()
    };
    // By hand: the setup is rigged, reset once and played for a minute.
    assert!((of_rooftop(&Practice::default()) - (15.0 + 1.0 + 2.0)).abs() < 1e-9);
    assert!((of_rooftop(&slow) - (45.0 + 1.0 + 7.0)).abs() < 1e-9);
    // By hand: a new setup is rigged for 45 minutes, reset in 7 and played for a minute.
    let nothing = coverage(&map, &[], &[], &[], &Options::default());
    let says = advise(&map, &[], &nothing, FrameRate::FPS_25, &slow).none_because;
    assert!(says.unwrap().contains("about 53 min"));
}

#[test]
fn a_night_advised() {
    let (map, setups, covered) = night_planned();
    // By hand, the first: 18 bars get their third option, 6 their second of three (2 × 1.5 × 0.4 and × 0.6 s),
    // 4 their second of two (2 × 2/3 × 1.5 × 0.6): 21.6 + 10.8 + 4.8 = 37.2, in 15 + 1 + 2 min.
    let got = advise(
        &map,
        &setups,
        &covered,
        FrameRate::FPS_25,
        &Practice::default(),
    );
    insta::assert_snapshot!("night", said(&got));
    let json = serde_json::to_value(&got).unwrap();
    assert_eq!(json["as_shot"], true);
    for key in [
        "work",
        "setup",
        "bars",
        "sections",
        "fills",
        "fills_s",
        "gain",
        "minutes",
        "gain_per_minute",
        "sung",
        "says",
    ] {
        assert!(!json["suggestions"][0][key].is_null(), "{key}");
    }
    assert!(json["none_because"].is_null());
}

#[test]
fn a_plan_advised() {
    let mut map = song(&[("A", 4), ("B", 8), ("C", 4), ("B", 8)]);
    map.sections[1].name = Some("chorus".into());
    map.sections[3].name = Some("chorus".into());
    for bar in &mut map.bars[12..16] {
        bar.voice = 0.0;
    }
    let mut wide = setup("wide", Performance, &["A"]);
    wide.bars = vec![[9, 12]];
    let setups = [wide, setup("close", Performance, &["B"])];
    // By hand, the first: 12 bars get their second option (1.2 each), 4 without a voice their first
    // (2 × 2/3 × 1): 14.4 + 5.3 = 19.7, in 40 s + 2 min.
    let got = advised(&map, &setups, &[], 2);
    insta::assert_snapshot!("plan", said(&got));
}

#[test]
fn unsound_numbers_do_no_harm() {
    let mut map = song(&[("A", 2)]);
    map.bars[0].voice = f32::NAN;
    map.bars[1].voice = f32::INFINITY;
    let mut odd = setup("odd", Performance, &["Z"]);
    odd.reset_minutes = Some(u32::MAX);
    odd.rig_minutes = Some(0);
    let got = advised(&map, &[odd], &[], u32::MAX);
    assert!(
        got.suggestions
            .iter()
            .all(|one| one.gain.is_finite() && one.gain_per_minute > 0.0)
    );
}

/// The best rate of any choice of `parts`, each choice tried. Bars are `(gain, minutes)`; parts are ranges
/// of them, in order.
fn best_of_all(bars: &[(f64, f64)], parts: &[(usize, usize)], set_up: f64, reset: f64) -> f64 {
    let mut most = 0.0_f64;
    for mask in 1_u32..1 << parts.len() {
        let mut taken = vec![false; bars.len()];
        for (n, (from, to)) in parts.iter().enumerate() {
            taken[*from..*to].fill(mask & (1 << n) != 0);
        }
        let (mut gain, mut minutes) = (0.0, set_up);
        for at in 0..bars.len() {
            if taken[at] {
                gain += bars[at].0;
                minutes += bars[at].1;
                if at == 0 || !taken[at - 1] {
                    minutes += reset;
                }
            }
        }
        most = most.max(gain / minutes);
    }
    most
}

/// A plan and what was shot of it, small enough to try everything.
#[derive(Clone, Debug)]
struct Small {
    map: SongMap,
    setups: Vec<Setup>,
    takes: Vec<PlacedTake>,
    wanted: u32,
}

fn small() -> impl Strategy<Value = Small> {
    let planned = (
        prop::collection::vec(0usize..4, 0..3),
        any::<bool>(),
        any::<bool>(),
        0u32..4,
    );
    let heard = (0usize..5, 1u32..12, 0u32..8);
    (
        prop::collection::vec(1usize..5, 1..6),
        prop::collection::vec(0u8..5, 30),
        prop::collection::vec(planned, 0..4),
        prop::collection::vec(heard, 0..4),
        0u32..5,
    )
        .prop_map(|(sizes, voices, planned, heard, wanted)| {
            let labels = ["A", "B", "C", "A", "D"];
            let sections: Vec<(&str, usize)> = sizes
                .iter()
                .enumerate()
                .map(|(n, size)| (labels[n], *size))
                .collect();
            let mut map = song(&sections);
            for (bar, voice) in map.bars.iter_mut().zip(voices) {
                bar.voice = f32::from(voice) / 4.0;
            }
            let setups = planned
                .iter()
                .enumerate()
                .map(|(n, (over, broll, fast, reset))| Setup {
                    shot_rate: fast.then_some(FrameRate::FPS_50),
                    reset_minutes: Some(*reset),
                    ..setup(
                        &format!("s{n}"),
                        if *broll { BRoll } else { Performance },
                        &over
                            .iter()
                            .map(|n| ["A", "B", "C", "D"][*n])
                            .collect::<Vec<_>>(),
                    )
                })
                .collect();
            let takes = heard
                .iter()
                .enumerate()
                .map(|(n, (of, from, more))| {
                    let of = (*of < 4).then(|| format!("s{of}"));
                    take(&format!("T{n}"), of.as_deref(), Some((*from, from + more)))
                })
                .collect();
            Small {
                map,
                setups,
                takes,
                wanted,
            }
        })
}

proptest! {
    #[test]
    fn no_choice_of_pieces_is_better(
        parts in prop::collection::vec((0u8..4, 1u8..9, 1usize..3), 1..10),
        set_up in 0u8..20,
        reset in 0u8..6,
    ) {
        let (mut pieces, mut bars, mut ranges) = (Vec::new(), Vec::new(), Vec::new());
        for (gain, minutes, count) in parts {
            let (gain, minutes) = (f64::from(gain), f64::from(minutes) / 4.0);
            let from = bars.len();
            pieces.push(Piece { from, to: from + count - 1, gain: gain * count as f64, minutes: minutes * count as f64 });
            bars.extend(std::iter::repeat_n((gain, minutes), count));
            ranges.push((from, from + count));
        }
        let want = best_of_all(&bars, &ranges, set_up.into(), reset.into());
        match best(&pieces, set_up.into(), reset.into()) {
            None => prop_assert_eq!(want, 0.0),
            Some(got) => {
                prop_assert!((got.rate() - want).abs() <= 1e-9 * want, "{:?} {}", got, want);
                let gain: f64 = got.bars().map(|at| bars[at].0).sum();
                let played: f64 = got.bars().map(|at| bars[at].1).sum();
                prop_assert!(near(gain, got.gain));
                prop_assert!(near(played + f64::from(set_up) + got.runs.len() as f64 * f64::from(reset), got.minutes));
                prop_assert!(got.runs.windows(2).all(|two| two[0][1] + 1 < two[1][0]));
            }
        }
    }

    #[test]
    fn nothing_over_any_sections_helps_more_than_the_first(case in small()) {
        let Small { map, setups, takes, wanted } = &case;
        let covered = coverage(map, setups, &[], takes, &Options { wanted: *wanted });
        let got = advise(map, setups, &covered, FrameRate::FPS_25, &Practice::default());
        prop_assume!(!setups.is_empty() || got.as_shot);
        let ranges: Vec<(usize, usize)> = covered
            .sections
            .iter()
            .filter_map(|section| section.bars)
            .map(|[first, last]| (first as usize - 1, last as usize))
            .collect();
        let short = covered
            .bars
            .iter()
            .any(|bar| if got.as_shot { bar.short_shot } else { bar.short_planned });
        let practice = Practice::default();
        let board = Board::new(map, setups, &covered, FrameRate::FPS_25, &practice);
        let mut most = 0.0_f64;
        for candidate in board.candidates() {
            let setup = candidate.map(|at| &setups[at]);
            let speed = if setup.is_some_and(|setup| setup.shot_rate.is_some()) { 2.0 } else { 1.0 };
            let bars: Vec<(f64, f64)> = (0..covered.bars.len())
                .map(|at| (board.gain(candidate, at), 2.0 / 60.0 / speed))
                .collect();
            let (set_up, reset) = board.set_up_and_reset(candidate);
            most = most.max(best_of_all(&bars, &ranges, set_up, reset));
        }
        match got.suggestions.first() {
            None => prop_assert!(most == 0.0 && got.none_because.is_some()),
            Some(first) => prop_assert!(first.gain_per_minute >= most * (1.0 - 1e-9), "{:?} {}", first, most),
        }
        prop_assert_eq!(short, !got.suggestions.is_empty());
        for two in got.suggestions.windows(2) {
            prop_assert!(two[1].gain_per_minute <= two[0].gain_per_minute * (1.0 + 1e-9), "{:?}", two);
        }
    }

    #[test]
    fn advice_followed_never_leaves_less(case in small()) {
        let Small { map, mut setups, takes, wanted } = case;
        let covered = |setups: &[Setup]| coverage(&map, setups, &[], &takes, &Options { wanted });
        let before = covered(&setups);
        let got = advise(&map, &setups, &before, FrameRate::FPS_25, &Practice::default());
        let mut last = before.planned_choice;
        for one in &got.suggestions {
            let was = covered(&setups);
            match one.work {
                Work::Shoot | Work::Extend => {
                    let known = |setup: &&mut Setup| Some(&setup.id) == one.setup.as_ref();
                    let setup = setups.iter_mut().find(known).unwrap();
                    // One that names nothing is planned everywhere, and stays so.
                    if !setup.is_over_all() {
                        setup.bars.extend(&one.bars);
                    }
                }
                Work::Add => setups.push(Setup {
                    bars: one.bars.clone(),
                    ..setup(&format!("new{}", setups.len()), Performance, &[])
                }),
            }
            let now = covered(&setups);
            // What is planned already and not shot stays as it is; all else is more.
            prop_assert!(now.planned_choice >= last);
            prop_assert!(now.planned_choice > last || one.work == Work::Shoot);
            last = now.planned_choice;
            for number in one.fills.iter().filter(|_| !got.as_shot) {
                let at = *number as usize - 1;
                prop_assert_eq!(now.bars[at].planned_options, was.bars[at].planned_options + 1);
            }
        }
    }
}
