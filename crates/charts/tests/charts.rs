//! What every chart keeps to: its figures as text, well-formed pictures, everything inside.

#[path = "../examples/page/invented.rs"]
mod invented;

use charts::*;
use model::SongMap;
use proptest::prelude::*;

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
    let inner = svg.split("</defs>").nth(1).expect("patterns come first");
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
    for size in numbers(inner, "font-size") {
        prop_assert!(size >= 11.0);
    }
    Ok(())
}

fn all(map: &SongMap) -> Vec<(&'static str, Box<dyn Chart + '_>)> {
    vec![
        ("sky", Box::new(invented::sky())),
        ("day", Box::new(invented::day_line())),
        ("power", Box::new(invented::power())),
        ("stops", Box::new(invented::stops())),
        ("coverage", Box::new(invented::coverage(map))),
        ("takes", Box::new(invented::takes(map))),
    ]
}

#[test]
fn the_figures_of_every_chart_as_text() {
    let map = invented::song();
    for (name, chart) in all(&map) {
        let table = chart.rows();
        for row in &table.rows {
            assert_eq!(row.len(), table.header.len(), "{name}");
        }
        insta::assert_snapshot!(name, format!("{}\n{}", chart.name(), table.text()));
    }
}

#[test]
fn every_drawing_is_well_formed_and_keeps_inside() {
    let map = invented::song();
    for (name, chart) in all(&map) {
        for width in WIDTHS {
            let svg = chart.svg(name, width);
            check(&svg, width).unwrap_or_else(|why| panic!("{name} {width:?}: {why}"));
            // The same values, the same bytes.
            assert_eq!(svg, chart.svg(name, width));
        }
        let figure = figure(&*chart, name);
        assert!(figure.starts_with(&format!("<figure class=\"chart\" id=\"{name}\">")));
    }
}

#[test]
fn small_drawings() {
    let day = DayLine {
        of: Span::new(1080.0, 1200.0),
        sky: vec![Band::new(Light::BlueHour, Span::new(1100.0, 1120.0))],
        strips: vec![DayStrip {
            setup: "quay".into(),
            name: "Quay & <river>".into(),
            place: "River quay".into(),
            there_min: 1090.0,
            start_min: 1090.0,
            shoot_min: 1110.0,
            end_min: 1140.0,
            pinned: true,
            room_min: 20.0,
            ..DayStrip::default()
        }],
        ..DayLine::default()
    };
    let lines = |svg: String| svg.replace("><", ">\n<");
    insta::assert_snapshot!("small_day", lines(day.svg("d", Width::Wide)));
    let stops = Stops {
        setups: vec![invented::stops().setups.swap_remove(1)],
        slack_stops: 0.5,
    };
    insta::assert_snapshot!("small_stops", lines(stops.svg("s", Width::Narrow)));
}

#[test]
fn strips_and_cells_carry_what_a_script_needs() {
    let map = invented::song();
    for width in WIDTHS {
        let day = invented::day_line().svg("day", width);
        assert_eq!(day.matches("role=\"button\"").count(), 6);
        assert!(day.contains(
            r#"data-setup="quay-walk" data-start="1265" data-shoot="1290" data-end="1335""#
        ));
        assert!(day.contains(r#"data-from="1080" data-to="1620""#));
        let grid = invented::coverage(&map).svg("grid", width);
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
fn nothing_at_all_is_drawn_without_a_fault() {
    let map = SongMap {
        bars: Vec::new(),
        sections: Vec::new(),
        beats: Vec::new(),
        downbeats: Vec::new(),
        ..invented::song()
    };
    let charts: Vec<Box<dyn Chart + '_>> = vec![
        Box::new(Sky::default()),
        Box::new(DayLine::default()),
        Box::new(Power::default()),
        Box::new(Stops::default()),
        Box::new(Coverage {
            map: &map,
            setups: vec![CoverageRow::default()],
            options: Vec::new(),
        }),
        Box::new(TakesOverSong {
            map: &map,
            takes: vec![TakeLine::default()],
        }),
    ];
    for chart in charts {
        for width in WIDTHS {
            check(&chart.svg("x", width), width).unwrap();
        }
        chart.rows();
    }
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

fn span() -> impl Strategy<Value = Span> {
    (odd(), odd()).prop_map(|(from, to)| Span::new(from, to))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_sky(place in words(), of in span(), sun in prop::collection::vec((odd(), odd()), 0..30), spans in prop::collection::vec(span(), 0..6), lit in odd(), name in words()) {
        let lights = [Light::Day, Light::GoldenHour, Light::BlueHour, Light::CivilTwilight, Light::NauticalTwilight, Light::AstronomicalTwilight];
        let body: Vec<Standing> = sun.iter().map(|(at_min, altitude_deg)| Standing { at_min: *at_min, altitude_deg: *altitude_deg }).collect();
        let sky = Sky {
            place,
            of,
            sun: body.clone(),
            moon: body,
            phase: Some(MoonPhase { lit, waxing: true, lit_on_right: true }),
            bands: spans.iter().zip(lights).map(|(at, light)| Band::new(light, *at)).collect(),
            sunlit: Some(spans.clone()),
            access: spans.clone(),
            events: spans.iter().map(|at| Event { at_min: at.from_min, what: name.clone() }).collect(),
            setups: spans.iter().map(|at| Planned { setup: String::new(), name: name.clone(), shoot: *at }).collect(),
            now_min: Some(lit),
            ..Sky::default()
        };
        for width in WIDTHS {
            check(&sky.svg("sky", width), width)?;
        }
        sky.rows();
    }

    #[test]
    fn any_day(of in span(), times in prop::collection::vec((odd(), odd(), odd(), odd(), odd()), 0..8), name in words(), window in span()) {
        let day = DayLine {
            day: name.clone(),
            of,
            sky: vec![Band::new(Light::Night, window)],
            call_min: Some(window.from_min),
            latest_wrap_min: Some(window.to_min),
            meal: Some(window),
            strips: times.iter().map(|(a, b, c, d, e)| DayStrip {
                setup: name.clone(), name: name.clone(), place: name.clone(),
                there_min: *a, start_min: *b, shoot_min: *c, end_min: *d, room_min: *e, travel_min: *e, waits_min: *a,
                light: Some(window), access: Some(window), pinned: *a > 500.0,
                breaks: vec![name.clone()], relit: false,
            }).collect(),
            now_min: None,
        };
        for width in WIDTHS {
            check(&day.svg("day", width), width)?;
        }
        day.rows();
    }

    #[test]
    fn any_power(of in span(), points in prop::collection::vec((odd(), odd()), 0..12), full in odd(), name in words()) {
        let points: Vec<[f64; 2]> = points.into_iter().map(|(a, b)| [a, b]).collect();
        let marks: Vec<Mark> = points.iter().take(3).map(|[at_min, _]| Mark { at_min: *at_min, says: name.clone() }).collect();
        let power = Power {
            day: name.clone(),
            of,
            slots: points.iter().map(|[a, b]| Slot { name: name.clone(), at: Span::new(*a, *b) }).collect(),
            batteries: vec![BatteryCharge { name: name.clone(), full_wh: full, reserve_wh: full / 5.0, points: points.clone(), swaps: marks.clone(), shortages: marks.clone() }],
            cards: vec![CardFill { name, room_gb: full, points }],
            shortages: marks,
            now_min: Some(full),
        };
        for width in WIDTHS {
            let svg = power.svg("power", width);
            check(&svg, width)?;
            // A curve never goes back in time.
            for d in svg.split("class=\"curve").skip(1).filter_map(|rest| rest.split("d=\"").nth(1)) {
                let d = d.split('"').next().unwrap_or("");
                let x: Vec<f64> = d.split(['M', 'L']).filter_map(|point| point.split(' ').next()?.parse().ok()).collect();
                prop_assert!(x.windows(2).all(|pair| pair[0] <= pair[1]), "{}", d);
            }
        }
        power.rows();
    }

    #[test]
    fn any_song(bars in prop::collection::vec(any::<(bool, bool, bool)>(), 0..80), runs in prop::collection::vec((odd(), odd(), odd()), 0..8), name in words(), wanted in 0u32..9) {
        let map = invented::song();
        let coverage = Coverage {
            map: &map,
            setups: vec![CoverageRow { setup: name.clone(), name: name.clone(), cells: bars.iter().map(|(planned, shot, cut)| Cell { planned: *planned, shot: *shot, cut: *cut }).collect() }],
            options: bars.iter().map(|(planned, shot, _)| Options { planned: u32::from(*planned), shot: u32::from(*shot), wanted }).collect(),
        };
        let takes = TakesOverSong {
            map: &map,
            takes: vec![TakeLine {
                take: name.clone(), setup: name.clone(), rating: name, by_hand: false,
                runs: runs.iter().map(|(a, b, c)| TakeRun { from_s: *a, to_s: *b, speed: *c, drift_ppm: *c, confidence: *a }).collect(),
                alternatives: runs.iter().map(|(a, b, c)| AlternativeRun { from_s: *a, to_s: *b, confidence: *c }).collect(),
            }],
        };
        for width in WIDTHS {
            check(&coverage.svg("grid", width), width)?;
            check(&takes.svg("takes", width), width)?;
        }
        coverage.rows();
        takes.rows();
    }

    #[test]
    fn any_stops(gaps in prop::collection::vec((odd(), odd(), odd()), 0..6), slack in odd(), name in words()) {
        let stops = Stops {
            slack_stops: slack,
            setups: gaps.iter().map(|(a, b, c)| StopsOf {
                setup: name.clone(), name: name.clone(),
                face: Some(StopsSide { gap_stops: Some(*a), range_stops: Some([*b, *c]), target_stops: *c }),
                background: None,
            }).collect(),
        };
        for width in WIDTHS {
            check(&stops.svg("stops", width), width)?;
        }
        stops.rows();
    }
}
