//! The assembly as a page.

use super::board::{Board, address, take_name};
use crate::app::App;
use crate::memo::Answer;
use crate::shell;
use assemble::by_hand::{self, Other};
use assemble::{Choice, Why};
use charts::song::song_clock as clock;
use maud::{Markup, PreEscaped, html};
use model::text::counted;
use model::{Cut, Fit, Rating, Shot, SongMap, TakeId};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use steps::{Job, Trouble};

/// Before there is a cut.
pub fn first(session: &crate::door::Session, takes: usize) -> Markup {
    html! {
        h1 { "Assembly" }
        p { (takes) @if takes == 1 { " take is in." } @else { " takes are in." } " The first assembly is the best cut of them under the weights of the plan: performance where there is voice, shots as long as the energy asks, no setup twice running." }
        form method="post" action="/assembly/make" {
            input type="hidden" name="token" value=(session.token);
            button { "Make the first assembly" }
        }
    }
}

/// When the song can't be read.
pub fn failed(why: &str) -> Markup {
    html! { h1 { "Assembly" } p.bad { (shell::sentence(why)) } }
}

/// While something is awaited.
pub fn waiting(what: &str) -> Markup {
    html! { h1 { "Assembly" } p { (what) } }
}

/// The rating in words.
pub fn rated(rating: Rating) -> &'static str {
    match rating {
        Rating::Circled => "circled",
        Rating::Usable => "usable",
        Rating::Unrated => "not rated",
        Rating::NoGood => "no good",
    }
}

/// How sure a placement is, in a word.
pub fn sure(confidence: f64) -> &'static str {
    match confidence {
        0.9.. => "sure",
        0.6.. => "likely",
        _ => "doubtful",
    }
}

fn percent(share: f64) -> Markup {
    html! { data value=(format!("{:.0}", share * 100.0)) { (format!("{:.0}", share * 100.0)) } " %" }
}

/// A picture rate as the trade writes it: `25`, `29.97`.
pub fn rate(rate: model::FrameRate) -> String {
    let text = format!("{:.3}", rate.fps());
    let text = text.trim_end_matches('0').trim_end_matches('.');
    text.to_owned()
}

/// A hidden field.
fn hidden(name: &str, value: impl std::fmt::Display) -> Markup {
    html! { input type="hidden" name=(name) value=(value); }
}

fn pairs(project: &model::Project, id: Option<&TakeId>) -> String {
    id.and_then(|id| project.take(id))
        .and_then(|take| take.setup.as_ref())
        .map_or_else(String::new, ToString::to_string)
}

fn link(version: Option<u32>, shot: Option<usize>, with: Option<u32>) -> String {
    let mut parts = Vec::new();
    if let Some(version) = version {
        parts.push(format!("version={version}"));
    }
    if let Some(shot) = shot {
        parts.push(format!("shot={shot}"));
    }
    if let Some(with) = with {
        parts.push(format!("with={with}"));
    }
    if parts.is_empty() {
        "/assembly".into()
    } else {
        format!("/assembly?{}", parts.join("&"))
    }
}

impl Board<'_> {
    fn version_asked(&self) -> Option<u32> {
        (!self.newest).then_some(self.cut.version)
    }

    fn beats(&self, shot: &Shot) -> f64 {
        let Some(at) = self.cut.stretch(shot) else {
            return 0.0;
        };
        at.length().seconds() * self.map.tempo_bpm / 60.0
    }

    fn section(&self, shot: &Shot) -> String {
        let index = self.map.section_index_at(self.near(shot.from_frame));
        let call = self.map.section_call(index);
        match &self.map.sections[index].name {
            Some(name) => format!("{name} ({call})"),
            None => call,
        }
    }
}

/// What the player needs to know, as JSON beside it.
fn data(board: &Board, takes: Value) -> Value {
    let project = &board.head.project;
    let brief = &project.brief;
    let [width, height] = brief.frame;
    let [a, b] = brief.active.unwrap_or(brief.frame);
    let seconds = |ticks: i64| ticks as f64 / model::TICKS_PER_SECOND as f64;
    let shots: Vec<Value> = board
        .cut
        .shots
        .iter()
        .map(|shot| {
            json!({
                "from": shot.from_frame,
                "to": shot.to_frame,
                "take": shot.take,
                "start": shot.take_start.seconds(),
                "speed": shot.speed,
                "group": pairs(project, shot.take.as_ref()),
            })
        })
        .collect();
    json!({
        "version": board.cut.version,
        "rate": [board.cut.rate.num(), board.cut.rate.den()],
        "length": board.map.length.seconds(),
        "frame": [width, height],
        "active": [a, b],
        "fit": match brief.fit { Fit::Crop => "cover", Fit::Inside => "contain" },
        "shots": shots,
        "takes": takes,
        "beats": board.map.beats.iter().map(|at| seconds(at.ticks())).collect::<Vec<_>>(),
        "bars": board.map.bars.iter().map(|bar| json!([bar.number, bar.at.start().seconds()])).collect::<Vec<_>>(),
        "sections": board.map.sections.iter().enumerate().map(|(index, section)| json!([board.map.section_call(index), section.name, section.at.start().seconds()])).collect::<Vec<_>>(),
    })
}

/// JSON that can stand inside a script element: nothing in it ends the element.
pub fn json_block(id: &str, value: &Value) -> Markup {
    let text = value.to_string().replace('<', "\\u003c");
    html! { script type="application/json" id=(id) { (PreEscaped(text)) } }
}

/// The whole page.
pub(super) fn page(
    app: &App,
    board: &Board,
    takes: Value,
    why: Option<Answer<Why>>,
    trouble: Vec<Trouble>,
) -> Markup {
    let project = &board.head.project;
    html! {
        div.assembly {
            div.head {
                h1 { "Assembly " small.faint { "version " (board.cut.version) @if !board.newest { ", an earlier one" } } }
                form method="post" action="/assembly/make" {
                    (hidden("token", &board.session.token))
                    button.quiet { "Make it anew around what is locked" }
                }
            }
            (json_block("cut-data", &data(board, takes)))
            cut-player #cut-player data-keep="" {
                p.faint { "The cut plays here where script is allowed. The list below and the files hold the same." }
            }
            @if board.placed.is_none() { p.faint role="status" { "The takes are being placed on the song; what else could be shown where is known after that." } }
            @if let Some(other) = compared(board) { (comparison(board, other)) }
            div.bench {
                div.beside {
                    @if let Some((nth, shot)) = board.chosen() { (card(board, nth, shot, why)) }
                    @else { p.faint.hint-shot { "Choose a shot to give it another take, move its cuts, lock it, or see why it stands there." } }
                }
                (list(board))
                div.beside {
                    (versions(board))
                    (files(app, board))
                    @if !project.locks.is_empty() {
                        p.faint { (project.locks.len()) @if project.locks.len() == 1 { " stretch is" } @else { " stretches are" } " locked." }
                    }
                    @if !project.bans.is_empty() {
                        section aria-labelledby="not-wanted" {
                            h2 #not-wanted { "Not wanted somewhere" }
                            ul.plain {
                                @for ban in &project.bans {
                                    li {
                                        (ban.take) " from " (clock(ban.at.start())) " to " (clock(ban.at.end())) " "
                                        form.inline method="post" action="/assembly/here-again" {
                                            (hidden("token", &board.session.token)) (hidden("take", &ban.take)) (hidden("at", ban.at.start().ticks()))
                                            button.quiet { "Allow it again" span.unseen { ": " (ban.take) } }
                                        }
                                    }
                                }
                            }
                            p.faint { "It holds from the next time the cut is made." }
                        }
                    }
                    @if !trouble.is_empty() {
                        section aria-labelledby="cut-trouble" {
                            h2 #cut-trouble { "What can't be cut to" }
                            ul.plain { @for one in &trouble { li { code { (one.file) } ": " (shell::sentence(&one.says)) } } }
                        }
                    }
                }
            }
        }
    }
}

fn list(board: &Board) -> Markup {
    let project = &board.head.project;
    let chosen = board.chosen().map(|(nth, _)| nth);
    html! {
        section aria-labelledby="shots-head" {
            h2 #shots-head { "Shots " small.faint { (board.cut.shots.len()) } }
            table.shots {
                caption.unseen { "Every shot of this version, in order; choose one to change it" }
                thead { tr {
                    th.num scope="col" { "Shot" } th scope="col" { "At" } th.later scope="col" { "Section" }
                    th.num.later scope="col" { "Beats" } th.num scope="col" { "Frames" } th scope="col" { "Take" } th.later scope="col" { "Setup" } th scope="col" { "How" }
                } }
                tbody {
                    @for (nth, shot) in board.cut.shots.iter().enumerate() {
                        @let locked = board.lock_of(shot).is_some();
                        tr data-shot=(nth) data-chosen[chosen == Some(nth)] {
                            td.num { a href=(format!("{}#shot", link(board.version_asked(), Some(nth + 1), None))) { span.unseen { "Shot " } (nth + 1) } }
                            td { (address(board.map, board.near(shot.from_frame))) }
                            td.later { (board.section(shot)) }
                            td.num.later { data value=(format!("{:.1}", board.beats(shot))) { (format!("{:.1}", board.beats(shot))) } }
                            td.num { (shot.to_frame - shot.from_frame) }
                            td.take { (take_name(shot.take.as_ref())) }
                            td.later { (pairs(project, shot.take.as_ref())) }
                            td { (how(shot)) @if locked { ", " strong { "locked" } } }
                        }
                    }
                }
            }
        }
    }
}

fn how(shot: &Shot) -> &'static str {
    match (&shot.take, shot.in_sync) {
        (None, _) => "black",
        (Some(_), true) => "in sync",
        (Some(_), false) => "free",
    }
}

fn speed_words(speed: f64) -> Option<String> {
    let slower = speed;
    ((slower - 1.0).abs() > 1e-6).then(|| {
        if slower > 1.0 {
            format!("{:.0} % of its speed", 100.0 / slower)
        } else {
            format!("{:.2} times its speed", 1.0 / slower)
        }
    })
}

fn card(board: &Board, nth: usize, shot: &Shot, why: Option<Answer<Why>>) -> Markup {
    let project = &board.head.project;
    let lock = board.lock_of(shot);
    let frames = shot.to_frame - shot.from_frame;
    let about = || {
        html! {
            (hidden("token", &board.session.token))
            (hidden("version", board.cut.version))
            (hidden("shot", nth + 1))
        }
    };
    let last = nth + 1 == board.cut.shots.len();
    html! {
        section.card.sheet #shot aria-labelledby="shot-head" tabindex="-1" {
            div.head {
                h2 #shot-head { "Shot " (nth + 1) ": " (take_name(shot.take.as_ref())) }
                p.turn {
                    @if nth > 0 { a.button.quiet href=(format!("{}#shot", link(board.version_asked(), Some(nth), None))) { "Shot before" } }
                    @if !last { a.button.quiet href=(format!("{}#shot", link(board.version_asked(), Some(nth + 2), None))) { "Shot after" } }
                    a.button.quiet href=(link(board.version_asked(), None, None)) { "Close" }
                }
            }
            @if let Some(said) = &board.asked.said { p.bad.faults role="alert" tabindex="-1" { (shell::sentence(said)) } }
            dl.facts {
                dt { "Where" } dd { "bar " (address(board.map, board.near(shot.from_frame))) " to " (address(board.map, board.near(shot.to_frame))) ", " (board.section(shot)) }
                dt { "How long" } dd { (format!("{:.1}", board.beats(shot))) " beats, " (counted(frames, "frame")) " at " (rate(board.cut.rate)) " a second" }
                @if let Some(id) = &shot.take {
                    @let take = project.take(id);
                    dt { "Take" } dd { (id) " from " (shot.take_start.to_string()) @if let Some(take) = take { ", " (rated(take.rating)) } @else { ", " span.bad { "not in the project any more" } } }
                    @if let Some(words) = speed_words(shot.speed) { dt { "Shown at" } dd { (words) } }
                    dt { "Lips" } dd { @if shot.in_sync { "in sync: shown where it was heard" } @else { "free: shown where it fits" } }
                }
                dt { "Lock" } dd { @if lock.is_some() { strong { "locked" } ": it stays when the cut is made anew" } @else { "not locked" } }
            }
            div.row.doing {
                @if lock.is_some() {
                    form method="post" action="/assembly/free" { (about()) button.quiet { "Free it" } }
                } @else if shot.take.is_some() {
                    form method="post" action="/assembly/lock" { (about()) button.quiet { "Lock it as it is" } }
                }
                @if board.newest && shot.take.is_some() { a.button.quiet href=(format!("{}&why=1#why", link(None, Some(nth + 1), None))) { "Why this one?" } }
                @if let Some(id) = shot.take.as_ref().filter(|_| shot.in_sync) {
                    form method="post" action="/assembly/not-here" { (about()) button.quiet title=(format!("Keeps {id} out of this part of the song when the cut is made anew")) { "Not " (id) " here" } }
                }
                @if let Some(id) = &shot.take {
                    form method="post" action="/assembly/never" { (about()) button.quiet title=(format!("Marks {id} no good: it is left out when the cut is made anew")) { "Never use " (id) } }
                }
            }
            div.movers {
                @if nth > 0 { (mover("before", "The cut into it", &about())) }
                @if !last { (mover("after", "The cut out of it", &about())) }
            }
            (other_takes(board, nth, &about()))
            @if let Some(why) = why { (because(&why, shot)) }
        }
    }
}

fn mover(which: &str, called: &str, about: &Markup) -> Markup {
    html! {
        form.mover method="post" action="/assembly/move" {
            (about) (hidden("cut", which))
            fieldset {
                legend { (called) }
                div.steps {
                    @for (by, words) in [("-1 beat", "a beat earlier"), ("-1", "a frame earlier"), ("1", "a frame later"), ("1 beat", "a beat later")] {
                        button.quiet name="by" value=(by) { (words) }
                    }
                }
            }
        }
    }
}

fn other_takes(board: &Board, nth: usize, about: &Markup) -> Markup {
    let Some(placed) = board.placed else {
        return html! {};
    };
    let project = &board.head.project;
    let question = assemble::Question {
        rate: board.cut.rate,
        ..steps::question(project, board.map, placed)
    };
    let others: Vec<Other> = by_hand::others(&question, &board.cut.shots, nth);
    html! {
        h3 { "What else could be shown here" }
        @if others.is_empty() {
            p.faint { "No other take holds all of this shot. A shorter shot may leave more to choose from." }
        } @else {
            p.faint { "Choosing one shows it over these frames and locks it there; nothing else changes." }
            table.others {
                caption.unseen { "Other takes for this shot" }
                thead { tr { th scope="col" { "Take" } th.later scope="col" { "Setup" } th scope="col" { "Lips" } th.later scope="col" { "Rating" } th scope="col" { span.unseen { "Choose" } } } }
                tbody {
                    @for other in &others {
                        @let id = other.shot.take.as_ref();
                        tr {
                            td.take { (take_name(id)) }
                            td.later { (pairs(project, id)) }
                            td { @if other.shot.in_sync { "in sync, " (sure(other.confidence)) ", " (percent(other.confidence)) } @else { "free" } }
                            td.later { (rated(other.rating)) }
                            td { form method="post" action="/assembly/show" { (about) (hidden("take", take_name(id))) button.quiet { "Show" span.unseen { " " (take_name(id)) " here" } } } }
                        }
                    }
                }
            }
        }
    }
}

fn because(why: &Answer<Why>, shot: &Shot) -> Markup {
    html! {
        section #why tabindex="-1" aria-labelledby="why-head" {
            h3 #why-head { "Why this one" }
            @match why {
                Answer::Failed(says) => { p.bad { (shell::sentence(says)) } }
                Answer::Stopped(_) => { p { "Weighing was stopped; ask again." } }
                Answer::Working(_) => { p { "The shots are being weighed; this page shows it once that is done." } }
                Answer::Ready(why) => {
                    @match why.choices.iter().find(|choice| choice.shot.from_frame == shot.from_frame) {
                        Some(choice) => (weighed(choice)),
                        None => p { "Nothing is known of this shot." },
                    }
                }
            }
        }
    }
}

/// The terms of the assembly in plain words.
fn term(name: &str) -> &str {
    match name {
        "wish" => "what was planned and wished for",
        "rating" => "rating",
        "sharpness" => "sharpness",
        "exposure" => "exposure",
        "movement" => "movement that fits the energy",
        "voice" => "lips where there is voice",
        "confidence" => "trust in the sync",
        "black" => "black",
        "length" => "length of the shot",
        "handles" => "picture to spare at its ends",
        "on_the_bar" => "cut on the bar",
        "same_setup" => "same setup twice running",
        "near_framing" => "framings too alike",
        "recent" => "setup seen a moment ago",
        _ => "what is avoided where it can be",
    }
}

fn weighed(choice: &Choice) -> Markup {
    let other = choice.runner_up_terms.unwrap_or_default();
    let shown = |x: f64| format!("{:.2}", (x * 100.0).round() / 100.0 + 0.0);
    let there = choice.runner_up.is_some();
    let second = choice
        .runner_up
        .as_ref()
        .map_or("nothing else", |shot| take_name(shot.take.as_ref()));
    let rows: Vec<(&str, f64, f64)> = choice
        .terms
        .named()
        .into_iter()
        .zip(other.named())
        .map(|((name, mine), (_, theirs))| (name, mine, theirs))
        .filter(|(_, mine, theirs)| mine.abs() >= 0.005 || theirs.abs() >= 0.005)
        .collect();
    html! {
        @if choice.shot.locked { p { "It stands because it is locked, whatever is weighed." } }
        table.weighed {
            caption { "What speaks for it, against the best other take over the same frames, everything else staying" }
            thead { tr { th scope="col" { "What counts" } th.num scope="col" { (take_name(choice.shot.take.as_ref())) } @if there { th.num scope="col" { (second) } th.num.later scope="col" { "Difference" } } } }
            tbody {
                @for (name, mine, theirs) in &rows {
                    tr { th scope="row" { (term(name)) } td.num { (shown(*mine)) } @if there { td.num { (shown(*theirs)) } td.num.later { (shown(mine - theirs)) } } }
                }
            }
            tfoot { tr { th scope="row" { "all" } td.num { strong { (shown(choice.terms.total())) } } @if there { td.num { (shown(other.total())) } td.num.later { (shown(choice.terms.total() - other.total())) } } } }
        }
    }
}

/// How many versions are listed before the rest is folded away.
const LISTED: usize = 5;

fn versions(board: &Board) -> Markup {
    let newest_first: Vec<&Cut> = board.head.project.cuts.iter().rev().collect();
    let (listed, folded) = newest_first.split_at(newest_first.len().min(LISTED));
    html! {
        section aria-labelledby="versions-head" {
            h2 #versions-head { "Versions" }
            ul.plain.versions { @for cut in listed { (version(board, cut)) } }
            @if !folded.is_empty() {
                details data-fold="older" {
                    summary { (counted(folded.len(), "older version")) }
                    ul.plain.versions { @for cut in folded { (version(board, cut)) } }
                }
            }
        }
    }
}

fn version(board: &Board, cut: &Cut) -> Markup {
    let cuts = &board.head.project.cuts;
    let shown = cut.version == board.cut.version;
    let newest = cuts
        .last()
        .is_some_and(|newest| newest.version == cut.version);
    let posted =
        || html! { (hidden("token", &board.session.token)) (hidden("version", cut.version)) };
    html! {
        li data-shown[shown] {
            p {
                strong { "Version " (cut.version) } ", " (counted(cut.shots.len(), "shot"))
                @if !cut.remark.is_empty() { br; span.faint { (cut.remark) } }
                @if shown { br; span.good { "shown above" } }
            }
            div.doing {
                @if !shown {
                    a.button.quiet href=(link(Some(cut.version), None, None)) { "Play" span.unseen { " version " (cut.version) } }
                    a.button.quiet href=(format!("{}#compared", link(board.version_asked(), None, Some(cut.version)))) { "Compare" span.unseen { " with version " (cut.version) } }
                }
                @if !newest {
                    form method="post" action="/assembly/back" { (posted()) button.quiet { "Go back to it" span.unseen { ", version " (cut.version) } } }
                }
                form method="post" action="/assembly/remove" { (posted()) button.quiet { "Remove" span.unseen { " version " (cut.version) } } }
            }
        }
    }
}

fn files(app: &App, board: &Board) -> Markup {
    let version = board.cut.version;
    let lyrics = board
        .head
        .project
        .song
        .as_ref()
        .is_some_and(|song| song.lyrics.iter().any(|line| line.at.is_some()));
    let preview = Job::preview_path(app.folder(), version).is_file();
    let file = |kind: &str, words: &str, what: &str| {
        html! { li { a href=(format!("/assembly/file/{kind}?version={version}")) download="" hx-boost="false" { (words) } br; span.faint { (what) } } }
    };
    html! {
        section aria-labelledby="files-head" {
            h2 #files-head { "To take away" }
            ul.plain {
                (file("otio", "Timeline, OpenTimelineIO", "Every shot with its take, speed and timecode, and the song."))
                (file("edl", "Edit list, SMPTE 258M", "The cuts alone, for what reads nothing else."))
                @if lyrics { (file("captions", "Captions, WebVTT", "The lyrics as they are timed.")) }
                @if preview { (file("preview", "Preview, MP4", "This version with the song, small.")) }
            }
            @if board.newest {
                form method="post" action="/assembly/preview" {
                    (hidden("token", &board.session.token))
                    p { label { input type="checkbox" name="labels" value="1"; " with section, bar and take written into the picture" } }
                    button.quiet { @if preview { "Render the preview again" } @else { "Render a preview" } }
                }
            }
        }
    }
}

fn compared<'a>(board: &'a Board) -> Option<&'a Cut> {
    let with = board.asked.with?;
    let mut cuts = board.head.project.cuts.iter();
    cuts.find(|cut| cut.version == with && cut.version != board.cut.version)
}

/// The lanes of a cut: what is told apart, in the order it is first seen.
fn lanes(board: &Board, cuts: &[&Cut]) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for shot in cuts.iter().flat_map(|cut| &cut.shots) {
        let group = pairs(&board.head.project, shot.take.as_ref());
        if shot.take.is_some() && !all.contains(&group) {
            all.push(group);
        }
    }
    all
}

/// A version as a row on the song: each setup on a line of its own.
fn row(board: &Board, cut: &Cut, lanes: &[String], differing: &[(f64, f64)]) -> Markup {
    let length = board.map.length.seconds().max(1e-9);
    let high = 10.0;
    let share = |s: f64| format!("{:.3}%", (s / length * 100.0).clamp(0.0, 100.0));
    let seconds =
        |frame: i64| cut.rate.ticks_of_frame(frame) as f64 / model::TICKS_PER_SECOND as f64;
    let all: BTreeMap<&str, usize> = lanes
        .iter()
        .enumerate()
        .map(|(n, lane)| (lane.as_str(), n))
        .collect();
    let height = high * lanes.len().max(1) as f64;
    html! {
        svg.cut-row width="100%" height=(height + 2.0) role="img" aria-label=(format!("Version {}: {} shots; the bars that differ are marked", cut.version, cut.shots.len())) {
            @for (from, to) in differing { rect.differs x=(share(*from)) y="0" width=(share(to - from)) height=(height + 2.0) {} }
            @for shot in &cut.shots {
                @if shot.take.is_some() {
                    @let lane = all.get(pairs(&board.head.project, shot.take.as_ref()).as_str()).copied().unwrap_or(0);
                    rect.shot x=(share(seconds(shot.from_frame))) y=(1.0 + lane as f64 * high) width=(share(seconds(shot.to_frame) - seconds(shot.from_frame))) height=(high - 2.0) {}
                }
            }
        }
    }
}

fn comparison(board: &Board, other: &Cut) -> Markup {
    let differ = by_hand::differences(board.map, board.cut, other);
    let lanes = lanes(board, &[board.cut, other]);
    let stretches: Vec<(f64, f64)> = differ
        .iter()
        .filter_map(|one| board.map.bars.iter().find(|bar| bar.number == one.bar))
        .map(|bar| (bar.at.start().seconds(), bar.at.end().seconds()))
        .collect();
    let names = |takes: &[Option<TakeId>]| {
        let all: Vec<&str> = takes.iter().map(|take| take_name(take.as_ref())).collect();
        all.join(", ")
    };
    html! {
        section #compared tabindex="-1" aria-labelledby="compared-head" {
            h2 #compared-head { "Version " (board.cut.version) " and version " (other.version) }
            @if differ.is_empty() { p { "They show the same." } } @else {
                p { (counted(differ.len(), "bar")) @if differ.len() == 1 { " differs" } @else { " differ" } ", of " (board.map.bars.len()) "." }
                p.faint { "Each line is a setup; the shaded bars differ." }
                p.lead { "Version " (board.cut.version) }
                (row(board, board.cut, &lanes, &stretches))
                p.lead { "Version " (other.version) }
                (row(board, other, &lanes, &stretches))
                table {
                    caption.unseen { "Bars in which the two versions differ" }
                    thead { tr { th.num scope="col" { "Bar" } th scope="col" { "Version " (board.cut.version) } th scope="col" { "Version " (other.version) } } }
                    tbody { @for one in &differ { tr { th.num scope="row" { (one.bar) } td { (names(&one.first)) } td { (names(&one.second)) } } } }
                }
            }
            p { a.button.quiet href=(link(board.version_asked(), None, None)) { "Close the comparison" } }
        }
    }
}

/// Bars from `from` to `to` in words.
pub fn bars(map: &SongMap, from: model::SongTime, to: model::SongTime) -> String {
    let (first, _) = map.address(from);
    let (last, _) = map.address(to);
    if first == last {
        format!("bar {first}")
    } else {
        format!("bars {first} to {last}")
    }
}
