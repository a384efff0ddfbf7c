//! Setups planned over bars, and what to do next, with the real program.

mod common;

use common::{json, run, sentence, told};
use std::collections::BTreeSet;
use std::path::Path;

const PLAN: &str = r#"
title = "Paper Weather"
[brief]
rate = 25
frame = [1920, 1080]
artist = "Ilse Quarry"
[[setups]]
id = "wide"
bars = [[1, 4]]
[[setups]]
id = "close"
bars = [[3, 4]]
"#;

fn project(folder: &Path) -> String {
    common::project(folder, PLAN, 16)
}

/// The bars that coverage counts as planned for `setup`.
fn planned(dir: &str, setup: &str) -> Vec<u64> {
    let covered = json(&run(&["coverage", dir, "--json"]));
    let bars = covered["bars"].as_array().unwrap().iter();
    let of = |bar: &&serde_json::Value| {
        let mut all = bar["planned"].as_array().unwrap().iter();
        all.any(|id| id == setup)
    };
    bars.filter(of)
        .map(|bar| bar["number"].as_u64().unwrap())
        .collect()
}

fn changes(dir: &str) -> usize {
    let history = json(&run(&["plan", "history", dir, "--last", "1000", "--json"]));
    history["changes"].as_array().unwrap().len()
}

#[test]
fn bars_are_planned_and_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path());
    let before = changes(&dir);
    let done = run(&[
        "coverage",
        &dir,
        "--plan",
        "wide=7-8,10",
        "--plan",
        "close=1",
        "--unplan",
        "wide=2",
    ]);
    assert!(done.status.success(), "{}", told(&done, folder.path()));
    assert_eq!(planned(&dir, "wide"), [1, 3, 4, 7, 8, 10]);
    assert_eq!(planned(&dir, "close"), [1, 3, 4]);
    assert_eq!(changes(&dir), before + 1, "one call is one change");
    // What is planned already changes nothing.
    assert!(
        run(&["coverage", &dir, "--plan", "wide=7"])
            .status
            .success()
    );
    assert_eq!(changes(&dir), before + 1);
    assert!(run(&["plan", "undo", &dir]).status.success());
    assert_eq!(planned(&dir, "wide"), [1, 2, 3, 4]);
}

#[test]
fn advice_is_followed() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path());
    let covered = json(&run(&["coverage", &dir, "--json"]));
    let first = &covered["advice"]["suggestions"][0];
    let fills: BTreeSet<u64> = first["fills"]
        .as_array()
        .unwrap()
        .iter()
        .map(|bar| bar.as_u64().unwrap())
        .collect();
    let done = run(&["coverage", &dir, "--follow", "1"]);
    assert!(done.status.success(), "{}", told(&done, folder.path()));
    let setup = first["setup"].as_str().unwrap_or("setup-1");
    let now: BTreeSet<u64> = planned(&dir, setup).into_iter().collect();
    assert!(now.is_superset(&fills), "{now:?} {fills:?}");
}

#[test]
fn what_cannot_be_planned_is_one_sentence_and_nothing_is_done() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path());
    let before = changes(&dir);
    for (arguments, says) in [
        (
            &["--plan", "wdie=5"][..],
            "there is no setup `wdie` in this project; did you mean `wide`?",
        ),
        (
            &["--plan", "stairs=5"],
            "there is no setup `stairs` in this project; there are wide, close",
        ),
        (
            &["--plan", "close=5", "--plan", "wide=15-99"],
            "the song has no bars 15 to 99; its bars go from ",
        ),
        (
            &["--plan", "wide=9-7"],
            "the song has no bars 9 to 7; its bars go from ",
        ),
        (
            &["--unplan", "wide=1-4"],
            "`wide` would have no bar left, and ",
        ),
        (&["--follow", "0"], "there is no advice 0; there are "),
        (&["--follow", "99"], "there is no advice 99; there are "),
    ] {
        let mut all = vec!["coverage", &dir];
        all.extend(arguments);
        let output = run(&all);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        let said = sentence(&output, folder.path());
        assert!(said.starts_with(&format!("barebulb: {says}")), "{said}");
    }
    assert_eq!(changes(&dir), before);
    // What is no bars at all is not taken.
    assert_eq!(
        run(&["coverage", &dir, "--plan", "wide=a-b"]).status.code(),
        Some(2)
    );
}

#[test]
fn next_says_what_stands_and_what_waits() {
    let folder = tempfile::tempdir().unwrap();
    let empty = folder.path().join("empty").display().to_string();
    assert!(run(&["new", &empty]).status.success());
    let told = json(&run(&["next", &empty, "--json"]));
    assert_eq!(told["next"][0]["what"], "Drop the song in");
    assert_eq!(told["next"][0]["step"], "song");
    assert_eq!(told["more"], 0);

    let dir = project(folder.path());
    let told = json(&run(&["next", &dir, "--json"]));
    let stands: Vec<&str> = told["stands"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["says"].as_str().unwrap())
        .collect();
    assert_eq!(stands[0], "Ilse Quarry");
    assert_eq!(stands[4], "2 setups");
    let next = told["next"].as_array().unwrap();
    assert_eq!(next.len(), 3);
    assert_eq!(next[0]["what"], "Check what was heard in the song");
    // The way that is told of is there.
    for one in next {
        let command = one["command"].as_str().unwrap().split(' ').next().unwrap();
        assert!(run(&[command, "--help"]).status.success(), "{one}");
    }
    let text = String::from_utf8(run(&["next", &dir]).stdout).unwrap();
    assert!(
        text.starts_with("Where it stands\n  Brief     Ilse Quarry\n"),
        "{text}"
    );
    assert!(
        text.contains("\n  1. Check what was heard in the song. "),
        "{text}"
    );
    assert!(
        text.lines().last().unwrap().ends_with("more after that"),
        "{text}"
    );
    let gone = run(&["next", &folder.path().join("nowhere").display().to_string()]);
    assert_eq!(gone.status.code(), Some(1));
}

/// Whoever types what `next` proposes is not told that there is no such thing.
#[test]
fn every_command_that_next_proposes_is_one() {
    let source = include_str!("../../steps/src/next.rs");
    let proposed: Vec<&str> = source
        .split('"')
        .filter(|text| text.contains(" DIR") && !text.contains('\n'))
        .collect();
    assert!(proposed.len() > 10, "{proposed:?}");
    for command in proposed {
        let words: Vec<String> = command
            .split(' ')
            .map(|word| match word {
                "N" => "1".to_owned(),
                "PHOTO..." => "PHOTO".to_owned(),
                word => word.replace("RATING", "circled"),
            })
            .collect();
        let mut words: Vec<&str> = words.iter().map(String::as_str).collect();
        words.push("--help");
        let out = run(&words);
        assert!(out.status.success(), "`{command}`: {out:?}");
    }
}
