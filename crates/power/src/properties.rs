//! What holds of every day, drawn at random: energy balances, reserves are told of, limits are kept, and no
//! number, however bad, stops the reckoning.
//!
//! The day is replayed here from what the result says of it, battery by battery, without the simulation's
//! own books.

use crate::*;
use model::{Day, Practice, Project, Setup};
use proptest::prelude::*;
use serde_json::{Value, json};

/// A random number that is mostly sound; wild ones are what validation refuses.
fn figure(least: f64, most: f64, wild: bool) -> BoxedStrategy<f64> {
    if !wild {
        return (least..most).boxed();
    }
    prop_oneof![
        4 => least..most,
        1 => prop::sample::select(vec![0.0, -1.0, 1e-300, 1e300, f64::MAX, 0.5, 1e-9]),
    ]
    .boxed()
}

fn maybe<S: Strategy<Value = f64> + 'static>(figure: S) -> BoxedStrategy<Option<f64>> {
    prop::option::of(figure).boxed()
}

const CONNECTORS: [&str; 5] = ["mains", "dc", "d-tap", "usb-c", "12v"];

fn connectors() -> impl Strategy<Value = Vec<&'static str>> {
    prop::collection::vec(prop::sample::select(CONNECTORS.to_vec()), 0..3)
}

fn battery(n: usize, wild: bool) -> impl Strategy<Value = Value> {
    let chemistry = prop::sample::select(vec![
        "lithium-ion",
        "lithium-iron-phosphate",
        "nickel-metal-hydride",
        "lead-acid",
    ]);
    (
        (
            figure(5.0, 400.0, wild),
            chemistry,
            maybe(figure(0.3, 1.0, wild)),
            maybe(figure(0.0, 1.0, wild)),
        ),
        (maybe(figure(20.0, 400.0, wild)), maybe(figure(10.0, 200.0, wild))),
        (1u32..5, connectors(), connectors(), prop::bool::weighted(0.15)),
    )
        .prop_map(move |((wh, chemistry, usable, charged), (most_w, charge_w), (count, fed_by, feeds, built_in))| {
            json!({"id": format!("battery{n}"), "count": count, "fed_by": fed_by, "feeds": feeds, "battery":
                {"wh": wh, "chemistry": chemistry, "usable": usable, "charged": charged, "most_w": most_w, "charge_w": charge_w,
                 "built_in": built_in}})
        })
}

fn kit(wild: bool) -> impl Strategy<Value = Vec<Value>> {
    let light = (
        figure(5.0, 200.0, wild),
        maybe(figure(0.0, 5.0, wild)),
        maybe(figure(0.0, 0.3, wild)),
        connectors(),
    );
    let lights = prop::collection::vec(light, 3).prop_map(|all| {
        let one = |(n, (full_w, least_w, least_level, fed_by))| {
            json!({"id": format!("light{n}"), "count": 3, "fed_by": fed_by, "light":
                {"candela": 5000, "full_w": full_w, "least_w": least_w, "least_level": least_level}})
        };
        all.into_iter().enumerate().map(one).collect::<Vec<Value>>()
    });
    let others = (connectors(), connectors(), figure(1.0, 60.0, wild), figure(1.0, 30.0, wild)).prop_map(
        |(a, b, camera_w, monitor_w)| {
            vec![
                json!({"id": "camera", "fed_by": a, "camera": {"sensor_mm": [36, 20], "frame": [3840, 2160], "draws_w": camera_w}}),
                json!({"id": "monitor", "count": 2, "fed_by": b, "draws_w": monitor_w}),
                json!({"id": "lead", "count": 2, "sort": "adapter", "fed_by": ["d-tap"], "feeds": ["dc"]}),
                json!({"id": "supply", "fed_by": ["mains"], "feeds": ["dc", "12v"]}),
            ]
        },
    );
    let inverter = (
        figure(0.5, 1.0, wild),
        maybe(figure(0.0, 10.0, wild)),
        figure(50.0, 400.0, wild),
        1u32..3,
    )
        .prop_map(|(efficiency, idle_w, most_w, count)| {
            json!({"id": "inverter", "count": count, "fed_by": ["12v"], "inverter":
                {"efficiency": efficiency, "idle_w": idle_w, "most_w": most_w}})
        });
    let charger = (
        figure(5.0, 150.0, wild),
        1u32..4,
        maybe(figure(0.5, 1.0, wild)),
        connectors(),
    )
        .prop_map(|(into_w, bays, efficiency, feeds)| {
            json!({"id": "charger", "fed_by": ["mains"], "feeds": feeds, "charger":
                {"into_w": into_w, "bays": bays, "efficiency": efficiency}})
        });
    let batteries = (battery(0, wild), battery(1, wild), battery(2, wild));
    (lights, others, inverter, charger, batteries).prop_map(
        |(mut all, others, inverter, charger, (a, b, c))| {
            all.extend(others);
            all.extend([inverter, charger, a, b, c]);
            all
        },
    )
}

fn setup() -> impl Strategy<Value = Value> {
    let source = prop::option::of(prop::sample::select(vec![
        "battery0", "battery1", "battery2", "inverter", "mains", "supply", "lead", "camera",
    ]));
    let light = (0usize..3, maybe(0.0..1.0), source.clone()).prop_map(|(n, level, fed_from)| {
        json!({"light": format!("light{n}"), "distance_m": 2, "level": level, "fed_from": fed_from})
    });
    (
        (0usize..3, 0u32..6, any::<bool>(), 0u32..40, 0u32..6),
        prop::collection::vec(light, 0..4),
        (source.clone(), source.clone(), source),
        prop::option::of(prop::sample::select(vec!["24", "48", "60", "25"])),
    )
        .prop_map(|((place, passes, camera, rig, reset), lights, (a, b, c), rate)| {
            json!({"place": format!("place{place}"), "passes": passes, "rig_minutes": rig, "reset_minutes": reset,
                "optics": camera.then(|| json!({"camera": "camera", "fed_from": if passes % 2 == 0 { c } else { None }})), "lights": lights, "shot_rate": rate,
                "kit": [{"item": "monitor", "count": 2, "fed_from": a}, {"item": "inverter", "fed_from": b},
                        {"item": "camera", "fed_from": c}]})
        })
}

fn project(wild: bool) -> impl Strategy<Value = (Project, Day)> {
    let mains = (
        figure(100.0, 240.0, wild),
        figure(0.2, 16.0, wild),
        prop::option::of(any::<bool>()),
    );
    let order = prop::collection::vec((0u32..90, 0u32..40, 1u32..90), 6);
    (
        kit(wild),
        prop::collection::vec(setup(), 1..7),
        (mains, any::<bool>(), maybe(-15.0..30.0)),
        (any::<bool>(), order),
        (0.0..0.5, prop::sample::select(vec![0.0, 1.0, 3.0]), any::<bool>(), any::<bool>()),
    )
        .prop_map(|(kit, setups, ((volts, amperes, inside), mains, air_c), (typed, times), practice)| {
            let setups: Vec<Value> = setups
                .into_iter()
                .enumerate()
                .map(|(n, mut setup)| {
                    setup["id"] = json!(format!("setup{n}"));
                    setup
                })
                .collect();
            let mut at = 18 * 60;
            let mut order = Vec::new();
            for (n, (wait, rig, shoot)) in times.iter().enumerate().take(setups.len() * usize::from(typed)) {
                let start = at + wait;
                at = start + rig + shoot;
                let clock = |m: u32| format!("{:02}:{:02}", m / 60, m % 60);
                order.push(json!({"setup": format!("setup{n}"), "start": clock(start),
                    "shoot": clock(start + rig), "end": clock(at)}));
            }
            let project = json!({"format": 2, "brief": {"rate": "24", "frame": [1920, 1080]}, "kit": kit,
                "setups": setups, "places": [
                {"id": "place0", "name": "a", "interior": inside, "travel": [{"to": "place1", "minutes": 20}],
                 "mains": mains.then(|| json!({"volts": volts, "amperes": amperes}))},
                {"id": "place1", "name": "b"},
                {"id": "place2", "name": "c", "access": [["20:00", "23:00"]], "mains": {"volts": 230, "amperes": 6}}]});
            let day = json!({"id": "night", "date": "2026-10-03", "call": "18:00", "air_c": air_c, "order": order,
                "latest_wrap": "27:00"});
            let (battery_reserve, swap_minutes, lights_between_passes, mains_first) = practice;
            let practice = Practice {
                battery_reserve,
                swap_minutes,
                lights_between_passes,
                mains_first,
                most_more_batteries: 3,
                ..Practice::default()
            };
            // Through text, as a document comes: what is left out stays out.
            let read = |value: Value| serde_json::to_string(&without_nulls(value)).unwrap();
            (
                Project {
                    practice,
                    ..serde_json::from_str(&read(project)).unwrap()
                },
                serde_json::from_str(&read(day)).unwrap(),
            )
        })
}

fn without_nulls(value: Value) -> Value {
    match value {
        Value::Object(map) => {
            let kept = map.into_iter().filter(|(_, v)| !v.is_null());
            Value::Object(kept.map(|(k, v)| (k, without_nulls(v))).collect())
        }
        Value::Array(all) => Value::Array(all.into_iter().map(without_nulls).collect()),
        other => other,
    }
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-3 * a.abs().max(b.abs()).max(1e-3)
}

/// The temperature the batteries stand at in a slot, by the documented rule.
fn air_c(project: &Project, day: &Day, setup: &model::SetupId) -> f64 {
    let place = project
        .setup(setup)
        .and_then(|s| s.place.as_ref())
        .and_then(|id| project.place(id));
    match place.and_then(|place| place.interior) {
        Some(true) => project.practice.indoor_c,
        _ => day.air_c.unwrap_or(project.practice.indoor_c),
    }
}

fn balances(power: &DayPower) -> Result<(), TestCaseError> {
    let spans_wh = |piece: Option<&Piece>| -> f64 {
        let ours = power
            .spans
            .iter()
            .filter(|span| span.piece.as_ref() == piece);
        ours.map(|span| span.watts * (span.to_min - span.from_min) / 60.0)
            .sum()
    };
    for entry in &power.ledger {
        let left = entry.start_wh - entry.drawn_wh + entry.charged_wh;
        prop_assert!(
            (left - entry.left_wh).abs() <= 1e-3 * entry.start_wh.max(1e-3),
            "{entry:?}"
        );
        prop_assert!(
            close(spans_wh(Some(&entry.piece)), entry.drawn_wh),
            "{entry:?}"
        );
        let charged = power
            .charges
            .iter()
            .filter(|charge| charge.piece == entry.piece);
        prop_assert!(
            close(charged.map(|charge| charge.wh).sum(), entry.charged_wh),
            "{entry:?}"
        );
    }
    if let Some(tightest) = power.tightest() {
        let alike = || {
            let ledger = power.ledger.iter();
            ledger.filter(|entry| entry.piece.battery == tightest.battery)
        };
        let full: f64 = alike().map(|entry| entry.start_wh - entry.floor_wh).sum();
        let end: f64 = alike().map(|entry| entry.left_wh - entry.floor_wh).sum();
        prop_assert!(
            (0.0..=(end / full).max(0.0) + 1e-3).contains(&tightest.left_share),
            "{tightest:?} {end} of {full}"
        );
    }
    let totals = &power.totals;
    prop_assert!(close(spans_wh(None), totals.mains_wh), "{totals:?}");
    prop_assert!(
        close(
            totals.drawn_wh + totals.mains_wh,
            totals.used_wh + totals.lost_wh
        ),
        "{totals:?}"
    );
    prop_assert!(
        totals.into_chargers_wh >= totals.charged_wh * (1.0 - 1e-9),
        "{totals:?}"
    );
    Ok(())
}

/// Replays each battery and holds it against its limits, and its reserve against the findings.
fn replay(project: &Project, day: &Day, power: &DayPower) -> Result<(), TestCaseError> {
    for entry in &power.ledger {
        let item = project.item(&entry.piece.battery).unwrap();
        let battery = item.battery.as_ref().unwrap();
        let ours = |piece: &Option<Piece>| piece.as_ref() == Some(&entry.piece);
        // Each change of power, in and out, at its time.
        let mut edges: Vec<(f64, f64, f64, usize)> = Vec::new();
        for (n, span) in power
            .spans
            .iter()
            .enumerate()
            .filter(|(_, span)| ours(&span.piece))
        {
            edges.push((span.from_min, span.watts, 0.0, n));
            edges.push((span.to_min, -span.watts, 0.0, n));
        }
        for charge in power
            .charges
            .iter()
            .filter(|charge| charge.piece == entry.piece)
        {
            let watts = charge.wh / (charge.to_min - charge.from_min) * 60.0;
            edges.push((charge.from_min, 0.0, watts, usize::MAX));
            edges.push((charge.to_min, 0.0, -watts, usize::MAX));
        }
        edges.sort_by(|a, b| a.0.total_cmp(&b.0));
        let Piece { battery: id, piece } = &entry.piece;
        let ours_says = format!("`{id}` number {piece} goes below its reserve");
        let told: Vec<f64> = power
            .shortages
            .iter()
            .filter(|short| short.finding.says.contains(&ours_says))
            .map(|short| short.at_min)
            .collect();
        let (mut stored, mut out_w, mut in_w, mut at) = (entry.start_wh, 0.0, 0.0, 0.0);
        for (time, out, into, span) in edges {
            stored += (in_w - out_w) * (time - at) / 60.0;
            // What ends as something else begins is no overlap.
            if time - at > 1e-6 {
                prop_assert!(
                    out_w < 1e-6 || in_w < 1e-6,
                    "charged while in use: {entry:?}"
                );
                if let Some(most) = battery.most_w {
                    prop_assert!(out_w <= most + 1e-6, "{out_w} W of {entry:?}");
                }
            }
            at = time;
            out_w += out;
            in_w += into;
            let crumb = 1e-3 * battery.wh.max(1e-3) + 1e-4;
            prop_assert!(
                stored >= -crumb && stored <= battery.wh + crumb,
                "{stored} of {entry:?}"
            );
            if span == usize::MAX || out >= 0.0 {
                continue;
            }
            // A span has ended: was it drawn below what its place's temperature leaves?
            let air = air_c(project, day, &power.spans[span].setup);
            prop_assert!(
                stored >= floor_wh(battery, air) - crumb,
                "{stored} of {entry:?}"
            );
            if stored < reserve_line_wh(battery, air, &project.practice) - crumb {
                prop_assert!(
                    told.iter().any(|told| *told <= time + 1e-6),
                    "{entry:?} at {stored} Wh at {} without a finding",
                    model::clock::shown(time)
                );
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn every_day_balances_and_tells_of_its_reserves((project, day) in project(false)) {
        let power = day_power(&project, &day, &|_: &Setup| Some(150.0));
        balances(&power)?;
        replay(&project, &day, &power)?;
        let first = power.shortages.first();
        prop_assert_eq!(first.is_none(), power.shortages.is_empty());
        if power.shortages.is_empty() {
            prop_assert!(power.fixes.is_empty());
        }
        for finding in power.findings.iter().chain(power.shortages.iter().map(|short| &short.finding)) {
            let text = finding.to_string();
            prop_assert!(!text.ends_with('.') && !text.contains("NaN") && !text.contains("inf"), "{}", text);
        }
        // The same day gives the same answer.
        prop_assert_eq!(&power, &day_power(&project, &day, &|_: &Setup| Some(150.0)));
    }

    #[test]
    fn more_of_a_battery_mends_what_it_says_it_mends((project, day) in project(false)) {
        let power = day_power(&project, &day, &|_: &Setup| Some(150.0));
        for fix in &power.fixes {
            let mut mended = project.clone();
            let source = power.shortages[0].source.clone();
            match fix {
                Fix::MoreBatteries { battery, count, .. } => {
                    let item = mended.kit.iter_mut().find(|item| item.id == *battery).unwrap();
                    item.count += count;
                }
                Fix::Dim { setup: Some(setup), percent, .. } => {
                    let setup_at = mended.setups.iter().position(|s| s.id == *setup).unwrap();
                    let slot = power.slots.iter().position(|s| s.setup == *setup).unwrap();
                    let fed = &power.draws[slot].consumers;
                    let on = |id: &model::KitId, nth: usize| {
                        let same = fed.iter().filter(|c| c.item == *id).nth(nth);
                        same.and_then(|c| c.feed.as_ref()).is_some_and(|f| f.source == source)
                    };
                    // Lights that draw nothing have no row, so only plans without them are held to this.
                    if fed.iter().filter(|c| c.level.is_some()).count() != mended.setups[setup_at].lights.len() {
                        continue;
                    }
                    let mut seen: Vec<model::KitId> = Vec::new();
                    for light in &mut mended.setups[setup_at].lights {
                        let nth = seen.iter().filter(|id| **id == light.light).count();
                        seen.push(light.light.clone());
                        if on(&light.light, nth) {
                            light.level = Some(light.level.unwrap_or(1.0).min(f64::from(*percent) / 100.0));
                        }
                    }
                }
                _ => continue,
            }
            let after = day_power(&mended, &day, &|_: &Setup| Some(150.0));
            prop_assert!(after.shortages.iter().all(|s| s.source != source), "{} {:#?}", fix, after.shortages);
        }
    }

    #[test]
    fn no_number_stops_the_reckoning((project, day) in project(true)) {
        let power = day_power(&project, &day, &|_: &Setup| Some(150.0));
        serde_json::to_string(&power).unwrap();
        for entry in &power.ledger {
            prop_assert!(entry.left_wh.is_finite() && entry.drawn_wh.is_finite(), "{:?}", entry);
        }
        let order: Vec<_> = power.slots.iter().map(|slot| slot.setup.clone()).collect();
        let cards = card_plan(&project, &order, &|_: &Setup| Some(f64::NAN));
        serde_json::to_string(&cards).unwrap();
        serde_json::to_string(&carriage(&project.kit, 1)).unwrap();
    }
}
