//! Every rule with a plan that calls for it, and with one just on the other side.

use crate::*;
use model::Practice;
use proptest::prelude::*;
use serde_json::{Value, json};

/// One setup at one place on one evening, with nothing to mind.
fn quiet() -> Value {
    json!({
        "format": 2,
        "places": [{"id": "quay", "name": "Quay", "hospital": "Rua Inventada 1, 112"}],
        "setups": [{"id": "a", "place": "quay", "mount": "tripod", "people": ["Ilse Quarry"],
            "optics": {"camera": "cam"},
            "lights": [{"light": "panel", "distance_m": 2.0, "fed_from": "brick"}]}],
        "kit": [
            {"id": "cam", "name": "Camera", "sort": "camera", "weight_kg": 4.0},
            {"id": "panel", "name": "Panel", "sort": "light", "fed_by": ["mains", "tap"],
             "light": {"candela": 1000.0, "full_w": 60.0}},
            {"id": "brick", "sort": "power", "feeds": ["tap"]},
            {"id": "inverter", "name": "Inverter", "sort": "power", "feeds": ["mains"], "fed_by": ["clamps"],
             "inverter": {"efficiency": 0.9, "most_w": 300.0}},
        ],
        "days": [{"id": "night", "date": "2026-10-03", "call": "17:00", "order": [
            {"setup": "a", "start": "18:00", "end": "20:00"}]}],
    })
}

/// The plan with the value at a JSON pointer replaced or added.
fn with(mut plan: Value, changes: &[(&str, Value)]) -> Value {
    for (path, value) in changes {
        let (parent, key) = path.rsplit_once('/').unwrap();
        match plan.pointer_mut(parent).unwrap() {
            Value::Object(map) => drop(map.insert(key.into(), value.clone())),
            Value::Array(list) => match key.parse::<usize>() {
                Ok(at) if at < list.len() => list[at] = value.clone(),
                _ => list.push(value.clone()),
            },
            other => panic!("{path} leads into {other}"),
        }
    }
    plan
}

fn project(mut plan: Value) -> Project {
    // People are named as a typed plan names them.
    model::upgrade::upgrade(plan.as_object_mut().unwrap(), &[]);
    let project: Project = serde_json::from_value(plan).unwrap();
    assert_eq!(model::validate::problems(&project), []);
    project
}

fn cautions(changes: &[(&str, Value)]) -> Vec<Caution> {
    of(&project(with(quiet(), changes)), &Given::default())
}

fn find(cautions: &[Caution], kind: Kind) -> Option<&Caution> {
    cautions.iter().find(|caution| caution.kind == kind)
}

/// Asserts that the changes call for a caution of `kind`, and gives its sentence.
fn says(kind: Kind, changes: &[(&str, Value)]) -> String {
    let cautions = cautions(changes);
    let found = find(&cautions, kind);
    found
        .unwrap_or_else(|| panic!("no {kind:?} for {changes:?}"))
        .finding
        .says
        .clone()
}

/// Asserts that they do not.
fn silent(kind: Kind, changes: &[(&str, Value)]) {
    assert_eq!(find(&cautions(changes), kind), None, "{changes:?}");
}

const HAZARDS: &str = "/places/0/hazards";

fn hazard(danger: &str, more: Value) -> Value {
    let mut hazard = json!({"danger": danger});
    let map = hazard.as_object_mut().unwrap();
    map.extend(more.as_object().unwrap().clone());
    json!([hazard])
}

fn effects(names: &[&str]) -> (&'static str, Value) {
    ("/setups/0/effects", json!(names))
}

#[test]
fn a_quiet_plan_calls_for_nothing() {
    assert_eq!(cautions(&[]), []);
    let empty = of(&Project::default(), &Given::default());
    assert_eq!(empty, []);
}

#[test]
fn mains_voltage_near_water() {
    // IEC 60364-7-702: zone 2 ends 3.5 m from the rim.
    let inverter = ("/setups/0/lights/0/fed_from", json!("inverter"));
    let water = |metres: f64| (HAZARDS, hazard("water", json!({"distance_m": metres})));
    let kind = Kind::ElectricityAndWater;
    assert_eq!(
        says(kind, &[inverter.clone(), water(3.5)]),
        "At Quay, `Panel` and `Inverter` carry mains voltage in `a`, with water 3.5 m away (cautions begin at 3.5 m)."
    );
    silent(kind, &[inverter.clone(), water(3.51)]);
    // The same light on a battery is not mains.
    silent(kind, &[water(1.0)]);
    assert!(
        says(
            kind,
            &[inverter.clone(), (HAZARDS, hazard("water", json!({})))]
        )
        .contains("at a distance that is not written")
    );
    assert!(
        says(kind, &[inverter, effects(&["wet"])]).contains("water on or around the performer")
    );
    silent(kind, &[effects(&["wet"])]);
    // A light with a mains plug only and no source named, at a place with a socket and without.
    let socket = ("/places/0/mains", json!({"volts": 230.0, "amperes": 16.0}));
    let unsaid = (
        "/setups/0/lights/0",
        json!({"light": "panel", "distance_m": 2.0}),
    );
    says(kind, &[unsaid.clone(), socket, water(1.0)]);
    silent(kind, &[unsaid.clone(), water(1.0)]);
    says(
        kind,
        &[
            unsaid.clone(),
            ("/kit/1/fed_by", json!(["Mains"])),
            water(1.0),
        ],
    );
    // A lamp with nothing but a mains plug carries it whatever feeds it.
    says(kind, &[("/kit/1/fed_by", json!(["mains"])), water(1.0)]);
    // A supply for the socket of the place; without a socket, the battery that fits.
    let supply = json!({"id": "supply", "sort": "power", "fed_by": ["mains"], "feeds": ["tap"]});
    let tap = ("/kit/1/fed_by", json!(["tap"]));
    let two = [unsaid, tap, ("/kit/4", supply), water(1.0)];
    silent(kind, &two);
    let mut three = two.to_vec();
    three.push(("/places/0/mains", json!({"volts": 230.0, "amperes": 16.0})));
    assert!(says(kind, &three).contains("`supply` carries mains voltage"));
    // An inverter that is only listed, and a battery with a mains outlet.
    says(
        kind,
        &[("/setups/0/kit", json!([{"item": "inverter"}])), water(1.0)],
    );
    says(kind, &[("/kit/2/feeds", json!(["mains"])), water(1.0)]);
}

#[test]
fn sockets_without_a_residual_current_device() {
    let fed = ("/setups/0/lights/0/fed_from", json!("mains"));
    let mains = |device: Value| {
        let mains = json!({"volts": 230.0, "amperes": 16.0, "residual_current_device": device});
        ("/places/0/mains", mains)
    };
    assert!(says(Kind::Mains, &[fed.clone(), mains(json!(null))]).contains("is not written"));
    assert!(says(Kind::Mains, &[fed.clone(), mains(json!(false))]).contains("no residual-current"));
    silent(Kind::Mains, &[fed, mains(json!(true))]);
    silent(Kind::Mains, &[mains(json!(null))]);
}

#[test]
fn batteries_and_charging() {
    let battery = ("/kit/2/battery", json!({"wh": 98.0}));
    assert_eq!(
        says(Kind::Batteries, std::slice::from_ref(&battery)),
        "The kit holds 1 × `brick` (98 Wh)."
    );
    let charger = json!({"id": "cradle", "sort": "power", "charger": {"into_w": 60.0}});
    assert!(says(Kind::Batteries, &[battery.clone(), ("/kit/4", charger)]).contains("`cradle`"));
    for (air_c, cold) in [(0.0, true), (0.1, false)] {
        let all = cautions(&[battery.clone(), ("/days/0/air_c", json!(air_c))]);
        let done = &find(&all, Kind::Batteries).unwrap().finding.mends;
        assert_eq!(done.iter().any(|text| text.contains("below 0 °C")), cold);
    }
    silent(Kind::Batteries, &[]);
}

#[test]
fn batteries_by_air_at_the_published_bounds() {
    // The boundary cases of the FAA and TSA figures: 100, 100.01, 160, 160.01 Wh, third spare.
    let kind = Kind::BatteriesByAir;
    let battery = |wh: f64| ("/kit/2/battery", json!({"wh": wh}));
    silent(kind, &[battery(100.0)]);
    assert_eq!(
        says(kind, &[battery(100.01)]),
        "If the kit flies: 1 × `brick` (100.01 Wh) in the cabin with the airline's approval."
    );
    let count = |count: u32| ("/kit/2/count", json!(count));
    assert!(!says(kind, &[battery(150.0), count(2)]).contains("spares"));
    assert!(says(kind, &[battery(150.0), count(3)]).contains("2 spares, and there are 3"));
    assert!(says(kind, &[battery(160.01)]).contains("no passenger baggage, being above 160 Wh"));
    let lead = json!({"wh": 500.0, "chemistry": "lead-acid"});
    silent(kind, &[("/kit/2/battery", lead)]);
    // Built into something it is no spare.
    let built_in = json!({"wh": 150.0, "built_in": true});
    assert!(!says(kind, &[("/kit/2/battery", built_in), count(3)]).contains("spares"));
    let flying = |by_air, wh| {
        let plan = project(with(quiet(), &[battery(wh)]));
        let given = Given {
            by_air: Some(by_air),
            ..Given::default()
        };
        let all = of(&plan, &given);
        find(&all, kind).map(|caution| caution.finding.says.clone())
    };
    assert!(flying(true, 98.0).unwrap().starts_with("By air: "));
    assert_eq!(flying(false, 500.0), None);
}

#[test]
fn work_beside_water_and_edges() {
    for (danger, kind) in [("water", Kind::Water), ("edge", Kind::Edge)] {
        let at = |more| (HAZARDS, hazard(danger, more));
        assert!(says(kind, &[at(json!({"distance_m": 2.0}))]).contains(" 2 m away"));
        silent(kind, &[at(json!({"distance_m": 2.01}))]);
        says(kind, &[at(json!({}))]);
    }
}

#[test]
fn cold_water_by_temperature_and_reach() {
    let kind = Kind::ColdWater;
    let water = |celsius: f64, metres: f64| {
        (
            HAZARDS,
            hazard("water", json!({"water_c": celsius, "distance_m": metres})),
        )
    };
    // RNLI: below 15 °C. US Coast Guard: 1 minute, 10 minutes, 1 hour.
    let text = says(kind, &[water(14.9, 1.0)]);
    for part in ["14.9 °C", "1 minute", "10 minutes", "1 hour"] {
        assert!(text.contains(part), "{text}");
    }
    silent(kind, &[water(15.0, 1.0)]);
    silent(kind, &[water(10.0, 2.5)]);
    says(kind, &[water(10.0, 2.5), effects(&["in-water"])]);
    silent(kind, &[water(15.0, 2.5), effects(&["in-water"])]);
    assert!(says(kind, &[effects(&["in-water"])]).contains("is not written"));
}

#[test]
fn effects_call_for_their_own_caution_alone() {
    let kinds = [
        ("powder", Kind::Powder),
        ("flame", Kind::Flame),
        ("smoke", Kind::Smoke),
        ("wet", Kind::Wet),
        ("in-water", Kind::InWater),
        ("breakage", Kind::Breakage),
    ];
    for (name, kind) in kinds {
        says(kind, &[effects(&[name])]);
        for (_, other) in kinds {
            if other != kind {
                silent(other, &[effects(&[name])]);
            }
        }
    }
}

#[test]
fn powder_with_something_that_lights_it() {
    let powder = effects(&["powder"]);
    assert!(!says(Kind::Powder, std::slice::from_ref(&powder)).contains("light it"));
    assert!(says(Kind::Powder, &[effects(&["powder", "flame"])]).contains("an open flame"));
    let hot = ("/kit/1/light/hot", json!(true));
    assert!(says(Kind::Powder, &[powder.clone(), hot]).contains("the hot lamp `Panel`"));
    let live = ("/setups/0/lights/0/fed_from", json!("inverter"));
    assert!(says(Kind::Powder, &[powder.clone(), live]).contains("mains voltage at `Panel`"));
    let inside = ("/places/0/interior", json!(true));
    assert!(says(Kind::Powder, &[powder, inside]).contains(", indoors"));
}

#[test]
fn hot_lamps_and_places_that_burn_or_choke() {
    says(Kind::HotLight, &[("/kit/1/light/hot", json!(true))]);
    silent(Kind::HotLight, &[("/kit/1/light/hot", json!(false))]);
    for (danger, kind) in [("fire", Kind::Fire), ("air", Kind::Air)] {
        let text = says(
            kind,
            &[(HAZARDS, hazard(danger, json!({"remark": "solvent"})))],
        );
        assert!(text.contains("(solvent)"), "{text}");
        silent(kind, &[(HAZARDS, hazard("stairs", json!({})))]);
    }
    let fire = (HAZARDS, hazard("fire", json!({})));
    assert!(says(Kind::Flame, &[fire, effects(&["flame"])]).contains("something burns easily"));
}

#[test]
fn stairs_and_who_walks_on_them() {
    let stairs = (HAZARDS, hazard("stairs", json!({})));
    let mount = |name: &str| ("/setups/0/mount", json!(name));
    assert!(says(Kind::Stairs, &[stairs.clone(), mount("hand")]).contains("backwards"));
    assert!(!says(Kind::Stairs, &[stairs, mount("tripod")]).contains("backwards"));
    silent(
        Kind::Stairs,
        &[(HAZARDS, hazard("stairs", json!({"distance_m": 2.01})))],
    );
    silent(Kind::Stairs, &[mount("hand")]);
}

#[test]
fn mounts_by_how_the_camera_is_held() {
    for (name, kind) in [
        ("overhead", Kind::Overhead),
        ("rigged", Kind::Rigged),
        ("vehicle", Kind::VehicleMount),
    ] {
        says(kind, &[("/setups/0/mount", json!(name))]);
        silent(kind, &[("/setups/0/mount", json!("stabiliser"))]);
    }
}

#[test]
fn forces_on_a_vehicle_by_the_published_load_case() {
    // 49 CFR 393.102 for 4 kg and 10 kg, newtons to a tenth, by hand with g = 9.80665.
    for (kg, want) in [
        (4.0, [31.4, 19.6, 19.6, 7.8]),
        (10.0, [78.5, 49.0, 49.0, 19.6]),
    ] {
        let forces = forces(kg, &Practice::default());
        let met = [
            forces.forward_n,
            forces.rearward_n,
            forces.sideways_n,
            forces.down_n,
        ];
        for (met, want) in met.iter().zip(want) {
            assert!((met - want).abs() <= 0.05, "{met} {want}");
        }
    }
    let vehicle = ("/setups/0/mount", json!("vehicle"));
    let text = says(Kind::VehicleMount, std::slice::from_ref(&vehicle));
    assert!(
        text.contains("at least 31.4 N forward, 19.6 N rearward, 19.6 N sideways"),
        "{text}"
    );
    let weight = ("/kit/0/weight_kg", json!(null));
    let text = says(Kind::VehicleMount, &[vehicle, weight]);
    assert!(
        text.contains("bears 7.8 N forward") && text.contains("for each kilogram"),
        "{text}"
    );
    assert!(
        text.contains("No weight is written for `Camera`."),
        "{text}"
    );
}

#[test]
fn vehicles_in_the_picture_and_traffic() {
    let car = json!({"id": "car", "name": "Van", "sort": "vehicle"});
    let used = ("/setups/0/kit", json!([{"item": "car"}]));
    assert_eq!(
        says(Kind::Driving, &[("/kit/4", car.clone()), used]),
        "`Van` is part of `a` at Quay."
    );
    silent(Kind::Driving, &[("/kit/4", car)]);
    let traffic = |metres: f64| (HAZARDS, hazard("traffic", json!({"distance_m": metres})));
    says(Kind::Traffic, &[traffic(5.0)]);
    silent(Kind::Traffic, &[traffic(5.01)]);
}

#[test]
fn wind_on_stands_at_each_threshold() {
    let wind = |wind: f64| (HAZARDS, hazard("wind", json!({"wind_m_s": wind})));
    silent(Kind::Wind, &[wind(5.4)]);
    for (speed, advice) in [
        (5.5, "weighted"),
        (7.5, "weighted"),
        (7.6, "lowered and held"),
        (10.7, "lowered and held"),
        (10.8, "taken down"),
    ] {
        assert!(says(Kind::Wind, &[wind(speed)]).contains(advice), "{speed}");
    }
    assert!(says(Kind::Wind, &[(HAZARDS, hazard("wind", json!({})))]).contains("is not written"));
    silent(
        Kind::Wind,
        &[wind(20.0), ("/places/0/interior", json!(true))],
    );
    let nothing_stands = [
        wind(20.0),
        ("/setups/0/lights", json!([])),
        ("/setups/0/mount", json!("hand")),
    ];
    silent(Kind::Wind, &nothing_stands);
    let all = cautions(&[wind(8.0)]);
    let bring = &find(&all, Kind::Wind).unwrap().bring;
    assert!(
        bring.contains(&"sandbags, one for each of 1 stand".to_owned()),
        "{bring:?}"
    );
}

#[test]
fn wind_chill_against_published_values() {
    // Environment Canada's formula worked out: 0 °C in 10 and 20 km/h, -10 in 20, -25 in 30.
    for (celsius, km_h, want) in [
        (0.0, 10.0, -3.31),
        (0.0, 20.0, -5.24),
        (-10.0, 20.0, -17.86),
        (-25.0, 30.0, -39.09),
        (5.0, 50.0, -1.33),
    ] {
        let met = wind_chill_c(celsius, km_h / 3.6);
        assert!((met - want).abs() < 0.006, "{celsius} {km_h}: {met}");
    }
    // The NWS chart, whole degrees Fahrenheit: 0 °F in 15 mph feels like -19 °F, 20 in 25 like 3.
    for (fahrenheit, mph, want) in [(0.0, 15.0, -19.0), (20.0, 25.0, 3.0), (-10.0, 20.0, -35.0)] {
        let met = wind_chill_c((fahrenheit - 32.0) / 1.8, mph * 0.44704) * 1.8 + 32.0;
        assert!((met - want).abs() < 0.6, "{fahrenheit} {mph}: {met}");
    }
    // Where the formula does not hold the air is as it is.
    assert_eq!(wind_chill_c(10.1, 20.0), 10.1);
    assert_eq!(wind_chill_c(0.0, 1.3), 0.0);
    assert!(wind_chill_c(f64::NAN, 5.0).is_nan());
}

#[test]
fn cold_and_heat_by_the_days_air() {
    let air = |celsius: f64| ("/days/0/air_c", json!(celsius));
    let wind = (HAZARDS, hazard("wind", json!({"wind_m_s": 5.0})));
    says(Kind::Cold, &[air(5.0)]);
    silent(Kind::Cold, &[air(5.1)]);
    // In 18 km/h, 7.5 °C feels like 4.45 °C and 8 °C like 5.07 °C by the formula.
    assert!(says(Kind::Cold, &[air(7.5), wind.clone()]).contains("feels like 4.4 °C in 5 m/s"));
    silent(Kind::Cold, &[air(8.0), wind]);
    silent(Kind::Cold, &[air(5.0), ("/places/0/interior", json!(true))]);
    says(Kind::Cold, &[(HAZARDS, hazard("cold", json!({})))]);
    let storm = |wind: f64| (HAZARDS, hazard("wind", json!({"wind_m_s": wind})));
    // -20 °C in 20 km/h: -30; in 10 km/h: -27 (Environment Canada's table, whole degrees).
    assert!(says(Kind::Cold, &[air(-20.0), storm(20.0 / 3.6)]).contains("can freeze"));
    assert!(!says(Kind::Cold, &[air(-20.0), storm(10.0 / 3.6)]).contains("can freeze"));
    says(Kind::Heat, &[air(26.7)]);
    silent(Kind::Heat, &[air(26.6)]);
    says(Kind::Heat, &[(HAZARDS, hazard("heat", json!({})))]);
}

#[test]
fn heat_index_against_published_values() {
    // The NWS chart in °F and percent, whole degrees (96 and 65 as the NWS's own example, reprinted; the rest from
    // memory); the formula's own value in the third column, worked out in Python from the regression as the NWS
    // states it (Rothfusz, SR 90-23, 1990).
    for (fahrenheit, humidity, formula, chart) in [
        (96.0, 65.0, 121.03, 121.0),
        (80.0, 40.0, 79.79, 80.0),
        (86.0, 90.0, 105.39, 105.0),
        (90.0, 50.0, 94.60, 95.0),
        (90.0, 70.0, 105.92, 106.0),
        (88.0, 75.0, 103.11, 103.0),
        (100.0, 40.0, 109.26, 109.0),
        (100.0, 55.0, 123.64, 124.0),
        (110.0, 40.0, 135.66, 136.0),
    ] {
        let met = heat_index_c((fahrenheit - 32.0) / 1.8, humidity) * 1.8 + 32.0;
        assert!(
            (met - formula).abs() < 0.01,
            "{fahrenheit} {humidity}: {met}"
        );
        assert!((met - chart).abs() < 0.6, "{fahrenheit} {humidity}: {met}");
    }
    assert!(heat_index_c(f64::NAN, 50.0).is_nan());
}

#[test]
fn the_air_counts_by_the_hours_one_is_there() {
    let hours = |hours: Value| ("/days/0/air", hours);
    // The slot runs from 18:00 to 20:00; the cold comes at 20:00, and at 19:00 in the other.
    silent(
        Kind::Cold,
        &[hours(
            json!([{"from": "17:00", "air_c": 12.0}, {"from": "20:00", "air_c": 2.0}]),
        )],
    );
    let cold = hours(json!([{"from": "17:00", "air_c": 12.0}, {"from": "19:00", "air_c": 2.0}]));
    assert!(says(Kind::Cold, &[cold]).contains("2 °C are expected at Quay from 19:00 on"));
    let windy = hours(json!([{"from": "17:00", "air_c": 7.5, "wind_m_s": 5.0}]));
    assert!(says(Kind::Cold, &[windy]).contains("feels like 4.4 °C in 5 m/s"));
    let moist = hours(json!([{"from": "17:00", "air_c": 32.2, "humidity_percent": 70.0}]));
    // 90 °F at 70 %: 105.9 °F are 41 °C.
    assert!(says(Kind::Heat, &[moist]).contains("feel like 41 °C"));
}

#[test]
fn hours_awake_and_the_drive_home() {
    let awake = |clock: &str| ("/days/0/awake_since", json!(clock));
    let drive = |minutes: u32| ("/days/0/drive_home_minutes", json!(minutes));
    // The day ends at 20:00.
    silent(Kind::Awake, &[awake("04:00")]);
    says(Kind::Awake, &[awake("03:59")]);
    silent(Kind::Awake, &[awake("04:30"), drive(30)]);
    assert!(says(Kind::Awake, &[awake("04:30"), drive(31)]).contains("a drive home of 31 min"));
}

#[test]
fn minors_are_named_and_the_law_is_left_to_the_place() {
    let people = |minor: bool| ("/people", json!([{"name": "Ilse Quarry", "minor": minor}]));
    silent(Kind::Minor, &[people(false)]);
    let caution = cautions(&[people(true)]);
    let minor = find(&caution, Kind::Minor).unwrap();
    assert!(minor.finding.says.contains("until 20:00"));
    assert!(minor.finding.mends[0].contains("law"));
}

#[test]
fn alone_in_the_dark() {
    let nobody = ("/setups/0/people", json!([]));
    let end = |clock: &str| ("/days/0/order/0/end", json!(clock));
    silent(Kind::Alone, &[nobody.clone(), end("21:00")]);
    says(Kind::Alone, &[nobody.clone(), end("21:01")]);
    silent(Kind::Alone, &[end("23:00")]);
    let start = |clock: &str| ("/days/0/order/0/start", json!(clock));
    says(Kind::Alone, &[nobody.clone(), start("29:59"), end("31:00")]);
    silent(Kind::Alone, &[nobody.clone(), start("30:00"), end("31:00")]);
    // A lonely place calls for it whoever is there.
    says(Kind::Alone, &[(HAZARDS, hazard("lonely", json!({})))]);
    // The sun, once asked, stands above the clock.
    let plan = project(with(quiet(), &[nobody]));
    for (dark, want) in [(true, true), (false, false)] {
        let sun = |day: &Day, slot: &Slot| {
            assert_eq!((day.id.as_str(), slot.start.minutes()), ("night", 18 * 60));
            dark
        };
        let given = Given {
            dark: Some(&sun),
            ..Given::default()
        };
        let all = of(&plan, &given);
        assert_eq!(find(&all, Kind::Alone).is_some(), want);
    }
}

#[test]
fn public_ways_until_leave_is_written() {
    let public = ("/places/0/public", json!(true));
    says(Kind::PublicWay, std::slice::from_ref(&public));
    silent(Kind::PublicWay, &[("/places/0/public", json!(false))]);
    silent(
        Kind::PublicWay,
        &[public.clone(), ("/places/0/interior", json!(true))],
    );
    for (leave, said) in [
        ("unasked", Some("nobody has been asked")),
        ("asked", Some("not been given")),
        ("promised", Some("promised, not written")),
        ("refused", Some("refused")),
        ("granted", None),
        ("not-needed", None),
    ] {
        let changes = [
            public.clone(),
            ("/places/0/permission", json!({"leave": leave})),
        ];
        match said {
            Some(part) => assert!(says(Kind::PublicWay, &changes).contains(part)),
            None => silent(Kind::PublicWay, &changes),
        }
    }
}

#[test]
fn a_hospital_for_every_place_with_a_danger() {
    let none = ("/places/0/hospital", json!(" "));
    let danger = (HAZARDS, hazard("stairs", json!({})));
    assert_eq!(
        says(Kind::NoHospital, &[none.clone(), danger.clone()]),
        "1 danger is written for Quay, and no hospital."
    );
    silent(Kind::NoHospital, &[none]);
    silent(Kind::NoHospital, &[danger]);
}

#[test]
fn hours_of_a_day() {
    let day = |call: &str, start: &str, end: &str| {
        let order = json!([{"setup": "a", "start": start, "end": end}]);
        [("/days/0/call", json!(call)), ("/days/0/order", order)]
    };
    assert!(says(Kind::LongDay, &day("10:00", "12:00", "22:01")).contains("12 h 01 min"));
    silent(Kind::LongDay, &day("10:00", "12:00", "22:00"));
    says(Kind::LateEnd, &day("17:00", "18:00", "24:01"));
    silent(Kind::LateEnd, &day("17:00", "18:00", "24:00"));
    // Without an order the latest wrap counts.
    let wrap = |clock: &str| {
        [
            ("/days/0/order", json!([])),
            ("/days/0/latest_wrap", json!(clock)),
        ]
    };
    says(Kind::LateEnd, &wrap("26:00"));
    silent(Kind::LateEnd, &wrap("23:00"));
}

#[test]
fn six_hours_without_a_break() {
    let order = |second: &str, end: &str| {
        let order = json!([
            {"setup": "a", "start": "18:00", "end": "20:00"},
            {"setup": "a", "start": second, "end": end},
        ]);
        [("/days/0/order", order), ("/days/0/call", json!("17:00"))]
    };
    assert!(
        says(Kind::NoBreak, &order("20:29", "23:01")).contains("from 17:00 to 23:01 (6 h 01 min)")
    );
    silent(Kind::NoBreak, &order("20:29", "23:00"));
    silent(Kind::NoBreak, &order("20:30", "23:01"));
    // The way to another place is no break.
    let mut changes = order("20:50", "23:01").to_vec();
    silent(Kind::NoBreak, &changes);
    changes.extend([
        (
            "/places/1",
            json!({"id": "stairs", "name": "Stairs", "travel": [{"to": "quay", "minutes": 25}]}),
        ),
        (
            "/setups/1",
            json!({"id": "b", "place": "stairs", "people": ["Ilse Quarry"]}),
        ),
        ("/days/0/order/1/setup", json!("b")),
    ]);
    says(Kind::NoBreak, &changes);
    // A way of which nobody said how long it takes is no rest either.
    changes.push(("/places/1/travel", json!([])));
    assert!(
        says(Kind::NoBreak, &changes)
            .contains("from `quay` to `stairs` is not said; 60 min are taken")
    );
}

#[test]
fn rest_between_two_days() {
    // Wrap 22:00, call 08:00 is 10 h; wrap 21:00, call 08:00 is the directive's 11 h.
    let days = |end: &str, date: &str, call: &str| {
        let next = json!({"id": "next", "date": date, "call": call});
        [("/days/0/order/0/end", json!(end)), ("/days/1", next)]
    };
    assert!(says(Kind::ShortRest, &days("22:00", "2026-10-04", "08:00")).contains("10 h of rest"));
    says(Kind::ShortRest, &days("21:01", "2026-10-04", "08:00"));
    silent(Kind::ShortRest, &days("21:00", "2026-10-04", "08:00"));
    says(Kind::ShortRest, &days("26:00", "2026-10-04", "12:59"));
    silent(Kind::ShortRest, &days("26:00", "2026-10-04", "13:00"));
    silent(Kind::ShortRest, &days("26:00", "2026-10-05", "01:00"));
    assert!(says(Kind::ShortRest, &days("22:00", "2026-10-03", "20:00")).contains("no rest"));
}

#[test]
fn one_for_each_place_and_kind_with_all_its_setups() {
    let all = cautions(&[
        (
            "/setups/1",
            json!({"id": "b", "place": "quay", "effects": ["powder"]}),
        ),
        ("/setups/2", json!({"id": "c", "effects": ["powder"]})),
        effects(&["powder"]),
        (
            HAZARDS,
            json!([{"danger": "water", "distance_m": 1.0}, {"danger": "water", "distance_m": 0.5}]),
        ),
    ]);
    let powder: Vec<&Caution> = all.iter().filter(|c| c.kind == Kind::Powder).collect();
    let setups: Vec<usize> = powder
        .iter()
        .map(|caution| caution.finding.setups().count())
        .collect();
    assert_eq!(setups, [2, 1]);
    assert_eq!(powder[1].finding.places().next(), None);
    let water: Vec<&Caution> = all.iter().filter(|c| c.kind == Kind::Water).collect();
    assert_eq!(water.len(), 1);
    assert!(water[0].finding.says.contains("0.5 m away"));
    // A place where nothing is shot is not looked at.
    let elsewhere = json!({"id": "roof", "name": "Roof", "hazards": [{"danger": "edge"}]});
    silent(Kind::Edge, &[("/places/1", elsewhere)]);
}

#[test]
fn thresholds_are_the_makers() {
    let plan = project(with(
        quiet(),
        &[(HAZARDS, hazard("edge", json!({"distance_m": 3.0})))],
    ));
    let met = |edge_m: f64| {
        let mut plan = plan.clone();
        plan.practice.edge_m = edge_m;
        of(&plan, &Given::default()).len()
    };
    assert_eq!([met(2.0), met(3.0)], [0, 1]);
}

#[test]
fn cautions_as_json() {
    let all = cautions(&[(HAZARDS, hazard("edge", json!({"distance_m": 1.0})))]);
    let json = serde_json::to_value(&all).unwrap();
    assert_eq!(json[0]["kind"], "edge");
    assert_eq!(
        json[0]["about"],
        json!([{"place": "quay"}, {"setup": "a"}, {"day": "night"}])
    );
    assert_eq!(json[0]["bring"], json!(["marking tape", "torch"]));
}

/// Setups, places and days with everything that a rule looks at, drawn.
fn drawn() -> impl Strategy<Value = Value> {
    let dangers = [
        "water", "edge", "stairs", "traffic", "wind", "fire", "air", "lonely", "heat", "cold",
    ];
    let effects = ["powder", "flame", "smoke", "wet", "in-water", "breakage"];
    let mounts = [
        "hand",
        "tripod",
        "stabiliser",
        "rigged",
        "vehicle",
        "overhead",
    ];
    let hazard = (
        prop::sample::select(dangers.to_vec()),
        prop::option::of(0.0f64..10.0),
        prop::option::of(-2.0f64..30.0),
        prop::option::of(0.0f64..30.0),
    )
        .prop_map(|(danger, distance, water, wind)| {
            json!({"danger": danger, "distance_m": distance, "water_c": water, "wind_m_s": wind})
        });
    let setup = (
        prop::collection::vec(prop::sample::select(effects.to_vec()), 0..3),
        prop::option::of(prop::sample::select(mounts.to_vec())),
        prop::option::of(prop::sample::select(vec!["mains", "inverter", "brick"])),
        0usize..3,
        any::<bool>(),
    );
    (
        prop::collection::vec(prop::collection::vec(hazard, 0..4), 2),
        prop::collection::vec(setup, 1..5),
        prop::option::of(-30.0f64..45.0),
        prop::collection::vec((0usize..5, 0u32..2000, 1u32..800), 0..4),
    )
        .prop_map(|(hazards, setups, air, slots)| {
            let mut plan = quiet();
            plan["places"] = json!([
                {"id": "p0", "name": "P0", "hazards": hazards[0], "interior": true},
                {"id": "p1", "name": "P1", "hazards": hazards[1], "public": true},
            ]);
            let known = setups.len();
            plan["setups"] = setups
                .iter()
                .enumerate()
                .map(|(n, (effects, mount, from, place, alone))| {
                    let place = (*place < 2).then(|| format!("p{place}"));
                    let people = if *alone { json!([]) } else { json!(["N"]) };
                    json!({"id": format!("s{n}"), "place": place, "effects": effects,
                        "mount": mount, "people": people, "optics": {"camera": "cam"},
                        "lights": [{"light": "panel", "distance_m": 1.0, "fed_from": from}]})
                })
                .collect();
            let order: Vec<Value> = slots
                .iter()
                .filter(|(n, ..)| *n < known)
                .map(|(n, start, long)| {
                    let clock = |minutes| model::ClockTime::default().later(minutes).to_string();
                    json!({"setup": format!("s{n}"), "start": clock(*start), "end": clock(start + long)})
                })
                .collect();
            plan["days"][0]["order"] = json!(order);
            plan["days"][0]["air_c"] = json!(air);
            plan
        })
}

proptest! {
    #[test]
    fn every_caution_is_whole_and_stands_somewhere(plan in drawn()) {
        let project: Project = serde_json::from_value(plan).unwrap();
        let all = of(&project, &Given::default());
        let mut met = std::collections::BTreeSet::new();
        for caution in &all {
            let place = caution.finding.places().next().map(|place| place.as_str());
            let days: Vec<&str> = caution.finding.days().map(|day| day.as_str()).collect();
            // One for each kind and place; of days, one for each.
            let key = (caution.kind, place, caution.finding.setups().next().is_none().then_some(days));
            prop_assert!(met.insert(key), "twice: {}", caution.finding.says);
            prop_assert!(caution.finding.says.ends_with('.'));
            prop_assert!(!caution.finding.says.contains("NaN") && !caution.finding.says.contains("``"));
            prop_assert!(!caution.finding.mends.is_empty());
            prop_assert!(!caution.ask.is_empty() && !caution.source.is_empty());
            for done in &caution.finding.mends {
                prop_assert!(done.ends_with('.'));
                prop_assert!(done.chars().next().is_some_and(char::is_uppercase));
            }
            let place = |noun: &model::About| matches!(noun, model::About::Place(_));
            prop_assert!(!caution.finding.about.iter().all(place));
        }
        let kinds: Vec<Kind> = all.iter().map(|caution| caution.kind).collect();
        prop_assert!(kinds.is_sorted());
    }

    #[test]
    fn nearer_is_never_quieter(distance in 0.0f64..10.0, less in 0.0f64..1.0) {
        let count = |metres: f64| {
            cautions(&[(HAZARDS, json!([
                {"danger": "water", "distance_m": metres, "water_c": 12.0},
                {"danger": "edge", "distance_m": metres},
                {"danger": "traffic", "distance_m": metres},
            ]))]).len()
        };
        prop_assert!(count(distance * less) >= count(distance));
    }
}
