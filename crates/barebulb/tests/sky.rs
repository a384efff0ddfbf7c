//! `barebulb sky` as a person and as a script see it, and what it says to bad input.
//!
//! The figures are checked in `crates/sky` and `checks/sky`; here it is the words.

mod common;

use common::{json, run, sentence};
use std::fmt::Write as _;
use std::path::Path;

const PORTO: [&str; 4] = [
    "--lat=41.15",
    "--lon=-8.61",
    "--tz=Europe/Lisbon",
    "--date=2026-06-21",
];

fn sky(arguments: &[&str]) -> std::process::Output {
    let mut all = vec!["sky"];
    all.extend(arguments);
    run(&all)
}

#[test]
fn a_day_as_a_table() {
    let mut arguments = PORTO.to_vec();
    arguments.extend([
        "--at",
        "20:10",
        "--bearing",
        "290",
        "--horizon",
        "0:5,90:20,180:10,270:12",
    ]);
    let output = sky(&arguments);
    assert!(output.status.success());
    insta::assert_snapshot!("sky_table", String::from_utf8_lossy(&output.stdout));
    let north = [
        "--lat=69.6492",
        "--lon=18.9553",
        "--tz=Europe/Oslo",
        "--date=2026-12-21",
    ];
    let output = sky(&north);
    insta::assert_snapshot!("sky_polar_night", String::from_utf8_lossy(&output.stdout));
}

#[test]
fn the_same_as_json() {
    let mut arguments = PORTO.to_vec();
    arguments.extend(["--at=18:10", "--json"]);
    let found = json(&sky(&arguments));
    assert_eq!(found["sun"]["sunset"], "2026-06-21T21:10:36+01:00");
    assert_eq!(found["at"], "2026-06-21T18:10:00+01:00");
    assert!(found["sun"]["altitude_deg"].is_f64() && found["moon"]["azimuth_deg"].is_f64());
    assert!(found["bearing"].is_null() && found["notes"].as_array().unwrap().is_empty());
    // Keys have underscores, as everywhere; words that are values have dashes.
    let words: Vec<&str> = found["events"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["what"].as_str().unwrap())
        .collect();
    assert!(
        words.contains(&"civil-dawn") && words.contains(&"solar-noon"),
        "{words:?}"
    );
    let phases: Vec<&str> = found["moon"]["next_phases"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["phase"].as_str().unwrap())
        .collect();
    assert_eq!(
        phases,
        ["first-quarter", "full-moon", "last-quarter", "new-moon"]
    );
    // Today, when no date is given: whatever it is, it has a date and a noon.
    let today = json(&sky(&["--lat=0", "--lon=0", "--tz=UTC", "--json"]));
    assert!(today["date"].is_string() && today["sun"]["solar_noon"].is_string());
}

#[test]
fn bad_places_dates_and_zones() {
    let mut text = String::new();
    for (case, arguments) in [
        ("latitude too large", vec!["--lat=91", "--lon=0"]),
        (
            "swapped, out of range",
            vec!["--lat=-118.2437", "--lon=34.0522"],
        ),
        ("swapped, in range", vec!["--lat=-8.61", "--lon=41.15"]),
        (
            "minus forgotten",
            vec!["--lat=34.05", "--lon=118.24", "--tz=America/Los_Angeles"],
        ),
        ("longitude too large", vec!["--lon=200"]),
        ("no number", vec!["--lat=NaN"]),
        ("infinite", vec!["--lon=inf"]),
        ("year 1", vec!["--date=0001-01-01"]),
        ("year 9999", vec!["--date=9999-12-31"]),
        ("no date", vec!["--date=yesterday"]),
        ("February 30", vec!["--date=2026-02-30"]),
        (
            "a day left out",
            vec![
                "--lat=-13.8",
                "--lon=-171.8",
                "--tz=Pacific/Apia",
                "--date=2011-12-30",
            ],
        ),
        ("unknown zone", vec!["--tz=Europe/Porto"]),
        ("nearly a zone", vec!["--tz=Europe/Lisbonn"]),
        ("empty zone", vec!["--tz="]),
        ("no time", vec!["--at=25:00"]),
        (
            "a time that comes twice",
            vec!["--date=2026-10-25", "--at=01:30"],
        ),
        ("a time left out", vec!["--date=2026-03-29", "--at=01:30"]),
        ("no horizon", vec!["--horizon=90-12"]),
        ("obstruction overhead", vec!["--horizon=90:95"]),
        ("no bearing", vec!["--bearing=-10"]),
    ] {
        let mut all: Vec<&str> = PORTO.to_vec();
        // Later options win over earlier ones of the same name.
        all.retain(|one| {
            let name = one.split('=').next();
            !arguments
                .iter()
                .any(|other| other.split('=').next() == name)
        });
        all.extend(arguments);
        let output = sky(&all);
        let code = output.status.code();
        assert!(matches!(code, Some(0 | 1)), "{case}: {code:?}");
        let said = sentence(&output, Path::new("FOLDER"));
        assert!(
            !said.contains("panicked") && !said.is_empty(),
            "{case}: {said}"
        );
        let how = if code == Some(0) { "done" } else { "refused" };
        let _ = writeln!(text, "{case}: {how}\n    {said}");
    }
    insta::assert_snapshot!("sky_bad_input", text);
}
