//! The page in the pocket, in a real Chromium: from a file, without a network, over eight hours.

#[path = "common/browser.rs"]
mod browser;
mod common;

use browser::{Browser, Driver, axe_core};
use common::{barebulb, json, project, run, told};
use serde_json::{Value, json};
use std::path::Path;

/// The call of the night, milliseconds since 1970: 2026-11-20 16:30 in Lisbon.
const CALL_MS: i64 = 1_795_192_200_000;
const EIGHT_HOURS_MS: i64 = 8 * 3_600_000;

const PLAN: &str = r#"
title = "Paper Weather"
states = ["clean", "powdered"]
[brief]
artist = "Ilse Quarry"
rate = 25
frame = [1920, 1080]
[[places]]
id = "stairway"
name = "Escadas do Avesso"
position_deg = [41.1432, -8.6151]
hospital = "an invented hospital, 3 km"
travel = [{ to = "quay", minutes = 15 }]
hazards = [{ danger = "stairs" }]
[[places]]
id = "quay"
name = "Cais da Tinta"
position_deg = [41.1402, -8.6186]
hazards = [{ danger = "edge", distance_m = 2.0 }, { danger = "water", distance_m = 2.0 }]
[[people]]
name = "Ilse Quarry"
role = "performer"
contact = "by the number on the fridge"
[[kit]]
id = "cell"
name = "Camera battery"
sort = "power"
count = 3
[kit.battery]
volts = 7.2
watt_hours = 16.0
chemistry = "li-ion"
[[setups]]
id = "stairs"
name = "Stairs, waist up"
place = "stairway"
must = true
passes = 3
light_of = ["golden-hour", "blue-hour"]
people = ["Ilse Quarry"]
action = "She climbs towards the camera and sings."
cautions = ["wet tiles"]
[[setups]]
id = "quay-close"
name = "Quay, close"
place = "quay"
framing = "close"
passes = 2
shot_rate = 50
light_of = ["night"]
people = ["Ilse Quarry"]
[[setups]]
id = "lamps"
name = "Lamps on the water"
place = "quay"
purpose = "b-roll"
framing = "wide"
light_of = ["night"]
[[days]]
id = "night"
date = "2026-11-20"
zone = "Europe/Lisbon"
call = "16:30"
latest_wrap = "25:00"
start_place = "stairway"
"#;

/// A project and its page; the project's folder and the page's address.
fn page(folder: &Path) -> (String, String) {
    let dir = project(folder, PLAN, 8);
    let file = folder.join("pocket.html");
    let out = file.display().to_string();
    let mut arguments = vec!["pocket", &dir, "--out", &out];
    if media::Tools::find().is_err() {
        arguments.push("--without-sound");
    }
    let made = run(&arguments);
    assert!(made.status.success(), "{}", told(&made, folder));
    (dir, format!("file://{out}"))
}

/// Sets the page's clock: `Date.now` and `new Date()` go on from `at_ms`, from before any script of the page runs.
fn clock(browser: &Browser, at_ms: i64) {
    let source = format!(
        "(() => {{ const by = {at_ms} - Date.now(); const Real = Date; const now = () => Real.now() + by;
         window.Date = class extends Real {{ constructor(...given) {{ given.length ? super(...given) : super(now()); }} static now() {{ return now(); }} }}; }})();"
    );
    browser.cdp(
        "Page.addScriptToEvaluateOnNewDocument",
        json!({ "source": source }),
    );
}

/// Opens the page in a browser without a network, at a time of the night.
fn open<'a>(driver: &'a Driver, profile: &Path, address: &str, at_ms: i64) -> Browser<'a> {
    let browser = driver.open(profile, 360, 740);
    browser.cdp("Network.enable", json!({}));
    browser.cdp(
        "Network.emulateNetworkConditions",
        json!({"offline": true, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}),
    );
    clock(&browser, at_ms);
    browser.goto(address);
    browser.wait("return document.documentElement.dataset.ready === 'yes'");
    browser
}

/// What the page holds, as it would save it.
fn held(browser: &Browser) -> Value {
    let text = browser.run_async(
        "let saved; const real = URL.createObjectURL; URL.createObjectURL = (blob) => { saved = blob; return real.call(URL, blob); };
         document.getElementById('save').click(); URL.createObjectURL = real; return saved.text();",
    );
    serde_json::from_str(text.as_str().expect("a text")).expect("a log")
}

fn entries(log: &Value) -> &Vec<Value> {
    log["entries"].as_array().expect("entries")
}

fn kept(browser: &Browser, count: usize) {
    browser.wait(&format!(
        "return document.getElementById('count').textContent === '{count} kept'"
    ));
}

fn go(browser: &Browser, part: &str) {
    browser.run(&format!("location.hash = {}", json!(part)));
    let shown = match part.starts_with("setup-") {
        true => format!("return !document.getElementById('{part}').hidden"),
        false => format!("return document.getElementById('{part}').dataset.off === 'false'"),
    };
    browser.wait(&shown);
}

/// Eight hours, closed and opened again twenty times: each time something is ticked, and all of it is there the
/// next time; the project takes in exactly that, by file and by pictures of the codes, and twice changes nothing.
#[test]
fn nothing_ticked_is_lost_and_the_log_comes_back_exactly() {
    let Some(driver) = Driver::start() else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let (dir, address) = page(folder.path());
    let profile = folder.path().join("profile");
    let mut ticked: Vec<Value> = Vec::new();
    let mut at_ms = CALL_MS;
    for opening in 0..=20 {
        let browser = open(&driver, &profile, &address, at_ms);
        let log = held(&browser);
        assert_eq!(entries(&log), &ticked, "opening {opening}");
        let mut count = ticked.len();
        let mut wait = || {
            count += 1;
            kept(&browser, count);
        };
        match opening % 5 {
            0 => {
                go(&browser, "setup-stairs");
                let pass = opening / 5 + 1;
                if pass > 3 {
                    browser.press("#more-stairs");
                } else {
                    browser.press(&format!("#pass-stairs-{pass}"));
                }
                wait();
                browser.press(&format!("#rate-stairs-{}-circled", pass.min(3)));
                wait();
            }
            1 => {
                go(&browser, "setup-quay-close");
                browser.press("#note-quay-close-1");
                browser.type_into("#note-text", &format!("n.º {opening}: «flare» & wind"));
                browser.press("#note-keep");
                wait();
            }
            2 => {
                go(&browser, "day");
                browser.press("[data-swap=cell]");
                wait();
                browser.press("#meal");
                wait();
            }
            3 => {
                go(&browser, "setup-lamps");
                browser.press("#drop-lamps");
                wait();
            }
            _ => {
                // Ticked and closed at once: what the screen shows as ticked is on the disk.
                go(&browser, "setup-quay-close");
                browser.press("#done-quay-close");
                wait();
            }
        }
        ticked = entries(&held(&browser)).clone();
        assert_eq!(ticked.len(), count);
        let last = ticked.last().unwrap()["at_ms"].as_i64().unwrap();
        assert!((at_ms..at_ms + 60_000).contains(&last), "{last} at {at_ms}");
        assert_eq!(browser.console_errors(), Vec::<String>::new());
        browser.close();
        at_ms += EIGHT_HOURS_MS / 20;
    }

    // By file, twice.
    let browser = open(&driver, &profile, &address, at_ms);
    let log = held(&browser);
    assert_eq!(entries(&log), &ticked);
    let file = folder.path().join("log.json");
    std::fs::write(&file, log.to_string()).unwrap();
    let file = file.display().to_string();
    let taken = run(&["--json", "pocket", &dir, "--log", &file]);
    assert!(taken.status.success(), "{}", told(&taken, folder.path()));
    assert_eq!(json(&taken)["new"], ticked.len());
    let document = run(&["plan", "export", &dir]).stdout;
    let again = run(&["--json", "pocket", &dir, "--log", &file]);
    assert_eq!(json(&again)["new"], 0);
    assert_eq!(run(&["plan", "export", &dir]).stdout, document);
    // What the page makes of the log is what the project makes of it.
    let so_far = &json(&again)["so_far"];
    for setup in ["stairs", "quay-close", "lamps"] {
        let said = so_far["setups"].as_array().unwrap();
        let said = said.iter().find(|one| one["setup"] == setup).unwrap();
        let shown = browser.run(&format!(
            "return document.getElementById('status-{setup}').textContent"
        ));
        let done = said["done_ms"].is_i64();
        let dropped = said["dropped_ms"].is_i64();
        let shown = shown.as_str().unwrap();
        assert_eq!(
            (shown.starts_with("done"), shown.starts_with("dropped")),
            (done, dropped && !done),
            "{setup}"
        );
    }

    // By pictures of the codes, into a second project of the same plan.
    std::fs::create_dir(folder.path().join("other")).unwrap();
    let other = project(&folder.path().join("other"), PLAN, 8);
    go(&browser, "log");
    browser.press("#show-codes");
    browser.wait("return document.getElementById('codes').open");
    let mut pictures = Vec::new();
    loop {
        let picture = folder.path().join(format!("code-{}.png", pictures.len()));
        browser.screenshot(&picture);
        pictures.push(picture.display().to_string());
        if browser.run("return document.getElementById('code-on').disabled") == json!(true) {
            break;
        }
        browser.press("#code-on");
    }
    assert!(pictures.len() > 1, "so long a log takes several codes");
    let mut arguments = vec!["--json", "pocket", &other, "--log"];
    if pictures.len() > 1 {
        let short: Vec<&str> = arguments
            .iter()
            .copied()
            .chain(pictures[1..].iter().map(String::as_str))
            .collect();
        let lacking = run(&short);
        assert!(!lacking.status.success());
        assert!(
            common::sentence(&lacking, folder.path()).contains("number 1"),
            "{}",
            told(&lacking, folder.path())
        );
    }
    arguments.extend(pictures.iter().map(String::as_str));
    let taken = run(&arguments);
    assert!(taken.status.success(), "{}", told(&taken, folder.path()));
    let log_of = |dir: &str| -> String {
        let plan = String::from_utf8(run(&["plan", "export", dir]).stdout).unwrap();
        plan.split("\n[[log]]")
            .skip(1)
            .collect::<Vec<_>>()
            .join("\n[[log]]")
    };
    assert_eq!(log_of(&other), log_of(&dir));
    assert!(!log_of(&dir).is_empty());
}

/// Where the browser refuses to store, the page says so loudly and offers the file at once.
#[test]
fn refused_storage_is_said_loudly() {
    let Some(driver) = Driver::start() else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let (_, address) = page(folder.path());
    let browser = driver.open(&folder.path().join("profile"), 360, 740);
    browser.cdp(
        "Page.addScriptToEvaluateOnNewDocument",
        json!({"source": "Object.defineProperty(window, 'indexedDB', { get() { throw new Error('refused'); } }); Object.defineProperty(window, 'localStorage', { get() { throw new Error('refused'); } });"}),
    );
    browser.goto(&address);
    browser.wait("return document.documentElement.dataset.ready === 'yes'");
    assert!(browser.text("#alarm").contains("NOTHING IS KEPT"));
    go(&browser, "setup-stairs");
    browser.press("#pass-stairs-1");
    browser.wait("return document.getElementById('said').textContent.includes('NOT KEPT')");
    assert_eq!(entries(&held(&browser)).len(), 1);
    browser.show("pocket-360-refused");
}

/// Every part, both dresses, narrow and wide: axe-core finds nothing, targets are large, nothing scrolls sideways,
/// nothing is asked of a network.
#[test]
fn the_page_can_be_used_by_everybody() {
    let (Some(driver), Some(axe)) = (Driver::start(), axe_core()) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let (_, address) = page(folder.path());
    let browser = open(
        &driver,
        &folder.path().join("profile"),
        &address,
        CALL_MS + 1_800_000,
    );
    go(&browser, "setup-stairs");
    browser.press("#pass-stairs-1");
    kept(&browser, 1);
    browser.press("#note-stairs-1");
    browser.type_into("#note-text", "soft at the turn");
    browser.press("#note-keep");
    kept(&browser, 2);
    for dress in ["night", "paper"] {
        for (width, height) in [(360, 740), (1440, 900)] {
            browser.size(width, height);
            for part in ["shoot", "day", "care", "log"] {
                go(&browser, part);
                let found = browser.axe(&axe);
                assert_eq!(found, Vec::<String>::new(), "{part} {width} {dress}");
                let sideways =
                    browser.run("return document.documentElement.scrollWidth > innerWidth");
                assert_eq!(sideways, json!(false), "{part} {width} {dress}");
                let small = browser.run(
                    "return [...document.querySelectorAll('button, nav a, .lines a, summary')].filter((one) => one.getClientRects().length)
                     .map((one) => [one.textContent, one.getBoundingClientRect()]).filter(([, box]) => box.height < 47.9 || box.width < 47.9).map(([text]) => text)",
                );
                assert_eq!(small, json!([]), "{part} {width} {dress}");
                if width == 360 || part == "shoot" {
                    browser.show(&format!("pocket-{width}-{dress}-{part}"));
                }
            }
            // What opens over the page.
            go(&browser, "setup-stairs");
            browser.press("[data-slate=stairs]");
            browser.wait("return document.getElementById('slate').open");
            assert_eq!(
                browser.axe(&axe),
                Vec::<String>::new(),
                "slate {width} {dress}"
            );
            browser.show(&format!("pocket-{width}-{dress}-slate"));
            browser.press("#slate-close");
            go(&browser, "log");
            browser.press("#show-codes");
            browser.wait("return document.getElementById('codes').open");
            assert_eq!(
                browser.axe(&axe),
                Vec::<String>::new(),
                "codes {width} {dress}"
            );
            browser.show(&format!("pocket-{width}-{dress}-codes"));
            browser.press("#code-close");
        }
        browser.press("#dress");
    }
    let asked = browser.run("return performance.getEntriesByType('resource').map(({ name }) => name).filter((name) => !name.startsWith('data:') && !name.startsWith('blob:'))");
    assert_eq!(asked, json!([]));
    assert_eq!(browser.console_errors(), Vec::<String>::new());
}

/// The playback plays, and the slate shows where the song is by it.
#[test]
fn the_slate_follows_the_song() {
    let Some(driver) = Driver::start() else {
        return;
    };
    if !common::ffmpeg() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let (_, address) = page(folder.path());
    let browser = open(&driver, &folder.path().join("profile"), &address, CALL_MS);
    go(&browser, "setup-quay-close");
    browser.press("[data-slate=quay-close]");
    assert_eq!(browser.text("#slate-pass"), "pass 1");
    browser.press("#slate-sounds button");
    browser
        .wait("return document.getElementById('slate-bar').textContent.startsWith('counting in')");
    browser.wait("return document.getElementById('slate-bar').textContent === 'bar 1 · speed 2'");
    browser.press("#slate-beep");
    browser.press("#slate-tick");
    kept(&browser, 1);
    assert_eq!(browser.text("#slate-tick"), "✓ pass 1 shot");
    browser.press("#slate-close");
    // Where the beep at the head begins when a browser decodes it, against where it is said to begin.
    let late_ms = browser.run_async(
        "const coded = document.getElementById('sound-0').getAttribute('src').split(',')[1];
         const bytes = Uint8Array.from(atob(coded), (one) => one.charCodeAt(0));
         const heard = await new OfflineAudioContext(1, 1, 48000).decodeAudioData(bytes.buffer);
         const samples = heard.getChannelData(0);
         return samples.findIndex((sample) => Math.abs(sample) > 0.05) / heard.sampleRate * 1000 - 500;",
    );
    let late_ms = late_ms.as_f64().unwrap();
    // The usual half second of silence stands before it; an AAC encoder's own 1024 samples would be 21 ms.
    assert!(late_ms.abs() < 3.0, "the beep comes {late_ms} ms late");
    assert_eq!(browser.console_errors(), Vec::<String>::new());
}

/// The program as it is typed: what it says, and what it refuses.
#[test]
fn the_command_says_what_it_wrote_and_what_it_refused() {
    let folder = tempfile::tempdir().unwrap();
    let dir = project(folder.path(), PLAN, 4);
    let made = barebulb()
        .args(["pocket", &dir, "--without-sound"])
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", told(&made, folder.path()));
    let text = String::from_utf8_lossy(&made.stdout).into_owned();
    assert!(
        text.contains("papers/pocket-night.html") && text.contains("3 setups"),
        "{text}"
    );
    let bad = folder.path().join("bad.json");
    let log = |project: &str, setup: &str| {
        json!({"barebulb_log": 1, "project": project, "entries": [
            {"device": "p1", "number": 1, "at_ms": CALL_MS, "what": {"kind": "setup", "setup": setup, "done": true}},
        ]})
        .to_string()
    };
    for (text, says) in [
        ("{}", "no log of a pocket page"),
        ("not json", "no log of a pocket page"),
        (&log("elsewhere", "bedroom"), "another project's"),
        (
            &log("", "stairs").replace("\"number\":1", "\"number\":0"),
            "out of range",
        ),
    ] {
        std::fs::write(&bad, text).unwrap();
        let refused = run(&["pocket", &dir, "--log", &bad.display().to_string()]);
        assert_eq!(
            refused.status.code(),
            Some(1),
            "{}",
            told(&refused, folder.path())
        );
        let sentence = common::sentence(&refused, folder.path());
        assert!(sentence.contains(says), "{sentence}");
    }
    // A log that says something else under a number that is known.
    std::fs::write(&bad, log("", "stairs")).unwrap();
    let file = bad.display().to_string();
    assert!(run(&["pocket", &dir, "--log", &file]).status.success());
    std::fs::write(&bad, log("", "lamps")).unwrap();
    let refused = run(&["pocket", &dir, "--log", &file]);
    assert!(common::sentence(&refused, folder.path()).contains("something else in it"));
    assert_eq!(
        run(&["pocket", &dir, "--day", "noon"]).status.code(),
        Some(1)
    );
    assert_eq!(
        run(&["pocket", &dir, "--day", "night", "--log", &file])
            .status
            .code(),
        Some(2)
    );
}
