//! When each setup is rigged and shot: the day as typed, or the setups one after the other.
//!
//! It does not plan a day: it takes the order it is given, and times what is untimed by common practice.

use crate::finding::Finding;
use crate::habits::Habits;
use model::{Day, Project, Setup, SetupId, SongMap, Stretch};
use serde::Serialize;

/// A setup's time in the day. Minutes after the day's midnight, counting on past it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SlotTimes {
    /// Which setup.
    pub setup: SetupId,
    /// When one is at its place at the earliest.
    pub there_min: f64,
    /// When rigging begins.
    pub start_min: f64,
    /// When lights are on from.
    pub lights_min: f64,
    /// When shooting begins.
    pub shoot_min: f64,
    /// When it is done.
    pub end_min: f64,
    /// When one leaves its place; its end, unless one stays to charge.
    pub leave_min: f64,
    /// Each pass, from and to.
    pub passes_min: Vec<[f64; 2]>,
}

/// How long the song sounds over what `setup` is planned for, seconds of song, stretches that overlap
/// counted once.
///
/// A setup that names nothing is planned over the whole song: the length of `map`, else `whole_s`. `None`
/// where that isn't known, or where sections and bars are named and there is no map, or nothing is left.
pub fn planned_s(setup: &Setup, map: Option<&SongMap>, whole_s: Option<f64>) -> Option<f64> {
    let heard = match map {
        Some(map) => map.planned(setup),
        None if setup.is_over_all() => return whole_s,
        None if !setup.sections.is_empty() || !setup.bars.is_empty() => return None,
        None => Stretch::joined(setup.stretches.clone()),
    };
    let heard_s: f64 = heard.iter().map(|at| at.length().seconds()).sum();
    (heard_s > 0.0).then_some(heard_s)
}

/// How much faster than on the finished picture the song is played and the camera runs in `setup`:
/// its rate ÷ the brief's (48 at 24 is 2).
pub fn speed(project: &Project, setup: &Setup) -> f64 {
    setup
        .shot_rate
        .map_or(1.0, |rate| rate.over(project.brief.rate).value())
}

/// Seconds that the song sounds on set in one pass of `setup`, and whether its length was known.
pub(crate) fn pass_s(
    project: &Project,
    setup: &Setup,
    lengths: &dyn Fn(&Setup) -> Option<f64>,
    habits: &Habits,
    findings: &mut Vec<Finding>,
) -> f64 {
    let known = lengths(setup).filter(|s| s.is_finite() && *s > 0.0);
    if known.is_none() {
        findings.push(Finding::LengthUnknown {
            setup: setup.id.clone(),
            used_s: habits.stretch_s,
        });
    }
    // A day's worth of song is more than any pass.
    (known.unwrap_or(habits.stretch_s) / speed(project, setup)).min(86_400.0)
}

/// A slot as the simulation takes it: setup and place by their place in the project, and how it may move.
#[derive(Clone, Debug)]
pub(crate) struct Timed {
    pub setup: usize,
    pub place: Option<usize>,
    pub times: SlotTimes,
    /// Minutes of waiting before it, the way not counted; negative where the typed times leave too few for it.
    pub slack_min: f64,
    /// Its place in the day's own order.
    pub nth: usize,
}

/// Minutes from one place to another: as said at either end, else the habit. 0 where one is unknown or
/// they are the same.
pub(crate) fn way_min(
    project: &Project,
    from: Option<usize>,
    to: Option<usize>,
    habits: &Habits,
) -> (f64, bool) {
    let (Some(from), Some(to)) = (from, to) else {
        return (0.0, true);
    };
    if from == to {
        return (0.0, true);
    }
    let said = |from: usize, to: usize| {
        let to = &project.places[to].id;
        let ways = project.places[from].travel.iter();
        ways.filter(|way| way.to == *to)
            .map(|way| way.minutes)
            .next()
    };
    match said(from, to).or_else(|| said(to, from)) {
        Some(minutes) => (f64::from(minutes.min(1440)), true),
        None => (habits.travel_minutes, false),
    }
}

/// The slots of `day` in their order.
pub(crate) fn slots(
    project: &Project,
    day: &Day,
    lengths: &dyn Fn(&Setup) -> Option<f64>,
    habits: &Habits,
    findings: &mut Vec<Finding>,
) -> Vec<Timed> {
    let typed = !day.order.is_empty();
    let order: Vec<(usize, Option<&model::Slot>)> = if typed {
        let mut known = Vec::new();
        for slot in &day.order {
            match project
                .setups
                .iter()
                .position(|setup| setup.id == slot.setup)
            {
                Some(at) => known.push((at, Some(slot))),
                None => findings.push(Finding::UnknownSetup {
                    setup: slot.setup.clone(),
                }),
            }
        }
        known
    } else {
        // What another day has in its order is shot there.
        let elsewhere = |id: &SetupId| {
            let others = project.days.iter().filter(|other| other.id != day.id);
            others
                .flat_map(|other| &other.order)
                .any(|slot| slot.setup == *id)
        };
        (0..project.setups.len())
            .filter(|at| !elsewhere(&project.setups[*at].id))
            .map(|at| (at, None))
            .collect()
    };
    let call = f64::from(day.call.minutes());
    let mut slots: Vec<Timed> = Vec::with_capacity(order.len());
    for (at, typed_slot) in order {
        let setup = &project.setups[at];
        let before = slots.last();
        let here = before.and_then(|slot| slot.place);
        let place = setup
            .place
            .as_ref()
            .and_then(|id| project.places.iter().position(|place| place.id == *id))
            .or(here);
        let (way, said) = way_min(project, here, place, habits);
        if !said && let (Some(from), Some(to)) = (here, place) {
            findings.push(Finding::TravelUnknown {
                from: project.places[from].id.clone(),
                to: project.places[to].id.clone(),
                used_min: way,
            });
        }
        let free = before.map_or(call, |slot| slot.times.end_min);
        let pass_min = pass_s(project, setup, lengths, habits, findings) / 60.0;
        let passes = f64::from(setup.passes);
        let reset = setup
            .reset_minutes
            .map_or(habits.reset_minutes, |m| f64::from(m.min(1440)));
        let rig = setup
            .rig_minutes
            .map_or(habits.rig_minutes, |m| f64::from(m.min(1440)));
        let needs = passes * (pass_min + reset);
        let (start, shoot, end) = match typed_slot {
            Some(slot) => {
                let start = f64::from(slot.start.minutes()).max(free);
                let end = f64::from(slot.end.minutes()).max(start);
                let shoot = slot
                    .shoot
                    .map_or(start + rig, |shoot| f64::from(shoot.minutes()));
                (start, shoot.clamp(start, end), end)
            }
            // Two days hold no more than two days, however many passes.
            None => {
                let start = free + way;
                (start, start + rig, start + rig + needs.min(2880.0))
            }
        };
        // The last reset may be left out.
        if passes > 0.0 && end - shoot < needs - reset - 1e-6 {
            findings.push(Finding::SlotTooShort {
                setup: setup.id.clone(),
                needs_min: needs - reset,
                has_min: end - shoot,
            });
        }
        let mut passes_min = Vec::new();
        let mut from = shoot;
        for _ in 0..setup.passes {
            if from + pass_min > end + 1e-6 || passes_min.len() >= MOST_PASSES {
                break;
            }
            passes_min.push([from, from + pass_min]);
            from += pass_min + reset;
        }
        slots.push(Timed {
            setup: at,
            place,
            slack_min: if before.is_some() {
                start - free - way
            } else {
                0.0
            },
            nth: slots.len(),
            times: SlotTimes {
                setup: setup.id.clone(),
                there_min: if before.is_some() {
                    (free + way).min(start)
                } else {
                    call.min(start)
                },
                start_min: start,
                lights_min: shoot - (shoot - start) * habits.lights_rig_share,
                shoot_min: shoot,
                end_min: end,
                leave_min: end,
                passes_min,
            },
        });
    }
    if !typed
        && let (Some(wrap), Some(last)) = (day.latest_wrap, slots.last())
        && last.times.end_min > f64::from(wrap.minutes()) + 1e-6
    {
        findings.push(Finding::PastWrap {
            end_min: last.times.end_min,
            wrap_min: f64::from(wrap.minutes()),
        });
    }
    slots
}

/// Passes of one setup that are told apart; nobody sings more.
const MOST_PASSES: usize = 500;

/// The same slots in another order, or with a stay at a place, timed anew: each as long as before, the ways
/// as they then are, and the waiting that stood at each place in the order kept, as far as nothing eats it.
pub(crate) fn again(
    project: &Project,
    slots: &[Timed],
    order: &[usize],
    stay: Option<(usize, f64)>,
    habits: &Habits,
) -> Vec<Timed> {
    let moved = order
        .iter()
        .enumerate()
        .any(|(position, from)| position != *from);
    let mut out: Vec<Timed> = Vec::with_capacity(order.len());
    for (position, from) in order.iter().enumerate() {
        let mut slot = slots[*from].clone();
        let slack = slots[position].slack_min;
        let start = match out.last() {
            None => slots[0].times.start_min,
            Some(before) => {
                let (way, _) = way_min(project, before.place, slot.place, habits);
                let stays = before.times.leave_min - before.times.end_min;
                let wait = if stays > 0.0 || moved {
                    slack.max(stays)
                } else {
                    slack
                };
                before.times.end_min + way + wait
            }
        };
        let there = match out.last() {
            None => slots[0].times.there_min,
            Some(before) => {
                let (way, _) = way_min(project, before.place, slot.place, habits);
                (before.times.leave_min + way).min(start)
            }
        };
        let by = start - slot.times.start_min;
        let times = &mut slot.times;
        times.there_min = there;
        for time in [
            &mut times.start_min,
            &mut times.lights_min,
            &mut times.shoot_min,
            &mut times.end_min,
        ] {
            *time += by;
        }
        for [from, to] in &mut times.passes_min {
            *from += by;
            *to += by;
        }
        times.leave_min = times.end_min;
        if let Some((at, minutes)) = stay
            && at == position
        {
            times.leave_min += minutes;
        }
        slot.slack_min = slack;
        out.push(slot);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Bar, ClockTime, DayId, FrameRate, Length, PlaceId, Section};

    fn map() -> SongMap {
        let s = |from: f64, to: f64| Stretch::between_seconds(from, to).unwrap();
        let section = |label: &str, at| Section {
            label: label.into(),
            name: None,
            at,
            energy: 0.5,
            voiced: 0.5,
        };
        SongMap {
            length: Length::nearest_to_seconds(100.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: Vec::new(),
            downbeats: Vec::new(),
            bars: (0..50)
                .map(|n| Bar {
                    number: n + 1,
                    at: s(f64::from(n) * 2.0, f64::from(n) * 2.0 + 2.0),
                    energy: 0.5,
                    voice: 0.5,
                })
                .collect(),
            sections: vec![
                section("A", s(0.0, 40.0)),
                section("B", s(40.0, 70.0)),
                section("A", s(70.0, 100.0)),
            ],
        }
    }

    #[test]
    fn what_is_planned_is_counted_once() {
        let mut setup = Setup::new(SetupId::new("x").unwrap());
        assert_eq!(planned_s(&setup, None, None), None);
        assert_eq!(planned_s(&setup, None, Some(150.0)), Some(150.0));
        assert_eq!(planned_s(&setup, Some(&map()), Some(150.0)), Some(100.0));
        setup.sections = vec!["B".into()];
        assert_eq!(planned_s(&setup, None, Some(150.0)), None);
        assert_eq!(planned_s(&setup, Some(&map()), None), Some(30.0));
        // Bars 16 to 25 are 30 to 50 s: 10 of them lie in B.
        setup.bars = vec![[16, 25]];
        assert_eq!(planned_s(&setup, Some(&map()), None), Some(40.0));
        setup.stretches = vec![Stretch::between_seconds(90.0, 500.0).unwrap()];
        assert_eq!(planned_s(&setup, Some(&map()), None), Some(50.0));
        setup.bars.clear();
        setup.sections = vec!["Z".into()];
        setup.stretches.clear();
        assert_eq!(planned_s(&setup, Some(&map()), None), None);
    }

    fn two_places() -> (Project, Day) {
        let mut project = Project::default();
        project.brief.rate = FrameRate::FPS_24;
        project.places = serde_json::from_str(
            r#"[{"id": "a", "name": "a", "travel": [{"to": "b", "minutes": 20}]}, {"id": "b", "name": "b"}]"#,
        )
        .unwrap();
        for (id, place) in [("one", "a"), ("two", "b"), ("three", "b")] {
            let mut setup = Setup::new(SetupId::new(id).unwrap());
            setup.place = Some(PlaceId::new(place).unwrap());
            project.setups.push(setup);
        }
        project.setups[1].shot_rate = FrameRate::new(48, 1);
        project.setups[1].passes = 3;
        let day = Day {
            air_c: Some(12.0),
            ..Day::new(
                DayId::new("night").unwrap(),
                "2026-10-03",
                ClockTime::from_minutes(1080).unwrap(),
            )
        };
        (project, day)
    }

    #[test]
    fn untyped_days_run_one_after_the_other() {
        let (project, day) = two_places();
        let mut findings = Vec::new();
        let slots = slots(
            &project,
            &day,
            &|_| Some(180.0),
            &Habits::default(),
            &mut findings,
        );
        let times: Vec<_> = slots
            .iter()
            .map(|s| (s.times.start_min, s.times.shoot_min, s.times.end_min))
            .collect();
        // By hand: rig 15, a pass 3 min and its reset 2; 20 minutes' way; at double speed a pass is 1.5.
        assert_eq!(
            times,
            [
                (1080.0, 1095.0, 1100.0),
                (1120.0, 1135.0, 1145.5),
                (1145.5, 1160.5, 1165.5)
            ]
        );
        assert_eq!(slots[1].times.lights_min, 1127.5);
        assert_eq!(slots[1].times.passes_min[1], [1138.5, 1140.0]);
        assert!(findings.is_empty());
        let turned = again(
            &project,
            &slots,
            &[1, 0, 2],
            Some((0, 10.0)),
            &Habits::default(),
        );
        assert_eq!(turned[0].times.start_min, 1080.0);
        assert_eq!(turned[0].times.leave_min, 1115.5);
        assert_eq!(turned[1].times.start_min, 1135.5);
        assert_eq!(turned[2].times.start_min, 1175.5);
        let same = again(&project, &slots, &[0, 1, 2], None, &Habits::default());
        for (a, b) in same.iter().zip(&slots) {
            assert_eq!(a.times, b.times);
        }
    }

    #[test]
    fn typed_days_are_taken_as_they_are() {
        let (project, mut day) = two_places();
        day.order = serde_json::from_str(
            r#"[{"setup": "two", "start": "19:00", "shoot": "19:30", "end": "19:34"},
                {"setup": "gone", "start": "20:00", "end": "20:30"},
                {"setup": "one", "start": "26:00", "end": "26:30"}]"#,
        )
        .unwrap();
        let mut findings = Vec::new();
        let slots = slots(&project, &day, &|_| None, &Habits::default(), &mut findings);
        assert_eq!(slots.len(), 2);
        assert_eq!(slots[1].times.there_min, 1194.0);
        assert_eq!(slots[1].times.shoot_min, 1575.0);
        let kinds: Vec<String> = findings.iter().map(ToString::to_string).collect();
        assert_eq!(kinds.len(), 4, "{kinds:#?}");
        assert!(
            matches!(findings[2], Finding::SlotTooShort { .. }),
            "{kinds:#?}"
        );
    }
}
