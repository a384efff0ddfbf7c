//! The solver against the exhaustive method, published optima, and its own invariants.

use crate::bound::bound;
use crate::improve::{improve, replay};
use crate::instance::{Candidate, Instance, Meal};
use crate::oracle;
use crate::problem::Problem;
use crate::search::{Bounds, search};
use crate::solve::{Answer, Status, solve};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn never() -> bool {
    false
}

/// A setup at `place` that takes `rig` and `shoot` minutes; nothing else said.
fn setup(id: &str, place: &str, rig: i64, shoot: i64) -> Candidate {
    Candidate {
        id: id.into(),
        place: place.into(),
        rig_minutes: rig,
        relight_minutes: 0,
        shoot_minutes: shoot,
        rig_group: None,
        access: None,
        light: None,
        must: false,
        state: 0,
        after: Vec::new(),
        bars: Vec::new(),
        light_is: String::new(),
    }
}

fn instance(setups: Vec<Candidate>, ways: &[(&str, &str, i64)]) -> Instance {
    let mut travel: BTreeMap<String, BTreeMap<String, i64>> = BTreeMap::new();
    for (from, to, minutes) in ways {
        travel
            .entry((*from).into())
            .or_default()
            .insert((*to).into(), *minutes);
        travel
            .entry((*to).into())
            .or_default()
            .insert((*from).into(), *minutes);
    }
    Instance {
        call: 0,
        latest_wrap: 10_000,
        start_place: None,
        travel_minutes: travel,
        setups,
        meal: None,
        bar_values: Vec::new(),
        option_values: Vec::new(),
        begun: None,
        clocks: Default::default(),
    }
}

fn instance_of_nothing() -> Instance {
    instance(Vec::new(), &[])
}

fn order(answer: &Answer) -> Vec<&str> {
    answer.order.iter().map(|one| one.id.as_str()).collect()
}

/// A random instance of `count` setups, small enough for every rule to bite.
fn random(most: usize) -> impl Strategy<Value = Instance> {
    let window = (0_i64..300, 20_i64..200).prop_map(|(open, lasts)| [open, open + lasts]);
    let windows = prop_oneof![
        3 => Just(None),
        4 => proptest::collection::vec(window, 1..3).prop_map(Some),
    ];
    let one = (
        (0_usize..3, 0_i64..30, 0_i64..10, 1_i64..60),
        (proptest::option::of(0_u8..2), windows.clone(), windows),
        (
            proptest::bool::weighted(0.2),
            prop_oneof![3 => Just(0_i64), 1 => 1_i64..3],
        ),
        (
            proptest::collection::vec(0_i64..8, 0..6),
            proptest::option::weighted(0.25, 0_usize..8),
        ),
    );
    let ways = proptest::collection::vec(0_i64..40, 16);
    (
        proptest::collection::vec(one, 1..=most),
        ways,
        (
            50_i64..400,
            proptest::option::of((5_i64..40, 20_i64..200)),
            0_usize..5,
        ),
        (
            proptest::collection::vec(0_i64..10, 8),
            proptest::collection::vec(0_i64..6, 0..4),
        ),
    )
        .prop_map(
            |(setups, ways, (wrap, meal, start), (bar_values, mut option_values))| {
                let place = |at: usize| ["p", "q", "r", "home"][at].to_string();
                let mut travel: BTreeMap<String, BTreeMap<String, i64>> = BTreeMap::new();
                for from in 0..4 {
                    for to in 0..4 {
                        travel
                            .entry(place(from))
                            .or_default()
                            .insert(place(to), ways[4 * from + to]);
                    }
                }
                option_values.sort_by_key(|value| -value);
                let setups = setups
                    .into_iter()
                    .enumerate()
                    .map(
                        |(
                            nth,
                            (
                                (at, rig, relight, shoot),
                                (group, access, light),
                                (must, state),
                                (bars, after),
                            ),
                        )| {
                            Candidate {
                                relight_minutes: relight,
                                rig_group: group.map(|group| format!("g{group}")),
                                access,
                                light,
                                must,
                                state,
                                // Only earlier ones, so that there is no loop.
                                after: after
                                    .filter(|at| *at < nth)
                                    .map(|at| format!("s{at}"))
                                    .into_iter()
                                    .collect(),
                                bars,
                                ..setup(&format!("s{nth}"), &place(at), rig, shoot)
                            }
                        },
                    )
                    .collect();
                Instance {
                    call: 10,
                    latest_wrap: 10 + wrap,
                    start_place: (start < 4).then(|| place(start)),
                    travel_minutes: travel,
                    setups,
                    meal: meal.map(|(minutes, latest_start_after_call)| Meal {
                        minutes,
                        latest_start_after_call,
                    }),
                    bar_values,
                    option_values,
                    begun: None,
                    clocks: Default::default(),
                }
            },
        )
}

/// Every rule, looked at from the answer alone.
fn keeps_every_rule(instance: &Instance, answer: &Answer) -> Result<(), String> {
    let of = |id: &str| {
        instance
            .setups
            .iter()
            .find(|setup| setup.id == id)
            .ok_or("unknown id")
    };
    let mut free = instance.call;
    let mut here = instance.start_place.clone();
    let mut seen: Vec<&Candidate> = Vec::new();
    let mut moves = 0;
    let mut meal_seen = answer.meal_start.is_none();
    for timed in &answer.order {
        let setup = of(&timed.id)?;
        if !meal_seen && answer.meal_start == Some(free) {
            meal_seen = true;
            free += instance.meal.ok_or("a meal nobody asked for")?.minutes;
        }
        let way = here
            .as_ref()
            .map_or(0, |from| instance.way(from, &setup.place).unwrap_or(0));
        if timed.start < free + way {
            return Err(format!("{} starts before one is there", timed.id));
        }
        if here.as_ref().is_some_and(|from| *from != setup.place) && !seen.is_empty() {
            moves += 1;
        }
        let same = seen.last().is_some_and(|last| {
            last.place == setup.place
                && last.rig_group.is_some()
                && last.rig_group == setup.rig_group
        });
        let first = if same {
            setup.relight_minutes
        } else {
            setup.rig_minutes
        };
        if timed.shoot_start < timed.start + first
            || timed.end != timed.shoot_start + setup.shoot_minutes
        {
            return Err(format!("{} has the wrong length", timed.id));
        }
        let within = |windows: &Option<Vec<[i64; 2]>>, from: i64| {
            windows.as_ref().is_none_or(|all| {
                all.iter()
                    .any(|[open, close]| *open <= from && timed.end <= *close)
            })
        };
        if !within(&setup.access, timed.start) || !within(&setup.light, timed.shoot_start) {
            return Err(format!("{} lies outside its windows", timed.id));
        }
        if seen.iter().any(|other| other.state > setup.state) {
            return Err(format!("{} follows a higher state", timed.id));
        }
        if !setup
            .after
            .iter()
            .all(|id| seen.iter().any(|other| other.id == *id))
        {
            return Err(format!("{} did not wait", timed.id));
        }
        if seen.iter().any(|other| other.id == setup.id) {
            return Err(format!("{} comes twice", timed.id));
        }
        seen.push(setup);
        free = timed.end;
        here = Some(setup.place.clone());
    }
    if !meal_seen {
        return Err("the meal is not right after a setup or at the call".into());
    }
    if answer.wrap != free || free > instance.latest_wrap || answer.moves != moves {
        return Err("wrap or moves are wrong".into());
    }
    if let Some(rule) = instance.meal {
        let by = instance.call + rule.latest_start_after_call;
        if answer.meal_start.is_some_and(|start| start > by)
            || answer.meal_start.is_some() != (free > by)
        {
            return Err("the meal's rule is broken".into());
        }
    }
    if instance
        .setups
        .iter()
        .any(|s| s.must && !seen.iter().any(|other| other.id == s.id))
    {
        return Err("a must is missing".into());
    }
    let value: i64 = instance
        .bar_values
        .iter()
        .enumerate()
        .map(|(bar, value)| {
            let k = seen
                .iter()
                .filter(|s| s.bars.contains(&(bar as i64)))
                .count();
            value * instance.option_values.iter().take(k).sum::<i64>()
        })
        .sum();
    if value as u64 != answer.value {
        return Err("the value is wrong".into());
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_200))]

    /// Source: the exhaustive method of `oracle.rs`.
    #[test]
    fn the_best_day_is_the_exhaustive_methods(instance in random(7)) {
        let answer = solve(&instance, &never).unwrap();
        match oracle::best(&instance) {
            None => prop_assert_eq!(answer.status, Status::Impossible),
            Some((value, wrap, moves)) => {
                prop_assert_eq!(answer.status, Status::Best);
                prop_assert_eq!((answer.value as i64, answer.wrap, answer.moves), (value, wrap, moves));
                prop_assert_eq!(keeps_every_rule(&instance, &answer), Ok(()));
                prop_assert_eq!(answer.bound, answer.value);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_answer_breaks_a_rule(instance in random(12)) {
        let answer = solve(&instance, &never).unwrap();
        if answer.status == Status::Impossible {
            prop_assert!(!answer.reasons.is_empty());
        } else {
            prop_assert_eq!(keeps_every_rule(&instance, &answer), Ok(()));
        }
    }

    /// Without a must, one setup less never makes the day worth more.
    #[test]
    fn another_setup_never_lowers_the_value(mut instance in random(9)) {
        instance.setups.iter_mut().for_each(|setup| setup.must = false);
        let with = solve(&instance, &never).unwrap();
        let last = instance.setups.pop().unwrap();
        let without = solve(&instance, &never).unwrap();
        prop_assert!(with.value >= without.value, "{} takes value away", last.id);
    }

    #[test]
    fn a_wider_window_never_lowers_the_value(mut instance in random(9), which in 0_usize..9, by in 1_i64..60) {
        let narrow = solve(&instance, &never).unwrap();
        let at = which % instance.setups.len();
        let setup = &mut instance.setups[at];
        for [open, close] in setup.access.iter_mut().chain(&mut setup.light).flatten() {
            *open = (*open - by).max(0);
            *close += by;
        }
        let wide = solve(&instance, &never).unwrap();
        if narrow.status == Status::Best {
            prop_assert_eq!(wide.status, Status::Best);
            prop_assert!(wide.value >= narrow.value);
        }
    }

    /// What larger days are bounded by: no set of prices, and nothing that a narrow search dropped, lies below the best.
    #[test]
    fn bounds_hold(instance in random(9), width in 1_usize..6, known in 0_u64..200) {
        let answer = solve(&instance, &never).unwrap();
        let problem = Problem::new(&instance).unwrap();
        if answer.status == Status::Best {
            prop_assert!(bound(&problem, known.min(answer.value)) >= answer.value);
        }
        let narrow = Bounds { width, labels: 100_000, stop: &never };
        let searched = search(&problem, None, &narrow);
        let found = searched.found.as_ref().map(|found| found.value);
        if answer.status == Status::Best {
            prop_assert!(found <= Some(answer.value));
            prop_assert!(found.max(searched.dropped) >= Some(answer.value), "{found:?} {:?}", searched.dropped);
        } else {
            prop_assert_eq!(found, None);
        }
        // Small changes keep every rule, and make nothing worse.
        if let Some(day) = searched.found {
            let bettered = improve(&problem, day.clone(), &never);
            prop_assert!(!day.beats(&bettered));
            prop_assert!(bettered.value <= answer.value);
            let replayed = replay(&problem, &bettered.order);
            // The meal may stand elsewhere in a day that is as good.
            prop_assert!(replayed.is_some_and(|one| !one.beats(&bettered) && !bettered.beats(&one)));
        }
    }

    /// What is stopped at once still answers, and keeps every rule.
    #[test]
    fn a_stopped_answer_keeps_every_rule(instance in random(10), asks in 0_u32..6) {
        let asked = std::cell::Cell::new(0);
        let stop = || {
            asked.set(asked.get() + 1);
            asked.get() > asks
        };
        let answer = solve(&instance, &stop).unwrap();
        if matches!(answer.status, Status::Best | Status::Feasible) {
            prop_assert_eq!(keeps_every_rule(&instance, &answer), Ok(()));
            prop_assert!(answer.bound >= answer.value);
        }
    }
}

/// Source: Dumas, Desrosiers, Gelinas and Solomon (Operations Research 43, 1995), n20w20.001; least finish 387,
/// proven with CP-SAT (OR-tools 9.15).
#[test]
fn a_published_travelling_problem_with_windows_ends_at_its_optimum() {
    let (ways, windows) = (DUMAS_WAYS, DUMAS_WINDOWS);
    let rows: Vec<Vec<i64>> = ways
        .lines()
        .map(|row| row.split_whitespace().map(|n| n.parse().unwrap()).collect())
        .collect();
    let windows: Vec<[i64; 2]> = windows
        .split_whitespace()
        .map(|pair| {
            let (open, close) = pair.split_once('-').unwrap();
            [open.parse().unwrap(), close.parse().unwrap()]
        })
        .collect();
    let name = |at: usize| format!("n{at}");
    let travel = (0..21)
        .map(|from| {
            (
                name(from),
                (0..21).map(|to| (name(to), rows[from][to])).collect(),
            )
        })
        .collect();
    let mut setups: Vec<Candidate> = (1..21)
        .map(|at| Candidate {
            light: Some(vec![windows[at]]),
            must: true,
            ..setup(&name(at), &name(at), 0, 0)
        })
        .collect();
    setups.push(Candidate {
        light: Some(vec![windows[0]]),
        must: true,
        after: (1..21).map(name).collect(),
        ..setup("back", "n0", 0, 0)
    });
    let instance = Instance {
        latest_wrap: 408,
        start_place: Some("n0".into()),
        travel_minutes: travel,
        setups,
        ..instance_of_nothing()
    };
    let answer = solve(&instance, &never).unwrap();
    assert_eq!((answer.status, answer.wrap), (Status::Best, 387));
    assert_eq!(keeps_every_rule(&instance, &answer), Ok(()));
}

/// A day made for this test and solved outside it, in Python, by enumerating all orders.
#[test]
fn a_shoot_day_solved_by_enumeration() {
    let job = |id: &str, place: &str, lasts: i64, earliest: i64, latest_end: i64| Candidate {
        light: Some(vec![[earliest, latest_end]]),
        must: true,
        ..setup(id, place, 0, lasts)
    };
    let mut setups = vec![
        job("A", "roof", 60, 0, 150),
        job("B", "roof", 90, 600, 840),
        job("C", "beach", 75, 120, 480),
        job("D", "beach", 45, 660, 800),
        job("E", "car", 60, 0, 900),
        job("F", "beach", 30, 0, 900),
    ];
    setups[2].after = vec!["F".into()];
    let mut back = setup("home", "home", 0, 0);
    back.must = true;
    back.after = "ABCDEF".chars().map(String::from).collect();
    setups.push(back);
    let mut day = instance(
        setups,
        &[
            ("home", "roof", 25),
            ("home", "beach", 40),
            ("home", "car", 30),
            ("roof", "beach", 35),
            ("roof", "car", 20),
            ("beach", "car", 30),
        ],
    );
    day.start_place = Some("home".into());
    let answer = solve(&day, &never).unwrap();
    assert_eq!(answer.wrap, 810);
    // Of both orders with this finish the one with fewer moves; starts as listed.
    assert_eq!(order(&answer)[0], "A");
    let last = answer.order.iter().find(|one| one.id == "D");
    assert_eq!(last.map(|one| (one.shoot_start, one.end)), Some((725, 770)));
    let closing = |day: &Instance| {
        let mut day = day.clone();
        day.setups[3].light = Some(vec![[660, 765]]);
        solve(&day, &never).unwrap().wrap
    };
    assert_eq!(closing(&day), 855);
}

#[test]
fn bars_may_be_counted_from_one_as_musicians_do() {
    let value = |bars: [Vec<i64>; 2]| {
        let mut day = instance(vec![setup("a", "p", 1, 1), setup("b", "p", 1, 1)], &[]);
        day.bar_values = vec![1, 10, 100];
        day.option_values = vec![1];
        for (setup, bars) in day.setups.iter_mut().zip(bars) {
            setup.bars = bars;
        }
        solve(&day, &never).map(|answer| answer.value)
    };
    assert_eq!(value([vec![0, 1], vec![2]]), Ok(111));
    assert_eq!(value([vec![1, 2], vec![3]]), Ok(111));
    assert_eq!(
        value([vec![1], vec![2]]),
        Ok(110),
        "from 0 where nothing says otherwise"
    );
    assert!(value([vec![0], vec![3]]).is_err());
    assert!(value([vec![1], vec![4]]).is_err());
}

#[test]
fn an_empty_day_is_a_day() {
    let answer = solve(&instance(Vec::new(), &[]), &never).unwrap();
    assert_eq!(
        (answer.status, answer.wrap, answer.value),
        (Status::Best, 0, 0)
    );
}

#[test]
fn waits_for_the_blue_hour_rather_than_shooting_in_the_dark() {
    let mut stairs = setup("stairs", "stairway", 20, 15);
    stairs.light = Some(vec![[1058, 1079]]);
    stairs.must = true;
    let mut day = instance(vec![stairs], &[]);
    day.call = 960;
    let answer = solve(&day, &never).unwrap();
    let timed = &answer.order[0];
    assert_eq!(
        (timed.start, timed.shoot_start, timed.end),
        (960, 1058, 1073)
    );
}

#[test]
fn an_impossible_day_says_the_fewest_reasons() {
    let mut stairs = setup("stairs", "stairway", 10, 15);
    stairs.light = Some(vec![[1058, 1079]]);
    stairs.must = true;
    let mut wash = setup("wash", "launderette", 10, 20);
    wash.access = Some(vec![[1050, 1110]]);
    wash.must = true;
    let mut easy = setup("quay", "quay", 10, 10);
    easy.must = true;
    let mut day = instance(
        vec![stairs, wash, easy],
        &[
            ("stairway", "launderette", 25),
            ("stairway", "quay", 10),
            ("launderette", "quay", 10),
        ],
    );
    day.call = 1050;
    day.latest_wrap = 1500;
    let answer = solve(&day, &never).unwrap();
    assert_eq!(answer.status, Status::Impossible);
    insta::assert_snapshot!(answer.reasons.join("\n"));
}

#[test]
fn what_is_wrong_is_said_in_one_sentence() {
    let good = || {
        let mut day = instance(
            vec![setup("a", "p", 1, 1), setup("b", "q", 1, 1)],
            &[("p", "q", 5)],
        );
        day.bar_values = vec![1, 1];
        day
    };
    type Change = fn(&mut Instance);
    let cases: [Change; 14] = [
        |day| day.call = -1,
        |day| day.latest_wrap = -5,
        |day| (day.call, day.latest_wrap) = (600, 120),
        |day| day.setups[1].id = "a".into(),
        |day| day.setups[1].id = String::new(),
        |day| day.setups[0].rig_minutes = -3,
        |day| day.setups[0].light = Some(vec![[200, 100]]),
        |day| day.setups[0].bars = vec![3],
        |day| day.setups[0].after = vec!["c".into()],
        |day| (day.setups[0].after, day.setups[1].after) = (vec!["b".into()], vec!["a".into()]),
        |day| {
            day.travel_minutes.remove("p");
        },
        |day| day.bar_values[0] = -1,
        |day| day.option_values = vec![i64::MAX],
        |day| {
            day.setups = (0..200)
                .map(|n| setup(&format!("s{n}"), "p", 1, 1))
                .collect()
        },
    ];
    let said: Vec<String> = cases
        .iter()
        .map(|change| {
            let mut day = good();
            change(&mut day);
            solve(&day, &never).unwrap_err().to_string()
        })
        .collect();
    insta::assert_snapshot!(said.join("\n"));
}

const DUMAS_WAYS: &str = "\
0 19 17 34 7 20 10 17 28 15 23 29 23 29 21 20 9 16 21 13 12
19 0 10 41 26 3 27 25 15 17 17 14 18 48 17 6 21 14 17 13 31
17 10 0 47 23 13 26 15 25 22 26 24 27 44 7 5 23 21 25 18 29
34 41 47 0 36 39 25 51 36 24 27 38 25 44 54 45 25 28 26 28 27
7 26 23 36 0 27 11 17 35 22 30 36 30 22 25 26 14 23 28 20 10
20 3 13 39 27 0 26 27 12 15 14 11 15 49 20 9 20 11 14 11 30
10 27 26 25 11 26 0 26 31 14 23 32 22 25 31 28 6 17 21 15 4
17 25 15 51 17 27 26 0 39 31 38 38 38 34 13 20 26 31 36 28 27
28 15 25 36 35 12 31 39 0 17 9 2 11 56 32 21 24 13 11 15 35
15 17 22 24 22 15 14 31 17 0 9 18 8 39 29 21 8 4 7 4 18
23 17 26 27 30 14 23 38 9 9 0 11 2 48 33 23 17 7 2 10 27
29 14 24 38 36 11 32 38 2 18 11 0 13 57 31 20 25 14 13 17 36
23 18 27 25 30 15 22 38 11 8 2 13 0 47 34 24 16 7 2 10 26
29 48 44 44 22 49 25 34 56 39 48 57 47 0 46 48 31 42 46 40 21
21 17 7 54 25 20 31 13 32 29 33 31 34 46 0 11 29 28 32 25 33
20 6 5 45 26 9 28 20 21 21 23 20 24 48 11 0 23 19 22 17 32
9 21 23 25 14 20 6 26 24 8 17 25 16 31 29 23 0 11 15 9 10
16 14 21 28 23 11 17 31 13 4 7 14 7 42 28 19 11 0 5 3 21
21 17 25 26 28 14 21 36 11 7 2 13 2 46 32 22 15 5 0 8 25
13 13 18 28 20 11 15 28 15 4 10 17 10 40 25 17 9 3 8 0 19
12 31 29 27 10 30 4 27 35 18 27 36 26 21 33 32 10 21 25 19 0";
const DUMAS_WINDOWS: &str = "0-408 62-68 181-205 306-324 214-217 51-61 102-129 175-186 250-263 3-23 21-49 79-90 78-96 \
    140-154 354-386 42-63 2-13 24-42 20-33 9-21 275-300";
