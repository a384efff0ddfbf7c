//! How long the day takes to solve: 18 setups with loose windows, 30 setups, and how good the answers are.
//!
//! ```text
//! cargo run --package schedule --example size
//! ```
//!
//! Prints a line for a reader and one of JSON for `cargo xtask bench`; see `checks/README.md`.

use model::{BarWorth, ClockTime, Day, DayId, Place, PlaceId, Project, Setup, SetupId};
use schedule::{Candidate, Clocks, Depth, Given, Instance, Light, Meal};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// A small generator of numbers, so that every run sees the same days.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: i64) -> i64 {
        // SplitMix64.
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n as u64) as i64
    }
}

/// A day of `count` setups at `places` places; it lasts `share` of what all of them take.
fn day(seed: u64, count: usize, places: i64, share: f64) -> Instance {
    let mut dice = Dice(seed);
    let place = |at: i64| format!("place-{at}");
    let mut travel: BTreeMap<String, BTreeMap<String, i64>> = BTreeMap::new();
    for from in 0..places {
        for to in 0..places {
            let minutes = 10 + dice.below(30);
            travel
                .entry(place(from))
                .or_default()
                .insert(place(to), minutes);
        }
    }
    let call = 14 * 60;
    let setups: Vec<Candidate> = (0..count)
        .map(|nth| {
            let first = dice.below(60);
            let bars = (first..first + 8 + dice.below(30))
                .filter(|bar| *bar < 80)
                .collect();
            // Every third one has a window, of hours.
            let opens = call + dice.below(240);
            let light = (nth % 3 == 0).then(|| vec![[opens, opens + 300]]);
            Candidate {
                id: format!("setup-{nth}"),
                place: place(dice.below(places)),
                rig_minutes: 5 + dice.below(20),
                relight_minutes: 5,
                shoot_minutes: 10 + dice.below(25),
                rig_group: (dice.below(2) == 0).then(|| "rig".into()),
                access: None,
                light,
                must: nth % 6 == 0,
                state: i64::from(nth % 9 == 8),
                after: Vec::new(),
                bars,
                light_is: String::new(),
            }
        })
        .collect();
    let all: i64 = setups.iter().map(|s| s.rig_minutes + s.shoot_minutes).sum();
    Instance {
        call,
        latest_wrap: call + (all as f64 * share) as i64 + 60,
        start_place: Some(place(0)),
        travel_minutes: travel,
        setups,
        meal: Some(Meal {
            minutes: 30,
            latest_start_after_call: 360,
        }),
        bar_values: (0..80).map(|bar| 1 + i64::from(bar % 16 == 0)).collect(),
        option_values: vec![8, 4, 2, 1],
        begun: None,
        clocks: Default::default(),
    }
}

fn main() -> Result<(), schedule::Error> {
    // A seed, a size and a share ask for one day, printed for another solver.
    let given: Vec<String> = std::env::args().skip(1).collect();
    if let [seed, count, share] = &given[..]
        && let (Ok(seed), Ok(count), Ok(share)) = (seed.parse(), count.parse(), share.parse())
    {
        println!("{}", serde_json::json!(day(seed, count, 3, share)));
        return Ok(());
    }
    for (count, share, allowed_s) in [(18, 0.75, 2.0), (18, 1.2, 2.0), (30, 0.6, 5.0)] {
        let mut took_s: Vec<f64> = Vec::new();
        let mut gap: f64 = 0.0;
        let mut proven = 0;
        for seed in 1..=7 {
            let instance = day(seed, count, 3, share);
            let started = Instant::now();
            let until = started + Duration::from_secs(3);
            let stop = || count > 18 && Instant::now() > until;
            let answer = schedule::solve(&instance, &stop)?;
            took_s.push(started.elapsed().as_secs_f64());
            gap = gap.max((answer.bound - answer.value) as f64 / answer.value.max(1) as f64);
            proven += usize::from(answer.status == schedule::Status::Best);
        }
        took_s.sort_by(f64::total_cmp);
        let (median, most) = (took_s[3], took_s[6]);
        println!(
            "{count} setups, a day of {:.0} % of their minutes: {median:.2} s (at most {most:.2} s), {proven} of 7 proven, the worst {:.1} % below its bound",
            share * 100.0,
            gap * 100.0
        );
        println!(
            r#"{{"bench": "a day of {count} setups, {share} of their minutes", "unit": "s", "figure": {most:.3}, "reference": {allowed_s}, "against": "the time it should keep to"}}"#
        );
    }
    late_table()
}

/// The whole late table of a day of 12 setups at three places, all of them chosen.
fn late_table() -> Result<(), schedule::Error> {
    let clock = |minutes: u32| ClockTime::from_minutes(minutes).unwrap_or_default();
    let id = |nth: usize| SetupId::new(format!("setup-{nth}"));
    let place = |nth: usize| PlaceId::new(format!("place-{nth}"));
    let mut project = Project::default();
    for nth in 0..3 {
        project
            .places
            .extend(place(nth).map(|id| Place::new(id, "a place")));
    }
    for nth in 0..12 {
        project.setups.extend(id(nth).map(|id| Setup {
            place: place(nth % 3).ok(),
            rig_minutes: Some(10 + nth as u32),
            rig_group: Some(format!("rig {}", nth / 6)),
            passes: 2,
            must: nth % 4 == 0,
            state: u32::from(nth > 9),
            ..Setup::new(id)
        }));
    }
    let Ok(night) = DayId::new("night") else {
        return Ok(());
    };
    let day = Day {
        latest_wrap: Some(clock(26 * 60)),
        longest_minutes: Some(720),
        ..Day::new(night, "2026-11-20".parse().unwrap(), clock(14 * 60))
    };
    let bars: Vec<BarWorth> = (0..80_u32)
        .map(|bar| BarWorth {
            number: bar + 1,
            value: 20,
            setups: (0..12)
                .filter(|nth| (5 * *nth as u32..5 * *nth as u32 + 30).contains(&bar))
                .filter_map(|nth| id(nth).ok())
                .collect(),
        })
        .collect();
    let given = Given {
        project: &project,
        day: &day,
        lengths: &|_| Some(180.0),
        bars: &bars,
        light: &|_| Light::Any,
        clocks: Clocks::default(),
        begun: None,
        shot_before: &[],
        next_call: None,
        more_days: false,
    };
    let depth = Depth {
        late: true,
        why: false,
    };
    let started = Instant::now();
    let plan = schedule::plan(&given, depth, &|| false)?;
    let took_s = started.elapsed().as_secs_f64();
    let cells = plan
        .late
        .map_or(0, |late| late.rows.iter().map(|row| row.cells.len()).sum());
    println!(
        "a day of 12, {} of them chosen, with its late table of {cells} cells: {took_s:.2} s",
        plan.order.len()
    );
    println!(
        r#"{{"bench": "a day of 12 with its late table", "unit": "s", "figure": {took_s:.3}, "reference": 1.0, "against": "the time it should keep to"}}"#
    );
    Ok(())
}
