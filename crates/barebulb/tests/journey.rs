//! A newcomer's whole way in a real Chromium, from an empty folder, by nothing but what a person sees: labels,
//! buttons and links are found by their words, files are chosen, text is typed.

#[path = "common/browser.rs"]
mod browser;
mod common;
#[path = "common/serving.rs"]
mod serving;

use browser::{Browser, Driver};
use common::{clip, ffmpeg, heard, song, wav};
use serde_json::{Value, json};
use serving::Serving;
use std::path::Path;
use std::time::{Duration, Instant};

/// The words a person sees of an element: without what is there for screen readers alone.
const SEEN: &str = "const seen = (one) => { const copy = one.cloneNode(true); copy.querySelectorAll('.unseen').forEach((part) => part.remove()); return copy.textContent.trim().replace(/\\s+/g, ' '); };";

/// Presses a link, a button or a fold by the words on it.
fn choose(browser: &Browser, words: &str) {
    let words = json!(words);
    browser.press_found(&format!(
        "{SEEN} const found = [...document.querySelectorAll('a, button, summary')].find((one) => one.checkVisibility() && !one.disabled && seen(one) === {words}); found?.scrollIntoView({{ block: 'center', behavior: 'instant' }}); return found;"
    ));
}

/// A function body that returns the field with this label, what stands in it chosen.
fn field(label: &str) -> String {
    let label = json!(label);
    format!(
        "{SEEN} const labelled = [...document.querySelectorAll('label')].filter((one) => one.checkVisibility() && seen(one) === {label}).map((one) => one.htmlFor ? document.getElementById(one.htmlFor) : one.querySelector('input')); const found = labelled.find((one) => one) || [...document.querySelectorAll('[aria-label]')].find((one) => one.checkVisibility() && one.getAttribute('aria-label') === {label}); found?.scrollIntoView({{ block: 'center', behavior: 'instant' }}); if (found?.select && found.type !== 'checkbox') found.select(); return found;"
    )
}

/// Types over what stands in the field with this label.
fn fill(browser: &Browser, label: &str, text: &str) {
    browser.type_over_found(&field(label), text);
}

fn on_page(browser: &Browser, heading: &str) {
    browser.wait(&format!(
        "{SEEN} const h1 = document.querySelector('h1'); return document.readyState === 'complete' && h1 !== null && seen(h1).startsWith({})",
        json!(heading)
    ));
}

fn says(browser: &Browser, words: &str) {
    browser.wait(&format!(
        "return document.body.innerText.includes({})",
        json!(words)
    ));
}

fn text_of(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

#[test]
fn from_an_empty_folder_to_a_timeline() {
    let Some(driver) = Driver::start() else {
        return;
    };
    if !ffmpeg() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let sound = song(16, 3);
    let song_file = wav(&folder.path().join("paper-weather.wav"), &sound);
    let card = folder.path().join("card");
    std::fs::create_dir_all(&card).expect("a folder");
    for (name, from_s, length_s) in [
        ("wide-1.mp4", -1.0, 34.0),
        ("wide-2.mp4", -0.5, 33.5),
        ("close-1.mp4", 4.0, 24.0),
    ] {
        assert!(clip(
            &card.join(name),
            &heard(&sound, from_s, length_s, length_s as u64),
            &["-pix_fmt", "yuv420p", "-c:v", "libx264", "-g", "12"]
        ));
    }

    let serving = Serving::of(&folder.path().join("video"));
    let browser = driver.open(&folder.path().join("profile"), 1440, 1000);
    browser.downloads(&folder.path().join("saved"));
    browser.goto(&serving.open);

    // The song.
    on_page(&browser, "Begin with the song");
    browser.type_into("input[type=file]", &song_file.display().to_string());
    on_page(&browser, "Song");
    says(&browser, "Sections");
    browser.show("journey-1-song");

    // Sections corrected, by typing.
    fill(&browser, "Name of A", "verse");
    choose(&browser, "Save the sections");
    browser.wait("return [...document.querySelectorAll('input')].some((one) => one.value === 'verse' && one.defaultValue === 'verse')");

    // A place.
    choose(&browser, "Places");
    on_page(&browser, "Places");
    choose(&browser, "Add a place");
    on_page(&browser, "A new place");
    fill(&browser, "Name", "Cais da Tinta");
    fill(&browser, "Position, degrees", "41.1402, -8.6186");
    fill(&browser, "Time zone", "Europe/Lisbon");
    choose(&browser, "Add");
    on_page(&browser, "Places");
    says(&browser, "Cais da Tinta");

    // Kit.
    choose(&browser, "Kit");
    on_page(&browser, "Kit");
    choose(&browser, "Add a thing");
    on_page(&browser, "A new thing of the kit");
    fill(&browser, "Name", "Camera");
    fill(&browser, "Sort", "camera");
    choose(&browser, "More");
    fill(&browser, "Sensor, mm", "23.5, 15.6");
    fill(&browser, "Frame, pixels", "1920, 1080");
    fill(&browser, "Base ISO", "800");
    choose(&browser, "Add");
    on_page(&browser, "Kit");
    says(&browser, "Camera");

    // Two setups.
    choose(&browser, "Setups");
    on_page(&browser, "Setups");
    for (name, framing, bars) in [("Wide", "wide", ""), ("Close", "close", "3-14")] {
        choose(&browser, "Add a setup");
        on_page(&browser, "A new setup");
        fill(&browser, "Name", name);
        fill(&browser, "Place", "Cais da Tinta");
        fill(&browser, "Framing", framing);
        if !bars.is_empty() {
            fill(&browser, "Bars", bars);
        }
        choose(&browser, "Add");
        on_page(&browser, "Setups");
        says(&browser, name);
    }
    says(&browser, "Is there enough to cut to?");
    browser.show("journey-2-setups");

    // A day; first with a mistake, which is told beside its field.
    choose(&browser, "Day");
    on_page(&browser, "Day");
    choose(&browser, "Add a day");
    on_page(&browser, "A new day");
    fill(&browser, "Date", "11202026");
    fill(&browser, "Call", "half past four");
    choose(&browser, "Add");
    says(&browser, "is not a clock time");
    fill(&browser, "Call", "16:30");
    fill(&browser, "Wrap at the latest", "22:00");
    choose(&browser, "Add");
    on_page(&browser, "Day");
    says(&browser, "No day is better: proven");
    choose(&browser, "Keep this order in the plan");
    on_page(&browser, "Day");
    browser.show("journey-3-day");

    // Undo is on every page: the order goes and comes back.
    choose(&browser, "Undo");
    choose(&browser, "Redo");
    on_page(&browser, "Day");

    // Takes.
    choose(&browser, "Takes");
    on_page(&browser, "Takes");
    let files: Vec<String> = ["wide-1.mp4", "wide-2.mp4", "close-1.mp4"]
        .iter()
        .map(|name| card.join(name).display().to_string())
        .collect();
    browser.type_into("input[type=file]", &files.join("\n"));
    browser.wait("return document.querySelectorAll('take-card').length === 3");
    browser.wait("return [...document.querySelectorAll('take-card')].every((one) => one.textContent.includes('Heard:'))");
    browser.show("journey-4-takes");

    // The assembly plays.
    choose(&browser, "Assembly");
    on_page(&browser, "Assembly");
    choose(&browser, "Make the first assembly");
    says(&browser, "Shots");
    browser.wait("return document.querySelector('cut-player') !== null");
    browser.show("journey-5-assembly");
    let before = browser.run("return document.querySelector('#song-sound').currentTime");
    choose(&browser, "Play");
    let until = Instant::now() + Duration::from_secs(30);
    loop {
        let now = browser.run("return document.querySelector('#song-sound').currentTime");
        if now.as_f64() > before.as_f64().map(|at| at + 1.0) {
            break;
        }
        assert!(Instant::now() < until, "the song stands at {now}");
        std::thread::sleep(Duration::from_millis(100));
    }

    // The timeline goes along.
    let link = browser.run("return [...document.querySelectorAll('a')].find((one) => /OpenTimelineIO/.test(one.textContent))?.textContent");
    assert!(text_of(&link).contains("OpenTimelineIO"), "{link}");
    browser.run("[...document.querySelectorAll('a')].find((one) => /OpenTimelineIO/.test(one.textContent)).click()");
    let saved = wait_for_file(&folder.path().join("saved"), "otio");
    let timeline: Value = serde_json::from_str(&saved).expect("JSON");
    assert_eq!(timeline["OTIO_SCHEMA"], json!("Timeline.1"));

    // And the first page knows.
    browser.goto(&serving.at("/"));
    on_page(&browser, "Next");
    says(&browser, "version 1");
    assert_eq!(
        browser
            .console_errors()
            .iter()
            .filter(|line| !line.contains("422"))
            .count(),
        0
    );
}

/// The text of the first whole file in `folder` with this ending.
fn wait_for_file(folder: &Path, ending: &str) -> String {
    let until = Instant::now() + Duration::from_secs(30);
    loop {
        let found = std::fs::read_dir(folder)
            .into_iter()
            .flatten()
            .flatten()
            .map(|entry| entry.path())
            .find(|path| path.extension().is_some_and(|end| end == ending));
        if let Some(text) = found.and_then(|path| std::fs::read_to_string(path).ok())
            && !text.is_empty()
        {
            return text;
        }
        assert!(Instant::now() < until, "nothing was saved");
        std::thread::sleep(Duration::from_millis(100));
    }
}
