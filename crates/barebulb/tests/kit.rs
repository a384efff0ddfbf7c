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

    /// Puts each `PATH=VALUE` into the document.
    fn set(&self, sets: &[&str]) {
        let dir = self.dir();
        let mut all = vec!["set", dir.as_str()];
        all.extend(sets);
        let output = run(&all);
        assert!(
            output.status.success(),
            "{}",
            told(&output, self.folder.path())
        );
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
            "camera name=camera sort=camera camera.sensor_mm=24.89x14 camera.frame=1920x1080 camera.base_iso=800 camera.draws_w=10W camera.recordings.1.rate=24 camera.recordings.1.mbit_s=100 fed_by=cell weight_kg=1.5",
            "lens name=lens sort=lens lens.focal_mm=35 lens.t_stop=1.5",
            "cell name=cell sort=power count=2 battery.wh=10 feeds=cell",
            "block name=block sort=power battery.wh=98 battery.most_w=120 feeds=d-tap",
            "inverter name=inverter sort=power inverter.efficiency=88% inverter.most_w=150 fed_by=d-tap feeds=mains",
            "lamp name=lamp sort=light light.candela=1000@1 light.full_w=100 light.kelvin=3200K fed_by=mains",
            "card name=card sort=card card.gigabytes=64",
        ] {
            let (id, sets) = one.split_once(' ').unwrap();
            let (dir, path) = (kit.dir(), format!("kit.{id}"));
            let mut all = vec!["add", dir.as_str(), path.as_str()];
            all.extend(sets.split(' '));
            let output = run(&all);
            assert!(output.status.success(), "{}", told(&output, Path::new("/")));
        }
        let output = kit.import(PLAN);
        assert!(output.status.success(), "{}", told(&output, Path::new("/")));
        kit
    }
}

#[test]
fn a_load_over_the_output_is_told() {
    let kit = Kit::equipped();
    kit.set(&["kit.lamp.light.full_w=200"]);
    let findings = |arguments: &str| {
        let report = json(&kit.kit(arguments));
        report["days"][0]["power"]["shortages"].to_string()
    };
    let said = findings("--json");
    assert!(
        said.contains(
            "in `wide` `inverter` would have to give 200 W and the inverter gives at most 150 W"
        ),
        "{said}"
    );
    kit.set(&["kit.inverter.inverter.most_w=250"]);
    assert!(!findings("--json").contains("the inverter gives at most"));
}

#[test]
fn the_camera_is_fed_as_said_and_a_battery_comes_as_full_as_said() {
    let kit = Kit::equipped();
    kit.set(&["kit.cell.battery.charged=50%"]);
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
    kit.set(&[
        "practice.battery_reserve=35%",
        "practice.edge_m=3",
        "practice.face_stops=-1",
    ]);
    let output = kit.kit("--json");
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

    // Back to what is usual.
    let of = |name: &str| {
        let report = json(&kit.kit("--json"));
        let list = report["practice"].as_array().unwrap().clone();
        list.into_iter().find(|one| one["name"] == name).unwrap()
    };
    assert_eq!(
        (&of("trips")["value"], &of("trips")["changed"]),
        (&5.0.into(), &true.into())
    );
    kit.set(&["practice.trips=", "practice.lights_between_passes=no"]);
    assert_eq!(
        (&of("trips")["value"], &of("trips")["changed"]),
        (&3.0.into(), &false.into())
    );
    assert_eq!(of("lights_between_passes")["value"], 0.0);
}
