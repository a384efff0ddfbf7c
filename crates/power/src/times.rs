//! When each setup is rigged and shot: the day as typed, or the setups one after the other.
//!
//! It does not plan a day: it takes the order it is given, and times what is untimed by common practice.

use model::clock::shown;
use model::text::listed;
use model::way::Way;
use model::{ClockTime, Day, Finding, Minutes, Project, Setup, SetupId, Slot};
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

/// What `setup` takes; where the length of a pass isn't known, that goes to `findings`.
pub(crate) fn minutes(
    project: &Project,
    setup: &Setup,
    lengths: &dyn Fn(&Setup) -> Option<f64>,
    findings: &mut Vec<Finding>,
) -> Minutes {
    let minutes = Minutes::of(setup, project.brief.rate, lengths(setup), &project.practice);
    if !minutes.known {
        let says = format!(
            "how long the song sounds in `{}` is not known; {:.0} s a pass are counted with",
            setup.id, project.practice.usual_stretch_s
        );
        Finding::unknown("length-unknown", says)
            .about(&setup.id)
            .mended_by("listen to the song")
            .once(findings);
    }
    Minutes {
        // A day's worth of song is more than any pass.
        pass: minutes.pass.min(1440.0),
        ..minutes
    }
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

/// The way from one place to another; none from or to where no place is known yet.
fn way(project: &Project, from: Option<usize>, to: Option<usize>) -> Way {
    let id = |at: Option<usize>| at.map_or("", |at| project.places[at].id.as_str());
    match from.is_some() && to.is_some() {
        true => project.way(id(from), id(to), project.practice.travel_minutes),
        false => project.way("", "", 0.0),
    }
}

/// The way from one place to another, minutes; where it isn't said, that goes to `findings`.
fn way_min(
    project: &Project,
    from: Option<usize>,
    to: Option<usize>,
    findings: &mut Vec<Finding>,
) -> f64 {
    let way = way(project, from, to);
    if !way.said
        && let (Some(from), Some(to)) = (from, to)
    {
        let (from, to) = (&project.places[from].id, &project.places[to].id);
        let says = format!(
            "the way from `{from}` to `{to}` is not said; {:.0} minutes are counted with",
            way.minutes
        );
        Finding::unknown("travel-unknown", says)
            .about_all([from, to])
            .mended_by("write it at the place")
            .once(findings);
    }
    way.minutes
}

/// What is shot on `day`, in its order: setups by their place in the project, with what is typed for each.
fn order<'d>(
    project: &Project,
    day: &'d Day,
    findings: &mut Vec<Finding>,
) -> Vec<(usize, Option<&'d Slot>)> {
    if !day.order.is_empty() {
        let known = day.order.iter().filter_map(|slot| {
            let mut setups = project.setups.iter();
            let at = setups.position(|setup| setup.id == slot.setup);
            if at.is_none() {
                unknown_setup(&slot.setup).once(findings);
            }
            Some((at?, Some(slot)))
        });
        return known.collect();
    }
    // What another day has in its order is shot there.
    let others = project.days.iter().filter(|other| other.id != day.id);
    let elsewhere: Vec<_> = others
        .flat_map(|other| other.order.iter().map(|slot| &slot.setup))
        .collect();
    let here = project.setups.iter().enumerate();
    let here = here.filter(|(_, setup)| !elsewhere.contains(&&setup.id));
    let unsaid = here.clone().map(|(_, setup)| setup);
    let unsaid: Vec<&SetupId> = unsaid
        .filter(|setup| setup.rig_minutes.is_none())
        .map(|setup| &setup.id)
        .collect();
    if !unsaid.is_empty() {
        let says = format!(
            "how long it takes to rig {} is not said; {:.0} minutes are counted with",
            listed(&unsaid),
            project.practice.rig_minutes
        );
        Finding::unknown("minutes-unsaid", says)
            .about_all(unsaid)
            .mended_by("write `rig_minutes`")
            .once(findings);
    }
    here.map(|(at, _)| (at, None)).collect()
}

/// When a setup is rigged from, shot from and done: as typed, but not before one is `free`; else as soon as
/// one is there, for as long as it takes.
fn span(typed: Option<&Slot>, minutes: &Minutes, free: f64, way: f64) -> [f64; 3] {
    let rig = minutes.rig;
    let Some(slot) = typed else {
        let start = free + way;
        // Two days hold no more than two days, however many passes.
        let end = start + rig + minutes.shoot().min(2880.0);
        return [start, start + rig, end];
    };
    let of = |time: ClockTime| f64::from(time.minutes());
    let start = of(slot.start).max(free);
    let end = of(slot.end).max(start);
    let shoot = slot.shoot.map_or(start + rig, of);
    [start, shoot.clamp(start, end), end]
}

/// The passes that find room between `shoot` and `end`.
fn passes(minutes: &Minutes, shoot: f64, end: f64) -> Vec<[f64; 2]> {
    let next = |from: &f64| Some(from + (minutes.pass + minutes.reset));
    std::iter::successors(Some(shoot), next)
        .map(|from| [from, from + minutes.pass])
        .take(minutes.passes.min(MOST_PASSES) as usize)
        .take_while(|[_, to]| *to <= end + 1e-6)
        .collect()
}

/// The slots of `day` in their order.
pub(crate) fn slots(
    project: &Project,
    day: &Day,
    lengths: &dyn Fn(&Setup) -> Option<f64>,
    findings: &mut Vec<Finding>,
) -> Vec<Timed> {
    let order = order(project, day, findings);
    let mut slots: Vec<Timed> = Vec::with_capacity(order.len());
    let (mut here, mut free) = (None, f64::from(day.call.minutes()));
    for (nth, (at, typed)) in order.into_iter().enumerate() {
        let setup = &project.setups[at];
        let mut places = project.places.iter();
        let place = setup.place.as_ref();
        let place = place.and_then(|id| places.position(|place| place.id == *id));
        let place = place.or(here);
        let way = way_min(project, here, place, findings);
        let minutes = minutes(project, setup, lengths, findings);
        let [start, shoot, end] = span(typed, &minutes, free, way);
        // The last reset may be left out.
        let needs = minutes.shoot() - minutes.reset;
        if minutes.passes > 0 && end - shoot < needs - 1e-6 {
            let says = format!(
                "`{}` has {:.0} minutes to shoot and its passes take {needs:.0}",
                setup.id,
                end - shoot,
            );
            Finding::problem("slot-too-short", says)
                .about(&setup.id)
                .mended_by("give it more time")
                .mended_by("fewer passes")
                .once(findings);
        }
        slots.push(Timed {
            setup: at,
            place,
            slack_min: start - free - way,
            nth,
            times: SlotTimes {
                setup: setup.id.clone(),
                there_min: (free + way).min(start),
                start_min: start,
                lights_min: shoot - (shoot - start) * project.practice.lights_rig_share,
                shoot_min: shoot,
                end_min: end,
                leave_min: end,
                passes_min: passes(&minutes, shoot, end),
            },
        });
        (here, free) = (place, end);
    }
    let untyped = day.order.is_empty() && !slots.is_empty();
    if let Some(wrap) = day.latest_wrap.filter(|_| untyped) {
        past_wrap(free, f64::from(wrap.minutes()), findings);
    }
    slots
}

/// Says where setups that follow each other end at `end`, after the latest wrap.
fn past_wrap(end: f64, wrap: f64, findings: &mut Vec<Finding>) {
    if end > wrap + 1e-6 {
        let says = format!(
            "the setups one after the other end at {}, after the latest wrap at {}",
            shown(end),
            shown(wrap)
        );
        Finding::warning("past-wrap", says)
            .at(end)
            .mended_by("drop one")
            .mended_by("start earlier")
            .once(findings);
    }
}

/// An order names a setup that is not there.
pub(crate) fn unknown_setup(setup: &SetupId) -> Finding {
    let says =
        format!("the day names the setup `{setup}`, which the plan does not have; it is left out");
    Finding::problem("unknown-setup", says)
}

/// Passes of one setup that are told apart; nobody sings more.
const MOST_PASSES: u32 = 500;

/// The same slots in another order, or with a stay at a place, timed anew: each as long as before, the ways
/// as they then are, and the waiting that stood at each place in the order kept, as far as nothing eats it.
pub(crate) fn again(
    project: &Project,
    slots: &[Timed],
    order: &[usize],
    stay: Option<(usize, f64)>,
) -> Vec<Timed> {
    let moved = order
        .iter()
        .enumerate()
        .any(|(position, from)| position != *from);
    let mut out: Vec<Timed> = Vec::with_capacity(order.len());
    for (position, from) in order.iter().enumerate() {
        let mut slot = slots[*from].clone();
        let slack = slots[position].slack_min;
        let [there, start] = match out.last() {
            None => [slots[0].times.there_min, slots[0].times.start_min],
            Some(before) => {
                let way = way(project, before.place, slot.place).minutes;
                let stays = before.times.leave_min - before.times.end_min;
                let wait = if stays > 0.0 || moved {
                    slack.max(stays)
                } else {
                    slack
                };
                let start = before.times.end_min + way + wait;
                [(before.times.leave_min + way).min(start), start]
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
    use model::{ClockTime, DayId, FrameRate, PlaceId, SetupId};

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
            setup.rig_minutes = Some(15);
            project.setups.push(setup);
        }
        project.setups[1].shot_rate = FrameRate::new(48, 1);
        project.setups[1].passes = 3;
        let day = Day {
            air_c: Some(12.0),
            ..Day::new(
                DayId::new("night").unwrap(),
                "2026-10-03".parse().unwrap(),
                ClockTime::from_minutes(1080).unwrap(),
            )
        };
        (project, day)
    }

    #[test]
    fn untyped_days_run_one_after_the_other() {
        let (project, day) = two_places();
        let mut findings = Vec::new();
        let slots = slots(&project, &day, &|_| Some(180.0), &mut findings);
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
        let turned = again(&project, &slots, &[1, 0, 2], Some((0, 10.0)));
        assert_eq!(turned[0].times.start_min, 1080.0);
        assert_eq!(turned[0].times.leave_min, 1115.5);
        assert_eq!(turned[1].times.start_min, 1135.5);
        assert_eq!(turned[2].times.start_min, 1175.5);
        let same = again(&project, &slots, &[0, 1, 2], None);
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
        let slots = slots(&project, &day, &|_| None, &mut findings);
        assert_eq!(slots.len(), 2);
        assert_eq!(slots[1].times.there_min, 1194.0);
        assert_eq!(slots[1].times.shoot_min, 1575.0);
        let kinds: Vec<String> = findings.iter().map(ToString::to_string).collect();
        assert_eq!(kinds.len(), 4, "{kinds:#?}");
        assert_eq!(findings[2].kind, "slot-too-short", "{kinds:#?}");
    }
}
