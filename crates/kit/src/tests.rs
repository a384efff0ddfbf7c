//! A small night as a plan, and what must be packed for it; then properties over drawn plans.

use crate::*;
use model::Project;
use proptest::prelude::*;
use serde_json::{Value, json};

/// Stairs at dusk, then a quay with powder: one camera, a battery-fed light, a bulb behind an inverter.
fn night() -> Value {
    json!({
        "format": 2,
        "brief": {"rate": "25", "frame": [1280, 720], "currency": "EUR"},
        "states": ["clean", "powdered"],
        "places": [
            {"id": "stairs", "name": "Stairs"},
            {"id": "quay", "name": "Quay"},
        ],
        "setups": [
            {"id": "powder", "place": "quay", "passes": 3, "state": 1, "effects": ["powder"],
             "optics": {"camera": "cam", "lens": "wide"},
             "lights": [{"light": "bulb", "distance_m": 2.0, "fed_from": "inverter"}],
             "kit": [{"item": "speaker"}, {"item": "powder-red", "count": 4}]},
            {"id": "dusk", "place": "stairs", "passes": 2,
             "optics": {"camera": "cam", "lens": "wide"}, "filters": ["mist"],
             "lights": [{"light": "panel", "distance_m": 1.5}],
             "kit": [{"item": "speaker"}]},
            {"id": "clean", "place": "quay", "passes": 2,
             "optics": {"camera": "cam", "lens": "wide"},
             "lights": [{"light": "panel", "distance_m": 1.5, "fed_from": "brick"}],
             "kit": [{"item": "speaker"}]},
        ],
        "kit": [
            {"id": "cam", "name": "Camera", "sort": "camera", "weight_kg": 2.0, "fed_by": ["D-Tap"]},
            {"id": "wide", "name": "Wide lens", "sort": "lens", "weight_kg": 1.0},
            {"id": "mist", "sort": "filter"},
            {"id": "panel", "name": "Panel", "sort": "light", "weight_kg": 1.5, "count": 2, "fed_by": ["barrel"]},
            {"id": "bulb", "name": "Bulb", "sort": "light", "weight_kg": 0.2, "fed_by": ["mains"], "holding": "bought", "cost_minor": 450},
            {"id": "brick", "name": "Brick", "sort": "power", "count": 3, "weight_kg": 1.0, "feeds": ["d-tap"],
             "battery": {"wh": 98.0}},
            {"id": "inverter", "name": "Inverter", "sort": "power", "weight_kg": 3.0, "fed_by": ["clamps"], "feeds": ["mains"],
             "inverter": {"efficiency": 0.88, "most_w": 300.0}},
            {"id": "tank", "name": "Tank", "sort": "power", "weight_kg": 12.0, "feeds": ["clamps"], "holding": "rented",
             "from": "Adega & Filhas", "cost_minor": 4000, "back_by": "2026-10-04",
             "battery": {"wh": 500.0, "chemistry": "lithium-iron-phosphate"}},
            {"id": "tap-to-barrel", "name": "Tap lead", "sort": "adapter", "count": 2, "fed_by": ["d-tap"], "feeds": ["barrel"]},
            {"id": "card", "name": "Card", "sort": "card", "count": 4, "card": {"gigabytes": 256.0}},
            {"id": "speaker", "name": "Speaker", "sort": "sound", "weight_kg": 0.8, "holding": "borrowed", "from": "Noor"},
            {"id": "coat", "name": "Coat", "sort": "wardrobe", "states": [0, 1], "count": 2},
            {"id": "powder-red", "name": "Red powder", "sort": "prop", "count": 4, "holding": "bought", "cost_minor": 1200},
            {"id": "tape", "name": "Tape", "sort": "support", "always": true},
            {"id": "spare-tripod", "name": "Old tripod", "sort": "support"},
        ],
        "days": [{"id": "night", "date": "2026-10-03", "call": "17:00", "order": [
            {"setup": "dusk", "start": "18:00", "end": "19:30"},
            {"setup": "clean", "start": "20:30", "end": "22:00"},
            {"setup": "powder", "start": "22:00", "end": "23:30"},
        ]}],
    })
}

fn project(value: Value) -> Project {
    serde_json::from_value(value).unwrap()
}

fn packed(value: Value) -> Packing {
    pack(&project(value), &Given::default())
}

fn id(text: &str) -> KitId {
    KitId::new(text).unwrap()
}

/// The sentences of findings of one kind.
fn found<'a>(packing: &'a Packing, kind: &str) -> Vec<&'a str> {
    let of = packing
        .findings
        .iter()
        .filter(|finding| finding.kind == kind);
    of.map(|finding| finding.says.as_str()).collect()
}

#[test]
fn the_example_is_a_valid_document() {
    assert_eq!(model::validate::problems(&project(night())), []);
}

#[test]
fn loads_follow_the_day_and_hold_what_is_used() {
    let packing = packed(night());
    let places: Vec<&str> = packing
        .loads
        .iter()
        .map(|load| load.name.as_str())
        .collect();
    assert_eq!(places, ["Stairs", "Quay"]);
    let counts = |load: &Load| -> Vec<(String, u32)> {
        load.items()
            .map(|item| (item.item.to_string(), item.count))
            .collect()
    };
    let want = |list: &[(&str, u32)]| -> Vec<(String, u32)> {
        list.iter()
            .map(|(id, count)| (id.to_string(), *count))
            .collect()
    };
    // By hand: the panel takes a barrel, bricks give a tap, so a lead goes along; coat and one spare.
    assert_eq!(
        counts(&packing.loads[0]),
        want(&[
            ("cam", 1),
            ("wide", 1),
            ("mist", 1),
            ("tape", 1),
            ("panel", 1),
            ("brick", 3),
            ("tap-to-barrel", 1),
            ("card", 4),
            ("speaker", 1),
            ("coat", 2),
        ])
    );
    assert_eq!(
        counts(&packing.loads[1]),
        want(&[
            ("cam", 1),
            ("wide", 1),
            ("tape", 1),
            ("panel", 1),
            ("bulb", 1),
            ("brick", 3),
            ("inverter", 1),
            ("tank", 1),
            ("tap-to-barrel", 1),
            ("card", 4),
            ("speaker", 1),
            ("coat", 2),
            ("powder-red", 4),
        ])
    );
    assert_eq!(packing.left, [id("spare-tripod")]);
    assert_eq!(packing.findings, []);
}

#[test]
fn feeding_names_its_connector_and_its_adapter() {
    let packing = packed(night());
    let feed = |item: &str, from: &str, connector: &str, through: &[&str]| Feed {
        item: id(item),
        from: id(from),
        connector: Some(connector.into()),
        through: through.iter().map(|part| id(part)).collect(),
    };
    assert_eq!(
        packing.loads[1].feeds,
        [
            feed("bulb", "inverter", "mains", &[]),
            // Capitals aside, a tap is a tap.
            feed("cam", "brick", "D-Tap", &[]),
            feed("inverter", "tank", "clamps", &[]),
            feed("panel", "brick", "barrel", &["tap-to-barrel"]),
        ]
    );
}

#[test]
fn every_thing_that_is_fed_takes_an_adapter_of_its_own() {
    let mut plan = night();
    // On the quay a monitor takes a barrel beside the panel; two leads are there, a third is not.
    let monitor = json!({"id": "monitor", "name": "Monitor", "fed_by": ["barrel"]});
    plan["kit"].as_array_mut().unwrap().push(monitor);
    let used = json!({"item": "monitor", "fed_from": "brick"});
    plan["setups"][2]["kit"].as_array_mut().unwrap().push(used);
    let packing = packed(plan.clone());
    assert_eq!(packing.loads[1].count(&id("tap-to-barrel")), 2);
    assert_eq!(packing.findings, []);
    let second = plan["setups"][2]["lights"][0].clone();
    plan["setups"][2]["lights"]
        .as_array_mut()
        .unwrap()
        .push(second);
    assert_eq!(
        found(&packed(plan), "too-few"),
        ["setup `clean` uses 3 of `Tap lead` at once, and there are 2"]
    );
}

#[test]
fn a_battery_is_where_the_power_begins() {
    let mut plan = night();
    plan["kit"][5]["fed_by"] = json!(["charging pins"]);
    assert_eq!(packed(plan).findings, []);
}

#[test]
fn a_garment_goes_on_in_its_state_and_not_back() {
    // Powder twice: the same coat goes on.
    let mut plan = night();
    plan["setups"][2]["state"] = json!(1);
    plan["setups"][2]["effects"] = json!(["powder"]);
    assert_eq!(packed(plan).spares[0].used, 1);
    // A later state marks it without any effect, and then an earlier one is asked for.
    let mut plan = night();
    plan["setups"][0]["effects"] = json!([]);
    plan["days"][0]["order"][1]["setup"] = json!("powder");
    plan["days"][0]["order"][2]["setup"] = json!("clean");
    let packing = packed(plan);
    assert_eq!((packing.spares[0].used, packing.spares[0].spare), (2, 0));
}

#[test]
fn a_chain_of_adapters_is_as_short_as_can_be() {
    let mut plan = night();
    let lead = |id: &str, from: &str, to: &str| json!({"id": id, "name": id, "sort": "adapter", "fed_by": [from], "feeds": [to]});
    let kit = plan["kit"].as_array_mut().unwrap();
    kit[8] = lead("to-a", "d-tap", "a");
    kit.push(lead("a-to-b", "a", "b"));
    kit.push(lead("b-to-barrel", "b", "barrel"));
    let through = |plan: &Value| {
        let packing = packed(plan.clone());
        let feed = packing.loads[1]
            .feeds
            .iter()
            .find(|feed| feed.item == id("panel"));
        let parts: Vec<String> = feed.unwrap().through.iter().map(KitId::to_string).collect();
        parts
    };
    assert_eq!(through(&plan), ["to-a", "a-to-b", "b-to-barrel"]);
    plan["kit"]
        .as_array_mut()
        .unwrap()
        .push(lead("a-to-barrel", "a", "barrel"));
    assert_eq!(through(&plan), ["to-a", "a-to-barrel"]);
}

#[test]
fn a_battery_that_was_named_may_need_an_inverter() {
    let mut plan = night();
    plan["setups"][0]["lights"][0]["fed_from"] = json!("tank");
    // An inverter that does not say what it gives, gives mains.
    plan["kit"][6].as_object_mut().unwrap().remove("feeds");
    let packing = packed(plan);
    let bulb = packing.loads[1]
        .feeds
        .iter()
        .find(|feed| feed.item == id("bulb"));
    assert_eq!(bulb.unwrap().through, [id("inverter")]);
    assert_eq!(packing.loads[1].count(&id("inverter")), 1);
    assert_eq!(packing.findings, []);
}

#[test]
fn without_a_fitting_adapter_it_is_said() {
    let mut plan = night();
    plan["kit"][8]["feeds"] = json!(["usb-c"]);
    let packing = packed(plan);
    assert_eq!(
        found(&packing, "no-adapter"),
        ["`Brick` gives d-tap and `Panel` takes barrel; no adapter in the kit fits between them"]
    );
    // At the stairs nothing was named to feed the panel, so nothing does.
    assert_eq!(
        found(&packing, "not-fed"),
        [
            "nothing feeds `Panel` in `dusk`: it takes barrel, and no source there gives that, with or without an adapter"
        ]
    );
}

#[test]
fn connectors_that_are_not_written_are_asked_for() {
    let mut plan = night();
    plan["kit"][3].as_object_mut().unwrap().remove("fed_by");
    let packing = packed(plan);
    assert_eq!(
        found(&packing, "connector-unknown"),
        ["whether `Brick` fits `Panel` is not known: the connectors of `Panel` are not written"]
    );
}

#[test]
fn mains_feed_only_where_there_is_a_socket() {
    let mut plan = night();
    plan["setups"][0]["lights"][0]["fed_from"] = json!("mains");
    let packing = packed(plan.clone());
    assert_eq!(
        found(&packing, "not-fed"),
        ["`Bulb` is fed from the mains in `powder`, and no mains is written for Quay"]
    );
    plan["places"][1]["mains"] = json!({"volts": 230.0, "amperes": 16.0});
    plan["kit"][14] =
        json!({"id": "cradle", "name": "Cradle", "sort": "power", "charger": {"into_w": 60.0}});
    let packing = packed(plan);
    assert_eq!(found(&packing, "not-fed"), [""; 0]);
    // A charger goes where the batteries go and a socket is: not to the stairs.
    assert_eq!(packing.loads[0].count(&id("cradle")), 0);
    assert_eq!(packing.loads[1].count(&id("cradle")), 1);
    // The inverter and its tank are no longer wanted.
    assert_eq!(packing.loads[1].count(&id("tank")), 0);
}

#[test]
fn batteries_and_cards_by_the_hours_where_they_were_computed() {
    let given = Given {
        needed: [(id("brick"), 2), (id("card"), 5), (id("tank"), 0)].into(),
        ..Given::default()
    };
    let packing = pack(&project(night()), &given);
    let load = &packing.loads[1];
    let counts = [
        load.count(&id("brick")),
        load.count(&id("card")),
        load.count(&id("tank")),
    ];
    assert_eq!(counts, [2, 5, 0]);
    assert_eq!(
        found(&packing, "too-few"),
        ["the day needs 5 of `Card`, and there are 4"]
    );
}

#[test]
fn batteries_that_a_setup_lists_are_the_ones_meant() {
    let mut plan = night();
    let other = json!({"id": "brick-b", "name": "Other brick", "sort": "power", "feeds": ["d-tap"],
        "battery": {"wh": 150.0}});
    plan["kit"].as_array_mut().unwrap().push(other);
    // At the stairs nothing is said, so both go; on the quay the panel is fed from the first.
    let counts = |plan: &Value| {
        let packing = packed(plan.clone());
        packing
            .loads
            .iter()
            .map(|load| load.count(&id("brick-b")))
            .collect::<Vec<_>>()
    };
    plan["days"][0]["order"].as_array_mut().unwrap().pop();
    plan["setups"].as_array_mut().unwrap().remove(0);
    assert_eq!(counts(&plan), [1, 0]);
}

#[test]
fn what_was_handed_in_and_is_not_known_is_said() {
    let given = Given {
        needed: [(id("ghost"), 2)].into(),
        fresh_each_pass: [SetupId::new("ghost").unwrap()].into(),
        ..Given::default()
    };
    let packing = pack(&project(night()), &given);
    assert_eq!(
        found(&packing, "unknown"),
        [
            "the day needs `ghost`, which is not in the kit",
            "the passes of `ghost` are said to begin afresh, and the plan has no such setup",
        ]
    );
}

#[test]
fn what_is_missing_or_too_few_is_said_only_where_it_is_used() {
    let mut plan = night();
    plan["kit"][10]["holding"] = json!("missing");
    plan["kit"][14]["holding"] = json!("missing");
    plan["setups"][0]["kit"][1]["count"] = json!(5);
    let packing = packed(plan);
    assert_eq!(
        found(&packing, "missing"),
        ["`Speaker` is missing, and `dusk`, `clean`, `powder` use it"]
    );
    assert_eq!(
        found(&packing, "too-few"),
        ["setup `powder` uses 5 of `Red powder` at once, and there are 4"]
    );
}

#[test]
fn back_by_is_held_against_the_day_and_its_midnight() {
    for (back, end, want) in [
        ("2026-10-02", "23:30", 1),
        ("2026-10-03", "23:30", 0),
        ("2026-10-03", "24:00", 0),
        ("2026-10-03", "24:01", 1),
        ("2026-10-04", "26:00", 0),
    ] {
        let mut plan = night();
        plan["kit"][7]["back_by"] = json!(back);
        plan["days"][0]["order"][2]["end"] = json!(end);
        let packing = packed(plan);
        assert_eq!(
            found(&packing, "back-too-early").len(),
            want,
            "{back} {end}"
        );
    }
}

#[test]
fn weights_add_up_and_trips_are_held_against_the_plan() {
    let packing = packed(night());
    // 2 + 1 + 1.5 + 3 x 1 + 0.8, and cam, wide, panel, bulb, bricks, inverter, tank, speaker.
    assert!((packing.loads[0].weight_kg - 8.3).abs() < 1e-9);
    assert!((packing.loads[1].weight_kg - 23.5).abs() < 1e-9);
    assert_eq!([packing.loads[0].trips, packing.loads[1].trips], [1, 2]);
    assert!(packing.loads[0].unweighed.contains(&id("mist")));
    let texts = |trips, heavy_kg| {
        let mut project = project(night());
        (project.practice.trips, project.practice.heavy_kg) = (trips, heavy_kg);
        let packing = pack(&project, &Given::default());
        found(&packing, "too-heavy")
            .into_iter()
            .map(String::from)
            .collect::<Vec<_>>()
    };
    assert_eq!(texts(2, 12.0), [""; 0]);
    assert_eq!(
        texts(1, 11.9),
        [
            "the load for Quay weighs 23.5 kg and takes 2 trips of at most 15 kg, 1 more than planned",
            "`Tank` weighs 12.0 kg, more than the 11.9 kg one person lifts under ideal conditions",
        ]
    );
}

#[test]
fn playback_wants_something_that_sounds() {
    let mut plan = night();
    for setup in 0..3 {
        plan["setups"][setup]["kit"] = json!([]);
    }
    // Not named by the setups, but there.
    assert_eq!(packed(plan.clone()).loads[0].count(&id("speaker")), 1);
    plan["kit"][10]["sort"] = json!("other");
    let packing = packed(plan.clone());
    assert_eq!(packing.loads[0].count(&id("speaker")), 0);
    // A sentence for each place.
    assert_eq!(found(&packing, "no-sound").len(), 2);
    for setup in 0..3 {
        plan["setups"][setup]["purpose"] = json!("b-roll");
    }
    assert_eq!(found(&packed(plan), "no-sound"), [""; 0]);
}

#[test]
fn states_do_not_run_backwards() {
    let mut plan = night();
    plan["days"][0]["order"][1]["setup"] = json!("powder");
    plan["days"][0]["order"][2]["setup"] = json!("clean");
    let packing = packed(plan.clone());
    assert_eq!(
        found(&packing, "state-backwards"),
        [
            "`clean` (clean) is ordered after `powder` (powdered) on day `night`; skin and hair don't go back"
        ]
    );
    // The coat was powdered, a fresh one is put on, and one is spare.
    let [coat] = &packing.spares[..] else {
        panic!()
    };
    assert_eq!((coat.used, coat.spare, coat.has), (2, 1, 2));
    assert_eq!(
        found(&packing, "no-spare"),
        [
            "3 of `Coat` are wanted and there are 2: a fresh one for clean; 1 spare, as powder or water marks it in powder"
        ]
    );
    // B-roll of the first state need not show the performer.
    plan["setups"][2]["purpose"] = json!("b-roll");
    let packing = packed(plan);
    assert_eq!(found(&packing, "state-backwards"), [""; 0]);
    assert_eq!(found(&packing, "no-spare"), [""; 0]);
}

#[test]
fn a_new_day_is_a_new_start_for_skin_but_not_for_cloth() {
    let mut plan = night();
    plan["days"][0]["order"][1]["setup"] = json!("powder");
    plan["days"][0]["order"].as_array_mut().unwrap().pop();
    let next = json!({"id": "next", "date": "2026-10-04", "call": "17:00", "order": [
        {"setup": "clean", "start": "18:00", "end": "19:00"}]});
    plan["days"].as_array_mut().unwrap().push(next);
    let packing = packed(plan);
    assert_eq!(found(&packing, "state-backwards"), [""; 0]);
    assert_eq!(packing.spares[0].used, 2);
}

#[test]
fn passes_that_each_begin_clean_use_a_garment_each() {
    let given = Given {
        fresh_each_pass: [SetupId::new("powder").unwrap()].into(),
        ..Given::default()
    };
    let packing = pack(&project(night()), &given);
    // Three passes: the coat worn so far and two more; one spare.
    assert_eq!((packing.spares[0].used, packing.spares[0].spare), (3, 1));
}

#[test]
fn what_breaks_is_counted_by_the_pass() {
    let mut plan = night();
    plan["setups"][2]["effects"] = json!(["breakage"]);
    plan["setups"][2]["kit"] = json!([{"item": "spare-tripod", "count": 2}]);
    plan["kit"][14]["sort"] = json!("prop");
    plan["kit"][14]["count"] = json!(3);
    let packing = packed(plan);
    assert_eq!(
        found(&packing, "no-spare"),
        [
            "4 of `Old tripod` are wanted and there are 3: if it is what breaks, each pass of clean takes its own"
        ]
    );
}

#[test]
fn a_garment_of_another_state_is_found() {
    let mut plan = night();
    plan["setups"][0]["kit"][1] = json!({"item": "coat"});
    plan["kit"][11]["states"] = json!([0]);
    assert_eq!(
        found(&packed(plan), "other-state"),
        ["setup `powder` is powdered, and its `Coat` belongs to clean"]
    );
}

#[test]
fn costs_by_holding() {
    let mut plan = night();
    plan["kit"][12]
        .as_object_mut()
        .unwrap()
        .remove("cost_minor");
    let costs = packed(plan).costs;
    assert_eq!(costs.rented_minor, 4000);
    assert_eq!(costs.bought_minor, 450);
    assert_eq!(costs.total_minor, 4450);
    assert_eq!(costs.unpriced, [id("powder-red")]);
    assert_eq!(costs.currency.as_deref(), Some("EUR"));
}

#[test]
fn safety_things_are_ticked_once_and_packed_when_held() {
    let bring = |name: &str, why: &str, place: Option<&str>| Bring {
        name: name.into(),
        why: why.into(),
        place: place.map(|place| PlaceId::new(place).unwrap()),
    };
    let given = Given {
        bring: vec![
            bring("throw line", "water at the quay", Some("quay")),
            bring("first aid", "", None),
            bring("throw line", "night", Some("quay")),
        ],
        held: [
            ("throw line".to_owned(), id("spare-tripod")),
            ("first aid".to_owned(), id("nowhere")),
        ]
        .into(),
        ..Given::default()
    };
    let packing = pack(&project(night()), &given);
    assert_eq!(packing.bring.len(), 2);
    assert_eq!(packing.bring[0].why, ["water at the quay", "night"]);
    assert_eq!(packing.bring[0].held, Some(id("spare-tripod")));
    let counts: Vec<u32> = packing
        .loads
        .iter()
        .map(|l| l.count(&id("spare-tripod")))
        .collect();
    assert_eq!(counts, [0, 1]);
    assert_eq!(
        found(&packing, "unknown"),
        ["`first aid` is said to be `nowhere`, which is not in the kit"]
    );
}

#[test]
fn without_an_order_setups_are_gathered_by_place() {
    let mut plan = night();
    plan["days"] = json!([]);
    let packing = packed(plan.clone());
    let of: Vec<usize> = packing.loads.iter().map(|load| load.setups.len()).collect();
    assert_eq!(of, [2, 1]);
    assert_eq!(packing.loads[0].name, "Quay");
    // With one, what is left out comes last and is said.
    let mut plan = night();
    plan["days"][0]["order"].as_array_mut().unwrap().remove(0);
    let packing = packed(plan);
    assert_eq!(packing.loads[1].name, "Stairs");
    assert_eq!(found(&packing, "not-in-an-order").len(), 1);
}

#[test]
fn a_document_nobody_validated_is_no_danger() {
    let mut plan = night();
    plan["setups"][0]["optics"]["camera"] = json!("gone");
    plan["setups"][0]["lights"][0]["fed_from"] = json!("gone");
    plan["setups"][1]["place"] = json!("nowhere");
    plan["days"][0]["order"][1]["setup"] = json!("gone");
    plan["kit"][0]["count"] = json!(4_294_967_295u32);
    plan["kit"][5]["count"] = json!(4_294_967_295u32);
    plan["kit"][5]["weight_kg"] = json!(-1e300);
    plan["kit"][7]["cost_minor"] = json!(i64::MAX);
    plan["setups"][0]["passes"] = json!(4_294_967_295u32);
    // Two things that feed each other.
    plan["kit"][6]["fed_by"] = json!(["mains"]);
    let packing = packed(plan);
    assert!(found(&packing, "unknown").len() >= 3);
}

/// A plan of drawn setups over drawn items.
fn drawn() -> impl Strategy<Value = Value> {
    let sorts = [
        "camera", "lens", "light", "power", "adapter", "sound", "wardrobe", "prop", "other",
    ];
    let plugs = ["tap", "barrel", "usb-c", "mains"];
    let plug = prop::collection::vec(prop::sample::select(plugs.to_vec()), 0..3);
    let item = (
        prop::sample::select(sorts.to_vec()),
        1u32..4,
        prop::option::of(0.0f64..30.0),
        plug.clone(),
        plug,
        any::<bool>(),
        prop::option::of(0i64..100_000),
    );
    let setup = (
        0usize..3,
        prop::collection::vec((0usize..8, 1u32..4), 0..5),
        prop::collection::vec((0usize..8, prop::option::of(0usize..8)), 0..3),
        prop::option::of(0usize..8),
        0u32..2,
        any::<bool>(),
    );
    (
        prop::collection::vec(item, 8),
        prop::collection::vec(setup, 1..6),
        prop::collection::vec(0usize..6, 0..8),
    )
        .prop_map(|(items, setups, order)| {
            let kit: Vec<Value> = items
                .iter()
                .enumerate()
                .map(|(n, (sort, count, kg, fed_by, feeds, battery, cost))| {
                    let mut item = json!({"id": format!("i{n}"), "sort": sort, "count": count,
                        "fed_by": fed_by, "feeds": feeds});
                    item["weight_kg"] = json!(kg);
                    item["cost_minor"] = json!(cost);
                    if *battery {
                        item["battery"] = json!({"wh": 50.0});
                    }
                    item
                })
                .collect();
            let known = setups.len();
            let setups: Vec<Value> = setups
                .iter()
                .enumerate()
                .map(|(n, (place, used, lights, camera, state, powder))| {
                    let used: Vec<Value> = used
                        .iter()
                        .map(|(item, count)| json!({"item": format!("i{item}"), "count": count}))
                        .collect();
                    let lights: Vec<Value> = lights
                        .iter()
                        .map(|(light, from)| {
                            let from = from.map(|from| format!("i{from}"));
                            json!({"light": format!("i{light}"), "distance_m": 1.0, "fed_from": from})
                        })
                        .collect();
                    let mut setup = json!({"id": format!("s{n}"), "place": format!("p{place}"),
                        "kit": used, "lights": lights, "state": state});
                    if let Some(camera) = camera {
                        setup["optics"] = json!({"camera": format!("i{camera}")});
                    }
                    if *powder {
                        setup["effects"] = json!(["powder"]);
                    }
                    setup
                })
                .collect();
            let order: Vec<Value> = order
                .iter()
                .filter(|n| **n < known)
                .map(|n| json!({"setup": format!("s{n}"), "start": "18:00", "end": "19:00"}))
                .collect();
            json!({"format": 2, "kit": kit, "setups": setups, "states": ["a", "b"],
                "places": [{"id": "p0", "name": "p0"}, {"id": "p1", "name": "p1",
                    "mains": {"volts": 230.0, "amperes": 16.0}}, {"id": "p2", "name": "p2"}],
                "days": [{"id": "d", "date": "2026-10-03", "call": "17:00", "order": order}]})
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn every_load_holds_what_its_setups_use(plan in drawn()) {
        let project = project(plan);
        let packing = pack(&project, &Given::default());
        let mut loaded = 0;
        for load in &packing.loads {
            for name in &load.setups {
                loaded += 1;
                let setup = project.setup(name).unwrap();
                for item in &project.kit {
                    if setup.uses(&item.id) {
                        prop_assert!(load.count(&item.id) >= 1, "{name} uses {}", item.id);
                    }
                }
                for used in &setup.kit {
                    prop_assert!(load.count(&used.item) >= used.count);
                }
            }
            for feed in &load.feeds {
                // What feeds something in a load, and what stands between, is in it too.
                prop_assert!(feed.from.as_str() == MAINS || load.count(&feed.from) >= 1);
                prop_assert!(feed.through.iter().all(|id| load.count(id) >= 1));
                prop_assert!(load.count(&feed.item) >= 1);
            }
            let sum: f64 = load
                .items()
                .filter_map(|p| Some(project.item(&p.item)?.weight_kg? * f64::from(p.count)))
                .sum();
            prop_assert!((sum - load.weight_kg).abs() < 1e-6);
            prop_assert!(load.trips as f64 * 15.0 + 1e-3 >= sum.min(15.0));
        }
        prop_assert!(loaded >= project.setups.len());
        let all: i64 = project.kit.iter().filter_map(|item| item.cost_minor).sum();
        let costs = &packing.costs;
        prop_assert_eq!(costs.total_minor, all);
        prop_assert_eq!(
            costs.own_minor + costs.borrowed_minor + costs.rented_minor + costs.bought_minor
                + costs.missing_minor,
            all
        );
        // Packed or left, never both and never neither.
        for item in &project.kit {
            let packed = packing.loads.iter().any(|load| load.count(&item.id) > 0);
            prop_assert!(packed != packing.left.contains(&item.id));
        }
    }
}
