//! What every chart keeps to: its figures as text, well-formed pictures, everything inside.

#[path = "../examples/page/invented.rs"]
mod invented;

use charts::*;
use invented::Night;
use model::{ClockTime, Project, SongMap};
use proptest::prelude::*;
use sky::{Curve, Daylight, What};

const WIDTHS: [Width; 2] = [Width::Narrow, Width::Wide];

/// Every number that an attribute of the given name holds.
fn numbers(svg: &str, attribute: &str) -> Vec<f64> {
    let opens = format!(" {attribute}=\"");
    svg.split(&opens)
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .map(|text| {
            text.parse()
                .unwrap_or_else(|_| panic!("{attribute}={text}"))
        })
        .collect()
}

/// What must hold of any drawing: tags closed in order, no odd number, everything within its width, no style
/// and no script, text of 11 px or more.
fn check(svg: &str, width: Width) -> Result<(), TestCaseError> {
    let mut open: Vec<&str> = Vec::new();
    for piece in svg.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').expect("a tag ends");
        prop_assert!(!text.contains(['&']) || text.contains(';'), "{}", text);
        let name = tag
            .split([' ', '/'])
            .find(|part| !part.is_empty())
            .unwrap_or("");
        if let Some(closed) = tag.strip_prefix('/') {
            prop_assert_eq!(open.pop(), Some(closed), "{}", svg);
        } else if !tag.ends_with('/') {
            open.push(name);
        }
        prop_assert!(!tag.contains(" style=") && name != "script" && name != "style");
    }
    prop_assert!(open.is_empty());
    prop_assert!(!svg.contains("NaN"));
    let height = numbers(svg, "height")[0];
    let inner = svg.split_once('>').expect("a drawing").1;
    let (x, w) = (numbers(inner, "x"), numbers(inner, "width"));
    for x in x {
        prop_assert!((-0.01..=width.px() + 0.01).contains(&x), "x {}", x);
    }
    for w in w {
        prop_assert!((0.0..=width.px() + 0.01).contains(&w), "width {}", w);
    }
    for y in numbers(inner, "y") {
        prop_assert!(
            (-0.01..=height + 0.01).contains(&y),
            "y {} of {}",
            y,
            height
        );
    }
    prop_assert!(numbers(svg, "font-size")[0] >= 11.0);
    Ok(())
}

fn drawn(chart: &dyn Chart, width: Width) -> Result<(), TestCaseError> {
    check(&chart.svg(width).into_string(), width)
}

#[test]
fn the_figures_of_every_chart_as_text() {
    for (name, chart) in Night::new().charts() {
        let table = chart.rows();
        for row in &table.rows {
            assert_eq!(row.len(), table.header.len(), "{name}");
        }
        insta::assert_snapshot!(name, format!("{}\n{}", chart.name(), table.text()));
    }
}

#[test]
fn every_drawing_is_well_formed_and_keeps_inside() {
    for (name, chart) in Night::new().charts() {
        for width in WIDTHS {
            drawn(&*chart, width).unwrap_or_else(|why| panic!("{name} {width:?}: {why}"));
            // The same values, the same bytes.
            assert_eq!(chart.svg(width).0, chart.svg(width).0);
        }
        let figure = figure(&*chart, &format!("{name}`1")).into_string();
        assert!(figure.starts_with(&format!("<figure class=\"chart\" id=\"{name}-1\">")));
    }
}

#[test]
fn no_letter_is_smaller_than_11_px() {
    let style = stylesheet();
    let sizes: Vec<f64> = style
        .split("font-size: ")
        .skip(1)
        .filter_map(|rest| rest.split("px").next()?.parse().ok())
        .collect();
    assert!(sizes.len() > 4 && sizes.iter().all(|size| *size >= 11.0));
}

#[test]
fn small_drawings() {
    let mut night = Night::new();
    night.plan.order.truncate(1);
    night.plan.order[0].name = "Quay & <river>".into();
    night.plan.from = clock(1110);
    night.plan.latest_wrap = clock(1250);
    night.plan.meal = None;
    night.curve.light = vec![(Daylight::BlueHour, [1100.0, 1120.0])];
    let lines = |svg: String| svg.replace("><", ">\n<");
    insta::assert_snapshot!(
        "small_day",
        lines(night.day().svg(Width::Wide).into_string())
    );
    night.project.setups.drain(2..);
    night.project.setups.remove(0);
    insta::assert_snapshot!(
        "small_stops",
        lines(night.stops().svg(Width::Narrow).into_string())
    );
}

#[test]
fn strips_and_cells_carry_what_a_script_needs() {
    let night = Night::new();
    for width in WIDTHS {
        let day = night.day().svg(width).into_string();
        assert_eq!(day.matches("role=\"button\"").count(), 6);
        assert!(day.contains(
            r#"data-setup="quay-walk" data-start="1265" data-shoot="1290" data-end="1335""#
        ));
        assert!(day.contains(r#"data-from="1080" data-to="1620""#));
        let grid = night.coverage().svg(width).into_string();
        for bar in 1..=64 {
            assert_eq!(
                grid.matches(&format!("data-bar=\"{bar}\"")).count(),
                6,
                "{bar}"
            );
        }
    }
}

#[test]
fn what_the_cut_shows_half_of_a_bar_of_is_in_it() {
    let mut night = Night::new();
    // 85 frames at 25 are 3.4 s: the first bar of 2.35 s, and too little of the second.
    night.project.cuts[0].shots.truncate(1);
    night.project.cuts[0].shots[0].to_frame = 85;
    let table = night.coverage().rows();
    assert_eq!(table.rows[0], ["Stairs, wide", "1–24", "1–24", "1"]);
    night.project.cuts[0].shots[0].to_frame = 89;
    let table = night.coverage().rows();
    assert_eq!(table.rows[0][3], "1–2");
}

#[test]
fn what_is_planned_there_is_marked() {
    let mut night = Night::new();
    night.place.name = "Tiled <stairs>".into();
    let marks = |night: &Night, width| {
        let svg = night.sky().svg(width).into_string();
        assert!(!svg.contains("<stairs>"));
        svg.matches("planned-here").count()
    };
    for width in WIDTHS {
        assert_eq!(marks(&night, width), 2);
    }
    night.place.id = model::PlaceId::new("roof").expect("an id");
    assert_eq!(marks(&night, Width::Wide), 0);
}

#[test]
fn a_waxing_moon_is_lit_on_the_right_in_the_north_alone() {
    let mut night = Night::new();
    night.curve.moon_waxing = true;
    // The limb is the first arc of the lit part; its sweep is 1 on the right.
    let right = |night: &Night| {
        let svg = night.sky().svg(Width::Wide).into_string();
        let lit = svg.split("class=\"moon-lit\" d=\"").nth(1).expect("a moon");
        lit.split(' ').nth(5).map(str::to_owned)
    };
    assert_eq!(right(&night).as_deref(), Some("1"));
    night.curve.northern = false;
    assert_eq!(right(&night).as_deref(), Some("0"));
}

#[test]
fn the_day_found_is_drawn_with_what_runs_short_in_it() {
    let mut night = Night::new();
    let line = night.day();
    let strips = line.strips();
    assert_eq!(strips[5].breaks, [&night.conflicts[0]]);
    assert!(strips[0].breaks.is_empty());
    let texts = |night: &Night, begun| {
        DayLine {
            begun,
            ..night.day()
        }
        .rows()
        .text()
    };
    assert!(texts(&night, false).contains("\ncall |"));
    assert!(!texts(&night, true).contains("\ncall |"), "it runs");
    let svg = DayLine {
        begun: true,
        ..night.day()
    }
    .svg(Width::Wide);
    assert!(svg.into_string().contains("<title>now 18:10</title>"));
    // Without a curve, what the day itself knows.
    night.plan.meal = None;
    let known = [schedule::SkyBand {
        light: model::SkyLight::BlueHour,
        at: [clock(1100), clock(1120)],
    }];
    let line = DayLine {
        curve: None,
        sky: &known,
        ..night.day()
    };
    assert!(line.svg(Width::Narrow).into_string().contains("blue hour"));
}

#[test]
fn without_a_day_the_kept_order_is_drawn_with_what_breaks_in_it() {
    let mut night = Night::new();
    night.plan.order.clear();
    let mut kept = model::Day::new(
        night.plan.day.clone(),
        "2026-10-03".parse().unwrap(),
        clock(1020),
    );
    let id = night.project.setups[0].id.clone();
    kept.order = vec![model::Slot {
        pinned: true,
        ..model::Slot::new(id, clock(990), clock(1050))
    }];
    night.project.days = vec![kept];
    let says = "`stairs-wide` shoots outside its light";
    let setup = &night.project.setups[0].id;
    let typed = vec![model::Finding::problem("outside-light", says).about(setup)];
    let line = DayLine {
        typed: &typed,
        ..night.day()
    };
    let strips = line.strips();
    let strip = &strips[0].strip;
    assert_eq!((strip.name.as_str(), strip.pinned), ("Stairs, wide", true));
    assert_eq!(strips[0].breaks, [&typed[0]]);
    assert!(
        line.svg(Width::Wide)
            .into_string()
            .contains(r#"data-from="960""#)
    );
}

#[test]
fn every_shortage_is_told_once() {
    let table = Night::new().power().rows();
    let told = |what: &str| {
        table
            .rows
            .iter()
            .filter(|row| row[3].contains(what))
            .count()
    };
    assert_eq!(told("goes below its reserve"), 1);
    assert_eq!(told("no mains"), 1);
    assert_eq!(told("battery 2 goes on"), 1);
}

#[test]
fn what_is_not_known_stays_unknown_and_a_range_is_from_the_target() {
    let rows = Night::new().stops().rows().rows;
    assert_eq!(
        rows[1],
        [
            "Stairs, wide",
            "background",
            "−0.3 as wanted",
            "−1.1",
            "+0.6",
            "−1.0"
        ]
    );
    assert_eq!(rows[5][2..], ["not known", "", "", "−2.0"]);
    // A range without width says nothing.
    assert_eq!(rows[9][2..], ["+0.4 as wanted", "", "", "0.0"]);
    assert_eq!(rows.len(), 10, "the last setup was not judged");
}

#[test]
fn nothing_at_all_is_drawn_without_a_fault() {
    let mut night = Night::new();
    night.map = SongMap {
        bars: Vec::new(),
        sections: Vec::new(),
        beats: Vec::new(),
        downbeats: Vec::new(),
        ..night.map
    };
    night.project = Project::default();
    night.curve = Curve::default();
    night.plan.order.clear();
    (night.plan.from, night.plan.latest_wrap) = (clock(0), clock(0));
    night.power.slots.clear();
    night.power.spans.clear();
    night.power.charges.clear();
    night.power.ledger.clear();
    night.cards.cards.clear();
    night.judged.clear();
    night.counted.bars.clear();
    for (_, chart) in night.charts() {
        for width in WIDTHS {
            drawn(&*chart, width).unwrap();
        }
        chart.rows();
    }
}

fn clock(minutes: u32) -> ClockTime {
    ClockTime::from_minutes(minutes).expect("a clock")
}

/// A number as it should be, or as it should not.
fn odd() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -200.0f64..3000.0,
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1e300, 1e300, 0.0]),
    ]
}

fn words() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z ]{0,40}",
        "\\PC{0,30}",
        Just("</svg><script>&\"'".to_owned()),
        Just("\u{0}\u{1}\u{FFFE}".to_owned())
    ]
}

fn any_clock() -> impl Strategy<Value = ClockTime> {
    (0..=ClockTime::MOST_MINUTES).prop_map(clock)
}

fn window() -> impl Strategy<Value = [ClockTime; 2]> {
    [any_clock(), any_clock()]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_sky(of in [odd(), odd()], sun in prop::collection::vec([odd(), odd()], 0..30), spans in prop::collection::vec([odd(), odd()], 0..6), access in prop::collection::vec(window(), 0..3), lit in odd(), name in words()) {
        let lights = [Daylight::Day, Daylight::GoldenHour, Daylight::BlueHour, Daylight::CivilTwilight, Daylight::NauticalTwilight, Daylight::AstronomicalTwilight];
        let mut night = Night::new();
        night.place.access = access;
        for strip in &mut night.plan.order {
            strip.name.clone_from(&name);
        }
        night.place.name = name;
        night.curve = Curve {
            of_min: of,
            moon: sun.clone(),
            sun,
            moon_lit: lit,
            light: lights.into_iter().zip(spans.iter().copied()).collect(),
            events: spans.iter().map(|[at, _]| (*at, What::Sunset)).collect(),
            direct_sun: Some(spans),
            ..Curve::default()
        };
        for width in WIDTHS {
            drawn(&night.sky(), width)?;
        }
        night.sky().rows();
    }

    #[test]
    fn any_day(times in prop::collection::vec([any_clock(), any_clock(), any_clock(), any_clock()], 6), minutes in -50i64..4000, name in words(), window in window(), begun in any::<bool>()) {
        let mut night = Night::new();
        for (strip, [there, start, shoot, end]) in night.plan.order.iter_mut().zip(times) {
            strip.name.clone_from(&name);
            (strip.there, strip.start, strip.shoot, strip.end) = (there, start, shoot, end);
            (strip.travel_minutes, strip.waits_minutes, strip.room_minutes) = (minutes, minutes, minutes);
            (strip.light, strip.access) = (Some(window), Some(window));
        }
        night.plan.meal = Some(window);
        [night.plan.from, night.plan.latest_wrap] = window;
        night.conflicts[0].says = format!("`powder` {name}");
        let day = DayLine { begun, ..night.day() };
        for width in WIDTHS {
            drawn(&day, width)?;
        }
        day.rows();
    }

    #[test]
    fn any_power(times in prop::collection::vec([odd(), odd()], 0..12), wh in odd(), name in words()) {
        let mut night = Night::new();
        for (span, [from, to]) in night.power.spans.iter_mut().zip(&times) {
            (span.from_min, span.to_min, span.watts) = (*from, *to, wh);
        }
        for (slot, [from, to]) in night.power.slots.iter_mut().zip(&times) {
            (slot.shoot_min, slot.end_min, slot.there_min, slot.leave_min) = (*from, *to, *from, *to);
            slot.passes_min = vec![[*from, *to]];
        }
        for (swap, [at, _]) in night.power.swaps.iter_mut().zip(&times) {
            swap.at_min = *at;
        }
        for (short, [at, _]) in night.power.shortages.iter_mut().zip(&times) {
            short.at_min = *at;
        }
        night.power.ledger[0].start_wh = wh;
        night.power.ledger[1].reserve_line_wh = wh;
        night.cards.cards[0].free_gb = wh;
        night.project.kit[0].name.clone_from(&name);
        night.project.setups[0].name = name;
        for width in WIDTHS {
            let svg = night.power().svg(width).into_string();
            check(&svg, width)?;
            // A curve never goes back in time.
            for d in svg.split("class=\"curve").skip(1).filter_map(|rest| rest.split("d=\"").nth(1)) {
                let d = d.split('"').next().unwrap_or("");
                let x: Vec<f64> = d.split(['M', 'L']).filter_map(|point| point.split(' ').next()?.parse().ok()).collect();
                prop_assert!(x.windows(2).all(|pair| pair[0] <= pair[1]), "{}", d);
            }
        }
        night.power().rows();
    }

    #[test]
    fn any_coverage(bars in prop::collection::vec((any::<bool>(), any::<bool>(), 0u32..9, 0u32..100), 0..80), name in words()) {
        let mut night = Night::new();
        night.counted.bars.truncate(bars.len());
        for (bar, (planned, shot, wanted, number)) in night.counted.bars.iter_mut().zip(bars) {
            if planned { bar.planned.clear(); }
            if shot { bar.shot.clear(); }
            (bar.wanted, bar.number) = (wanted, number);
        }
        night.project.setups[0].name = name;
        for width in WIDTHS {
            drawn(&night.coverage(), width)?;
        }
        night.coverage().rows();
    }

    #[test]
    fn any_stops(gaps in prop::collection::vec((odd(), odd(), odd()), 0..6), slack in odd(), name in words()) {
        let mut night = Night::new();
        for (one, (gap, least, most)) in night.judged.iter_mut().zip(gaps) {
            one.face.gap_stops = Some(gap);
            one.face.stops_range = Some([least, most]);
            one.face.target_stops = most;
        }
        night.project.setups[0].name = name;
        let stops = Stops { slack_stops: slack, ..night.stops() };
        for width in WIDTHS {
            drawn(&stops, width)?;
        }
        stops.rows();
    }
}
