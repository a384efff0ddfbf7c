//! The takes as a page.

use super::asked::{Asked, RATINGS};
use crate::app::Head;
use crate::door::Session;
use crate::memo::Answer;
use crate::page::assembly::draw::{bars, json_block, rate, rated, sure};
use crate::shell;
use maud::{Markup, html};
use model::text::minutes;
use model::{Project, Run, SongMap, SongTime, Take, TakeId};
use serde_json::{Value, json};
use steps::{Gathered, TakeState};

/// All there is to show.
pub struct Board<'a> {
    /// The document.
    pub head: &'a Head,
    /// Whoever looks.
    pub session: &'a Session,
    /// Which takes.
    pub asked: &'a Asked,
    /// The song as a ruler, once it is known.
    pub map: Option<&'a SongMap>,
    /// What was heard, as far as it is known; `None` without takes.
    pub gathered: Option<&'a Answer<Gathered>>,
    /// The takes that have a still.
    pub stills: &'a [TakeId],
    /// What the player needs to know of takes.
    pub player: Value,
}

impl Board<'_> {
    fn state(&self, take: &Take) -> Option<&TakeState> {
        let known = self.gathered?.value()?;
        known.takes.iter().find(|state| state.take.id == take.id)
    }

    fn token(&self) -> Markup {
        html! { input type="hidden" name="token" value=(self.session.token); }
    }
}

/// The whole page.
pub fn page(board: &Board) -> Markup {
    let project = &board.head.project;
    let shown: Vec<&Take> = project
        .takes
        .iter()
        .filter(|take| board.asked.wants(take))
        .collect();
    html! {
        div.takes-page {
            h1 { "Takes" @if !project.takes.is_empty() { " " small.faint { (project.takes.len()) } } }
            @if project.takes.is_empty() {
                p { "Bring in what the camera made. Each take is laid on the song by its sound; nothing has to be clapped." }
                (bring_in(board))
            } @else {
                details.bring data-fold="bring" { summary { "Bring in more" } (bring_in(board)) }
                @match board.gathered {
                    Some(Answer::Working(_)) => p.faint role="status" { "Takes are being placed on the song; each shows here once all were heard." },
                    Some(Answer::Stopped(_)) => p.warn { "Placing the takes was stopped. What was heard is kept; bring in a take, or load the page again later, and it goes on." },
                    Some(Answer::Failed(why)) => p.bad { (shell::sentence(why)) },
                    _ => {}
                }
                (filter(board))
                (many(board))
                @if shown.is_empty() { p { "No take is like that. " a href="/takes" { "Show all" } } }
                (json_block("take-data", &player(board, &shown)))
                ol.takes { @for take in &shown { (card(board, take)) } }
                details data-fold="keys" {
                    summary { "Keys" }
                    dl.facts.keys {
                        dt { "Up, down" } dd { "the take before, the take after" }
                        dt { "1" } dd { "circled" } dt { "2" } dd { "usable" } dt { "3" } dd { "no good" } dt { "0" } dd { "not rated" }
                        dt { "Enter" } dd { "play the take under the song, or stop it" }
                    }
                    p.faint { "They work while a take has the focus: click beside its picture, or go there with Tab." }
                }
            }
        }
    }
}

fn bring_in(board: &Board) -> Markup {
    html! {
        div.columns {
            drop-here.drop-here {
                form method="post" action="/takes/bring-in" enctype="multipart/form-data" data-plain="" hx-boost="false" {
                    (board.token())
                    label for="take-files" { strong { "Files" } br; "Drop takes here or choose them; they are copied into the project" }
                    input #take-files type="file" name="takes" multiple accept="video/*,audio/*,.mxf,.mts,.m2ts,.mkv" required;
                    button { "Bring them in" }
                }
            }
            @if board.session.owner {
                form.sheet method="post" action="/takes/folder" {
                    (board.token())
                    div.field {
                        label for="take-folder" { "A folder on this computer" }
                        input #take-folder name="folder" placeholder="/media/card/DCIM" autocomplete="off" spellcheck="false";
                        small.hint { "Its files stay where they lie. A card is better copied to a disk first." }
                    }
                    div.actions { button.quiet { "Bring in what lies there" } }
                }
            }
        }
    }
}

fn filter(board: &Board) -> Markup {
    let project = &board.head.project;
    let asked = board.asked;
    html! {
        form.row.filter method="get" action="/takes" {
            div.field {
                label for="of-setup" { "Setup" }
                select #of-setup name="setup" {
                    option value="" selected[asked.setup.is_empty()] { "all" }
                    @for setup in &project.setups { option value=(setup.id) selected[setup.id.as_str() == asked.setup] { (setup.id) } }
                    option value="none" selected[asked.setup == "none"] { "none yet" }
                }
            }
            div.field {
                label for="of-rating" { "Rating" }
                select #of-rating name="rating" {
                    option value="" selected[asked.rating.is_empty()] { "all" }
                    @for (_, word, called, _) in RATINGS { option value=(word) selected[word == asked.rating] { (called) } }
                }
            }
            button.quiet { "Show" }
            @if !asked.is_all() { a href="/takes" { "Show all" } }
        }
    }
}

fn setups(project: &Project, chosen: Option<&str>) -> Markup {
    html! {
        option value="" selected[chosen.is_none()] { "none yet" }
        @for setup in &project.setups { option value=(setup.id) selected[chosen == Some(setup.id.as_str())] { (setup.id) } }
    }
}

fn many(board: &Board) -> Markup {
    if board.head.project.setups.is_empty() {
        return html! {};
    }
    html! {
        details data-fold="many" {
            summary { "Say of several at once which setup they are of" }
            form.row #many method="post" action="/takes/assign" {
                (board.token())
                div.field { label for="many-setup" { "Those ticked below are of" } select #many-setup name="setup" { (setups(&board.head.project, None)) } }
                button.quiet { "Set it" }
            }
            p.faint { "Passes are counted on from those the setup has." }
        }
    }
}

/// What the player of one take needs: its runs, and where its files are.
fn player(board: &Board, shown: &[&Take]) -> Value {
    let mut all = serde_json::Map::new();
    for take in shown {
        let runs: Vec<Value> = board
            .state(take)
            .and_then(|state| state.placed.as_ref())
            .map(|placed| {
                let runs = placed.placement.runs.iter();
                runs.map(|run| {
                    json!({
                        "take": run.take_start.seconds(), "end": run.take_end.seconds(),
                        "song": run.song_start.seconds(), "speed": run.true_speed(),
                    })
                })
                .collect()
            })
            .unwrap_or_default();
        all.insert(
            take.id.to_string(),
            json!({ "runs": runs, "media": board.player[take.id.as_str()] }),
        );
    }
    let rate = board.head.project.brief.rate;
    json!({ "takes": all, "rate": [rate.num(), rate.den()], "length": board.map.map(|map| map.length.seconds()) })
}

fn card(board: &Board, take: &Take) -> Markup {
    let id = take.id.as_str();
    let state = board.state(take);
    let anchor = format!("take-{id}");
    let has_setups = !board.head.project.setups.is_empty();
    html! {
        li {
            take-card.sheet id=(anchor) data-take=(id) tabindex="0" role="group" aria-label=(format!("Take {id}, {}", rated(take.rating))) {
                div.look {
                    @if board.stills.contains(&take.id) {
                        img src=(format!("/media/still/{id}")) alt="" loading="lazy" width="400" height="225";
                    } @else {
                        p.nothing { (id) }
                    }
                    div.screen data-keep="" id=(format!("screen-{id}")) {}
                }
                div.told {
                    div.head {
                        h2 { (id) }
                        @if has_setups { label.tick { input type="checkbox" name="take" value=(id) form="many"; span.unseen { "Choose " (id) } } }
                    }
                    p.of {
                        @match &take.setup { Some(setup) => { (setup) @if let Some(pass) = take.pass { ", pass " (pass) } }, None => span.warn { "of no setup yet" } }
                        @if let Some(probe) = state.and_then(|state| state.probe.as_ref()) { span.faint { " · " (minutes(probe.length)) } @if let Some(picture) = &probe.picture { span.faint { " · " (rate(picture.rate)) " frames a second" } } }
                    }
                    (place(board, take, state))
                    @if !take.remark.is_empty() { p.remark { (take.remark) } }
                    (notes(state))
                    (rating(board, take))
                    (more(board, take, state))
                }
            }
        }
    }
}

/// Where it lies over the song: a line, and words.
fn place(board: &Board, take: &Take, state: Option<&TakeState>) -> Markup {
    let (Some(map), Some(state)) = (board.map, state) else {
        return html! {};
    };
    let Some(placed) = &state.placed else {
        return html! { @if let Some(why) = &state.trouble { p.bad { (shell::sentence(why)) } } };
    };
    let placement = &placed.placement;
    let length = map.length.seconds().max(1e-9);
    let share = |s: f64| format!("{:.3}%", (s / length * 100.0).clamp(0.0, 100.0));
    let Some(main) = placement.main_run() else {
        return html! { p { "The song is not in it; it can be shown anywhere its setup allows." } };
    };
    let words = words(map, main);
    html! {
        svg.over width="100%" height="16" role="img" aria-label=(words) {
            rect.song x="0" y="6" width="100%" height="4" {}
            @for section in &map.sections { line.bound x1=(share(section.at.start().seconds())) x2=(share(section.at.start().seconds())) y1="3" y2="13" {} }
            @for run in &placement.runs {
                @if let Some(at) = run.on_song() {
                    rect.run x=(share(at.start().seconds())) y="2" width=(share(at.length().seconds())) height="12" {}
                }
            }
        }
        p.heard {
            @if take.placed_by_hand.is_some() { "By hand: " } @else { "Heard: " }
            (words)
            @if placement.runs.len() > 1 { ", and " (placement.runs.len() - 1) " more " @if placement.runs.len() == 2 { "start" } @else { "starts" } " of playback" }
            "."
        }
        dl.figures {
            div { dt { "speed" } dd { (format!("{:.4}", main.speed).trim_end_matches('0').trim_end_matches('.')) " ×" } }
            div { dt { "drift" } dd { (format!("{:+.0}", main.drift_ppm.round() + 0.0)) " ppm" } }
            div { dt { "sync" } dd { (sure(main.confidence)) ", " (format!("{:.0}", main.confidence * 100.0)) " %" } }
        }
    }
}

fn words(map: &SongMap, run: &Run) -> String {
    match run.on_song() {
        Some(at) => {
            let last = SongTime::from_ticks(at.end().ticks() - 1);
            format!(
                "{}, {} to {} of the song",
                bars(map, at.start(), last),
                minutes(at.start().length_since(SongTime::ZERO)),
                minutes(at.end().length_since(SongTime::ZERO))
            )
        }
        None => "less than a moment of the song".into(),
    }
}

fn notes(state: Option<&TakeState>) -> Markup {
    let Some(state) = state else {
        return html! {};
    };
    // Said already, in words of the card.
    let plain = ["by-hand", "not-heard"];
    html! {
        @for note in state.notes.iter().filter(|note| !plain.contains(&note.kind.as_ref())) { p.note { (shell::sentence(&note.to_string())) } }
        @if state.path.is_none() { p.bad { "Its file is not where it was: put it back, or bring it in again from where it lies." } }
    }
}

fn rating(board: &Board, take: &Take) -> Markup {
    html! {
        form.rating method="post" action="/takes/rate" {
            (board.token())
            input type="hidden" name="take" value=(take.id);
            div.marks role="group" aria-label=(format!("Rating of {}", take.id)) {
                @for (rating, word, called, key) in RATINGS {
                    button.quiet name="rating" value=(word) aria-pressed=(if rating == take.rating { "true" } else { "false" }) title=(format!("Key {key}")) { (called) }
                }
            }
        }
    }
}

fn more(board: &Board, take: &Take, state: Option<&TakeState>) -> Markup {
    let id = take.id.as_str();
    let placement = state.and_then(|state| Some(&state.placed.as_ref()?.placement));
    let alternatives = placement.map_or(&[][..], |placement| &placement.alternatives);
    let speed = placement
        .and_then(|placement| placement.main_run())
        .map_or(1.0, |run| run.speed);
    html! {
        @if !alternatives.is_empty() {
            div.choices {
                p.warn { "It fits other places of the song about as well. Look at the lips and choose:" }
                @for other in alternatives {
                    @let at = SongTime::nearest_to_seconds(other.song_offset_s);
                    form method="post" action="/takes/place" {
                        (board.token())
                        input type="hidden" name="take" value=(id);
                        input type="hidden" name="at" value=(at);
                        input type="hidden" name="speed" value=(speed);
                        button.quiet { "Begins at " (at) ", " (format!("{:.0}", other.confidence * 100.0)) " %" }
                    }
                }
            }
        }
        details.more-of data-fold=(format!("of-{id}")) {
            summary { "Setup, remark, place" span.unseen { " of " (id) } }
            form method="post" action="/takes/about" data-guarded="" {
                (board.token())
                input type="hidden" name="take" value=(id);
                div.row {
                    div.field { label for=(format!("setup-{id}")) { "Setup" } select id=(format!("setup-{id}")) name="setup" { (setups(&board.head.project, take.setup.as_ref().map(model::SetupId::as_str))) } }
                    div.field { label for=(format!("pass-{id}")) { "Pass" } input id=(format!("pass-{id}")) name="pass" inputmode="numeric" data-size="number" value=[take.pass]; }
                }
                div.field { label for=(format!("remark-{id}")) { "Remark" } input id=(format!("remark-{id}")) name="remark" value=(take.remark); }
                div.actions { button.quiet { "Save" } }
            }
            form method="post" action="/takes/place" data-guarded="" {
                (board.token())
                input type="hidden" name="take" value=(id);
                div.row {
                    div.field { label for=(format!("at-{id}")) { "Song time at its first frame" } input id=(format!("at-{id}")) name="at" placeholder="0:12.345" value=[take.placed_by_hand.as_ref().map(|hand| hand.song_start.to_string())]; }
                    div.field { label for=(format!("speed-{id}")) { "Speed" } input id=(format!("speed-{id}")) name="speed" inputmode="decimal" data-size="number" value=(speed); }
                    button.quiet { "Place it by hand" }
                }
            }
            @if take.placed_by_hand.is_some() {
                form method="post" action="/takes/place" { (board.token()) input type="hidden" name="take" value=(id); input type="hidden" name="at" value=""; button.quiet { "Place it as heard" } }
            }
            p { a href=(format!("/change/take/{id}")) { "Everything about " (id) } }
        }
    }
}
