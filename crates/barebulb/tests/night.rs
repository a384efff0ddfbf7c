//! Light, power, packing, cautions, sky and playback from a typed plan, with the real program.

mod common;

use common::{barebulb, json, run, sentence, told};
use std::path::Path;

const PLAN: &str = r#"
states = ["clean", "powdered"]
[brief]
rate = 24
frame = [1920, 1080]
[[places]]
id = "quay"
name = "Cais da Tinta"
position_deg = [41.1402, -8.6186]
zone = "Europe/Lisbon"
mains_hz = 50
hazards = [{ danger = "water", distance_m = 1.0, water_c = 12.0 }]
[[kit]]
id = "camera"
sort = "camera"
weight_kg = 1.5
fed_by = ["cell"]
camera = { sensor_mm = [24.89, 14.0], frame = [1920, 1080], base_iso = [800], draws_w = 10.0, recordings = [{ rate = 24, mbit_s = 100.0 }, { rate = 60, mbit_s = 200.0 }] }
[[kit]]
id = "lens"
sort = "lens"
lens = { focal_mm = [35.0, 35.0], t_stop = 1.5 }
[[kit]]
id = "cell"
sort = "power"
count = 2
feeds = ["cell"]
battery = { wh = 10.0 }
[[kit]]
id = "block"
sort = "power"
feeds = ["d-tap"]
battery = { wh = 98.0, most_w = 120.0 }
[[kit]]
id = "inverter"
sort = "power"
fed_by = ["d-tap"]
feeds = ["mains"]
inverter = { efficiency = 0.88, most_w = 150.0 }
[[kit]]
id = "lamp"
sort = "light"
fed_by = ["mains"]
light = { candela = 1000.0, full_w = 100.0, kelvin = 3200.0 }
[[kit]]
id = "card"
sort = "card"
card = { gigabytes = 64.0 }
[[setups]]
id = "wide"
place = "quay"
passes = 3
rig_minutes = 40
optics = { camera = "camera", lens = "lens", iso = 800, subject_m = 3.0 }
ambient = { face_lux = 2.0, background_lux = 1.0 }
lights = [{ light = "lamp", distance_m = 5.0, fed_from = "inverter" }]
[[setups]]
id = "slow"
place = "quay"
shot_rate = 60
pitch_kept = false
state = 1
effects = ["powder"]
bars = [[2, 45]]
optics = { camera = "camera", lens = "lens", iso = 800 }
[[days]]
id = "night"
date = "2026-11-20"
call = "20:00"
zone = "Europe/Lisbon"
air_c = 5.0
"#;

fn project(folder: &Path, plan: &str) -> String {
    common::project(folder, plan, 48)
}

#[test]
fn the_kit_says_what_the_night_needs() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let kit = json(&run(&["kit", &dir, "--json", "--by-air", "2"]));

    // 250 lux × N² / (t ISO): T1.5, 1/48 s, ISO 800 (ISO 2720's constant for a flat receptor).
    let wide = &kit["setups"][0];
    let correct = wide["camera"]["correct_lux"].as_f64().unwrap();
    assert!((correct - 250.0 * 2.25 * 48.0 / 800.0).abs() < 1e-6);
    // 1000 cd at 5 m is 40 lux.
    assert!((wide["face"]["lux"].as_f64().unwrap() - 42.0).abs() < 1e-6);
    // 60 shown at 24: log2(2.5) = 1.3219 stops.
    let slow = &kit["setups"][1]["off_speed"];
    assert!((slow["lost_stops"].as_f64().unwrap().abs() - 1.3219).abs() < 1e-3);

    let power = &kit["days"][0]["power"];
    for one in power["ledger"].as_array().unwrap() {
        let of = |name: &str| one[name].as_f64().unwrap();
        let balance = of("start_wh") + of("charged_wh") - of("drawn_wh") - of("left_wh");
        assert!(balance.abs() < 0.001 * of("start_wh"), "{one}");
    }
    // The song's 20 bars fill the card by megabits and minutes.
    assert!(kit["days"][0]["cards"]["needed_gb"].as_f64().unwrap() > 0.1);

    let kinds: Vec<&str> = kit["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["kind"].as_str().unwrap())
        .collect();
    for wanted in ["electricity-and-water", "powder", "cold-water"] {
        assert!(kinds.contains(&wanted), "{kinds:?}");
    }
    let carried = kit["carriage"].to_string();
    assert!(carried.contains("airline"), "{carried}");
    let packed = kit["packing"]["loads"].to_string();
    for item in ["camera", "lens", "inverter", "lamp", "block"] {
        assert!(packed.contains(&format!("\"{item}\"")), "{item}");
    }

    // The summary says what stands in detail below it.
    let summary = &kit["summary"];
    assert_eq!(
        summary["cautions"].as_u64().unwrap() as usize,
        kit["cautions"].as_array().unwrap().len()
    );
    // Of the other setup's light nothing is known.
    assert_eq!(summary["darkest"]["setup"], "wide");
    assert_eq!(
        summary["darkest"]["stops_in_hand"],
        wide["face"]["gap_stops"]
    );
    assert!(kit["setups"][1]["face"]["gap_stops"].is_null());
    let text = String::from_utf8(run(&["kit", &dir]).stdout).unwrap();
    assert!(
        text.starts_with("IN SHORT") && text.contains("TO MIND"),
        "{text}"
    );
}

/// What the program prints in a terminal so wide.
fn at_width(columns: &str, arguments: &[&str]) -> String {
    let output = barebulb()
        .env("COLUMNS", columns)
        .args(arguments)
        .output()
        .expect("the program starts");
    assert!(output.status.success());
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_kit_reads_well_at_any_width() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let words =
        |text: &str| -> Vec<String> { text.split_whitespace().map(str::to_owned).collect() };
    let wide = at_width("100", &["kit", &dir, "--by-air", "2"]);
    for (columns, most) in [("40", 40), ("80", 80), ("100", 100)] {
        let text = at_width(columns, &["kit", &dir, "--by-air", "2"]);
        for line in text.lines() {
            // A word longer than the line stands alone.
            let alone = line.split_whitespace().count() <= 1;
            assert!(line.chars().count() <= most || alone, "{columns}: {line}");
        }
        // Nothing is lost and no word is broken.
        assert_eq!(words(&text), words(&wide), "{columns}");
    }
    insta::assert_snapshot!("kit_in_40_columns", at_width("40", &["kit", &dir]));
    insta::assert_snapshot!("kit_in_80_columns", at_width("80", &["kit", &dir]));
}

#[test]
fn the_kit_of_a_part_of_the_night() {
    let folder = tempfile::tempdir().unwrap();
    let second = "[[places]]\nid = \"hall\"\nname = \"Hall\"\ninterior = true\nmains = { volts = 230.0, amperes = 16.0 }\n[[kit]]\nid = \"tripod\"\nsort = \"support\"\n[[setups]]\nid = \"inside\"\nplace = \"hall\"\npurpose = \"b-roll\"\nkit = [{ item = \"tripod\" }]\noptics = { camera = \"camera\", lens = \"lens\", iso = 800 }\nambient = { background_lux = 80.0 }\n[[days]]\nid = \"later\"\ndate = \"2026-11-21\"\ncall = \"19:00\"\norder = [{ setup = \"inside\", start = \"19:00\", end = \"19:30\" }]\n";
    let dir = project(folder.path(), &format!("{PLAN}{second}"));
    let ids = |kit: &serde_json::Value, list: &str, id: &str| -> Vec<String> {
        let of = |one: &serde_json::Value| one[id].as_str().unwrap().to_owned();
        kit[list].as_array().unwrap().iter().map(of).collect()
    };
    let whole = json(&run(&["kit", &dir, "--json"]));
    assert_eq!(ids(&whole, "setups", "setup"), ["wide", "slow", "inside"]);
    assert_eq!(ids(&whole, "days", "day"), ["night", "later"]);

    let hall = json(&run(&["kit", &dir, "--json", "--place", "hall"]));
    assert_eq!(ids(&hall, "setups", "setup"), ["inside"]);
    assert_eq!(ids(&hall, "days", "day"), ["later"]);
    assert_eq!(hall["packing"]["loads"].as_array().unwrap().len(), 1);
    let getting = hall["packing"]["getting"].to_string();
    assert!(getting.contains("tripod") && !getting.contains("inverter"));
    assert!(!hall["cautions"].to_string().contains("cold-water"));

    let night = json(&run(&["kit", &dir, "--json", "--day", "night"]));
    assert_eq!(ids(&night, "setups", "setup"), ["wide", "slow"]);
    // One setup of two, and the figures of the whole night's batteries beside it.
    let wide = json(&run(&[
        "kit", &dir, "--json", "--setup", "wide", "--day", "night",
    ]));
    assert_eq!(ids(&wide, "setups", "setup"), ["wide"]);
    let power = &wide["days"][0]["power"];
    assert_eq!(power["slots"].as_array().unwrap().len(), 1);
    assert_eq!(wide["summary"]["days"], night["summary"]["days"]);
    let both = json(&run(&[
        "kit", &dir, "--json", "--setup", "wide", "--setup", "inside",
    ]));
    assert_eq!(ids(&both, "setups", "setup"), ["wide", "inside"]);

    for (arguments, wanted) in [
        (["--setup", "none"].as_slice(), "no setup `none`"),
        (&["--place", "moon"], "no place `moon`"),
        (&["--day", "never"], "no day `never`"),
        (
            &["--setup", "wide", "--place", "hall"],
            "no setup of the plan is in setup `wide` and place `hall`",
        ),
    ] {
        let output = run(&[&["kit", dir.as_str()], arguments].concat());
        assert_eq!(output.status.code(), Some(1));
        let said = sentence(&output, folder.path());
        assert!(said.contains(wanted), "{said}");
    }
}

#[test]
fn playback_lies_where_it_says() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let made = json(&run(&["playback", &dir, "--json"]));
    let files = made["files"].as_array().unwrap();
    assert_eq!(files.len(), 2);
    assert_eq!(files[0]["speed"], "1");
    assert_eq!(files[1]["speed"], "5/2");
    // The pitch-kept way is judged on the demo's song by checks/playback.
    assert_eq!(files[1]["pitch_kept"], false);
    for file in files {
        let of = |name: &str| file[name].as_f64().unwrap();
        assert!(of("true_peak_dbtp") <= -1.0, "{file}");
        assert!(of("head_beep_s") < file["clicks_s"][0].as_f64().unwrap());
        assert!(of("stretch_end_s") < of("tail_beep_s") && of("tail_beep_s") < of("length_s"));
        // The stretch lasts its song time over the speed.
        let path = Path::new(&dir).join(file["file"].as_str().unwrap());
        assert!(path.is_file());
        let song = folder.path().join("song.wav").display().to_string();
        let path = path.display().to_string();
        let placed = json(&run(&["sync", "--song", &song, &path, "--json"]));
        let run = &placed["takes"][0]["runs"][0];
        assert!(run.is_object(), "{file}\n{placed}");
        let heard = |name: &str| run[name].as_f64().unwrap();
        // Where the file says the song stands at the stretch's start, sync hears it.
        let song_there = heard("song_start_s")
            + (of("stretch_start_s") - heard("take_start_s")) * heard("speed");
        let off = (song_there - of("song_at_stretch_s")) / heard("speed");
        assert!(off.abs() <= 0.001, "{off} {file}");
    }
    assert!(
        sentence(&run(&["playback", &dir, "--setup", "none"]), folder.path())
            .contains("no setup `none`")
    );
}

#[test]
fn the_sky_stands_over_the_places_of_a_project() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let sky = json(&run(&["sky", &dir, "--json", "--at", "18:00"]));
    let quay = &sky["places"][0];
    assert_eq!(quay["place"], "quay");
    assert_eq!(quay["day"], "night");
    let sunset = quay["sun"]["sunset"].as_str().unwrap();
    assert!(sunset.starts_with("2026-11-20T17:1"), "{sunset}");
    assert!(
        String::from_utf8(run(&["sky", &dir]).stdout)
            .unwrap()
            .contains("Cais da Tinta")
    );
    assert!(
        sentence(&run(&["sky", &dir, "--place", "moon"]), folder.path())
            .contains("no place `moon`")
    );
}

#[test]
fn impossible_kit_is_refused_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN);
    let mut text = String::new();
    for (what, from, to) in [
        ("no light", "candela = 1000.0", "candela = 0.0"),
        ("no aperture", "t_stop = 1.5", "t_stop = 0.0"),
        ("no sensitivity", "iso = 800, subject", "iso = 0, subject"),
        (
            "a lens inside out",
            "focal_mm = [35.0, 35.0]",
            "focal_mm = [-35.0, 35.0]",
        ),
        ("an empty battery", "wh = 98.0", "wh = 0.0"),
        (
            "an inverter that gives nothing",
            "efficiency = 0.88",
            "efficiency = 0.0",
        ),
        ("a rate of nothing", "shot_rate = 60", "shot_rate = 0"),
        ("a rate beyond any", "shot_rate = 60", "shot_rate = 2400"),
        (
            "a light that is not in the kit",
            "light = \"lamp\"",
            "light = \"lapm\"",
        ),
        (
            "north of the pole",
            "[41.1402, -8.6186]",
            "[141.1402, -8.6186]",
        ),
        ("no such clock", "call = \"20:00\"", "call = \"20:75\""),
        (
            "a day that is none",
            "date = \"2026-11-20\"",
            "date = \"2026-11-31\"",
        ),
        (
            "a danger unheard of",
            "danger = \"water\"",
            "danger = \"sharks\"",
        ),
    ] {
        let typed = folder.path().join("bad.toml");
        assert!(PLAN.contains(from), "{from}");
        std::fs::write(&typed, PLAN.replacen(from, to, 1)).unwrap();
        let output = run(&["plan", "import", &dir, &typed.display().to_string()]);
        assert_eq!(
            output.status.code(),
            Some(1),
            "{what}: {}",
            told(&output, folder.path())
        );
        text += &format!("{what}\n    {}\n", sentence(&output, folder.path()));
    }
    insta::assert_snapshot!(text);
}

/// Of what nobody said, no figure is printed as if it were one, and no nought with a sign before it.
#[test]
fn a_bare_plan_gets_no_figures_that_nobody_gave() {
    let folder = tempfile::tempdir().unwrap();
    let plan = r#"
[[setups]]
id = "one"
[[days]]
id = "night"
date = "2026-11-20"
call = "17:00"
"#;
    let dir = project(folder.path(), plan);
    let text = told(&run(&["kit", &dir]), folder.path());
    assert!(text.contains("nothing is known to draw"), "{text}");
    assert!(text.contains("whether they last is not known"), "{text}");
    assert!(text.contains("0.0 GB to record"), "{text}");
    assert!(!text.contains("-0"), "{text}");
}
