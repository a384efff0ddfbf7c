//! From a song and a folder of takes to a first assembly, with the real program on real files.

mod common;

use common::{clip, ffmpeg, heard, json, run, song, told, wav};
use std::path::Path;

/// A project of a song and three sound-only takes: two of the song from different moments, one without it.
fn small(folder: &Path) -> std::path::PathBuf {
    let song = song(16, 7);
    let dir = folder.join("video");
    wav(&folder.join("song.wav"), &song);
    wav(
        &folder.join("card/wide-1.wav"),
        &heard(&song, -2.0, 36.0, 1),
    );
    wav(
        &folder.join("card/close-1.wav"),
        &heard(&song, 4.25, 20.0, 2),
    );
    wav(&folder.join("card/street.wav"), &heard(&[], 0.0, 12.0, 3));
    dir
}

#[test]
fn one_command_goes_from_song_and_takes_to_a_cut() {
    let folder = tempfile::tempdir().unwrap();
    let dir = small(folder.path());
    let text = |path: &str| folder.path().join(path).display().to_string();
    let arguments = [
        "--json",
        "assemble",
        &dir.display().to_string(),
        "--song",
        &text("song.wav"),
        "--takes",
        &text("card"),
    ];
    let output = run(&arguments);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        told(&output, folder.path())
    );
    let made = json(&output);
    assert_eq!(made["version"], 1);
    assert_eq!(made["frames"], made["song_frames"]);
    let shots = made["shots"].as_array().unwrap();
    assert!(shots.iter().any(|shot| shot["in_sync"] == true));
    let mut next = 0;
    for shot in shots {
        assert_eq!(shot["from_frame"], next);
        next = shot["to_frame"].as_i64().unwrap();
    }
    for name in [
        "v001.otio",
        "v001.edl",
        "v001.json",
        "v001-strip.svg",
        "v001-strip-narrow.svg",
    ] {
        assert!(dir.join("assembly").join(name).is_file(), "{name}");
    }

    // The same again says the same and makes no new version.
    let again = json(&run(&["--json", "assemble", &dir.display().to_string()]));
    assert_eq!(
        (&again["version"], &again["new_version"]),
        (&1.into(), &false.into())
    );
    assert_eq!(again["shots"], made["shots"]);

    // A lock is kept exactly, and is a new version.
    let locked = run(&[
        "--json",
        "assemble",
        &dir.display().to_string(),
        "--lock",
        "5-6=close-1",
    ]);
    assert_eq!(
        locked.status.code(),
        Some(0),
        "{}",
        told(&locked, folder.path())
    );
    let locked = json(&locked);
    assert_eq!(locked["version"], 2);
    let shot = locked["shots"]
        .as_array()
        .unwrap()
        .iter()
        .find(|shot| shot["locked"] == true)
        .unwrap();
    assert_eq!(shot["source"]["take"], "close-1");

    // Undo takes back the cut and then the lock.
    for _ in 0..2 {
        assert!(
            run(&["plan", "undo", &dir.display().to_string()])
                .status
                .success()
        );
    }
    let undone = json(&run(&["--json", "assemble", &dir.display().to_string()]));
    assert_eq!(undone["version"], 1);
    assert_eq!(undone["shots"], made["shots"]);
}

#[test]
fn a_shot_is_locked_as_it_stands() {
    let folder = tempfile::tempdir().unwrap();
    let dir = small(folder.path()).display().to_string();
    let text = |path: &str| folder.path().join(path).display().to_string();
    let (song, card) = (text("song.wav"), text("card"));
    let assemble = |more: &[&str]| {
        let mut all = vec!["--json", "assemble", &dir];
        all.extend(more);
        run(&all)
    };
    let first = json(&assemble(&["--song", &song, "--takes", &card]));
    let shots = first["shots"].as_array().unwrap();
    let seen = |shot: &serde_json::Value| !shot["source"].is_null();
    let nth = shots.iter().position(seen).unwrap();
    let (number, take) = ((nth + 1).to_string(), &shots[nth]["source"]["take"]);
    // Locked, it stays; freed and kept out, it goes.
    let locked = json(&assemble(&["--lock-shot", &number]));
    assert_eq!(locked["shots"][nth]["locked"], true);
    assert_eq!(&locked["shots"][nth]["source"]["take"], take);
    let out = json(&assemble(&["--free-shot", &number, "--not-here", &number]));
    assert_ne!(&out["shots"][nth]["source"]["take"], take);
    for (wrong, says) in [
        (["--lock-shot", "0"], "the cut has no shot 0; "),
        (["--not-here", "999"], "the cut has no shot 999; "),
        (
            ["--free-shot", &number],
            &format!("shot {number} is not locked"),
        ),
        (
            ["--show", "1=clsoe-1"],
            "there is no take `clsoe-1` in this project; did you mean `close-1`?",
        ),
    ] {
        let output = assemble(&wrong);
        assert_eq!(output.status.code(), Some(1), "{wrong:?}");
        let said = common::sentence(&output, folder.path());
        assert!(said.starts_with(&format!("barebulb: {says}")), "{said}");
    }
}

#[test]
fn takes_are_placed_where_they_were_shot() {
    let folder = tempfile::tempdir().unwrap();
    small(folder.path());
    let text = |path: &str| folder.path().join(path).display().to_string();
    let output = run(&["sync", "--song", &text("song.wav"), &text("card"), "--json"]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        told(&output, folder.path())
    );
    let takes = json(&output)["takes"].clone();
    let take = |name: &str| {
        takes
            .as_array()
            .unwrap()
            .iter()
            .find(|take| take["file"].as_str().unwrap().ends_with(name))
            .unwrap()
            .clone()
    };
    for (name, offset) in [("wide-1.wav", -2.0), ("close-1.wav", 4.25)] {
        let take = take(name);
        assert_eq!(take["matched"], true, "{take}");
        assert!(
            (take["song_offset_s"].as_f64().unwrap() - offset).abs() < 0.005,
            "{take}"
        );
        assert_eq!(take["speed"], 1.0);
    }
    let street = take("street.wav");
    assert_eq!(
        (&street["matched"], &street["song_offset_s"]),
        (&false.into(), &serde_json::Value::Null)
    );
}

#[test]
fn a_typed_plan_makes_a_project_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("video").display().to_string();
    let song_file = wav(&folder.path().join("song.wav"), &song(16, 7))
        .display()
        .to_string();
    let plan = folder.path().join("plan.toml").display().to_string();
    std::fs::write(&plan, "title = \"Night\"\nstates = [\"clean\", \"powdered\"]\n[[setups]]\nid = \"wide\"\nbars = [[1, 8]]\npasses = 2\n[[setups]]\nid = \"close\"\nstate = 1\n").unwrap();
    let output = run(&["new", &dir, "--song", &song_file, "--plan", &plan]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        told(&output, folder.path())
    );
    let coverage = json(&run(&["coverage", &dir, "--json"]));
    let bars = coverage["bars"].as_array().unwrap();
    let planned =
        |number: i64| bars.iter().find(|bar| bar["number"] == number).unwrap()["planned"].clone();
    assert_eq!(planned(2), serde_json::json!(["wide", "close"]));
    assert_eq!(planned(10), serde_json::json!(["close"]));
    // The rig of `wide` is planned anyway: playing it on over the other bars costs least.
    let first = &coverage["advice"]["suggestions"][0];
    assert_eq!(
        (&first["work"], &first["setup"]),
        (&"extend".into(), &"wide".into()),
        "{first}"
    );
    let choice = coverage["planned_choice"].as_f64().unwrap();
    assert!(choice > 1.0 && choice < 2.0, "{choice}");
    let text = run(&["coverage", &dir]);
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    assert!(text.contains("  1. Shoot `wide`"), "{text}");

    let first = json(&run(&["plan", "export", &dir, "--json"]))["plan"]
        .as_str()
        .unwrap()
        .to_owned();
    let other = folder.path().join("other").display().to_string();
    let exported = folder.path().join("exported.toml").display().to_string();
    assert!(
        run(&["plan", "export", &dir, "--out", &exported])
            .status
            .success()
    );
    assert!(run(&["new", &other, "--plan", &exported]).status.success());
    assert_eq!(
        json(&run(&["plan", "export", &other, "--json"]))["plan"],
        first
    );
}

#[test]
fn corrections_are_kept_and_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("video").display().to_string();
    let song_file = wav(&folder.path().join("song.wav"), &song(16, 7))
        .display()
        .to_string();
    assert!(run(&["new", &dir, "--song", &song_file]).status.success());
    let heard = json(&run(&["listen", &dir, "--json"]));
    let beats = |report: &serde_json::Value| report["beats_s"].as_array().unwrap().len();
    let doubled = json(&run(&["listen", &dir, "--double", "--json"]));
    assert!(
        beats(&doubled) >= 2 * beats(&heard) - 2,
        "{} to {}",
        beats(&heard),
        beats(&doubled)
    );
    let named = json(&run(&["listen", &dir, "--call", "0:03=opening", "--json"]));
    assert_eq!(named["sections"][0]["name"], "opening");
    // The cache can go; what a person decided stays.
    std::fs::remove_dir_all(folder.path().join("video/cache")).unwrap();
    let again = json(&run(&["listen", &dir, "--json"]));
    assert_eq!(again, named);
    let forgotten = json(&run(&["listen", &dir, "--as-heard", "--json"]));
    assert_eq!(forgotten, heard);
}

#[test]
fn a_moved_take_is_found_again() {
    let folder = tempfile::tempdir().unwrap();
    let dir = small(folder.path());
    let text = |path: &str| folder.path().join(path).display().to_string();
    let project = dir.display().to_string();
    assert!(
        run(&["new", &project, "--song", &text("song.wav")])
            .status
            .success()
    );
    assert!(run(&["sync", &project, &text("card")]).status.success());
    std::fs::create_dir_all(folder.path().join("card/day1")).unwrap();
    std::fs::rename(
        folder.path().join("card/wide-1.wav"),
        folder.path().join("card/day1/renamed.wav"),
    )
    .unwrap();
    let output = run(&["assemble", &project]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        told(&output, folder.path())
    );
    let plan = json(&run(&["plan", "export", &project, "--json"]));
    assert!(
        plan["plan"]
            .as_str()
            .unwrap()
            .contains("card/day1/renamed.wav")
    );

    // One that is gone for good is said, the rest is cut, and the status tells.
    std::fs::remove_file(folder.path().join("card/close-1.wav")).unwrap();
    let output = run(&["assemble", &project]);
    assert_eq!(output.status.code(), Some(1));
    let said = told(&output, folder.path());
    assert!(
        said.contains("the take `close-1` is not at `FOLDER/card/close-1.wav`"),
        "{said}"
    );
    assert!(dir.join("assembly/v002.otio").is_file(), "{said}");
}

#[test]
fn a_preview_has_every_frame_of_the_cut() {
    if !ffmpeg() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("video").display().to_string();
    let song = song(8, 9);
    let song_file = wav(&folder.path().join("song.wav"), &song)
        .display()
        .to_string();
    assert!(clip(
        &folder.path().join("card/wide-1.mp4"),
        &{
            std::fs::create_dir_all(folder.path().join("card")).unwrap();
            heard(&song, -1.0, 19.0, 1)
        },
        &[]
    ));
    assert!(clip(
        &folder.path().join("card/close-1.mov"),
        &heard(&song, 3.0, 12.0, 2),
        &["-r", "24", "-s", "120x160"]
    ));
    let card = folder.path().join("card").display().to_string();
    let output = run(&[
        "assemble",
        &dir,
        "--song",
        &song_file,
        "--takes",
        &card,
        "--preview",
        "--labels",
        "--json",
    ]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        told(&output, folder.path())
    );
    let made = json(&output);
    let preview = made["preview"].as_str().unwrap();
    let counted = std::process::Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-count_frames",
            "-select_streams",
            "v",
            "-show_entries",
            "stream=nb_read_frames",
            "-of",
            "csv=p=0",
        ])
        .arg(preview)
        .output()
        .unwrap();
    assert_eq!(
        String::from_utf8_lossy(&counted.stdout)
            .trim()
            .trim_end_matches(','),
        made["frames"].to_string()
    );
    let left: Vec<_> = std::fs::read_dir(folder.path().join("video/assembly"))
        .unwrap()
        .flatten()
        .map(|entry| entry.file_name())
        .collect();
    assert_eq!(left.len(), 6, "{left:?}");
}
