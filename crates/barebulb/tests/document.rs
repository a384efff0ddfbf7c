//! Whatever the document holds, by its path: `get`, `set`, `add`, `remove`, with the real program.

mod common;

use common::{json, run, sentence, told};
use std::process::Output;

struct Video {
    folder: tempfile::TempDir,
}

impl Video {
    fn new() -> Self {
        let video = Self {
            folder: tempfile::tempdir().unwrap(),
        };
        assert!(run(&["new", &video.dir()]).status.success());
        video
    }

    fn dir(&self) -> String {
        self.folder.path().join("video").display().to_string()
    }

    fn does(&self, command: &str, arguments: &[&str]) -> Output {
        let dir = self.dir();
        let mut all = vec![command, dir.as_str()];
        all.extend(arguments);
        run(&all)
    }

    /// What a command that must succeed says.
    fn says(&self, command: &str, arguments: &[&str]) -> String {
        let output = self.does(command, arguments);
        let said = told(&output, self.folder.path());
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {said}");
        String::from_utf8(output.stdout).unwrap()
    }

    fn refuses(&self, command: &str, arguments: &[&str]) -> String {
        let output = self.does(command, arguments);
        let said = told(&output, self.folder.path());
        assert_eq!(output.status.code(), Some(1), "{arguments:?}: {said}");
        assert!(!said.contains("panicked"), "{said}");
        sentence(&output, self.folder.path())
    }

    fn plan(&self) -> Vec<u8> {
        run(&["plan", "export", &self.dir()]).stdout
    }
}

#[test]
fn a_thing_is_added_changed_read_and_taken_out() {
    let video = Video::new();
    let mut text = String::new();
    for (command, arguments) in [
        (
            "add",
            vec![
                "kit.panel",
                "name=LED panel",
                "sort=light",
                "light.candela=575 lx @ 2 m",
                "light.full_w=60 W",
                "fed_by=d-tap, dc-15v",
            ],
        ),
        (
            "set",
            vec![
                "kit.panel.count=2",
                "kit.panel.holding=borrowed",
                "kit.panel.cost_minor=1,900",
                "kit.panel.back_by=2026-11-22",
            ],
        ),
        (
            "add",
            vec![
                "places.quay",
                "name=the quay",
                "position_deg=41.1402, -8.6186",
                "hazards.1.danger=water",
            ],
        ),
        (
            "add",
            vec!["people.noor", "name=Noor Abelin", "hours=18:00–02:00"],
        ),
        (
            "add",
            vec!["setups.wide", "place=quay", "bars=9–16, 25", "people=noor"],
        ),
        (
            "set",
            vec![
                "brief.fee_minor=1.900,00",
                "brief.rate=23.976",
                "states=clean, powdered",
                "title=Paper Weather",
            ],
        ),
        ("get", vec!["kit.panel"]),
        ("get", vec!["kit.panel.light.candela"]),
        ("get", vec!["setups.wide.bars"]),
        ("get", vec!["practice.trips"]),
        ("get", vec![]),
        ("remove", vec!["kit.panel.back_by"]),
        ("remove", vec!["places.quay.hazards.1"]),
        ("remove", vec!["setups.wide"]),
    ] {
        text += &format!("{command} {}\n", arguments.join(" | "));
        for line in video.says(command, &arguments).lines() {
            text += &format!("    {line}\n");
        }
    }
    insta::assert_snapshot!(text);
    let read = json(&video.does("get", &["kit.panel", "--json"]));
    assert_eq!(read["value"]["light"]["candela"], 2300.0);
    assert_eq!(read["value"]["cost_minor"], 190_000);
}

#[test]
fn what_cannot_be_is_one_sentence_and_changes_nothing() {
    let video = Video::new();
    video.says("add", &["kit.lamp", "light.candela=900", "light.full_w=60"]);
    video.says("add", &["kit.cell", "battery.wh=98"]);
    video.says("add", &["places.quay", "name=the quay"]);
    video.says(
        "add",
        &[
            "setups.wide",
            "place=quay",
            "lights.1.light=lamp",
            "lights.1.distance_m=2",
        ],
    );
    let before = video.plan();
    let long = "9".repeat(1_000_000);
    let mut text = String::new();
    for (what, command, arguments) in [
        ("no such list", "set", vec!["kitt.lamp.count=2"]),
        ("no such thing", "set", vec!["kit.lmap.count=2"]),
        ("no such field", "set", vec!["kit.lamp.light.kelvins=3200"]),
        ("another unit", "set", vec!["kit.lamp.light.kelvin=3200 W"]),
        ("out of range", "set", vec!["kit.cell.battery.wh=0"]),
        (
            "fuller than full",
            "set",
            vec!["kit.cell.battery.charged=120%"],
        ),
        ("no number", "set", vec!["kit.lamp.light.kelvin=warm"]),
        ("not finite", "set", vec!["kit.lamp.light.kelvin=nan"]),
        ("half a lamp", "set", vec!["kit.lamp.count=2.5"]),
        (
            "a thousand or a little",
            "set",
            vec!["kit.lamp.light.candela=1,900"],
        ),
        ("no word", "set", vec!["kit.lamp.holding=stolen"]),
        ("no date", "set", vec!["kit.lamp.back_by=tomorrow"]),
        (
            "a lens without its stop",
            "add",
            vec!["kit.lens", "lens.focal_mm=35"],
        ),
        (
            "a lens inside out",
            "add",
            vec!["kit.lens", "lens.focal_mm=70-24", "lens.t_stop=2"],
        ),
        ("two things at once", "set", vec!["kit.lamp.battery.wh=98"]),
        ("another id", "set", vec!["kit.lamp.id=light"]),
        ("an id that is taken", "add", vec!["kit.lamp"]),
        ("an id that is none", "add", vec!["kit.a b"]),
        ("nothing to add to", "add", vec!["practice.x"]),
        (
            "a place that is not there",
            "set",
            vec!["setups.wide.place=quai"],
        ),
        ("still used", "remove", vec!["places.quay"]),
        ("gone already", "remove", vec!["kit.lens"]),
        (
            "wind out of order",
            "set",
            vec!["practice.wind_weigh_m_s=9"],
        ),
        (
            "one good, one bad",
            "set",
            vec!["kit.lamp.count=3", "kit.cell.count=0"],
        ),
        ("not by hand", "set", vec!["cuts=none"]),
        (
            "a number of a million digits",
            "set",
            vec!["kit.lamp.light.kelvin=LONG"],
        ),
        ("a text of a million", "set", vec!["kit.lamp.remark=LONG"]),
    ] {
        let arguments: Vec<String> = arguments
            .iter()
            .map(|one| one.replace("LONG", &long))
            .collect();
        // A single argument holds at most 128 kB on most systems; what is longer comes by the plan file.
        if arguments.iter().any(|one| one.len() > 100_000) {
            let field = if what.starts_with("a text") {
                "remark = \""
            } else {
                "[kit.light]\nkelvin = \""
            };
            let file = video.folder.path().join("long.toml");
            std::fs::write(&file, format!("[[kit]]\nid = \"lamp\"\n{field}{long}\"\n")).unwrap();
            let output = run(&["plan", "import", &video.dir(), &file.display().to_string()]);
            let said = sentence(&output, video.folder.path());
            assert!(
                output.status.code() == Some(1) && said.len() < 600,
                "{what}: {}",
                said.len()
            );
            continue;
        }
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        text += &format!("{what}\n    {}\n", video.refuses(command, &arguments));
    }
    insta::assert_snapshot!(text);
    assert_eq!(video.plan(), before);
    for arguments in [
        vec!["set", "d"],
        vec!["set", "d", "kit.lamp.count"],
        vec!["add", "d"],
        vec!["remove", "d"],
    ] {
        assert_eq!(run(&arguments).status.code(), Some(2), "{arguments:?}");
    }
}

#[test]
fn ten_thousand_sets_are_one_change() {
    let video = Video::new();
    for nth in 0..20 {
        video.says("add", &[&format!("kit.k{nth}")]);
    }
    let before = video.plan();
    let sets: Vec<String> = (0..10_000)
        .map(|nth| format!("kit.k{}.count={}", nth % 20, nth / 20 + 1))
        .collect();
    let sets: Vec<&str> = sets.iter().map(String::as_str).collect();
    video.says("set", &sets);
    assert_eq!(
        json(&video.does("get", &["kit.k7.count", "--json"]))["value"],
        500
    );
    assert!(run(&["plan", "undo", &video.dir()]).status.success());
    assert_eq!(video.plan(), before);
    // One bad one among them, and none is made.
    let mut bad = sets;
    bad.push("kit.k1.count=0");
    assert!(video.refuses("set", &bad).contains("out of range"));
    assert_eq!(video.plan(), before);
}

#[test]
fn the_schema_is_one_and_the_plan_names_it() {
    let output = run(&["plan", "schema"]);
    let schema: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    assert!(schema["properties"]["kit"]["items"]["properties"]["light"].is_object());
}
