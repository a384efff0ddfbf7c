//! Bad songs, takes, plans and folders: one clear sentence each, status 1, nothing lost, no panic.
//!
//! Every sentence is in the snapshots, so that a change of words is read by a person.

mod common;

use common::{Dice, RATE, barebulb, clip, ffmpeg, heard, json, run, sentence, song, told, wav};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Output;

/// Adds what a run came to, checked for what no run may do.
fn add(text: &mut String, case: &str, output: &Output, folder: &Path) {
    let all = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!all.contains("panicked"), "{case}: {all}");
    let code = output.status.code();
    assert!(matches!(code, Some(0 | 1)), "{case}: {code:?}\n{all}");
    let said = if code == Some(0) {
        "done".to_owned()
    } else {
        sentence(output, folder)
    };
    assert!(
        code == Some(0) || said.starts_with("barebulb: "),
        "{case}: {said}"
    );
    let _ = writeln!(text, "{case}\n    {said}");
}

fn raw_wav(path: &Path, rate: u32, channels: usize, samples: &[f32], float: bool) -> PathBuf {
    let slices: Vec<&[f32]> = (0..channels).map(|_| samples).collect();
    let format = if float {
        media::WavFormat::Float32
    } else {
        media::WavFormat::Int16
    };
    media::write_wav(path, rate, &slices, format).unwrap();
    path.to_path_buf()
}

/// A WAV that says it lasts three hours; the file is sparse, so it takes no room.
fn three_hours(path: &Path) -> PathBuf {
    wav(path, &[0.0; 100]);
    let data = 3 * 3600 * RATE * 2;
    let mut bytes = std::fs::read(path).unwrap();
    bytes[4..8].copy_from_slice(&(data + 36).to_le_bytes());
    let at = bytes
        .windows(4)
        .position(|window| window == b"data")
        .unwrap()
        + 4;
    bytes[at..at + 4].copy_from_slice(&data.to_le_bytes());
    std::fs::write(path, bytes).unwrap();
    std::fs::OpenOptions::new()
        .write(true)
        .open(path)
        .unwrap()
        .set_len(u64::from(data) + 44)
        .unwrap();
    path.to_path_buf()
}

#[test]
fn bad_songs() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let good = song(8, 3);
    let noise: Vec<f32> = {
        let mut dice = Dice(5);
        (0..RATE * 20).map(|_| 0.3 * dice.next()).collect()
    };
    let mut broken = good.clone();
    broken
        .iter_mut()
        .skip(1000)
        .step_by(997)
        .for_each(|sample| *sample = f32::NAN);
    let shifted: Vec<f32> = good.iter().map(|sample| 0.5 * sample + 0.4).collect();
    std::fs::write(
        at("words.wav"),
        "this is not sound, it is a sentence in a file that is called .wav\n".repeat(50),
    )
    .unwrap();
    std::fs::write(at("empty.wav"), "").unwrap();
    wav(&at("whole.wav"), &good);
    let bytes = std::fs::read(at("whole.wav")).unwrap();
    std::fs::write(at("cut-off.wav"), &bytes[..bytes.len() / 2]).unwrap();
    std::fs::write(at("noise.mp3"), &bytes[1000..20_000]).unwrap();
    let cases: Vec<(&str, PathBuf)> = vec![
        (
            "silence",
            wav(&at("silence.wav"), &vec![0.0; RATE as usize * 20]),
        ),
        ("noise", wav(&at("noise.wav"), &noise)),
        (
            "three seconds",
            wav(&at("short.wav"), &good[..RATE as usize * 3]),
        ),
        (
            "half a second",
            wav(&at("tiny.wav"), &good[..RATE as usize / 2]),
        ),
        ("three hours", three_hours(&at("long.wav"))),
        ("8 kHz", raw_wav(&at("slow.wav"), 8000, 1, &good, false)),
        (
            "192 kHz",
            raw_wav(&at("fast.wav"), 192_000, 2, &good, false),
        ),
        (
            "six channels",
            raw_wav(&at("six.wav"), RATE, 6, &good, false),
        ),
        (
            "NaN in floats",
            raw_wav(&at("nan.wav"), RATE, 2, &broken, true),
        ),
        ("DC offset", wav(&at("dc.wav"), &shifted)),
        ("text named .wav", at("words.wav")),
        ("an empty file", at("empty.wav")),
        ("cut off in the middle", at("cut-off.wav")),
        ("half a WAV named .mp3", at("noise.mp3")),
        ("a file that is not there", at("nowhere.wav")),
    ];
    let mut text = String::new();
    for (case, path) in &cases {
        let output = run(&["listen", &path.display().to_string()]);
        add(&mut text, case, &output, folder.path());
    }
    // A folder that is no project.
    add(
        &mut text,
        "a folder",
        &run(&["listen", &folder.path().display().to_string()]),
        folder.path(),
    );
    insta::assert_snapshot!("bad_songs", text);

    // A project is not begun with a bad song, and nothing stands in the way of the next try.
    let dir = folder.path().join("video");
    let begin = |song: &str| {
        run(&[
            "new",
            &dir.display().to_string(),
            "--song",
            &at(song).display().to_string(),
        ])
    };
    assert_eq!(begin("words.wav").status.code(), Some(1));
    assert!(!dir.exists());
    assert_eq!(begin("whole.wav").status.code(), Some(0));
    // … and a bad one does not take the place of a good one.
    let output = run(&[
        "listen",
        &dir.display().to_string(),
        "--song",
        &at("words.wav").display().to_string(),
    ]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        run(&["listen", &dir.display().to_string()])
            .status
            .success()
    );
}

#[test]
fn bad_takes() {
    if !ffmpeg() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let card = folder.path().join("card");
    std::fs::create_dir_all(&card).unwrap();
    let at = |name: &str| card.join(name);
    let song = song(8, 3);
    let song_file = wav(&folder.path().join("song.wav"), &song)
        .display()
        .to_string();
    let sound = heard(&song, 1.0, 10.0, 1);
    assert!(clip(&at("good.mp4"), &sound, &[]));
    assert!(clip(&at("mute.mp4"), &sound, &["-an"]));
    assert!(clip(&at("blind.m4a"), &sound, &["-vn"]));
    assert!(clip(
        &at("uneven.mp4"),
        &sound,
        &[
            "-vf",
            "select='not(mod(n,3))+not(mod(n,7))'",
            "-fps_mode",
            "vfr"
        ]
    ));
    let bytes = std::fs::read(at("good.mp4")).unwrap();
    // No index: what a camera that is still writing leaves.
    std::fs::write(at("writing.mp4"), &bytes[..bytes.len() * 2 / 3]).unwrap();
    std::fs::write(at("zero.mp4"), "").unwrap();
    std::fs::write(at("words.mov"), "not a film\n".repeat(100)).unwrap();
    let mut text = String::new();
    for name in [
        "good.mp4",
        "mute.mp4",
        "blind.m4a",
        "uneven.mp4",
        "writing.mp4",
        "zero.mp4",
        "words.mov",
        "nowhere.mp4",
    ] {
        let output = run(&[
            "sync",
            "--song",
            &song_file,
            &at(name).display().to_string(),
            "--json",
        ]);
        add(&mut text, name, &output, folder.path());
        let take = &json(&output)["takes"][0];
        assert_eq!(
            take["matched"].as_bool(),
            Some(["good.mp4", "blind.m4a", "uneven.mp4"].contains(&name)),
            "{name}: {take}"
        );
    }
    insta::assert_snapshot!("bad_takes", text);

    // A card full of them: the good ones are cut with, the others are said.
    let dir = folder.path().join("video").display().to_string();
    let output = run(&[
        "assemble",
        &dir,
        "--song",
        &song_file,
        "--takes",
        &card.display().to_string(),
    ]);
    assert_eq!(output.status.code(), Some(1));
    let said = told(&output, folder.path());
    for bad in ["writing.mp4", "zero.mp4", "words.mov"] {
        assert!(
            said.lines()
                .any(|line| line.starts_with("err: barebulb: ") && line.contains(bad)),
            "{bad}: {said}"
        );
    }
    assert!(
        folder.path().join("video/assembly/v001.otio").is_file(),
        "{said}"
    );

    // Two takes of the same name.
    let second = folder.path().join("card2");
    std::fs::create_dir_all(&second).unwrap();
    assert!(clip(
        &second.join("good.mp4"),
        &heard(&song, 3.0, 8.0, 9),
        &[]
    ));
    let output = run(&["sync", &dir, &second.display().to_string(), "--json"]);
    let takes = json(&output)["takes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|take| take["take"].as_str().unwrap().to_owned())
        .collect::<Vec<_>>();
    assert!(
        takes.contains(&"good".to_owned()) && takes.contains(&"good-2".to_owned()),
        "{takes:?}"
    );
}

#[test]
fn bad_plans() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("video").display().to_string();
    assert!(run(&["new", &dir, "--title", "kept"]).status.success());
    let file = folder.path().join("plan.toml");
    let song = "[song]\nlength = \"1:00\"\nfile = { path = \"s.wav\", hash = \"00000000000000000000000000000000\", bytes = 1 }\n";
    let cases: Vec<(&str, Vec<u8>)> = vec![
        ("an unknown key", b"title = \"x\"\ncolour = \"blue\"\n".to_vec()),
        ("a key a letter off", b"[[setups]]\nid = \"a\"\npases = 2\n".to_vec()),
        ("overlapping sections", format!("{song}[song.corrections]\nsections = [{{ label = \"A\", at = [\"0:00\", \"0:30\"] }}, {{ label = \"B\", at = [\"0:20\", \"1:00\"] }}]\n").into_bytes()),
        ("a negative time", b"[[setups]]\nid = \"a\"\nstretches = [[\"-0:05\", \"0:10\"]]\n".to_vec()),
        ("a stretch that runs backwards", b"[[setups]]\nid = \"a\"\nstretches = [[\"0:10\", \"0:05\"]]\n".to_vec()),
        ("two of one id", b"[[setups]]\nid = \"a\"\n[[setups]]\nid = \"a\"\n".to_vec()),
        ("a billion passes", b"[[setups]]\nid = \"a\"\npasses = 1000000000\n".to_vec()),
        ("more passes than a number holds", b"[[setups]]\nid = \"a\"\npasses = 99999999999999999999\n".to_vec()),
        ("a place that is not there", b"[[setups]]\nid = \"a\"\nplace = \"moon\"\n".to_vec()),
        ("not TOML", b"title: x\n".to_vec()),
        ("not text", vec![0x74, 0x0a, 0xff, 0xfe, 0x00]),
        ("a wrong type", b"title = 3\n".to_vec()),
        ("a list for a table", b"brief = [1]\n".to_vec()),
        ("NaN", b"[weights]\nvoice = nan\n".to_vec()),
        ("a deep nest", format!("title = {}1{}\n", "[".repeat(2000), "]".repeat(2000)).into_bytes()),
    ];
    let mut text = String::new();
    for (case, bytes) in &cases {
        std::fs::write(&file, bytes).unwrap();
        let output = run(&["plan", "import", &dir, &file.display().to_string()]);
        assert_eq!(
            output.status.code(),
            Some(1),
            "{case}: {}",
            told(&output, folder.path())
        );
        add(&mut text, case, &output, folder.path());
    }
    add(
        &mut text,
        "a plan that is not there",
        &run(&["plan", "import", &dir, "nowhere.toml"]),
        folder.path(),
    );
    insta::assert_snapshot!("bad_plans", text);
    let plan = json(&run(&["plan", "export", &dir, "--json"]));
    assert!(plan["plan"].as_str().unwrap().contains("title = \"kept\""));
}

#[test]
fn odd_names() {
    let folder = tempfile::tempdir().unwrap();
    let song = song(8, 3);
    let long = format!("{}.wav", "n".repeat(251));
    for (nth, name) in [
        "with space",
        "it's \"quoted\"",
        "emoji 🎬🌙",
        "-dash",
        "per%cent #hash?",
        "new\nline",
        "näive",
    ]
    .iter()
    .enumerate()
    {
        let root = folder.path().join(name);
        let song_file = wav(&root.join(format!("song {name}.wav")), &song)
            .display()
            .to_string();
        wav(
            &root.join(format!("card/take {name}.wav")),
            &heard(&song, 1.0, 12.0, nth as u64),
        );
        wav(
            &root.join("card").join(&long),
            &heard(&song, 2.0, 11.0, 100 + nth as u64),
        );
        let dir = root.join("video").display().to_string();
        let output = run(&[
            "assemble",
            &dir,
            "--song",
            &song_file,
            "--takes",
            &root.join("card").display().to_string(),
            "--json",
        ]);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{name}: {}",
            told(&output, folder.path())
        );
        let made = json(&output);
        assert!(
            made["shots"]
                .as_array()
                .unwrap()
                .iter()
                .any(|shot| shot["in_sync"] == true),
            "{name}: {made}"
        );
    }
}

#[test]
fn wrong_usage_is_status_two() {
    for arguments in [
        vec!["assemble"],
        vec!["sing"],
        vec!["listen", "a", "--tempo", "fast"],
        vec!["assemble", "x", "--why", "-1"],
        vec!["sync", "d", "--rate", "a=great"],
    ] {
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(
            output.stdout.is_empty() && !output.stderr.is_empty(),
            "{arguments:?}"
        );
    }
    assert_eq!(run(&["--help"]).status.code(), Some(0));
}

#[test]
fn without_ffmpeg_sound_alone_still_goes_through() {
    let folder = tempfile::tempdir().unwrap();
    let song = song(8, 3);
    let song_file = wav(&folder.path().join("song.wav"), &song);
    wav(
        &folder.path().join("card/a.wav"),
        &heard(&song, 1.0, 12.0, 1),
    );
    std::fs::write(folder.path().join("card/b.mp4"), b"\0\0\0\x18ftypmp42").unwrap();
    let bare = |arguments: &[&str]| {
        barebulb()
            .env("PATH", "/nonexistent")
            .env_remove("BAREBULB_FFMPEG")
            .args(arguments)
            .output()
            .unwrap()
    };
    let dir = folder.path().join("video").display().to_string();
    let output = bare(&[
        "assemble",
        &dir,
        "--song",
        &song_file.display().to_string(),
        "--takes",
        &folder.path().join("card").display().to_string(),
        "--preview",
    ]);
    let said = told(&output, folder.path());
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(
        said.contains("`FOLDER/card/b.mp4` can't be read without ffmpeg: `ffmpeg` was not found"),
        "{said}"
    );
    assert!(
        said.contains("no preview: `ffmpeg` was not found"),
        "{said}"
    );
    assert!(
        folder.path().join("video/assembly/v001.otio").is_file(),
        "{said}"
    );
}

/// A tool that is there but too old, or dies at its work.
#[cfg(unix)]
#[test]
fn an_old_or_dying_ffmpeg_is_said() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    let tool = |name: &str, script: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, format!("#!/bin/sh\n{script}\n")).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
        path
    };
    let song_file = wav(&folder.path().join("song.wav"), &song(8, 3));
    let take = folder.path().join("take.mp4");
    std::fs::write(
        &take,
        b"\0\0\0\x18ftypmp42 something that only ffmpeg could read",
    )
    .unwrap();
    let mut text = String::new();
    for (case, script) in [
        ("too old", "echo ffmpeg version 2.8.1 Copyright"),
        (
            "killed at its work",
            "case \"$1\" in -version) echo ffmpeg version 6.0 Copyright;; *) kill -9 $$;; esac",
        ),
        (
            "failing",
            "case \"$1\" in -version) echo ffmpeg version 6.0 Copyright;; *) echo cannot do it >&2; exit 1;; esac",
        ),
    ] {
        let output = barebulb()
            .env("BAREBULB_FFMPEG", tool("ffmpeg", script))
            .env("BAREBULB_FFPROBE", tool("ffprobe", script))
            .args(["sync", "--song"])
            .args([&song_file, &take])
            .output()
            .unwrap();
        add(&mut text, case, &output, folder.path());
    }
    insta::assert_snapshot!("bad_ffmpeg", text);
}
