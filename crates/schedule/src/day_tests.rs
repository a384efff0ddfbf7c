//! A project's day, from the document on.

use crate::clocks::Clocks;
use crate::plan::{DayPlan, Depth, plan};
use crate::prepare::{Given, Light, Now};
use crate::solve::Status;
use crate::{broken, why};
use model::{
    BarWorth, ClockTime, Day, DayId, FrameRate, Person, PersonId, Place, PlaceId, Project, Setup,
    SetupId, Slot, Travel,
};

fn never() -> bool {
    false
}

fn clock(text: &str) -> ClockTime {
    text.parse().unwrap()
}

fn setup_id(id: &str) -> SetupId {
    SetupId::new(id).unwrap()
}

fn setup(id: &str, place: &str, rig: u32) -> Setup {
    Setup {
        place: Some(PlaceId::new(place).unwrap()),
        rig_minutes: Some(rig),
        reset_minutes: Some(2),
        passes: 2,
        ..Setup::new(setup_id(id))
    }
}

/// An evening: blue hour on a stairway, a launderette that opens at half past six, powder on a quay.
fn evening() -> Project {
    let place = |id: &str, ways: &[(&str, u32)]| {
        let travel = ways.iter().map(|(to, minutes)| Travel {
            to: PlaceId::new(*to).unwrap(),
            minutes: *minutes,
            extra: Default::default(),
        });
        Place {
            travel: travel.collect(),
            ..Place::new(PlaceId::new(id).unwrap(), id)
        }
    };
    let mut launderette = place("launderette", &[("quay", 25)]);
    launderette.access = vec![[clock("18:30"), clock("20:30")]];
    Project {
        states: vec!["clean".into(), "powdered".into()],
        places: vec![
            place("stairway", &[("launderette", 20), ("quay", 15)]),
            launderette,
            place("quay", &[]),
        ],
        setups: vec![
            Setup {
                must: true,
                ..setup("stairs", "stairway", 20)
            },
            Setup {
                must: true,
                rig_group: Some("window".into()),
                ..setup("wash-wide", "launderette", 30)
            },
            Setup {
                rig_group: Some("window".into()),
                relight_minutes: Some(6),
                ..setup("wash-close", "launderette", 20)
            },
            setup("quay-wide", "quay", 15),
            Setup {
                must: true,
                state: 1,
                ..setup("powder", "quay", 10)
            },
        ],
        days: vec![Day {
            latest_wrap: Some(clock("22:30")),
            ..Day::new(
                DayId::new("night").unwrap(),
                "2026-11-20".parse().unwrap(),
                clock("16:30"),
            )
        }],
        ..Project::default()
    }
}

/// 60 bars of 2 s; every setup holds twenty, each beginning twelve after the last.
fn bars(project: &Project) -> Vec<BarWorth> {
    (0..60)
        .map(|bar: u32| BarWorth {
            number: bar + 1,
            value: 20,
            setups: project
                .setups
                .iter()
                .enumerate()
                .filter(|(nth, _)| (12 * *nth as u32..12 * *nth as u32 + 20).contains(&bar))
                .map(|(_, setup)| setup.id.clone())
                .collect(),
        })
        .collect()
}

/// Plans the evening, `change`d before.
fn planned(change: impl Fn(&mut Project), begun: Option<Now>) -> (DayPlan, Vec<String>) {
    let mut project = evening();
    change(&mut project);
    let bars = bars(&project);
    let blue = |setup: &Setup| match setup.id.as_str() {
        "stairs" => Light::Within(vec![[1052, 1079]]),
        _ => Light::Any,
    };
    let lengths = |_: &Setup| Some(150.0);
    let given = Given {
        project: &project,
        day: &project.days[0],
        lengths: &lengths,
        bars: &bars,
        light: &blue,
        clocks: Clocks::default(),
        begun,
        shot_before: &[],
        next_call: None,
        more_days: false,
    };
    let depth = Depth {
        late: true,
        why: true,
    };
    let day = plan(&given, depth, &never).unwrap();
    let said = why(&given, &day, &setup_id("stairs"), &never)
        .unwrap()
        .unwrap_or_default();
    (day, said)
}

fn order(day: &DayPlan) -> Vec<String> {
    let strip = |strip: &crate::Strip| format!("{} {}", strip.start, strip.setup);
    day.order.iter().map(strip).collect()
}

#[test]
fn the_evening_is_put_in_order() {
    let (day, _) = planned(|_| {}, None);
    assert_eq!(day.status, Status::Best);
    insta::assert_snapshot!(crate::text::day(&day, &[], 80));
}

#[test]
fn it_fits_a_narrow_screen() {
    let (day, _) = planned(|_| {}, None);
    let text = crate::text::day(&day, &[], 40);
    let widest = text.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(40), "{text}");
}

#[test]
fn why_it_stands_there_is_a_chain_of_causes() {
    let (_, said) = planned(|_| {}, None);
    insta::assert_snapshot!(said.join("\n"));
}

#[test]
fn off_speed_passes_take_less_of_the_day() {
    let shoot = |change: &dyn Fn(&mut Setup)| {
        let (day, _) = planned(|project| change(&mut project.setups[0]), None);
        let strip = day
            .order
            .iter()
            .find(|strip| strip.setup.as_str() == "stairs")
            .unwrap();
        strip.end.minutes() - strip.shoot.minutes()
    };
    // Two passes of 150 s and resets of 2 min: 9 min. At 50 in a video of 25 the song runs at double speed: 6.5 min.
    assert_eq!(shoot(&|_| {}), 9);
    assert_eq!(shoot(&|setup| setup.shot_rate = FrameRate::new(50, 1)), 7);
}

#[test]
fn people_and_hours_narrow_the_light() {
    let (day, _) = planned(
        |project| {
            project.setups[3].must = true;
            project.setups[3].people = vec![PersonId::new("noor").unwrap()];
            project.people.push(Person {
                hours: vec![[clock("21:00"), clock("23:00")]],
                ..Person::new(PersonId::new("noor").unwrap(), "Noor Abelin")
            });
        },
        None,
    );
    let quay = day
        .order
        .iter()
        .find(|strip| strip.setup.as_str() == "quay-wide");
    assert_eq!(quay.map(|strip| strip.shoot), Some(clock("21:00")));
}

#[test]
fn a_day_that_has_begun_is_planned_from_here() {
    let now = Now {
        at: clock("19:40"),
        done: vec![setup_id("stairs"), setup_id("wash-wide")],
        place: None,
        eaten: false,
    };
    let (day, _) = planned(|_| {}, Some(now));
    assert_eq!(day.status, Status::Best);
    // The rig in the launderette still stands, so the close one is relit.
    assert_eq!(order(&day)[0], "19:40 wash-close");
    assert!(day.order[0].relit);
    assert!(order(&day).iter().all(|one| !one.ends_with("stairs")));
}

#[test]
fn a_pin_holds() {
    let pinned = |project: &mut Project| {
        project.days[0].order = vec![Slot {
            shoot: Some(clock("21:00")),
            pinned: true,
            ..Slot::new(setup_id("quay-wide"), clock("20:45"), clock("21:10"))
        }];
    };
    let (day, _) = planned(pinned, None);
    let strip = day
        .order
        .iter()
        .find(|strip| strip.setup.as_str() == "quay-wide")
        .unwrap();
    assert_eq!((strip.shoot, strip.pinned), (clock("21:00"), true));
}

#[test]
fn what_can_not_be_says_why() {
    let (day, _) = planned(
        |project| project.days[0].latest_wrap = Some(clock("18:30")),
        None,
    );
    assert_eq!(day.status, Status::Impossible);
    insta::assert_snapshot!(crate::text::day(&day, &[], 80));
}

#[test]
fn a_day_typed_by_hand_is_checked() {
    let mut project = evening();
    let slot = |id: &str, start: &str, shoot: &str, end: &str| Slot {
        shoot: Some(clock(shoot)),
        ..Slot::new(setup_id(id), clock(start), clock(end))
    };
    project.days[0].order = vec![
        slot("powder", "16:30", "16:40", "16:49"),
        slot("wash-wide", "17:00", "17:10", "17:19"),
        slot("wash-close", "17:19", "17:25", "17:31"),
        slot("stairs", "22:00", "22:20", "22:40"),
    ];
    project.setups[2].after = vec![setup_id("quay-wide")];
    let blue = |setup: &Setup| match setup.id.as_str() {
        "stairs" => Light::Within(vec![[1052, 1079]]),
        _ => Light::Any,
    };
    let given = Given {
        project: &project,
        day: &project.days[0],
        lengths: &|_| Some(150.0),
        bars: &[],
        light: &blue,
        clocks: Clocks::default(),
        begun: None,
        shot_before: &[],
        next_call: None,
        more_days: false,
    };
    let all: Vec<String> = broken(&given).iter().map(ToString::to_string).collect();
    insta::assert_snapshot!(all.join("\n"));
}

#[test]
fn of_equal_days_the_light_has_most_room() {
    // A b-roll of ten minutes fits before or after the stairs; before it the stairs would shoot late.
    let (day, _) = planned(|_| {}, None);
    let stairs = day
        .order
        .iter()
        .find(|strip| strip.setup.as_str() == "stairs")
        .unwrap();
    assert_eq!(stairs.shoot, clock("17:32"), "as its light begins");
}
