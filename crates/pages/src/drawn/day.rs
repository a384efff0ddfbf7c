//! The day as a time line.

use super::{called, date, minutes, span};
use charts::{Band, DayLine, DayStrip, Light, Span};
use model::{Day, Project, SkyLight};
use schedule::Strip;
use steps::{Daylight, OneDay, SkyCurve};

/// The light of `curve`, golden and blue hour over the rest.
pub fn lights(curve: &SkyCurve) -> Vec<Band> {
    let mut out: Vec<Band> = curve
        .daylight
        .iter()
        .map(|(light, [from, to])| {
            let light = match light {
                Daylight::Day => Light::Day,
                Daylight::Civil => Light::CivilTwilight,
                Daylight::Nautical => Light::NauticalTwilight,
                Daylight::Astronomical => Light::AstronomicalTwilight,
                Daylight::Night => Light::Night,
            };
            Band::new(light, Span::new(*from, *to))
        })
        .collect();
    for (light, all) in [
        (Light::GoldenHour, &curve.golden_hour),
        (Light::BlueHour, &curve.blue_hour),
    ] {
        out.extend(
            all.iter()
                .map(|[from, to]| Band::new(light, Span::new(*from, *to))),
        );
    }
    out
}

/// The day as it was found, under the sky of `curve`. Where no day was found, the order that stands in the plan with
/// what breaks in it, so that it can be moved. `begun`: the day runs, and its plan starts at what the clock shows.
pub fn day_line(project: &Project, one: &OneDay, curve: Option<&SkyCurve>, begun: bool) -> DayLine {
    let plan = &one.plan;
    let known = project.days.iter().find(|day| day.id == plan.day);
    let broken: Vec<&String> = if plan.order.is_empty() {
        one.typed.iter().collect()
    } else {
        one.conflicts.iter().collect()
    };
    let mut strips: Vec<DayStrip> = if plan.order.is_empty() {
        known.map(|day| kept(project, day)).unwrap_or_default()
    } else {
        plan.order.iter().map(strip).collect()
    };
    for strip in &mut strips {
        let id = format!("`{}`", strip.setup);
        let own = broken.iter().filter(|says| says.contains(&id));
        strip.breaks = own.map(|says| (*says).clone()).collect();
    }
    let from = strips
        .iter()
        .map(|strip| strip.there_min - strip.travel_min)
        .fold(minutes(plan.from), f64::min);
    let to = strips
        .iter()
        .map(|strip| strip.end_min)
        .fold(minutes(plan.latest_wrap), f64::max);
    // Whole half hours, and room for a word at either end.
    DayLine {
        day: date(&plan.date),
        of: Span::new(
            ((from - 10.0) / 30.0).floor() * 30.0,
            ((to + 10.0) / 30.0).ceil() * 30.0,
        ),
        sky: curve.map_or_else(|| plain(one), lights),
        call_min: (!begun).then(|| minutes(plan.from)),
        latest_wrap_min: Some(minutes(plan.latest_wrap)),
        meal: plan.meal.map(span),
        strips,
        now_min: begun.then(|| minutes(plan.from)),
    }
}

fn strip(strip: &Strip) -> DayStrip {
    DayStrip {
        setup: strip.setup.to_string(),
        name: strip.name.clone(),
        place: strip.place_name.clone(),
        travel_min: strip.travel_minutes as f64,
        there_min: minutes(strip.there),
        start_min: minutes(strip.start),
        shoot_min: minutes(strip.shoot),
        end_min: minutes(strip.end),
        relit: strip.relit,
        pinned: strip.pinned,
        waits_min: strip.waits_minutes as f64,
        light: strip.light.filter(|_| strip.asks_for_light).map(span),
        access: strip.access.map(span),
        room_min: strip.room_minutes as f64,
        breaks: Vec::new(),
    }
}

/// The order that stands in the plan: its times alone are known.
fn kept(project: &Project, day: &Day) -> Vec<DayStrip> {
    day.order
        .iter()
        .map(|slot| {
            let place = project
                .setup(&slot.setup)
                .and_then(|setup| project.place(setup.place.as_ref()?));
            DayStrip {
                setup: slot.setup.to_string(),
                name: called(project, &slot.setup),
                place: place.map(|place| place.name.clone()).unwrap_or_default(),
                there_min: minutes(slot.start),
                start_min: minutes(slot.start),
                shoot_min: minutes(slot.shoot.unwrap_or(slot.start)),
                end_min: minutes(slot.end),
                pinned: slot.pinned,
                ..DayStrip::default()
            }
        })
        .collect()
}

/// What the day itself knows of the sky, where no curve does.
fn plain(one: &OneDay) -> Vec<Band> {
    one.sky
        .iter()
        .filter_map(|band| {
            let light = match band.light {
                SkyLight::GoldenHour => Light::GoldenHour,
                SkyLight::BlueHour => Light::BlueHour,
                SkyLight::Night => Light::Night,
                _ => return None,
            };
            Some(Band::new(light, span(band.at)))
        })
        .collect()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use model::{ClockTime, DayId, PlaceId, Setup, SetupId, Slot};
    use schedule::{DayPlan, Status};

    fn clock(text: &str) -> ClockTime {
        text.parse().expect("a clock")
    }

    /// A sky of an evening with a waxing moon.
    pub fn curve() -> SkyCurve {
        SkyCurve {
            place: PlaceId::new("stairs").expect("an id"),
            day: Some(DayId::new("night").expect("an id")),
            date: "2026-11-20".into(),
            of_min: [720.0, 2160.0],
            sun: vec![[720.0, 29.0], [1440.0, -68.0], [2160.0, 29.0]],
            moon: vec![[720.0, 1.0], [1440.0, 30.0], [2160.0, -10.0]],
            moon_lit: 0.8,
            moon_waxing: true,
            northern: true,
            daylight: vec![
                (Daylight::Day, [0.0, 1030.0]),
                (Daylight::Civil, [1030.0, 1058.0]),
                (Daylight::Night, [1058.0, 2880.0]),
            ],
            golden_hour: vec![[990.0, 1046.0]],
            blue_hour: vec![[1046.0, 1058.0]],
            direct_sun: None,
            events: vec![(1030.0, sky::What::Sunset)],
        }
    }

    /// One strip at the stairs, shot from 18:00 to 18:30.
    pub fn plan() -> DayPlan {
        DayPlan {
            day: DayId::new("night").expect("an id"),
            date: "2026-11-20".into(),
            from: clock("17:00"),
            latest_wrap: clock("25:40"),
            status: Status::Best,
            value: 1,
            bound: 1,
            whole_value: 1,
            wrap: clock("18:30"),
            moves: 0,
            meal: None,
            order: vec![Strip {
                setup: SetupId::new("wide").expect("an id"),
                name: "Wide".into(),
                place: "stairs".into(),
                place_name: "Tiled stairway".into(),
                address: String::new(),
                travel_minutes: 20,
                there: clock("17:20"),
                start: clock("17:30"),
                shoot: clock("18:00"),
                end: clock("18:30"),
                relit: false,
                pinned: false,
                must: false,
                state: 0,
                passes: 2,
                waits_minutes: 5,
                light: Some([clock("17:40"), clock("25:00")]),
                access: None,
                asks_for_light: true,
                light_slack_minutes: None,
                access_slack_minutes: None,
                room_minutes: 40,
            }],
            left_out: Vec::new(),
            reasons: Vec::new(),
            late: None,
            notes: Vec::new(),
        }
    }

    fn day(plan: DayPlan) -> OneDay {
        OneDay {
            plan,
            sky: Vec::new(),
            typed: vec!["`wide` shoots outside its light".into()],
            conflicts: vec!["at 18:10 in `wide` `block` is empty: key without power".into()],
            cautions: Vec::new(),
        }
    }

    #[test]
    fn the_day_found_is_drawn_with_what_runs_short_in_it() {
        let one = day(plan());
        let line = day_line(&Project::default(), &one, Some(&curve()), false);
        assert_eq!(line.of, Span::new(990.0, 1560.0));
        assert_eq!((line.call_min, line.now_min), (Some(1020.0), None));
        let strip = &line.strips[0];
        assert_eq!((strip.shoot_min, strip.waits_min), (1080.0, 5.0));
        assert_eq!(strip.light, Some(Span::new(1060.0, 1500.0)));
        assert_eq!(strip.breaks, one.conflicts);
        assert!(
            line.sky
                .iter()
                .any(|band| band.light == Light::CivilTwilight)
        );
        let begun = day_line(&Project::default(), &one, None, true);
        assert_eq!((begun.call_min, begun.now_min), (None, Some(1020.0)));
    }

    #[test]
    fn without_a_day_the_kept_order_is_drawn_with_what_breaks_in_it() {
        let mut found = plan();
        found.order.clear();
        let mut kept = Day::new(found.day.clone(), "2026-11-20", clock("17:00"));
        kept.order = vec![Slot {
            pinned: true,
            ..Slot::new(
                SetupId::new("wide").expect("an id"),
                clock("16:30"),
                clock("17:30"),
            )
        }];
        let mut setup = Setup::new(SetupId::new("wide").expect("an id"));
        setup.name = "Wide".into();
        let project = Project {
            days: vec![kept],
            setups: vec![setup],
            ..Project::default()
        };
        let one = day(found);
        let line = day_line(&project, &one, None, false);
        let strip = &line.strips[0];
        assert_eq!((strip.name.as_str(), strip.pinned), ("Wide", true));
        assert_eq!(strip.breaks, one.typed);
        assert!(line.of.from_min <= 980.0);
    }
}
