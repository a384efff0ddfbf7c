//! A page in the dress its browser asks for: the HTML around everything, and the page of whoever is not in yet.

use crate::assets;
use axum::http::header;
use maud::{DOCTYPE, Markup, html};

/// What htmx is told: nothing of its own into the page's style, nothing evaluated.
const HTMX: &str = r#"{"includeIndicatorCSS":false,"defaultSwap":"outerMorph","morphSkip":"[data-keep]","history":true}"#;

/// The cookie that holds the dress.
const DRESS: &str = "dress";

/// A page without the job around it: for whoever is not in yet.
pub fn bare(title: &str, body: &Markup) -> Markup {
    let inside = html! {
        header.top { p.mark { (bulb()) span { "Barebulb" } } }
        main #page tabindex="-1" { (body) }
    };
    around(title, None, &inside)
}

tokio::task_local! {
    /// The dress the request's browser asks for.
    pub static NIGHT: bool;
}

/// Whether this request's browser asks for the night dress.
fn is_night() -> bool {
    NIGHT.try_with(|night| *night).unwrap_or(false)
}

/// The HTML around `inside`; with the `token` of a device that was let in, also what makes it live.
pub fn around(title: &str, token: Option<&str>, inside: &Markup) -> Markup {
    let night = is_night();
    html! {
        (DOCTYPE)
        html lang="en" data-dress=(if night { "night" } else { "paper" }) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content=(if night { "dark" } else { "light" });
                meta name="htmx-config" content=(HTMX);
                title { (title) " – Barebulb" }
                link rel="icon" href=(assets::at("bulb.svg")) type="image/svg+xml";
                link rel="stylesheet" href=(assets::at("style.css"));
                link rel="stylesheet" href=(assets::at("charts.css"));
                link rel="stylesheet" href=(assets::at("song.css"));
                link rel="stylesheet" href=(assets::at("assembly.css"));
                @if token.is_some() {
                    script src=(assets::at("vendor/htmx.min.js")) defer {}
                    script type="module" src=(assets::at("main.js")) {}
                }
            }
            body data-token=[token] {
                a.skip href="#page" { "Skip to the page" }
                div #frame hx-history-elt="" hx-boost:inherited="true" hx-target:inherited="#frame" hx-select:inherited="#frame" hx-swap:inherited="outerMorph" {
                    (inside)
                }
                (charts::PATTERNS)
                @if token.is_some() { audio #song-sound preload="auto" {} }
            }
        }
    }
}

/// The mark.
pub fn bulb() -> Markup {
    html! {
        svg.bulb viewBox="0 0 24 24" width="24" height="24" aria-hidden="true" {
            path d="M12 2a7 7 0 0 0-4 12.7V17h8v-2.3A7 7 0 0 0 12 2Z" {}
            path.base d="M8.5 19h7M9.5 21.5h5" {}
        }
    }
}

/// The cookie that changes the dress of this request's browser into the other one.
pub fn other() -> String {
    format!(
        "{DRESS}={}; Path=/; Max-Age=31536000; SameSite=Strict; HttpOnly",
        if is_night() { "paper" } else { "night" }
    )
}

/// Whether a browser asks for the night dress.
pub fn asks_for_night(headers: &axum::http::HeaderMap) -> bool {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(';'))
        .any(|pair| pair.trim() == "dress=night")
}
