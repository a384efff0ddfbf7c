//! The kit entered by command, and how one works changed: with the real program.

mod common;

use common::{json, run, sentence, told};
use std::path::Path;
use std::process::Output;

/// A quay, two setups, a night; the kit comes by command.
const PLAN: &str = r#"
[brief]
rate = 24
frame = [1920, 1080]
[[places]]
id = "quay"
name = "the quay"
position_deg = [41.1402, -8.6186]
zone = "Europe/Lisbon"
hazards = [{ danger = "edge", distance_m = 2.5 }]
[[setups]]
id = "wide"
place = "quay"
passes = 6
rig_minutes = 40
optics = { camera = "camera", lens = "lens", iso = 800, subject_m = 3.0, fed_from = "cell" }
ambient = { face_lux = 2.0, background_lux = 1.0 }
lights = [{ light = "lamp", distance_m = 5.0, fed_from = "inverter" }]
[[days]]
id = "night"
date = "2026-11-20"
call = "20:00"
zone = "Europe/Lisbon"
air_c = 5.0
"#;

struct Kit {
    folder: tempfile::TempDir,
}

impl Kit {
    fn new() -> Self {
        let kit = Self {
            folder: tempfile::tempdir().unwrap(),
        };
        assert!(run(&["new", &kit.dir()]).status.success());
        kit
    }

    fn dir(&self) -> String {
        self.folder.path().join("video").display().to_string()
    }

    fn kit(&self, arguments: &str) -> Output {
        let dir = self.dir();
        let mut all = vec!["kit", dir.as_str()];
        all.extend(arguments.split_whitespace());
        run(&all)
    }

    /// What a command that must succeed says.
    fn says(&self, arguments: &str) -> String {
        let output = self.kit(arguments);
        let said = told(&output, self.folder.path());
        assert_eq!(output.status.code(), Some(0), "{arguments}: {said}");
        String::from_utf8(output.stdout).unwrap()
    }

    fn refuses(&self, arguments: &str) -> String {
        let output = self.kit(arguments);
        let said = told(&output, self.folder.path());
        assert_eq!(output.status.code(), Some(1), "{arguments}: {said}");
        assert!(!said.contains("panicked"), "{said}");
        sentence(&output, self.folder.path())
    }

    fn import(&self, plan: &str) -> Output {
        let typed = self.folder.path().join("plan.toml");
        std::fs::write(&typed, plan).unwrap();
        run(&["plan", "import", &self.dir(), &typed.display().to_string()])
    }

    /// Camera, lens, batteries, inverter, lamp and card, by command; then the plan that uses them.
    fn equipped() -> Self {
        let kit = Self::new();
        for one in [
            "--item camera --name camera --sensor 24.89x14 --frame 1920x1080 --base-iso 800 --watts 10 --records 24:100 --fed-by cell --weight 1.5",
            "--item lens --name lens --focal 35 --t-stop 1.5",
            "--item cell --name cell --count 2 --wh 10 --feeds cell",
            "--item block --name block --wh 98 --output 120 --feeds d-tap",
            "--item inverter --name inverter --efficiency 88% --output 150 --fed-by d-tap --feeds mains",
            "--item lamp --name lamp --lux 1000@1 --watts 100 --kelvin 3200 --fed-by mains",
            "--item card --name card --gb 64",
        ] {
            kit.says(one);
        }
        let output = kit.import(PLAN);
        assert!(output.status.success(), "{}", told(&output, Path::new("/")));
        kit
    }
}

#[test]
fn things_of_the_kit_are_made_changed_and_dropped() {
    let kit = Kit::new();
    let mut text = String::new();
    for one in [
        "--item panel --name Panel --lux 575@2 --watts 60 --kelvin 5600 --fed-by d-tap --fed-by dc-15v",
        "--item panel --count 2 --holding rented --from hire-shop --cost 45.50 --back-by 2026-11-22 --weight 2.2",
        "--item panel --count 2",
        "--item panel --candela 9000 --watts 72",
        "--item block --name block --wh 98 --chemistry lithium-iron-phosphate --usable 0.85 --charged 80% --output 120 --feeds d-tap",
        "--item inverter --name inverter --efficiency 0.88 --idle 6 --output 150",
        "--item bay --name bay --into 40 --bays 2 --efficiency 85%",
        "--item card --name card --gb 128",
        "--item zoom --name zoom --focal 24-70 --t-stop 3.1 --close-focus 0.38",
        "--item mist --name mist --stops 0.3 --diffusion",
        "--item body --name body --sensor 36x20.25 --frame 3840x2160 --base-iso 800 --base-iso 4000 --watts 11 --records 25:100 --records 50:200",
        "--item speaker --name speaker --sort sound --watts 15 --always --remark loud",
        "--drop speaker",
    ] {
        text += &format!("{one}\n    {}", kit.says(one));
    }
    insta::assert_snapshot!(text);

    let changed = json(&kit.kit("--item panel --count 3 --json"));
    assert_eq!(changed["item"]["light"]["candela"], 9000.0);
    assert_eq!(
        changed["changed"],
        serde_json::json!([{ "field": "count", "was": 2, "now": 3 }])
    );
    assert!(changed["says"].as_str().unwrap().contains("count 3"));
    // Each is one change, which goes back in one step.
    assert!(run(&["plan", "undo", &kit.dir()]).status.success());
    assert!(kit.says("--item panel --count 2").contains("as it was"));
}

#[test]
fn what_cannot_be_is_one_sentence() {
    let kit = Kit::equipped();
    let before = run(&["plan", "export", &kit.dir()]).stdout;
    let mut text = String::new();
    for (what, arguments) in [
        ("an empty battery", "--item block --wh 0"),
        ("less than empty", "--item block --charged -10%"),
        ("fuller than full", "--item block --charged 1.2"),
        ("a negative focal length", "--item lens --focal -35"),
        ("a lens inside out", "--item lens --focal 70-24"),
        ("T0", "--item lens --t-stop 0"),
        ("ISO 0", "--item camera --base-iso 0"),
        (
            "an inverter that gives nothing",
            "--item inverter --efficiency 0%",
        ),
        (
            "an inverter that makes power",
            "--item inverter --efficiency 120%",
        ),
        ("no light", "--item lamp --candela 0"),
        ("none of it", "--item lamp --count 0"),
        ("weighs less than nothing", "--item lamp --weight -1"),
        ("no date", "--item lamp --back-by tomorrow"),
        ("a card of nothing", "--item card --gb 0"),
        ("two things at once", "--item lamp --wh 98"),
        (
            "a light without its draw",
            "--item new --name new --candela 900",
        ),
        (
            "a lens without its stop",
            "--item new --name new --focal 35",
        ),
        (
            "an inverter without output",
            "--item new --name new --idle 5",
        ),
        ("a new thing without name", "--item lmap --count 2"),
        ("a name that is none", "--item a/b --name x"),
        ("dropped while it is used", "--drop cell"),
        ("dropped and not there", "--drop lmap"),
        ("no such practice", "--practice batery_reserve=0.3"),
        ("a practice that is no number", "--practice trips=many"),
        (
            "more reserve than battery",
            "--practice battery_reserve=1.5",
        ),
        ("half a trip", "--practice trips=2.5"),
        ("no number at all", "--practice trip_kg=nan"),
        ("wind out of order", "--practice wind_weigh_m_s=9"),
        ("golden hour inside out", "--practice golden_to_deg=-5"),
        (
            "one good, one bad",
            "--practice trips=5 --practice trip_kg=0",
        ),
    ] {
        text += &format!("{what}\n    {}\n", kit.refuses(arguments));
    }
    insta::assert_snapshot!(text);
    assert_eq!(run(&["plan", "export", &kit.dir()]).stdout, before);

    for arguments in [
        "--count 2",
        "--item a --drop b",
        "--item a --practice trips=2",
        "--item a --wh lots",
        "--item a --wh nan",
        "--item a --sort gizmo",
        "--item a --holding stolen",
        "--item a --lux 100",
        "--item a --lux 100@0",
        "--item a --candela 5 --lux 100@1",
        "--item a --cost 1,50",
        "--item a --cost -5",
        "--practice trips",
    ] {
        let output = kit.kit(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments}");
    }
}

#[test]
fn a_load_over_the_output_is_told() {
    let kit = Kit::equipped();
    kit.says("--item lamp --watts 200");
    let findings = |arguments: &str| {
        let report = json(&kit.kit(arguments));
        report["days"][0]["power"]["findings"].to_string()
    };
    let said = findings("--json");
    assert!(
        said.contains(
            "`inverter` would have to give 200 W in `wide` and the inverter gives at most 150 W"
        ),
        "{said}"
    );
    kit.says("--item inverter --output 250");
    assert!(!findings("--json").contains("the inverter gives at most"));
}

#[test]
fn the_camera_is_fed_as_said_and_a_battery_comes_as_full_as_said() {
    let kit = Kit::equipped();
    kit.says("--item cell --charged 50%");
    let report = json(&kit.kit("--json"));
    let power = &report["days"][0]["power"];
    let ledger = power["ledger"].as_array().unwrap();
    let cell = ledger
        .iter()
        .find(|one| one["battery"] == "cell" || one["piece"]["battery"] == "cell")
        .unwrap_or_else(|| panic!("{power}"));
    assert_eq!(cell["start_wh"], 5.0);
    let consumers = power["draws"][0]["consumers"].as_array().unwrap();
    let camera = consumers
        .iter()
        .find(|one| one["item"] == "camera")
        .unwrap();
    assert_eq!(camera["feed"]["source"]["battery"], "cell");
    let twice = PLAN.replace(
        "lights =",
        "kit = [{ item = \"camera\", fed_from = \"block\" }]\nlights =",
    );
    let said = sentence(&kit.import(&twice), kit.folder.path());
    assert!(said.contains("say it once"), "{said}");
}

#[test]
fn how_one_works_is_seen_and_changed() {
    let kit = Kit::equipped();
    let usual = json(&kit.kit("--json"));
    let values = usual["practice"].as_array().unwrap();
    assert!(values.iter().all(|one| one["value"] == one["usual"]));
    assert!(!kit.says("").contains("NOT AS USUAL"));

    // By command: what follows goes by it.
    let output = kit
        .kit("--practice battery_reserve=0.35 --practice edge_m=3 --practice face_stops=-1 --json");
    let said = told(&output, kit.folder.path());
    assert!(
        said.contains(
            "err: from now on edge_m is 3 m (2 is usual)
"
        ),
        "{said}"
    );
    let changed = json(&output);
    assert_eq!(changed["setups"][0]["face"]["target_stops"], -1.0);
    let kinds = |report: &serde_json::Value| {
        let all = report["cautions"].as_array().unwrap();
        all.iter().any(|one| one["kind"] == "edge")
    };
    assert!(kinds(&changed) && !kinds(&usual));
    let text = kit.says("");
    let end = text.split("NOT AS USUAL\n").nth(1).unwrap();
    assert_eq!(
        end,
        "  face_stops is -1 stops (0 is usual)\n  battery_reserve is 0.35 share (0.2 is usual)\n  edge_m is 3 m (2 is usual)\n"
    );

    // By the plan, which is read and written.
    let output = kit.import("[practice]\ngolden_to_deg = 8\ntrips = 5\n");
    assert!(output.status.success());
    let plan = String::from_utf8(run(&["plan", "export", &kit.dir()]).stdout).unwrap();
    assert!(
        plan.contains("[practice]\ngolden_to_deg = 8.0\ntrips = 5\n"),
        "{plan}"
    );
    let sky = json(&run(&["sky", &kit.dir(), "--json"]));
    assert_eq!(
        sky["places"][0]["bands"]["golden_deg"],
        serde_json::json!([-4.0, 8.0])
    );

    // Back to what is usual, and one step further back by the history.
    let all = json(&kit.kit("--practices --json"));
    let of = |all: &serde_json::Value, name: &str| {
        let list = all["practice"].as_array().unwrap();
        list.iter().find(|one| one["name"] == name).unwrap().clone()
    };
    assert_eq!(of(&all, "trips")["value"], 5.0);
    assert_eq!(of(&all, "trips")["changed"], true);
    let all = json(
        &kit.kit("--practice trips=usual --practice lights_between_passes=no --practices --json"),
    );
    assert_eq!(of(&all, "trips")["value"], 3.0);
    assert_eq!(of(&all, "lights_between_passes")["value"], 0.0);
    insta::assert_snapshot!(kit.says("--practices"));
}
