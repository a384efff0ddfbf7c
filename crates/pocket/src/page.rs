//! The page as one file: markup from the values, its own style and script, and a content policy
//! that lets exactly these run.

mod parts;

use crate::view::{Clock, Link, Pocket, SetupView};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::json;
use sha2::{Digest as _, Sha256};

const STYLE: &str = include_str!("page/pocket.css");

/// The parts of the script, in the order they need each other.
const SCRIPT: [&str; 4] = [
    include_str!("page/store.js"),
    include_str!("page/log.js"),
    include_str!("page/sound.js"),
    include_str!("page/main.js"),
];

/// Draws QR codes; by others, see `vendor/README.md`.
const CODES: &str = include_str!("../vendor/qrcode.js");

/// A page, whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// The file.
    pub html: String,
    /// The content policy it declares itself. Who serves it sends the same and no stricter one, as its
    /// style and script stand inside it; `frame-ancestors 'none'` can only be sent.
    pub policy: String,
}

/// The page for `pocket`, `aspect` being the finished picture's width over its height.
pub fn page(pocket: &Pocket, aspect: f64) -> Page {
    let script = script();
    let policy = policy(&script);
    let markup = html! {
        (DOCTYPE)
        html lang="en" data-dress="night" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover";
                meta name="referrer" content="no-referrer";
                title { (title(pocket)) " in the pocket" }
                link rel="icon" href="data:,";
                style { (PreEscaped(STYLE)) }
            }
            body {
                (header(pocket))
                noscript {
                    p .mind { "Without script this page can be read, but it counts nothing down, plays nothing and keeps no log." }
                }
                div #alarm role="alert" hidden {
                    p #alarm-says {}
                    button #alarm-save type="button" { "Save the file" }
                }
                main {
                    (parts::shoot(pocket, aspect))
                    (parts::day(pocket))
                    (parts::care(pocket))
                    (parts::log(pocket))
                }
                nav aria-label="Parts of this page" {
                    ul {
                        @for (to, name) in [("shoot", "Shoot"), ("day", "Day"), ("care", "Care"), ("log", "Log")] {
                            li { a href=(format!("#{to}")) { (name) } }
                        }
                    }
                }
                p #said role="status" {}
                (parts::dialogs())
                @for (index, sound) in pocket.sounds.iter().enumerate() {
                    audio id=(format!("sound-{index}")) preload="none" src=(data("audio/mp4", &sound.m4a)) {}
                }
                script type="application/json" #plan { (PreEscaped(plan(pocket))) }
                script { (PreEscaped(&script)) }
            }
        }
    };
    Page {
        html: markup.into_string(),
        policy,
    }
}

fn title(pocket: &Pocket) -> &str {
    match pocket.title.as_str() {
        "" => "Untitled",
        title => title,
    }
}

/// One program of all parts, in a scope of its own.
fn script() -> String {
    format!(
        "{CODES}\n(() => {{\n'use strict';\nconst plan = JSON.parse(document.getElementById('plan').textContent);\n{}\n}})();\n",
        SCRIPT.join("\n")
    )
}

/// Nothing but this style, this script, and what stands in the file; posts only to where it came from.
fn policy(script: &str) -> String {
    let hash = |text: &str| BASE64_STANDARD.encode(Sha256::digest(text.as_bytes()));
    format!(
        "default-src 'none'; script-src 'sha256-{}'; style-src 'sha256-{}'; img-src data:; media-src data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'",
        hash(script),
        hash(STYLE)
    )
}

/// Bytes as an address that holds them.
fn data(sort: &str, bytes: &[u8]) -> String {
    format!("data:{sort};base64,{}", BASE64_STANDARD.encode(bytes))
}

/// What the script needs, as JSON that can stand in a page.
fn plan(pocket: &Pocket) -> String {
    let Link { address, token } = pocket.link.clone().unwrap_or_default();
    let setup = |setup: &SetupView| {
        let sounds: Vec<_> = setup
            .sounds
            .iter()
            .map(|one| json!({ "sound": one.sound, "name": one.name }))
            .collect();
        json!({ "id": setup.id, "name": setup.name, "passes": setup.passes, "sounds": sounds })
    };
    let sounds = pocket.sounds.iter().map(|sound| {
        json!({
            "clicks_s": sound.clicks_s,
            "stretch_start_s": sound.stretch_start_s,
            "stretch_end_s": sound.stretch_end_s,
            "song_at_stretch_s": sound.song_at_stretch_s,
            "speed": sound.speed,
            "speed_text": sound.speed_text,
        })
    });
    let sky = pocket
        .sky
        .iter()
        .filter_map(|moment| Some(json!({ "at_s": moment.at.at_s?, "what": moment.what })));
    let batteries = pocket
        .batteries
        .iter()
        .map(|battery| json!({ "id": battery.id, "name": battery.name }));
    let plan = json!({
        "project": pocket.project,
        "day": pocket.day,
        "zone": pocket.zone,
        "link": address,
        "token": token,
        "setups": pocket.setups.iter().map(setup).collect::<Vec<_>>(),
        "sounds": sounds.collect::<Vec<_>>(),
        "sky": sky.collect::<Vec<_>>(),
        "batteries": batteries.collect::<Vec<_>>(),
        "first_bar": pocket.first_bar,
        "bars_s": pocket.bars_s,
        "log": pocket.log,
    });
    // Nothing in it may end the element it stands in.
    plan.to_string().replace('<', "\\u003c")
}

fn header(pocket: &Pocket) -> Markup {
    html! {
        header {
            div {
                h1 { (title(pocket)) }
                p role="timer" { span #wall {} " " span #sky-next {} }
            }
            p #count {}
            button #dress type="button" aria-pressed="true" aria-label="Night dress" { "☾" }
        }
    }
}

/// A time that the script puts into the reader's form; the plan's own form without it.
fn time(clock: &Clock) -> Markup {
    html! {
        @match clock.at_s {
            Some(at_s) => time data-at=(at_s) { (clock.text) },
            None => span { (clock.text) },
        }
    }
}

#[cfg(test)]
mod tests;
