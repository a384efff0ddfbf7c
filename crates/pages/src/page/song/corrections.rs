//! What was heard, in figures, and putting right tempo, bars and beats: by typing, at the playhead, by tapping.

use super::view::{Meant, View};
use crate::app::App;
use crate::form::{self, Faults};
use crate::posted::{Posted, PostedJson};
use crate::refusal::Refused;
use crate::shell;
use axum::Json;
use axum::extract::State;
use maud::{Markup, html};
use model::describe::Field;
use model::song::Corrections;
use model::{Correction, Edit, SongTime};
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;

/// A figure of the corrections, under the name its form posts it by.
fn figure(of: &str, name: &'static str, hint: &'static str) -> Field {
    let field = Corrections::NOUN
        .field(of)
        .expect("the corrections have it");
    Field {
        name,
        hint,
        ..*field
    }
}

fn tempo() -> Field {
    figure("tempo_bpm", "bpm", "From 20 to 400. Empty: as heard.")
}

fn beats() -> Field {
    figure("beats_per_bar", "beats", "From 1 to 16. Empty: as heard.")
}

fn downbeat() -> Field {
    let hint = "Such as 0:01.25; the beat nearest to it is taken. Empty: as heard.";
    figure("first_downbeat", "at", hint)
}

/// The most taps one go takes.
const MOST_TAPS: usize = 2000;

/// The song in figures, and what listening was unsure of.
pub fn facts(view: &View<'_>) -> Markup {
    let (heard, map) = (view.heard, &view.heard.map);
    let corrections = &view.song.corrections;
    let report = heard.report();
    let by_hand = |is: bool| if is { ", by hand" } else { "" };
    let bars = map.bars.iter().filter(|bar| bar.number > 0).count();
    let loudness = |value: Option<f64>, unit: &str| {
        value.map_or_else(
            || format!("no {unit}"),
            |value| format!("{value:.1} {unit}"),
        )
    };
    let tempo_by_hand = corrections.tempo_bpm.is_some()
        || corrections.doublings != 0
        || !corrections.taps.is_empty();
    html! {
        dl.facts.song-facts {
            dt { "Length" }
            dd { (model::text::minutes(map.length)) ", " data value=(report.sample_rate_hz) { (report.sample_rate_hz) } " Hz, " (report.channels) @if report.channels == 1 { " channel" } @else { " channels" } }
            dt { "Tempo" }
            dd { data value=(format!("{:.2}", map.tempo_bpm)) { (format!("{:.2}", map.tempo_bpm)) } " beats a minute" (by_hand(tempo_by_hand)) }
            dt { "Bars" }
            dd { (bars) " of " (map.beats_per_bar) " beats" (by_hand(corrections.beats_per_bar.is_some() || corrections.first_downbeat.is_some())) }
            dt { "Sections" }
            dd { (map.sections.len()) (by_hand(corrections.sections.is_some())) }
            dt { "Loudness" }
            dd { (loudness(report.loudness.integrated_lufs, "LUFS")) ", range " (loudness(report.loudness.range_lu, "LU")) ", true peak " (loudness(report.loudness.true_peak_dbtp, "dBTP")) }
        }
        @if !heard.notes.is_empty() {
            div.unsure {
                h2 { "What listening was unsure of" }
                ul { @for note in &heard.notes { li { (shell::said(note.to_string())) } } }
            }
        }
    }
}

fn what(does: &str) -> Markup {
    html! { input type="hidden" name="do" value=(does); }
}

/// A form of one field.
fn one(view: &View<'_>, name: &'static str, field: &Field, held: Value, more: Markup) -> Markup {
    let typed = view.back.typed.get(field.name).and_then(|all| all.last());
    let value = match typed.filter(|_| view.back.form == name) {
        Some(text) => json!(text),
        None => held,
    };
    html! {
        form.row.one-field method="post" action="/song/correct" data-guarded="" {
            (view.carried())
            (what(name))
            (form::draw_one(name, field, &value, view.project(), &view.back.faults(name)))
            button.quiet { "Set" span.unseen { ": " (field.label) } }
            (more)
        }
    }
}

/// The forms that put it right.
pub fn draw(view: &View<'_>) -> Markup {
    let corrections = &view.song.corrections;
    let plain = |does: &'static str, says: &str| {
        html! {
            form method="post" action="/song/correct" {
                (view.carried())
                button.quiet name="do" value=(does) { (says) }
            }
        }
    };
    html! {
        section aria-labelledby="tempo-title" {
            h2 #tempo-title { "Tempo and bars" }
            (one(view, "tempo", &tempo(), json!(corrections.tempo_bpm), html! {}))
            div.row.halves {
                (plain("halve", "Half as many beats"))
                (plain("double", "Twice as many beats"))
            }
            (view.back.summary("halve", |_| false))
            (view.back.summary("double", |_| false))
            @if !view.heard.listening.rivals.is_empty() {
                div.row.rivals {
                    p { "It could also be counted:" }
                    @for rival in &view.heard.listening.rivals {
                        @let bpm = format!("{:.2}", rival.tempo_bpm);
                        form method="post" action="/song/correct" {
                            (view.carried())
                            (what("tempo"))
                            input type="hidden" name="bpm" value=(bpm);
                            button.quiet { data value=(bpm) { (bpm) } span.unseen { " beats a minute" } }
                        }
                    }
                }
            }
            (one(view, "beats", &beats(), json!(corrections.beats_per_bar), html! {}))
            from-here.from-here {
                (one(view, "downbeat", &downbeat(), json!(corrections.first_downbeat), html! {
                    button.quiet.needs-script type="button" data-here="" { "Here, at the playhead" }
                }))
            }
            tap-along.tap-along.needs-script {
                h3 { "Tap along" }
                p.faint { "Play the song and tap each beat. The beats then pass through your taps." }
                div.row {
                    button type="button" data-tap="" { "Tap" span.unseen { " a beat" } }
                    p data-says="" role="status" {}
                }
            }
            @if !corrections.taps.is_empty() {
                div.row { p { (corrections.taps.len()) @if corrections.taps.len() == 1 { " beat" } @else { " beats" } " tapped so far." } (plain("forget-taps", "Forget the taps")) }
            }
            @if !corrections.is_empty() {
                div.row.as-heard { p { "Corrections hold, whatever is heard later." } (plain("forget-all", "Everything as heard")) }
            }
        }
    }
}

/// What was typed into `field`, as the document holds it.
fn typed<T: serde::de::DeserializeOwned>(field: &Field, posted: &Posted) -> Result<T, Faults> {
    let wrong = |says| Faults::one(field.name, says);
    // A decimal comma, in a time too.
    let text = posted.text(field.name);
    let text = if field.name == "at" {
        text.replace(',', ".")
    } else {
        text.to_owned()
    };
    let value = model::typed::typed(field, &text).map_err(wrong)?;
    if let Some(says) = value
        .as_f64()
        .and_then(|number| field.number_problem(number))
    {
        return Err(wrong(says));
    }
    serde_json::from_value(value).map_err(|error| wrong(error.to_string()))
}

/// The correction a form means, with the name of the form.
fn meant(posted: &Posted) -> Option<(&'static str, Result<Correction, Faults>)> {
    Some(match posted.text("do") {
        "tempo" => (
            "tempo",
            typed(&tempo(), posted).map(|bpm| Correction::Tempo { bpm }),
        ),
        "halve" => ("halve", Ok(Correction::Halve)),
        "double" => ("double", Ok(Correction::Double)),
        "beats" => (
            "beats",
            typed(&beats(), posted).map(|beats| Correction::BeatsPerBar { beats }),
        ),
        "downbeat" => (
            "downbeat",
            typed(&downbeat(), posted).map(|at| Correction::FirstDownbeat { at }),
        ),
        "forget-taps" => ("forget-taps", Ok(Correction::ForgetTaps)),
        "forget-all" => ("forget-all", Ok(Correction::ForgetAll)),
        _ => return None,
    })
}

/// The correction a form asks for.
///
/// # Errors
/// When it does not say which.
pub fn correct(posted: &Posted) -> Result<Meant, Refused> {
    let (form, meant) = meant(posted).ok_or_else(|| {
        Refused::Unreadable("the form does not say what to correct; load the page again".into())
    })?;
    let meant = meant.map(|correction| Some(Edit::Correct { correction }));
    Ok((form, meant))
}

/// Beats tapped in one go, seconds.
#[derive(Deserialize)]
pub struct Taps {
    at: Vec<f64>,
}

/// Corrects the beats by taps along with the song.
///
/// # Errors
/// When they are none, or the edit is refused.
pub async fn taps(
    State(app): State<Arc<App>>,
    posted: PostedJson<Taps>,
) -> Result<Json<Value>, Refused> {
    let at = posted.value.at;
    let sound = |at: &f64| at.is_finite() && (0.0..=model::time::MAX_SECONDS).contains(at);
    if at.is_empty() || at.len() > MOST_TAPS || !at.iter().all(sound) {
        return Err(Refused::Unreadable(
            "these are no beats of the song; tap again while it plays".into(),
        ));
    }
    let correction = Correction::Taps {
        at: at.into_iter().map(SongTime::nearest_to_seconds).collect(),
    };
    let revision = app.edit(&Edit::Correct { correction })?;
    Ok(Json(json!({ "revision": revision.number() })))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn correction(pairs: &[(&str, &str)]) -> Result<Correction, Faults> {
        meant(&Posted::for_tests(pairs)).expect("a form").1
    }

    #[test]
    fn figures_are_read_and_empty_is_as_heard() {
        assert_eq!(
            correction(&[("do", "tempo"), ("bpm", "96,5")]),
            Ok(Correction::Tempo { bpm: Some(96.5) })
        );
        assert_eq!(
            correction(&[("do", "tempo"), ("bpm", " ")]),
            Ok(Correction::Tempo { bpm: None })
        );
        assert_eq!(
            correction(&[("do", "beats"), ("beats", "3")]),
            Ok(Correction::BeatsPerBar { beats: Some(3) })
        );
        assert_eq!(
            correction(&[("do", "downbeat"), ("at", "0:01.25")]),
            Ok(Correction::FirstDownbeat {
                at: Some(SongTime::nearest_to_seconds(1.25))
            })
        );
        assert!(meant(&Posted::for_tests(&[("do", "nothing")])).is_none());
    }

    #[test]
    fn faults_stand_at_their_field() {
        for (form, name, value) in [
            ("tempo", "bpm", "fast"),
            ("beats", "beats", "3.5"),
            ("downbeat", "at", "soon"),
        ] {
            let faults = correction(&[("do", form), (name, value)]).expect_err("a fault");
            assert!(faults.at(name).is_some(), "{form}");
        }
    }
}
