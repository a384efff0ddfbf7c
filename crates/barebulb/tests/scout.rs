//! Photographs from a walk become places, with the real program on real files.

mod common;
#[path = "../../media/tests/exif_bytes/mod.rs"]
mod exif_bytes;

use common::{json, run, sentence, told};
use exif_bytes::{Exif, Value, jpeg};
use std::path::{Path, PathBuf};
use std::process::Output;

/// The invented stairway and quay of these tests.
const STAIR: (f64, f64) = (41.14051, -8.61153);
const QUAY: (f64, f64) = (41.13860, -8.61310);

struct Walk {
    folder: tempfile::TempDir,
}

impl Walk {
    fn new() -> Self {
        let walk = Self {
            folder: tempfile::tempdir().unwrap(),
        };
        assert!(run(&["new", &walk.dir()]).status.success());
        walk
    }

    fn dir(&self) -> String {
        self.folder.path().join("video").display().to_string()
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, bytes: &[u8]) -> String {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, bytes).unwrap();
        path.display().to_string()
    }

    fn photo(&self, name: &str, exif: &Exif) -> String {
        self.write(name, &exif.jpeg())
    }

    fn scout(&self, arguments: &[&str]) -> Output {
        let dir = self.dir();
        let mut all = vec!["scout", dir.as_str()];
        all.extend(arguments);
        run(&all)
    }

    /// The JSON of a run that must succeed.
    fn scouted(&self, arguments: &[&str]) -> serde_json::Value {
        let mut all = arguments.to_vec();
        all.push("--json");
        let output = self.scout(&all);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{}",
            told(&output, self.folder.path())
        );
        json(&output)
    }

    /// A walk over two places and back, one photograph without position, one without anything.
    fn evening(&self) -> String {
        let exif = |at: &str, place: (f64, f64), little| {
            Exif::new(little)
                .taken(&format!("2025:10:03 {at}"))
                .zone("+01:00")
                .near(place.0, place.1)
        };
        let mut biased = exif("18:43:20", STAIR, false)
            .exposed((1, 30), (2, 1), 100)
            .towards(6_500, "M");
        biased.exif.push((0x9204, Value::SRational(vec![(1, 1)])));
        let mut flash = exif("18:58:00", QUAY, true).exposed((1, 60), (18, 10), 400);
        flash.exif.push((0x9209, Value::Short(vec![1])));
        self.photo(
            "walk/a.jpg",
            &exif("18:41:07", STAIR, true)
                .exposed((1, 30), (18, 10), 800)
                .towards(24_750, "T"),
        );
        self.photo("walk/b.jpg", &biased);
        self.photo("walk/c.jpg", &flash);
        self.photo(
            "walk/d.jpg",
            &Exif::new(false)
                .taken("2025:10:03 19:02:00")
                .zone("+01:00")
                .exposed((1, 8), (18, 10), 3200),
        );
        self.photo(
            "walk/e.jpg",
            &exif("21:15:00", (STAIR.0 + 0.0002, STAIR.1), true),
        );
        self.write("walk/f.jpg", &jpeg(None));
        self.path("walk").display().to_string()
    }
}

fn near(ours: &serde_json::Value, wanted: f64) {
    let ours = ours.as_f64().unwrap_or(f64::NAN);
    assert!((ours / wanted - 1.0).abs() < 1e-5, "{ours} {wanted}");
}

#[test]
fn a_walk_becomes_places() {
    let walk = Walk::new();
    let photos = walk.evening();
    let made = walk.scouted(&[&photos]);
    assert_eq!(made["brought"], 5);
    let places = made["places"].as_array().unwrap();
    let files = |place: &serde_json::Value| -> Vec<String> {
        place["photos"]
            .as_array()
            .unwrap()
            .iter()
            .map(|photo| {
                photo["file"]
                    .as_str()
                    .unwrap()
                    .rsplit('/')
                    .next()
                    .unwrap()
                    .to_owned()
            })
            .collect()
    };
    assert_eq!(places.len(), 2);
    assert_eq!(files(&places[0]), ["a.jpg", "b.jpg", "e.jpg"]);
    assert_eq!(files(&places[1]), ["c.jpg", "d.jpg"]);

    // Every field, and the light as computed by hand: 12.5 · 1.8² · 30 / 800 = 1.51875 cd/m².
    let a = &places[0]["photos"][0];
    assert_eq!(a["taken"], "2025-10-03T18:41:07");
    assert_eq!(a["utc_offset_minutes"], 60);
    assert_eq!(a["position_deg"][0], 41.14051);
    assert_eq!(a["position_deg"][1], -8.61153);
    assert_eq!(a["bearing_deg"], 247.5);
    assert_eq!(a["exposure_s"], 1.0 / 30.0);
    assert_eq!(a["f_number"], 1.8);
    assert_eq!(a["iso"], 800.0);
    near(&a["luminance_cd_m2"], 1.518_75);
    near(&a["illuminance_lux"], 26.507_19);
    near(&a["ev100"], 3.602_884);
    assert_eq!(a["uncertainty_stops"], 1.0);
    assert_eq!(a["notes"], serde_json::json!([]));
    // A bias of +1: 12.5 · 2² · 30 / 100 = 15, and it was twice as bright as that.
    let b = &places[0]["photos"][1];
    assert_eq!(b["bias_stops"], 1.0);
    near(&b["luminance_cd_m2"], 30.0);
    assert_eq!(
        b["notes"][0]["says"],
        "its bearing counts from magnetic north"
    );
    // No light from a flash; an end of the camera's range is told.
    let c = &places[1]["photos"][0];
    assert!(c["illuminance_lux"].is_null());
    assert_eq!(
        c["notes"][0]["says"],
        "a flash fired, so it says nothing of the light that is there"
    );
    assert_eq!(places[1]["photos"][1]["uncertainty_stops"], 2.0);
    assert_eq!(places[0]["light"]["source"], "photographs");
    let notes: Vec<&str> = made["notes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|note| note["says"].as_str().unwrap())
        .collect();
    assert_eq!(notes.len(), 3, "{notes:?}");
    assert!(notes[0].ends_with("f.jpg`: holds nothing that a camera wrote (no EXIF)"));
    assert!(
        notes[1]
            .ends_with("d.jpg` has no position; it went to `place-2`, photographed 4 min from it")
    );
    assert!(notes[2].ends_with("f.jpg` has neither position nor time"));

    // The same again brings nothing in twice and says the same of the places.
    let again = walk.scouted(&[&photos]);
    assert_eq!((&again["brought"], &again["known"]), (&0.into(), &5.into()));
    assert_eq!(again["places"], made["places"]);
    // … and a plain look does too.
    assert_eq!(walk.scouted(&[])["places"], made["places"]);

    // A later photograph joins the place that is there.
    let late = walk.photo(
        "later.jpg",
        &Exif::new(false)
            .taken("2025:10:09 22:00:00")
            .near(QUAY.0 - 0.0001, QUAY.1),
    );
    let later = walk.scouted(&[&late]);
    assert_eq!(later["places"][1]["photos"].as_array().unwrap().len(), 3);
    assert_eq!(later["places"].as_array().unwrap().len(), 2);

    // By hand, and one step back takes it back.
    let bare = walk.path("walk/f.jpg").display().to_string();
    let by_hand = walk.scouted(&["--place", "place-2", &bare]);
    assert_eq!(by_hand["places"][1]["photos"].as_array().unwrap().len(), 4);
    for left in [3, 2] {
        assert!(run(&["plan", "undo", &walk.dir()]).status.success());
        let back = walk.scouted(&[]);
        assert_eq!(back["places"][1]["photos"].as_array().unwrap().len(), left);
    }
    assert!(run(&["plan", "undo", &walk.dir()]).status.success());
    assert_eq!(walk.scouted(&[])["places"], serde_json::json!([]));
}

#[test]
fn the_table_is_read_by_people() {
    let walk = Walk::new();
    let photos = walk.evening();
    assert!(walk.scout(&[&photos]).status.success());
    let dir = walk.dir();
    let mut all = vec!["set", dir.as_str()];
    all.extend([
        "places.place-2.name=river quay",
        "places.place-2.readings.1.lux=4.5",
        "places.place-2.readings.1.at=21:30",
        "places.place-2.interior=no",
        "places.place-2.public=yes",
        "places.place-2.permission.leave=not needed",
        "places.place-2.mains_hz=50",
        "places.place-2.hazards.1.danger=water",
        "places.place-2.hazards.2.danger=edge",
        "places.place-2.hospital=the general hospital, 112",
        "places.place-2.bearing_deg=95",
        "places.place-2.horizon_deg=0 25, 90 4, 180 2",
    ]);
    let output = run(&all);
    assert!(
        output.status.success(),
        "{}",
        told(&output, walk.folder.path())
    );
    let output = walk.scout(&[]);
    insta::assert_snapshot!(told(&output, walk.folder.path()));

    let place = &walk.scouted(&[])["places"][1];
    assert_eq!(
        place["light"],
        serde_json::json!({"lux": 4.5, "stops_uncertainty": 0.2, "source": "meter"})
    );
    assert_eq!(place["to_ask"], serde_json::json!(["power", "noise"]));
    let plan = json(&run(&["plan", "export", &walk.dir(), "--json"]));
    let plan = plan["plan"].as_str().unwrap();
    for line in ["at = \"21:30\"", "interior = false", "mains_hz = 50"] {
        assert!(plan.contains(line), "{line}: {plan}");
    }
    // The plan comes back with its photographs.
    let file = walk.write("plan.toml", plan.as_bytes());
    assert!(
        run(&["plan", "import", &walk.dir(), &file])
            .status
            .success()
    );
    assert_eq!(&walk.scouted(&[])["places"][1], place);
}

#[test]
fn folders_that_were_sorted_name_their_places() {
    let walk = Walk::new();
    let exif = |place: (f64, f64)| Exif::new(true).near(place.0, place.1);
    walk.photo("walk/Tiled stair/1.jpg", &exif(STAIR));
    walk.photo("walk/Quay/2.jpg", &exif(QUAY));
    // The same content under another name is one photograph.
    walk.photo("walk/Quay/3.jpg", &exif(QUAY));
    let made = walk.scouted(&[&walk.path("walk").display().to_string()]);
    let names: Vec<(&str, &str)> = made["places"]
        .as_array()
        .unwrap()
        .iter()
        .map(|place| {
            (
                place["id"].as_str().unwrap(),
                place["name"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(names, [("quay", "Quay"), ("tiled-stair", "Tiled stair")]);
    assert_eq!(made["brought"], 2);

    // Apart at 40 m, together at 500.
    let walk = Walk::new();
    let a = walk.photo("a.jpg", &exif(STAIR));
    let b = walk.photo("b.jpg", &exif(QUAY));
    let made = walk.scouted(&[&a, &b, "--within", "500"]);
    assert_eq!(made["places"].as_array().unwrap().len(), 1);

    // A photograph that was moved is found in the project, and one outside it from where it is now.
    let walk = Walk::new();
    walk.photo("video/scout/a.jpg", &exif(STAIR));
    walk.scouted(&[&walk.path("video/scout").display().to_string()]);
    std::fs::rename(walk.path("video/scout"), walk.path("video/photos")).unwrap();
    let found = walk.scouted(&[]);
    assert_eq!(found["places"][0]["photos"][0]["file"], "photos/a.jpg");
    std::fs::rename(walk.path("video/photos/a.jpg"), walk.path("a.jpg")).unwrap();
    let gone = json(&walk.scout(&["--json"]));
    assert_eq!(
        gone["notes"][0]["says"],
        "`photos/a.jpg` is not where it was and was not found in the project; put it back, or bring it in from where it is now"
    );
    let back = walk.scouted(&[&walk.path("a.jpg").display().to_string()]);
    assert_eq!(
        (&back["known"], &back["notes"]),
        (&1.into(), &serde_json::json!([]))
    );
}

#[test]
fn bad_photographs_are_named_and_the_good_ones_brought_in() {
    let walk = Walk::new();
    let good = walk.photo("good.jpg", &Exif::new(true).near(STAIR.0, STAIR.1));
    let whole = Exif::new(true).near(QUAY.0, QUAY.1).jpeg();
    let bad = [
        walk.write("words.jpg", b"once upon a time"),
        walk.write("empty.jpg", b""),
        walk.write("half.jpg", &whole[..90]),
        walk.path("nowhere.jpg").display().to_string(),
        walk.write("film.jpg", b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom\0\0\0\0"),
    ];
    // Alone, each is a sentence, and nothing is changed.
    let mut text = String::new();
    let mut say = |case: &str, output: &Output, status: i32| {
        let said = told(output, walk.folder.path());
        assert_eq!(output.status.code(), Some(status), "{case}: {said}");
        assert!(!said.contains("panicked"), "{said}");
        let sentence = sentence(output, walk.folder.path());
        assert!(sentence.starts_with("barebulb: "), "{sentence}");
        text.push_str(&format!("{case}\n    {sentence}\n"));
    };
    for path in &bad {
        let case = Path::new(path).file_name().unwrap().to_string_lossy();
        say(&case, &walk.scout(&[path]), 1);
    }
    let all: Vec<&str> = bad.iter().map(String::as_str).collect();
    say("all of them", &walk.scout(&all), 1);
    let bare = walk.write("bare.jpg", &jpeg(None));
    say("no EXIF", &walk.scout(&[&bare]), 1);
    let other = walk.photo("other.jpg", &Exif::new(true));
    say("two without", &walk.scout(&[&bare, &other]), 1);
    std::fs::create_dir_all(walk.path("none")).unwrap();
    let none = walk.path("none").display().to_string();
    say("an empty folder", &walk.scout(&[&none]), 1);
    say("no distance", &walk.scout(&[&good, "--within", "0"]), 1);
    say("NaN metres", &walk.scout(&[&good, "--within", "nan"]), 1);
    say("no time", &walk.scout(&[&good, "--minutes", "-5"]), 1);
    say(
        "a name that is none",
        &walk.scout(&[&good, "--place", "a b"]),
        1,
    );
    insta::assert_snapshot!(text);
    assert_eq!(walk.scouted(&[])["places"], serde_json::json!([]));

    // Among others: the good one is brought in, each bad one is named.
    let mut all = all;
    all.push(&good);
    let output = walk.scout(&all);
    let said = told(&output, walk.folder.path());
    assert_eq!(output.status.code(), Some(1), "{said}");
    for path in &bad {
        let name = Path::new(path).file_name().unwrap().to_string_lossy();
        assert!(
            said.lines()
                .any(|line| line.starts_with("err: barebulb: ") && line.contains(&*name)),
            "{name}: {said}"
        );
    }
    all.push("--json");
    let made = json(&walk.scout(&all));
    assert_eq!(made["places"].as_array().unwrap().len(), 1);
    assert_eq!(made["notes"].as_array().unwrap().len(), bad.len());

    // As with takes: what was brought in and can't be read any more is told, and tells in the status.
    let report = walk.scout(&[]);
    assert_eq!(report.status.code(), Some(0));
    std::fs::write(&good, b"once upon a time").unwrap();
    say_again(&walk, "good.jpg");
    std::fs::remove_file(&good).unwrap();
    say_again(&walk, "is not where it was");
}

/// The report on the places is given, with a sentence and status 1.
fn say_again(walk: &Walk, wanted: &str) {
    let output = walk.scout(&[]);
    let said = told(&output, walk.folder.path());
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("out: ") && said.contains(wanted), "{said}");
}

#[test]
fn wrong_usage_is_status_two() {
    for arguments in [
        vec!["scout"],
        vec!["scout", "d", "--place", "a"],
        vec!["scout", "d", "p", "--place", "a", "--within", "30"],
    ] {
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(
            output.stdout.is_empty() && !output.stderr.is_empty(),
            "{arguments:?}"
        );
    }
}
