//! Days worked by hand: what the simulation must say of them.

use crate::*;
use model::{Day, Project, Setup};

/// A project of one place `quay` (mains where said) and setups `one`, `two`, … as given, all in JSON.
fn project(kit: &str, setups: &str, place: &str) -> Project {
    let text = format!(
        r#"{{"format": 2, "brief": {{"rate": "24", "frame": [1920, 1080]}},
        "places": [{{"id": "quay", "name": "Quay"{place}}},
                   {{"id": "wash", "name": "Launderette", "interior": true, "mains": {{"volts": 230, "amperes": 10}},
                     "travel": [{{"to": "quay", "minutes": 30}}]}}],
        "kit": [{kit}], "setups": [{setups}]}}"#
    );
    let mut project: Project = serde_json::from_str(&text).unwrap();
    for setup in &mut project.setups {
        setup.rig_minutes.get_or_insert(15);
    }
    project
}

fn day(order: &str) -> Day {
    let text = format!(
        r#"{{"id": "night", "date": "2026-10-03", "call": "18:00", "air_c": 20, "order": [{order}]}}"#
    );
    serde_json::from_str(&text).unwrap()
}

fn run(project: &Project, day: &Day) -> DayPower {
    let power = day_power(project, day, &|_: &Setup| Some(180.0));
    // Whatever the day, it can be written down.
    serde_json::to_string(&power).unwrap();
    power
}

/// Findings and shortages as a person reads them, each with what mends it after it.
fn said(power: &DayPower) -> Vec<String> {
    let shortages = power.shortages.iter().map(|short| &short.finding);
    let all = power.findings.iter().chain(shortages);
    let lines = |one: &model::Finding| {
        let mends = one.mends.iter().map(|how| format!("mended by: {how}"));
        [one.says.clone()]
            .into_iter()
            .chain(mends)
            .collect::<Vec<_>>()
    };
    all.flat_map(lines).collect()
}

const LAMP: &str = r#"{"id": "lamp", "fed_by": ["dc"], "light": {"candela": 9000, "full_w": 60}}"#;
const BLOCK: &str = r#"{"id": "block", "count": 1, "feeds": ["dc"], "battery": {"wh": 100}}"#;

#[test]
fn one_lamp_on_one_battery() {
    // 100 Wh of lithium-ion give 90; the reserve begins 72 down, which is 72 minutes at 60 W. Rigged at
    // 18:00, lit from half of the rig (18:10) on, shot from 18:20 to 19:00: 50 minutes, 50 Wh.
    let kit = format!("{LAMP}, {BLOCK}");
    let setups = r#"{"id": "one", "place": "quay", "passes": 3, "lights": [{"light": "lamp", "distance_m": 2}]}"#;
    let project = project(&kit, setups, "");
    let order = r#"{"setup": "one", "start": "18:00", "shoot": "18:20", "end": "19:00"}"#;
    let power = run(&project, &day(order));
    assert_eq!(said(&power), Vec::<String>::new());
    assert_eq!(power.spans.len(), 1);
    assert_eq!(
        (power.spans[0].from_min, power.spans[0].to_min),
        (1090.0, 1140.0)
    );
    assert!((power.ledger[0].left_wh - 50.0).abs() < 1e-9);
    // Of 90 Wh that it gives, 40 are left when it is done.
    let tightest = power.tightest().unwrap();
    assert_eq!(tightest.battery.as_str(), "block");
    assert_eq!((tightest.setup.as_str(), tightest.at_min), ("one", 1140.0));
    assert!((tightest.left_share - 40.0 / 90.0).abs() < 1e-9);
    // Until 19:30 it would run 80 minutes: the reserve begins at 18:10 + 72 = 19:22.
    let longer = r#"{"setup": "one", "start": "18:00", "shoot": "18:20", "end": "19:30"}"#;
    let power = run(&project, &day(longer));
    assert_eq!(
        said(&power),
        [
            "at 19:22 in `one` `block` number 1 goes below its reserve",
            // 72 Wh over 80 minutes are 54 W, 90 %.
            "mended by: dim the lights on `block` in `one` to 90 % or less, 0.2 stops",
            "mended by: bring 1 more of `block`",
        ]
    );
    // Until 20:00, it is empty after 90 minutes, at 19:40.
    let longest = r#"{"setup": "one", "start": "18:00", "shoot": "18:20", "end": "20:00"}"#;
    let power = run(&project, &day(longest));
    let dark = power.shortages.last().unwrap();
    assert_eq!((dark.at_min, dark.reason), (1180.0, Reason::Empty));
    assert_eq!(dark.dark[0].as_str(), "lamp");
    assert!((power.ledger[0].left_wh - 10.0).abs() < 1e-9);
}

#[test]
fn cold_shortens_it() {
    // At 0 °C 67.5 Wh, 54 above the reserve: 54 minutes from 18:10.
    let kit = format!("{LAMP}, {BLOCK}");
    let setups =
        r#"{"id": "one", "place": "quay", "lights": [{"light": "lamp", "distance_m": 2}]}"#;
    let mut cold = day(r#"{"setup": "one", "start": "18:00", "shoot": "18:20", "end": "19:30"}"#);
    cold.air_c = Some(0.0);
    let power = run(&project(&kit, setups, ""), &cold);
    assert!((power.shortages[0].at_min - 1144.0).abs() < 1e-6);
    // Indoors it is warm.
    let power = run(&project(&kit, &setups.replace("quay", "wash"), ""), &cold);
    assert!((power.shortages[0].at_min - 1162.0).abs() < 1e-6);
}

#[test]
fn batteries_are_changed_between_passes() {
    // 30 Wh give 27, 21.6 above the reserve. A pass of 3 minutes and a reset of 2 at 60 W take 5 Wh; lit from
    // 18:07:30. 7.5 Wh until 18:15, then 5 each round: at 18:25, before the third pass, 4.1 are left, less than
    // the 3 + 2 that reset and pass take, so it is changed at the reset.
    let kit = format!(
        "{LAMP}, {}",
        BLOCK
            .replace("100", "30")
            .replace(r#""count": 1"#, r#""count": 2"#)
    );
    let setups = r#"{"id": "one", "place": "quay", "passes": 4, "lights": [{"light": "lamp", "distance_m": 2}]}"#;
    let power = run(&project(&kit, setups, ""), &day(""));
    assert_eq!(said(&power), Vec::<String>::new());
    assert_eq!(power.swaps.len(), 1);
    let swap = &power.swaps[0];
    // Resets begin at 18:18, 18:23, 18:28: by 18:23, 15.5 Wh are drawn, 6.1 left, 5 needed; by 18:28 1.1.
    assert_eq!((swap.at_min, swap.in_pass), (1108.0, false));
    assert_eq!((swap.off.as_ref().unwrap().piece, swap.on.piece), (1, 2));
    // The minute of the change is dark: 27.5 minutes lit of 28.5... from 18:07:30 to 18:35, less one.
    assert!((power.totals.used_wh - 26.5).abs() < 1e-9);
}

#[test]
fn a_change_in_a_pass_is_said_and_a_built_in_battery_bridges_it() {
    let kit = format!(
        "{LAMP}, {}",
        BLOCK
            .replace("100", "30")
            .replace(r#""count": 1"#, r#""count": 2"#)
    );
    let setups = r#"{"id": "one", "place": "quay", "passes": 1, "lights": [{"light": "lamp", "distance_m": 2}]}"#;
    let shot = |kit: &str| {
        let project = project(kit, setups, "");
        let lengths = |_: &Setup| Some(1500.0);
        day_power(&project, &day(""), &lengths)
    };
    // A pass of 25 minutes: 21.6 Wh are used up at 18:07:30 + 21.6 minutes.
    let power = shot(&kit);
    assert_eq!(power.swaps.len(), 1, "{:#?}", said(&power));
    assert!(power.swaps[0].in_pass && (power.swaps[0].at_min - 1109.1).abs() < 1e-9);
    assert_eq!(power.findings[0].kind, "swap-in-pass");
    let inside = r#", {"id": "inside", "feeds": ["dc"], "battery": {"wh": 10, "built_in": true}}"#;
    let power = shot(&format!("{kit}{inside}"));
    assert!(power.swaps[0].bridged && !power.swaps[0].in_pass);
    assert!(power.findings.is_empty());
    assert!((power.ledger[2].drawn_wh - 1.0).abs() < 1e-9);
}

#[test]
fn an_inverter_takes_its_share() {
    // 90 W behind an inverter of 90 % with 6 W idle draw 106 W of the battery.
    let kit = r#"{"id": "bulb", "count": 2, "fed_by": ["mains"], "light": {"candela": 900, "full_w": 45}},
        {"id": "inv", "fed_by": ["12v"], "inverter": {"efficiency": 0.9, "idle_w": 6, "most_w": 200}},
        {"id": "block", "feeds": ["12v"], "battery": {"wh": 500, "chemistry": "lithium-iron-phosphate", "most_w": 150}}"#;
    let two = r#"{"id": "one", "place": "quay", "lights": [{"light": "bulb", "distance_m": 2}, {"light": "bulb", "distance_m": 3}]}"#;
    let power = run(&project(kit, two, ""), &day(""));
    assert_eq!(said(&power), Vec::<String>::new());
    assert_eq!(power.spans.len(), 1);
    assert!((power.spans[0].watts - 106.0).abs() < 1e-9);
    let watts: Vec<f64> = power.draws[0]
        .consumers
        .iter()
        .filter_map(|c| c.source_w)
        .collect();
    assert!((watts[0] - 56.0).abs() < 1e-9 && (watts[1] - 50.0).abs() < 1e-9);
    let feed = power.draws[0].consumers[0].feed.as_ref().unwrap();
    assert_eq!(feed.inverter.as_ref().unwrap().as_str(), "inv");
    // Lit from 18:07:30 to 18:20: 12.5 minutes.
    assert!((power.totals.drawn_wh - 106.0 * 12.5 / 60.0).abs() < 1e-9);
    assert!((power.totals.lost_wh - 16.0 * 12.5 / 60.0).abs() < 1e-9);
    // A battery of 100 W bears one of them; dimmed to 84 % together they draw 90 W of 100.
    let power = run(&project(&kit.replace("150", "100"), two, ""), &day(""));
    assert_eq!(
        said(&power),
        [
            "at 18:00 in `one` `block` would have to give 106 W and the battery gives at most 100 W: `bulb` without power",
            "mended by: dim the lights on `block` in `one` to 94 % or less, 0.1 stops",
        ]
    );
    // An inverter of 0 %, a battery of 0 Wh: a sentence each, and the rest goes on.
    let power = run(&project(&kit.replace("0.9", "0"), two, ""), &day(""));
    assert_eq!(
        said(&power)[0],
        "`inv` gives nothing, as its efficiency is 0"
    );
    let power = run(&project(&kit.replace("500", "0"), two, ""), &day(""));
    assert_eq!(
        said(&power)[0],
        "`block` gives nothing, as it is said to hold 0 Wh"
    );
    assert_eq!(power.shortages[0].reason, Reason::Empty);
}

#[test]
fn mains_bear_what_they_bear() {
    // 230 V × 10 A × 0.8 = 1840 W: one lamp of 1000 W, not two.
    let kit = r#"{"id": "hot", "count": 2, "fed_by": ["mains"], "light": {"candela": 90000, "full_w": 1000}}"#;
    let setups = r#"{"id": "one", "place": "wash", "lights": [{"light": "hot", "distance_m": 2}, {"light": "hot", "distance_m": 3}]}"#;
    let power = run(&project(kit, setups, ""), &day(""));
    assert_eq!(
        said(&power),
        [
            "at 18:00 in `one` `mains` would have to give 2000 W and the circuit bears for long 1840 W: `hot` without power",
            "mended by: dim the lights on `mains` in `one` to 92 % or less, 0.1 stops",
        ]
    );
    assert_eq!(power.totals.drawn_wh, 0.0);
    assert!((power.totals.mains_wh - 1000.0 * 12.5 / 60.0).abs() < 1e-9);
    // Typed on mains where there are none.
    let nowhere = setups.replace("wash", "quay").replace(
        r#""distance_m": 2"#,
        r#""distance_m": 2, "fed_from": "mains""#,
    );
    let power = run(&project(kit, &nowhere, ""), &day(""));
    assert!(
        power.shortages.iter().any(|s| s.reason == Reason::NoMains),
        "{:#?}",
        said(&power)
    );
}

#[test]
fn batteries_are_charged_where_there_are_mains() {
    // Two blocks; the second is charged at the launderette while the first burns, with 20 W into it at 80 %.
    let kit = format!(
        r#"{LAMP}, {}, {{"id": "charger", "fed_by": ["mains"], "feeds": ["dc"], "charger": {{"into_w": 20, "efficiency": 0.8}}}}"#,
        BLOCK.replace(r#""count": 1"#, r#""count": 2"#)
    );
    let lit = r#""lights": [{"light": "lamp", "distance_m": 2, "fed_from": "block"}]"#;
    let setups = format!(
        r#"{{"id": "one", "place": "quay", {lit}}}, {{"id": "two", "place": "wash", {lit}}}"#
    );
    let order = r#"{"setup": "one", "start": "18:00", "shoot": "18:00", "end": "19:00"},
                   {"setup": "two", "start": "20:00", "shoot": "20:00", "end": "21:30"}"#;
    let power = run(&project(&kit, &setups, ""), &day(order));
    assert_eq!(said(&power), Vec::<String>::new());
    // Block 1 gives 60 Wh by 19:00 and is charged from 19:30 (there) to 21:30: 40 Wh. The other gives from 20:00
    // on 72 Wh until 21:12, by when block 1 has 28.333 above its reserve line.
    let first = &power.ledger[0];
    assert!(
        (first.charged_wh - 102.0 / 60.0 * 20.0).abs() < 1e-6,
        "{first:?}"
    );
    assert!((power.totals.into_chargers_wh - power.totals.charged_wh / 0.8).abs() < 1e-9);
    assert_eq!(power.charges[0].from_min, 1170.0);
    // Below freezing nothing lithium is charged out of doors.
    let mut cold = day(order);
    cold.air_c = Some(-2.0);
    let outdoors = project(
        &kit,
        &setups.replace("wash", "quay"),
        r#", "mains": {"volts": 230, "amperes": 10}"#,
    );
    let power = run(&outdoors, &cold);
    assert_eq!(power.totals.charged_wh, 0.0);
    assert!(
        power
            .findings
            .iter()
            .any(|f| f.kind == "too-cold-to-charge")
    );
}

#[test]
fn fixes_are_found_and_work() {
    // At the launderette the lamp burns on its battery though there are mains; by the quay it runs short.
    let kit = format!(
        r#"{LAMP}, {BLOCK}, {{"id": "supply", "fed_by": ["mains"], "feeds": ["dc"]}},
        {{"id": "charger", "fed_by": ["mains"], "feeds": ["dc"], "charger": {{"into_w": 60}}}}"#
    );
    let lit = r#""lights": [{"light": "lamp", "distance_m": 2, "fed_from": "block"}]"#;
    let setups = format!(
        r#"{{"id": "one", "place": "wash", {lit}}}, {{"id": "two", "place": "quay", {lit}}}"#
    );
    let order = r#"{"setup": "one", "start": "18:00", "shoot": "18:00", "end": "18:40"},
                   {"setup": "two", "start": "19:40", "shoot": "19:40", "end": "20:30"}"#;
    let power = run(&project(&kit, &setups, ""), &day(order));
    assert_eq!(
        said(&power),
        [
            "at 20:12 in `two` `block` number 1 goes below its reserve",
            "mended by: use the mains at `wash`, through a residual-current device",
            // 40 + 50 Wh are 18 more than 72: 18 minutes of charging at 60 W, in quarters of an hour.
            "mended by: stay at `wash` for 30 minutes after `one` and charge before `two`",
            // The other way round one is at the launderette half an hour early, and charges.
            "mended by: shoot `two` where `one` stands in the order and the other way round, if light and people allow",
            // 32 Wh in 50 minutes are 38.4 W, 64 %.
            "mended by: dim the lights on `block` in `two` to 64 % or less, 0.6 stops",
            "mended by: bring 1 more of `block`",
        ]
    );
}

#[test]
fn order_mends_it_when_charging_comes_in_time() {
    // By the quay 60 Wh are needed, at the launderette 30 and there is an hour there with a charger; the quay
    // twice in a row is too much, with the launderette between it is not.
    let kit = format!(
        r#"{LAMP}, {BLOCK}, {{"id": "charger", "fed_by": ["mains"], "feeds": ["dc"], "charger": {{"into_w": 60}}}}"#
    );
    let lit = r#""lights": [{"light": "lamp", "distance_m": 2, "fed_from": "block"}]"#;
    let setups = format!(
        r#"{{"id": "one", "place": "quay", {lit}}}, {{"id": "two", "place": "quay", {lit}}},
           {{"id": "dry", "place": "wash", "kit": []}}"#
    );
    let order = r#"{"setup": "one", "start": "18:00", "shoot": "18:00", "end": "18:50"},
                   {"setup": "two", "start": "18:50", "shoot": "18:50", "end": "19:40"},
                   {"setup": "dry", "start": "20:40", "shoot": "20:40", "end": "21:40"}"#;
    let project = project(&kit, &setups, "");
    let mut today = day(order);
    today.latest_wrap = Some(model::ClockTime::from_minutes(22 * 60 + 30).unwrap());
    let power = run(&project, &today);
    let fixes: Vec<String> = power.fixes.iter().map(ToString::to_string).collect();
    assert_eq!(
        fixes[0],
        "shoot `dry` where `two` stands in the order and the other way round, if light and people allow",
        "{:#?}",
        said(&power)
    );
    // Not when the performer would be powdered before clean.
    let mut powdered = project.clone();
    powdered.setups[2].state = 1;
    let power = run(&powdered, &today);
    assert!(
        !power
            .fixes
            .iter()
            .any(|fix| matches!(fix, Fix::SwapSetups { .. }))
    );
}

#[test]
fn a_battery_that_comes_half_full_falls_short_sooner() {
    // Of 100 Wh 80 are in it; 10 never come out and the reserve begins at 28: 52 Wh, 52 minutes from 18:10 on.
    let block = BLOCK.replace("\"wh\": 100", "\"wh\": 100, \"charged\": 0.8");
    let setups =
        r#"{"id": "one", "place": "quay", "lights": [{"light": "lamp", "distance_m": 2}]}"#;
    let project = project(&format!("{LAMP}, {block}"), setups, "");
    let order = r#"{"setup": "one", "start": "18:00", "shoot": "18:20", "end": "19:10"}"#;
    let power = run(&project, &day(order));
    assert_eq!(power.ledger[0].start_wh, 80.0);
    assert_eq!(
        said(&power),
        [
            "at 19:02 in `one` `block` number 1 goes below its reserve",
            // 52 Wh over 60 minutes are 52 W, 86 %.
            "mended by: dim the lights on `block` in `one` to 86 % or less, 0.2 stops",
            "mended by: bring 1 more of `block`",
        ]
    );
}

#[test]
fn the_camera_is_fed_as_its_optics_say() {
    let kit = r#"{"id": "cam", "fed_by": ["dc"], "camera": {"sensor_mm": [36, 20], "frame": [3840, 2160], "draws_w": 10}},
        {"id": "a", "feeds": ["dc"], "battery": {"wh": 50}}, {"id": "b", "feeds": ["dc"], "battery": {"wh": 50}}"#;
    for (from, fed) in [("", "a"), (r#", "fed_from": "b""#, "b")] {
        let setups =
            format!(r#"{{"id": "one", "place": "quay", "optics": {{"camera": "cam"{from}}}}}"#);
        let power = run(&project(kit, &setups, ""), &day(""));
        let feed = power.draws[0].consumers[0].feed.as_ref().unwrap();
        assert_eq!(feed.source.to_string(), fed);
    }
}

#[test]
fn connectors_and_adapters_are_said() {
    let kit = format!(
        r#"{LAMP}, {{"id": "block", "count": 2, "feeds": ["d-tap"], "battery": {{"wh": 98}}}},
        {{"id": "lead", "fed_by": ["d-tap"], "feeds": ["dc"]}},
        {{"id": "odd", "fed_by": ["barrel"], "draws_w": 5}}, {{"id": "mute", "draws_w": 5}},
        {{"id": "cam", "camera": {{"sensor_mm": [36, 20], "frame": [3840, 2160]}}}}"#
    );
    let setups = r#"{"id": "one", "place": "quay", "optics": {"camera": "cam"},
        "lights": [{"light": "lamp", "distance_m": 2}, {"light": "lamp", "distance_m": 3}],
        "kit": [{"item": "odd"}, {"item": "mute"}, {"item": "lead", "count": 1}]}"#;
    let mut airless = day("");
    airless.air_c = None;
    let power = run(&project(&kit, setups, ""), &airless);
    assert_eq!(
        said(&power),
        [
            "the day does not say how cold it gets, and cold takes a quarter or more; batteries are counted at 20 degrees",
            "mended by: write `air_c`",
            "what `cam` draws in `one` is not said and counts as nothing",
            "mended by: write its watts",
            "nothing in the kit feeds `odd` in `one`, which takes barrel",
            "mended by: add a battery, an adapter or mains with that connector",
            "what feeds `mute` in `one` is not said, so it is not counted",
            "mended by: write its connectors or what it is fed from",
            "`one` needs 2 of the adapter `lead` and the kit has 1",
            "mended by: get more or feed otherwise",
        ]
    );
    let feed = power.draws[0].consumers[0].feed.as_ref().unwrap();
    assert_eq!(feed.adapters[0].as_str(), "lead");
    // Each lamp has a block of its own.
    assert_eq!(power.spans.len(), 2);
    assert_ne!(power.spans[0].piece, power.spans[1].piece);
}

#[test]
fn one_socket_feeds_one_and_two_feed_two() {
    let lit = r#"{"id": "one", "place": "quay", "lights": [{"light": "lamp", "distance_m": 2}, {"light": "lamp", "distance_m": 3}]}"#;
    let single = run(&project(&format!("{LAMP}, {BLOCK}"), lit, ""), &day(""));
    assert_eq!(
        single.shortages[0].reason,
        Reason::Taken,
        "{:#?}",
        said(&single)
    );
    assert_eq!(
        said(&single)[0],
        "at 18:08 in `one` every `block` feeds something else: `lamp` without power"
    );
    assert_eq!(single.fixes[0].to_string(), "bring 1 more of `block`");
    let double = BLOCK.replace(r#"["dc"]"#, r#"["dc", "dc"]"#);
    let double = run(&project(&format!("{LAMP}, {double}"), lit, ""), &day(""));
    assert_eq!(said(&double), Vec::<String>::new());
    assert_eq!(double.spans.len(), 2);
}

#[test]
fn findings_carry_their_sentence_in_json() {
    let kit = format!("{LAMP}, {BLOCK}");
    let setups = r#"{"id": "one", "lights": [{"light": "lamp", "distance_m": 2}], "passes": 60}"#;
    let json = serde_json::to_value(run(&project(&kit, setups, ""), &day(""))).unwrap();
    let short = &json["shortages"][0];
    assert_eq!(
        (&short["kind"], &short["severity"]),
        (&"below-reserve".into(), &"warning".into())
    );
    assert!(short["at_min"].is_number());
    assert!(short["says"].as_str().unwrap().contains("reserve"));
    assert_eq!(short["mends"][0], json["fixes"][0]["says"]);
}

#[test]
fn what_has_a_battery_built_in_runs_on_it() {
    let kit = r#"{"id": "gimbal", "draws_w": 6, "fed_by": ["usb-c"],
        "battery": {"wh": 10, "built_in": true, "charge_w": 5}}"#;
    let setup = r#"{"id": "one", "place": "quay", "rig_minutes": 30, "passes": 10, "kit": [{"item": "gimbal"}]}"#;
    let power = run(&project(kit, setup, ""), &day(""));
    // By hand: 10 passes of 3 minutes with 2 to reset each and 30 to rig are 80 minutes; 9 of 10 Wh are usable
    // at 20 degrees, so 6 W would last 90, and 7.2 Wh, where its reserve begins, 72 minutes.
    assert!(
        (power.ledger[0].drawn_wh - 8.0).abs() < 1e-9,
        "{:#?}",
        power.ledger
    );
    assert_eq!(power.shortages.len(), 1, "{:#?}", said(&power));
    assert!(power.shortages[0].dark.is_empty());
}

#[test]
fn what_has_a_battery_built_in_hangs_in_the_wall_where_there_is_one() {
    let kit = r#"{"id": "lamp", "sort": "light", "fed_by": ["mains"], "light": {"candela": 900, "full_w": 40},
        "battery": {"wh": 10, "built_in": true}}"#;
    let setups = r#"{"id": "in", "place": "wash", "rig_minutes": 30, "lights": [{"light": "lamp", "distance_m": 2}]},
        {"id": "out", "place": "quay", "rig_minutes": 30, "lights": [{"light": "lamp", "distance_m": 2}]}"#;
    let power = run(&project(kit, setups, ""), &day(""));
    let from = |at: usize| {
        power.draws[at].consumers[0]
            .feed
            .as_ref()
            .map(|feed| feed.source.to_string())
    };
    assert_eq!(
        [from(0), from(1)],
        [Some("mains".into()), Some("lamp".into())]
    );
}
