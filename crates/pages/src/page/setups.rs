//! Setups: what there is to cut to in every bar, as planned and as shot, what would help most, and each setup.

use crate::app::{App, Head};
use crate::computed;
use crate::door::Session;
use crate::finding;
use crate::media::serve_path;
use crate::posted::{Posted, PostedJson};
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::song_strip;
use crate::work::{End, Lane, told};
use axum::Router;
use axum::extract::{Path, Request, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use charts::song::{Kind, Row, Span};
use coverage::{BarCoverage, Coverage, Work, spans};
use maud::{Markup, html};
use model::{Project, Purpose, SetupId, SongMap};
use serde::Deserialize;
use std::sync::Arc;
use steps::{BarsPlanned, Covered, PlaybackOptions};

/// `/setups`, painting bars, advice taken, playback made.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/setups", get(show))
        .route("/setups/paint", post(paint))
        .route("/setups/take-advice/{nth}", post(take_advice))
        .route("/setups/playback", post(playback))
        .route("/setups/playback/{file}", get(playback_file))
}

async fn show(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let answer = if project.song.is_some() {
        Some(computed::coverage(&app, &head).await)
    } else {
        None
    };
    let covered = answer.as_ref().and_then(|answer| answer.value().cloned());
    let map = match &covered {
        Some(_) => song_strip::heard(&app, &head).await.value().cloned(),
        None => None,
    };
    let layer = covered
        .as_ref()
        .map_or(Layer::None, |covered| to_cut_to(&covered.coverage));
    let body = html! {
        h1 { "Setups" }
        @match &answer {
            None => { p { "Bars to plan over come from the song: " a href="/song" { "drop it in first" } ". Setups can be written down before." } }
            Some(answer) => { (computed::waiting(answer, "what there is to cut to", &session.token)) }
        }
        @if let Some(covered) = &covered {
            div.columns {
                (in_short(project, covered))
                (advice(covered, &session))
            }
            @if let Some(map) = map.filter(|_| !project.setups.is_empty()) {
                (charts::figure(&charts::Coverage::new(&map.map, project, &covered.coverage), "coverage"))
            }
        }
        (list(project, covered.as_deref()))
        (wishes(project, covered.as_deref()))
        (playback_files(&app, project, &session))
    };
    Ok(
        shell::page_at(&app, &head, &session, Here::Setups, layer, &body)
            .await?
            .into_response(),
    )
}

/// How many setups there are to cut to along the song: as planned, and, once something was shot, as shot.
pub fn to_cut_to(coverage: &Coverage) -> Layer {
    let row = |name: &str, of: &dyn Fn(&BarCoverage) -> (u32, bool)| {
        let mut spans: Vec<Span> = Vec::new();
        let mut last = None;
        for bar in &coverage.bars {
            let (options, short) = of(bar);
            match spans.last_mut() {
                Some(span) if last == Some((options, short)) => span.to_s = bar.end_s,
                _ => {
                    let thin = if short {
                        format!(", {} wanted", bar.wanted)
                    } else {
                        String::new()
                    };
                    spans.push(Span {
                        from_s: bar.start_s,
                        to_s: bar.end_s,
                        kind: if short { Kind::Outline } else { Kind::Pale },
                        words: format!("from bar {}: {options} to cut to{thin}", bar.number),
                        inside: options.to_string(),
                        href: None,
                    });
                }
            }
            last = Some((options, short));
        }
        Row {
            name: name.into(),
            spans,
        }
    };
    let mut rows = vec![row("Planned", &|bar| {
        (bar.planned_options, bar.short_planned)
    })];
    if coverage.bars.iter().any(|bar| bar.shot_options > 0) {
        rows.push(row("Shot", &|bar| (bar.shot_options, bar.short_shot)));
    }
    Layer::Rows(rows)
}

fn in_short(project: &Project, covered: &Covered) -> Markup {
    let coverage = &covered.coverage;
    let as_shot = covered.advice.as_shot;
    let choice = if as_shot {
        coverage.shot_choice
    } else {
        coverage.planned_choice
    };
    let thin = coverage.thin(as_shot);
    html! {
        section.sheet aria-labelledby="enough" {
            h2 #enough { "Is there enough to cut to?" }
            p {
                "For a minute of song there are " strong { data value=(format!("{choice:.1}")) { (format!("{choice:.1}")) } " minutes" } " of different setups to choose from, as " @if as_shot { "shot" } @else { "planned" } ". "
                @if coverage.bars.is_empty() { "No bar of the song is known." } @else if thin.is_empty() { span.good { "Every bar has what it wants." } }
                @else { strong.warn { (thin.len()) " of " (coverage.bars.len()) " bars are thin" } ": " (spans(&thin)) "." }
            }
            (finding::list(project, &coverage.notes))
        }
    }
}

fn advice(covered: &Covered, session: &Session) -> Markup {
    let all = &covered.advice;
    html! {
        section aria-labelledby="advice" {
            h2 #advice { "What would help most" }
            @if let Some(why) = &all.none_because { p { (shell::said(why)) } }
            ol {
                @for (nth, one) in all.suggestions.iter().take(3).enumerate() {
                    li {
                        (shell::said(&one.says))
                        @if one.is_planning() {
                            " "
                            form.inline method="post" action=(format!("/setups/take-advice/{nth}")) {
                                input type="hidden" name="token" value=(session.token);
                                input type="hidden" name="says" value=(one.says);
                                button.quiet { @if one.work == Work::Add { "Plan it" } @else { "Plan these bars" } span.unseen { ": " (one.says) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn list(project: &Project, covered: Option<&Covered>) -> Markup {
    let planned_bars = |id: &SetupId| -> Vec<u32> {
        covered
            .map(|covered| {
                covered
                    .coverage
                    .bars
                    .iter()
                    .filter(|bar| bar.planned.contains(id))
                    .map(|bar| bar.number)
                    .collect()
            })
            .unwrap_or_default()
    };
    html! {
        section aria-labelledby="all" {
            h2 #all { "All setups" }
            @if project.setups.is_empty() { p.faint { "None yet. A setup is one position of camera and light, and the bars of the song that are shot in it." } }
            @else {
                table {
                    thead { tr { th scope="col" { "Setup" } th scope="col" { "Place" } th scope="col" { "Framing" } th scope="col" { "Bars" } th.num scope="col" { "Passes" } th scope="col" { "State" } th scope="col" { "Light it needs" } } }
                    tbody {
                        @for setup in &project.setups {
                            tr {
                                th scope="row" {
                                    a href=(format!("/change/setup/{}", setup.id)) { (setup.called()) }
                                    @if setup.must { " " span.warn { "must" } }
                                    @if setup.purpose == Purpose::BRoll { br; span.faint { "b-roll" } }
                                }
                                td { (setup.place.as_ref().and_then(|id| project.place(id)).map_or("–", |place| place.name.as_str())) }
                                td { (shell::words(&setup.framing)) }
                                td { @if setup.is_over_all() { "the whole song" } @else { (spans(&planned_bars(&setup.id))) @if !setup.sections.is_empty() { br; span.faint { (setup.sections.join(", ")) } } } }
                                td.num { (setup.passes) }
                                td { (project.states.get(setup.state as usize).map_or("–", String::as_str)) }
                                td { (setup.light_of.iter().map(shell::words).collect::<Vec<_>>().join(", ")) }
                            }
                        }
                    }
                }
            }
            p { a.button href="/make/setup" { "Add a setup" } }
        }
    }
}

fn wishes(project: &Project, covered: Option<&Covered>) -> Markup {
    html! {
        section aria-labelledby="wishes" {
            h2 #wishes { "What each section wants" }
            div.columns {
            @if let Some(covered) = covered {
                table {
                    thead { tr { th scope="col" { "Section" } th scope="col" { "Bars" } th.num scope="col" { "Wanted" } th.num scope="col" { "Planned, least" } th.num scope="col" { "Shot, least" } th scope="col" { "Thin as planned" } } }
                    tbody {
                        @for section in &covered.coverage.sections {
                            tr {
                                th scope="row" { (section.section) @if let Some(name) = &section.name { " " span.faint { (name) } } }
                                td { @if let Some([a, b]) = section.bars { (a) "–" (b) } }
                                td.num { (section.wanted) }
                                td.num { (section.least_planned) }
                                td.num { (section.least_shot) }
                                td { (spans(&section.short_planned)) }
                            }
                        }
                    }
                }
            }
            ul.plain {
                @for wish in &project.wishes {
                    li {
                        a href=(format!("/change/wish/{}", wish.id)) { "Section " (wish.section) } ": "
                        @if let Some(options) = wish.options { (options) " setups in each bar " }
                        @if !wish.setups.is_empty() { "cut with " (wish.setups.iter().map(|id| project.setup_name(id)).collect::<Vec<_>>().join(", ")) " " }
                        @if let Some(beats) = wish.shot_beats { "shots of " (beats) " beats" }
                    }
                }
            }
            }
            p { a.button.quiet href="/make/wish" { "Add a wish" } }
        }
    }
}

fn playback_files(app: &App, project: &Project, session: &Session) -> Markup {
    let files = steps::playback_files(app.folder());
    html! {
        @if project.song.is_some() && !project.setups.is_empty() {
            section aria-labelledby="playback" {
                h2 #playback { "Playback for the loudspeaker" }
                p { "One file for each stretch of each setup, counted in, at the setup's speed." }
                @if !files.is_empty() {
                    ul.plain { @for name in &files { li { a href=(format!("/setups/playback/{name}")) download { (name) } } } }
                }
                form method="post" action="/setups/playback" {
                    input type="hidden" name="token" value=(session.token);
                    button.quiet { @if files.is_empty() { "Make the files" } @else { "Make them anew" } }
                }
            }
        }
    }
}

async fn playback(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    app.start(
        "Making playback",
        Lane::Long,
        |job, progress| job.playback(&PlaybackOptions::default(), progress),
        |_, out| match &out {
            Ok((files, trouble)) => {
                let mut says = format!("{} files are in playback/", files.len());
                for one in trouble {
                    says.push_str(&format!("; {}: {}", one.file, one.says));
                }
                End::Done(Some(says))
            }
            Err(_) => told(&out),
        },
    )?;
    Ok(posted.back())
}

async fn playback_file(
    State(app): State<Arc<App>>,
    _: Session,
    Path(name): Path<String>,
    request: Request,
) -> Result<Response, Refused> {
    // A name is looked for among those that are there; it is never made a path.
    let known = steps::playback_files(app.folder())
        .into_iter()
        .find(|known| *known == name);
    let known = known.ok_or_else(|| Refused::Gone(format!("playback file `{name}`")))?;
    let mut response = serve_path(&app.folder().playback().join(&known), request).await?;
    response.headers_mut().insert(
        header::CONTENT_DISPOSITION,
        HeaderValue::from_static("attachment"),
    );
    Ok(response)
}

/// Bars of a setup to be planned, or not any more.
#[derive(Clone, Debug, Deserialize)]
struct Paint {
    setup: SetupId,
    first_bar: u32,
    last_bar: u32,
    on: bool,
}

async fn paint(
    State(app): State<Arc<App>>,
    posted: PostedJson<Paint>,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let paint = posted.value;
    let map = map(&app, &head).await?;
    let change = BarsPlanned {
        setup: paint.setup.to_string(),
        bars: vec![[
            paint.first_bar.min(paint.last_bar),
            paint.first_bar.max(paint.last_bar),
        ]],
        on: paint.on,
    };
    if let Some(edit) = steps::plan_bars(&head.project, &map, &[change])? {
        app.edit(&edit)?;
    }
    Ok(axum::http::StatusCode::NO_CONTENT.into_response())
}

/// The song as a ruler.
async fn map(app: &Arc<App>, head: &Head) -> Result<SongMap, Refused> {
    let answer = song_strip::heard(app, head).await;
    let heard = answer.value().cloned();
    heard.map(|heard| heard.map.clone()).ok_or_else(|| {
        Refused::Unreadable(
            "the song's bars are not known yet; wait until it has been listened to".into(),
        )
    })
}

async fn take_advice(
    State(app): State<Arc<App>>,
    Path(nth): Path<usize>,
    posted: Posted,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let answer = computed::coverage(&app, &head).await;
    // What was read and what is done are the same advice, or nothing is done.
    let one = answer
        .value()
        .and_then(|covered| covered.advice.suggestions.get(nth))
        .filter(|one| one.says == posted.text("says"))
        .cloned()
        .ok_or_else(|| {
            Refused::Unreadable("the plan has changed since; look at the advice again".into())
        })?;
    let map = map(&app, &head).await?;
    let (edit, setup) = steps::take_advice(&head.project, &map, &one)?;
    app.edit(&edit)?;
    // A new setup has a name, a place and light still to be told of.
    Ok(match one.setup {
        Some(_) => posted.back(),
        None => Redirect::to(&format!("/change/setup/{setup}")).into_response(),
    })
}
