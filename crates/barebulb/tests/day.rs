//! The day, from a typed plan and from a bare instance, with the real program.

mod common;

use common::{barebulb, json, run, sentence, told};
use std::path::Path;

const PLAN: &str = r#"
title = "Paper Weather"
states = ["clean", "powdered"]
[brief]
rate = 25
frame = [1920, 1080]
[[places]]
id = "stairway"
name = "Escadas do Avesso"
position_deg = [41.1432, -8.6151]
travel = [{ to = "quay", minutes = 15 }, { to = "launderette", minutes = 20 }]
[[places]]
id = "launderette"
name = "Lavandaria Meia-Luz"
access = [["18:30", "20:00"]]
travel = [{ to = "quay", minutes = 25 }]
[[places]]
id = "quay"
name = "Cais da Tinta"
position_deg = [41.1402, -8.6186]
[[people]]
name = "Ilse Quarry"
[[people]]
name = "Noor Abelin"
minor = true
hours = [["16:00", "20:00"]]
[[setups]]
id = "stairs"
place = "stairway"
must = true
rig_minutes = 20
light_of = ["golden-hour", "blue-hour"]
people = ["Ilse Quarry"]
[[setups]]
id = "wash-wide"
place = "launderette"
must = true
rig_minutes = 25
rig_group = "bulb"
people = ["Ilse Quarry", "Noor Abelin"]
[[setups]]
id = "wash-close"
place = "launderette"
rig_minutes = 20
relight_minutes = 6
rig_group = "bulb"
bars = [[9, 16]]
people = ["Ilse Quarry"]
[[setups]]
id = "lamps"
place = "quay"
purpose = "b-roll"
rig_minutes = 5
light_of = ["night"]
passes = 40
[[setups]]
id = "powder"
place = "quay"
must = true
rig_minutes = 10
state = 1
light_of = ["night"]
effects = ["powder"]
passes = 2
people = ["Ilse Quarry"]
[[days]]
id = "night"
date = "2026-11-20"
zone = "Europe/Lisbon"
call = "16:30"
latest_wrap = "20:45"
start_place = "stairway"
awake_since = "04:00"
drive_home_minutes = 30
air = [{ from = "16:00", air_c = 12.0 }, { from = "19:30", air_c = 4.0, wind_m_s = 5.0 }]
"#;

fn project(folder: &Path, plan: &str) -> String {
    common::project(folder, plan, 20)
}

fn ids(day: &serde_json::Value, list: &str, name: &str) -> Vec<String> {
    let all = day[list].as_array().unwrap().iter();
    all.map(|one| one[name].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn the_day_is_planned_by_sky_doors_and_people() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let report = json(&run(&["day", &dir, "--json"]));
    let day = &report["days"][0];
    assert_eq!(day["status"], "best");
    assert_eq!(day["value"], day["bound"]);
    // Dry before wet, clean before powdered; the forty passes of lamps are too long for the night.
    assert_eq!(
        ids(day, "order", "setup"),
        ["stairs", "wash-close", "wash-wide", "powder"]
    );
    assert_eq!(ids(day, "left_out", "setup"), ["lamps"]);
    let why = day["left_out"][0]["why"].to_string();
    assert!(
        why.contains("can't all be shot") || why.contains("there is not the time"),
        "{why}"
    );
    let stairs = &day["order"][0];
    // Golden hour of the place on the date: the sun from +6 to -4 degrees, 16:31 to 17:30 in whole minutes
    // (`barebulb sky`, which is checked against skyfield), then the blue hour.
    let light = stairs["light"].to_string();
    assert!(light.contains("16:3") && light.contains("17:4"), "{light}");
    // The minor goes home at eight, the launderette closes then.
    let wide = &day["order"][2];
    assert!(wide["end"].as_str().unwrap() <= "20:00");
    assert_eq!(day["order"][2]["relit"], true);
    let kinds: Vec<String> = ids(day, "cautions", "kind");
    for wanted in ["minor", "awake", "cold"] {
        assert!(kinds.contains(&wanted.to_owned()), "{kinds:?}");
    }
    let late = &day["late"]["rows"][0]["cells"];
    assert_eq!(late.as_array().unwrap().len(), 5);
}

#[test]
fn the_day_reads_well_at_any_width() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    for columns in [40, 80, 100] {
        let output = barebulb()
            .env("COLUMNS", columns.to_string())
            .args(["day", &dir])
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        for line in text.lines() {
            assert!(line.chars().count() <= columns, "{columns}: {line}");
        }
        if columns == 80 {
            let upto = text.find("\n\n4 °C").unwrap_or(text.len());
            insta::assert_snapshot!(&text[..upto]);
        }
    }
}

#[test]
fn it_is_kept_checked_replanned_explained_and_written_as_a_calendar() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let ics = folder.path().join("night.ics").display().to_string();
    let kept = run(&["day", &dir, "--keep", "--ics", &ics, "--json"]);
    assert!(kept.status.success(), "{}", told(&kept, folder.path()));
    let calendar = std::fs::read_to_string(&ics).unwrap();
    assert!(calendar.starts_with("BEGIN:VCALENDAR\r\n") && calendar.ends_with("END:VCALENDAR\r\n"));
    // Lisbon keeps UTC in November: the call is at 16:30 UTC.
    assert!(calendar.contains("DTSTART:20261120T163000Z"), "{calendar}");
    assert_eq!(calendar.matches("BEGIN:VEVENT").count(), 5);

    // What was kept breaks nothing, and is found again.
    let again = json(&run(&["day", &dir, "--json"]));
    assert_eq!(
        again["days"][0]["typed"].as_array().unwrap().len(),
        0,
        "{}",
        again["days"][0]["typed"]
    );
    let exported = String::from_utf8(run(&["plan", "export", &dir]).stdout).unwrap();
    assert!(exported.contains("[[days.order]]") && exported.contains("setup = \"powder\""));

    let now = json(&run(&[
        "day",
        &dir,
        "--now",
        "19:00",
        "--done",
        "stairs,wash-wide",
        "--at",
        "launderette",
        "--json",
    ]));
    assert_eq!(
        ids(&now["days"][0], "order", "setup"),
        ["wash-close", "powder"]
    );
    assert_eq!(now["days"][0]["from"], "19:00");
    // The rig still stands.
    assert_eq!(now["days"][0]["order"][0]["relit"], true);

    let why = String::from_utf8(run(&["day", &dir, "--why", "powder"]).stdout).unwrap();
    assert!(
        why.contains("`powder` shoots from") && why.contains("can't be as before"),
        "{why}"
    );
    let why = String::from_utf8(run(&["day", &dir, "--why", "lamps"]).stdout).unwrap();
    assert!(why.contains("`lamps` is not in this day"), "{why}");
}

fn slot(dir: &str, setup: &str) -> Vec<String> {
    let exported = String::from_utf8(run(&["plan", "export", dir]).stdout).unwrap();
    let slots = exported.split("[[days.order]]").skip(1);
    let named = format!("setup = \"{setup}\"");
    let own = slots.filter(|slot| slot.contains(&named));
    let lines = |slot: &str| -> Vec<String> {
        let lines = slot.lines().map(str::trim).filter(|line| !line.is_empty());
        lines
            .take_while(|line| !line.starts_with('['))
            .map(str::to_owned)
            .collect()
    };
    own.map(lines).next().unwrap_or_default()
}

#[test]
fn a_setup_is_pinned_and_let_go() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let output = run(&["day", &dir, "--pin", "powder=20:20", "--json"]);
    let report = json(&output);
    let order = report["days"][0]["order"].as_array().unwrap();
    let powder = order
        .iter()
        .find(|strip| strip["setup"] == "powder")
        .unwrap();
    assert_eq!(
        (&powder["shoot"], &powder["pinned"]),
        (&"20:20".into(), &true.into())
    );
    let notes = report["notes"].to_string();
    assert!(notes.contains("pinned so"), "{notes}");
    // Ten minutes of rig; two passes of the whole song of 40.5 s with two minutes after each
    // are 2 × (40.5 s + 2 min) = 5.35 min.
    let kept = slot(&dir, "powder");
    for line in [
        "start = \"20:10\"",
        "shoot = \"20:20\"",
        "end = \"20:26\"",
        "pinned = true",
    ] {
        assert!(kept.contains(&line.to_owned()), "{kept:?}");
    }
    let moved = run(&["day", &dir, "--pin", "powder=20:15-20:40"]);
    assert!(moved.status.success(), "{}", told(&moved, folder.path()));
    assert!(slot(&dir, "powder").contains(&"end = \"20:40\"".to_owned()));
    assert!(run(&["day", &dir, "--unpin", "powder"]).status.success());
    assert!(!slot(&dir, "powder").contains(&"pinned = true".to_owned()));

    let before = run(&["plan", "export", &dir]).stdout;
    for (arguments, says) in [
        (
            ["--pin", "powdr=20:10"],
            "there is no setup `powdr` in this project; did you mean `powder`?",
        ),
        (
            ["--unpin", "powder"],
            "`powder` is not pinned on the day `night`, so there is nothing to let go",
        ),
        (
            ["--pin", "powder=20:10-20:00"],
            "`powder` can't end at 20:00 when its shoot begins at 20:10; ",
        ),
    ] {
        let output = run(&["day", &dir, arguments[0], arguments[1]]);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        let said = sentence(&output, folder.path());
        assert!(said.starts_with(&format!("barebulb: {says}")), "{said}");
    }
    assert_eq!(
        run(&["day", &dir, "--pin", "powder"]).status.code(),
        Some(2)
    );
    assert_eq!(run(&["plan", "export", &dir]).stdout, before);
}

#[test]
fn a_day_that_cannot_be_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let plan = PLAN.replace(
        "access = [[\"18:30\", \"20:00\"]]",
        "access = [[\"16:40\", \"17:20\"]]",
    );
    let dir = project(folder.path(), &plan);
    let output = run(&["day", &dir]);
    assert_eq!(output.status.code(), Some(1));
    insta::assert_snapshot!(String::from_utf8(output.stdout).unwrap());
}

#[test]
fn clocks_that_change_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let plan = PLAN
        .replace("2026-11-20", "2026-10-24")
        .replace("call = \"16:30\"", "call = \"22:00\"")
        .replace("latest_wrap = \"20:45\"", "latest_wrap = \"27:00\"")
        .replace(
            "light_of = [\"golden-hour\", \"blue-hour\"]",
            "light_of = [\"night\"]",
        )
        .replace(
            "access = [[\"18:30\", \"20:00\"]]",
            "access = [[\"22:00\", \"26:30\"]]",
        )
        .replace(
            "hours = [[\"16:00\", \"20:00\"]]",
            "hours = [[\"16:00\", \"27:00\"]]",
        )
        .replace("passes = 40", "passes = 90");
    let dir = project(folder.path(), &plan);
    let output = run(&["day", &dir, "--json"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        said.contains("clocks are changed on this night: 02:00 (+1) becomes 01:00 (+1)"),
        "{said}"
    );
    let day = &json(&output)["days"][0];
    // 22:00 to 27:00 by the clock is six hours of night: an hour more than it shows. Ninety passes of
    // 40.5 s with two minutes between take four hours and a little more.
    assert!(
        ids(day, "order", "setup").contains(&"lamps".to_owned()),
        "{day}"
    );
}

#[test]
fn the_bare_problem_is_answered() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("day.json");
    let write = |text: &str| std::fs::write(&file, text).unwrap();
    let instance = r#"{"call": 1050, "latest_wrap": 1200, "start_place": "p", "travel_minutes": {"p": {"q": 25}, "q": {"p": 25}},
        "setups": [
            {"id": "a", "place": "p", "rig_minutes": 10, "relight_minutes": 0, "shoot_minutes": 15, "rig_group": null,
             "access": null, "light": [[1058, 1079]], "must": true, "state": 0, "after": [], "bars": [0, 1]},
            {"id": "b", "place": "q", "rig_minutes": 10, "relight_minutes": 0, "shoot_minutes": 20, "rig_group": null,
             "access": [[1050, 1200]], "light": null, "must": false, "state": 0, "after": [], "bars": [1]}],
        "meal": null, "bar_values": [2, 3], "option_values": [10, 4]}"#;
    write(instance);
    let path = file.display().to_string();
    let answer = json(&run(&["day", "--instance", &path, "--json"]));
    assert_eq!(
        answer,
        serde_json::json!({"status": "best", "value": 62, "bound": 62, "wrap": 1130, "moves": 1, "meal_start": null,
            "order": [
                {"id": "a", "start": 1050, "shoot_start": 1060, "end": 1075},
                {"id": "b", "start": 1100, "shoot_start": 1110, "end": 1130}],
            "reasons": []})
    );

    let mut text = String::new();
    let change = |from: &str, to: &str| instance.replacen(from, to, 1);
    let many: Vec<String> = (0..200)
        .map(|n| format!(r#"{{"id": "s{n}", "place": "p", "rig_minutes": 1, "shoot_minutes": 1}}"#))
        .collect();
    for bad in [
        "not json".into(),
        change("\"setups\"", "\"setup\""),
        change("\"call\": 1050", "\"call\": \"17:30\""),
        change("\"call\": 1050", "\"call\": 1050.5"),
        change("\"latest_wrap\": 1200", "\"latest_wrap\": 900"),
        change("\"rig_minutes\": 10", "\"rig_minutes\": -10"),
        change("\"id\": \"b\"", "\"id\": \"a\""),
        change("\"q\": {\"p\": 25}", "\"q\": {}"),
        change("\"after\": []", "\"after\": [\"a\"]"),
        change("\"after\": []", "\"after\": [\"z\"]"),
        change("[[1058, 1079]]", "[[1079, 1058]]"),
        change("[0, 1]", "[0, 7]"),
        format!(
            r#"{{"call": 0, "latest_wrap": 900, "setups": [{}], "bar_values": [], "option_values": []}}"#,
            many.join(",")
        ),
    ] {
        write(&bad);
        let output = run(&["day", "--instance", &path, "--json"]);
        assert_eq!(output.status.code(), Some(1), "{bad}");
        let told: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        assert!(told["error"].is_string(), "{told}");
        text += &sentence(&output, folder.path());
        text.push('\n');
    }
    // What can't be is an answer, not a fault.
    for (from, to) in [
        ("[[1058, 1079]]", "[]"),
        ("[[1058, 1079]]", "[[1058, 1070]]"),
    ] {
        write(&change(from, to));
        let answer = json(&run(&["day", "--instance", &path, "--json"]));
        assert_eq!(answer["status"], "impossible");
        text += &format!("{}\n", answer["reasons"]);
    }
    insta::assert_snapshot!("bad_instances", text);
}

#[test]
fn what_is_wrong_with_a_day_is_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let empty = folder.path().join("empty").display().to_string();
    assert!(run(&["new", &empty]).status.success());
    let mut text = String::new();
    for arguments in [
        vec!["day", &empty],
        vec!["day", &dir, "--day", "morning"],
        vec!["day", &dir, "--now", "19:00", "--done", "stair"],
        vec!["day", &dir, "--now", "19:00", "--at", "beach"],
        vec!["day", &dir, "--why", "stair"],
        vec!["day", &dir, "--now", "25 o'clock"],
    ] {
        let output = run(&arguments);
        assert!(!output.status.success(), "{arguments:?}");
        let said = String::from_utf8_lossy(&output.stderr)
            .replace(&folder.path().display().to_string(), "FOLDER");
        let line = said
            .lines()
            .find(|line| line.contains("barebulb:") || line.contains("error:"));
        text += line.unwrap_or(&said);
        text.push('\n');
    }
    for (from, to) in [
        (
            "place = \"quay\"\npurpose",
            "after = [\"powder\"]\nplace = \"quay\"\npurpose",
        ),
        (
            "light_of = [\"night\"]\neffects",
            "light_of = [\"dusk\"]\neffects",
        ),
        ("awake_since", "meal_minutes = 9999\nawake_since"),
        ("start_place = \"stairway\"", "start_place = \"moon\""),
        ("latest_wrap = \"20:45\"", "latest_wrap = \"08:45\""),
    ] {
        let plan = PLAN
            .replace(from, to)
            .replace("state = 1", "state = 1\nafter = [\"lamps\"]");
        let typed = folder.path().join("bad.toml");
        std::fs::write(&typed, plan).unwrap();
        let output = run(&["plan", "import", &dir, &typed.display().to_string()]);
        assert!(!output.status.success(), "{to}");
        text += &sentence(&output, folder.path());
        text.push('\n');
    }
    insta::assert_snapshot!("bad_days", text);
}

#[test]
fn several_days_share_the_setups_and_leave_rest() {
    let folder = tempfile::tempdir().unwrap();
    let second = "[[days]]\nid = \"morrow\"\ndate = \"2026-11-21\"\nzone = \"Europe/Lisbon\"\ncall = \"06:00\"\nlatest_wrap = \"24:00\"\n";
    // The stairs can't be had on the first evening.
    let plan = PLAN.replace("call = \"16:30\"", "call = \"18:00\"") + second;
    let dir = project(folder.path(), &plan);
    let output = run(&["day", &dir, "--json"]);
    let report = json(&output);
    let days = report["days"].as_array().unwrap();
    let (first, next) = (
        ids(&days[0], "order", "setup"),
        ids(&days[1], "order", "setup"),
    );
    assert!(
        next.contains(&"stairs".to_owned()) && !first.contains(&"stairs".to_owned()),
        "{first:?} {next:?}"
    );
    assert!(first.iter().all(|id| !next.contains(id)));
    // Ten hours before six in the morning.
    assert_eq!(days[0]["latest_wrap"], "20:00");
    let notes = days[0]["notes"].to_string();
    assert!(notes.contains("600 min before the next call"), "{notes}");
}

#[test]
fn what_runs_short_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let kit = "[[kit]]\nid = \"camera\"\nsort = \"camera\"\nfed_by = [\"cell\"]\ncamera = { sensor_mm = [24.89, 14.0], frame = [1920, 1080], base_iso = [800], draws_w = 30.0 }\n\
        [[kit]]\nid = \"cell\"\nsort = \"power\"\nfeeds = [\"cell\"]\nbattery = { wh = 3.0 }\n";
    let plan = PLAN.replace("[[days]]", &format!("{kit}[[days]]")).replace(
        "rig_minutes = 20\nlight_of",
        "rig_minutes = 20\noptics = { camera = \"camera\" }\nlight_of",
    );
    let dir = project(folder.path(), &plan);
    let report = json(&run(&["day", &dir, "--json"]));
    let conflicts = report["days"][0]["conflicts"].to_string();
    assert!(
        conflicts.contains("in `stairs`") && conflicts.contains("cell"),
        "{conflicts}"
    );
}

#[cfg(unix)]
#[test]
fn stopped_it_gives_the_best_so_far() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("long.json");
    let setups: Vec<serde_json::Value> = (0..50)
        .map(|n| {
            serde_json::json!({"id": format!("s{n}"), "place": format!("p{}", n % 5), "rig_minutes": n % 7 + 3,
                "relight_minutes": 2, "shoot_minutes": n % 11 + 5, "rig_group": "g", "must": false, "state": 0,
                "bars": [n % 40, (n * 7) % 40, (n * 3) % 40]})
        })
        .collect();
    let ways: serde_json::Map<String, serde_json::Value> = (0..5)
        .map(|from| {
            let to = (0..5)
                .map(|to| (format!("p{to}"), (10 + (from + to) % 5).into()))
                .collect();
            (format!("p{from}"), serde_json::Value::Object(to))
        })
        .collect();
    let instance = serde_json::json!({"call": 0, "latest_wrap": 400, "travel_minutes": ways, "setups": setups,
        "bar_values": vec![3; 40], "option_values": [10, 6, 3, 1]});
    std::fs::write(&file, instance.to_string()).unwrap();
    let child = barebulb()
        .args([
            "day",
            "--instance",
            &file.display().to_string(),
            "--seconds",
            "3600",
            "--json",
        ])
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(1500));
    let stopped = std::process::Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(stopped.unwrap().success());
    let answer = json(&child.wait_with_output().unwrap());
    assert_eq!(answer["status"], "feasible");
    assert!(
        answer["value"].as_u64() > Some(0) && answer["bound"].as_u64() >= answer["value"].as_u64()
    );
}
