//! The song strip on every page: waveform, sections, bars and voice, and under it the layer of the page.
//!
//! Its pieces are drawn in `charts`, without script and for every width. `assets/song-strip.js` makes it playable, and
//! `assets/song-clock.js` gives other scripts the playing time and the ruler.

mod drawn;
mod layer;
mod ruler;

pub use layer::Layer;

#[cfg(test)]
pub(crate) use ruler::tests;

use crate::app::{App, Head};
use crate::memo::{Answer, Part};
use crate::text::said;
use crate::work::Lane;
use charts::song::{self, Scale, song_clock};
use maud::{Markup, PreEscaped, html};
use model::Song;
use std::sync::Arc;
use steps::Heard;

/// What was heard in the song, corrections laid over it, from the memo.
pub async fn heard(app: &Arc<App>, head: &Head) -> Answer<Heard> {
    app.ask(
        head,
        "heard",
        "",
        ("Listening to the song", Lane::Quick),
        &[Part::Song],
        |job, progress| job.heard(progress),
    )
    .await
}

/// The strip, or, without a song, nothing.
pub async fn draw(app: &Arc<App>, head: &Head, layer: Layer) -> Markup {
    let Some(song) = &head.project.song else {
        return html! {};
    };
    let answer = heard(app, head).await;
    if let Answer::Failed(why) = &answer {
        return html! {
            section.strip-wait aria-label="The song" { p.bad { (said(why)) } }
        };
    }
    match answer.value() {
        Some(heard) => strip(heard, song, &layer, answer.is_working()),
        None if answer.is_working() => html! {
            section.strip-wait aria-label="The song" { p role="status" { "The song is being listened to. Its waveform, bars and sections appear here in some seconds." } }
        },
        None => html! {
            section.strip-wait aria-label="The song" { p { "Listening to the song was stopped. " a href="/song" { "Go on on the page Song" } "." } }
        },
    }
}

/// The strip of what was heard.
fn strip(heard: &Heard, song: &Song, layer: &Layer, stale: bool) -> Markup {
    let map = &heard.map;
    let scale = Scale::of(map);
    let zooms = &heard.listening.peaks.zooms;
    let zoom = zooms.get(1).or(zooms.first());
    html! {
        song-strip #song-strip.strip role="region" aria-label="The song" {
            div.strip-body {
                div.strip-head {
                    button #strip-play.strip-play.needs-script type="button" aria-label="Play the song" {
                        svg viewBox="0 0 24 24" width="24" height="24" aria-hidden="true" {
                            path.to-play d="M7 4l13 8l-13 8z" {}
                            path.to-pause d="M6 4h4v16h-4zM14 4h4v16h-4z" {}
                        }
                    }
                    p.strip-at.needs-script { span data-is="bar" { "1.1" } " " span data-is="section" {} " " span data-is="time" { "0:00.0" } }
                    @if stale { p.faint { "being listened to again" } }
                }
                div.strip-song {
                    div.strip-dial role="img" aria-label=(format!("{} in {} sections; in words below", song_clock(model::SongTime::ZERO + map.length), map.sections.len())) {
                        (song::band(map))
                        (song::wave(map, zoom, 56))
                        (song::ruler(map))
                    }
                    @if matches!(layer, Layer::Sections(_)) { (drawn::bounds(map)) }
                }
                div.strip-name.energy-name { span.is-energy { "Energy" } " " span.is-voice { "Voice" } }
                (song::energy(map, &song.lyrics))
                @for row in layer.rows() { (layer::draw(row, scale)) }
                svg.strip-over width="100%" height="100%" aria-hidden="true" {
                    (song::PATTERN)
                    line.playhead x1="0" x2="0" y1="0" y2="100%" {}
                }
            }
            details.strip-words data-fold="the-song-in-words" {
                summary { "The song in words" }
                (drawn::in_words(map))
                (layer::in_words(layer.rows()))
            }
            script #song-map type="application/json" { (PreEscaped(ruler::inside_script(&ruler::ruler(map, &song.file.hash)))) }
        }
    }
}
