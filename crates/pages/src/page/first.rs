//! The first page: where this video stands, and the next three things to do. Taking in the song begins here.

use crate::app::{App, Head};
use crate::computed;
use crate::door::Session;
use crate::posted::Posted;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::upload::{Kind, Upload};
use crate::work::Lane;
use axum::Router;
use axum::extract::{Request, State};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use model::{Edit, Finding, Leave, Project, Rating, Severity};
use std::sync::Arc;
use std::time::Duration;
use steps::{DaysReport, KitReport};

/// `/`, `/title`, `/take-in/song`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/", get(show))
        .route("/title", post(title))
        .route("/take-in/song", post(take_in_song))
}

/// What is known beside the document.
#[derive(Default)]
pub struct Known {
    /// Figures of the kit.
    pub kit: Option<Arc<KitReport>>,
    /// The days, solved.
    pub days: Option<Arc<DaysReport>>,
}

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Next {
    /// What.
    pub what: &'static str,
    /// Why now, a sentence with figures.
    pub why: String,
    /// Where it is done.
    pub path: String,
    /// What the way there is called.
    pub go: &'static str,
}

fn next(
    what: &'static str,
    why: impl Into<String>,
    path: impl Into<String>,
    go: &'static str,
) -> Next {
    Next {
        what,
        why: why.into(),
        path: path.into(),
        go,
    }
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// What to do next, in the order of the work: what everything else waits for first.
pub fn to_do(project: &Project, known: &Known) -> Vec<Next> {
    let mut all = Vec::new();
    let Some(song) = &project.song else {
        return vec![next(
            "Drop the song in",
            "Everything hangs from the song: bars, setups, takes and cuts are all stretches of it.",
            "/song",
            "To the page Song",
        )];
    };
    if song.corrections.is_empty() {
        all.push(next(
            "Check what was heard in the song",
            "Bars and sections were found by ear. Play it once, and put right what is wrong: setups are planned by them.",
            "/song",
            "Listen and correct",
        ));
    }
    if project.brief.artist.is_empty() && project.brief.agreed.is_empty() {
        all.push(next(
            "Write down what was agreed",
            "Whose video it is, the fee, when it is due, and the frame it is delivered in.",
            "/brief",
            "To the brief",
        ));
    }
    if project.ideas.is_empty() {
        all.push(next(
            "Note your ideas where they belong",
            "Play the song and pin each idea to the moment it came at.",
            "/song",
            "Play and note",
        ));
    }
    if project.takes.is_empty() {
        before_the_shoot(project, known, &mut all);
    } else {
        after_the_shoot(project, &mut all);
    }
    all
}

fn before_the_shoot(project: &Project, known: &Known, all: &mut Vec<Next>) {
    if project.places.is_empty() {
        all.push(next("Find a place", "Photographs from a walk become places, with their position and the light that was there.", "/places", "To the places"));
    }
    if project.kit.is_empty() {
        all.push(next(
            "List your kit",
            "Camera, lens, lights, batteries and cards: what you own and what is borrowed.",
            "/kit",
            "To the kit",
        ));
    }
    if project.setups.is_empty() {
        all.push(next("Plan a first setup", "Each setup covers bars of the song; together they should leave nothing without enough to cut to.", "/make/setup", "Make a setup"));
    }
    let unasked: Vec<&str> = project
        .places
        .iter()
        .filter(|place| {
            place
                .permission
                .as_ref()
                .is_none_or(|one| one.leave == Leave::Unasked)
        })
        .map(|place| place.name.as_str())
        .collect();
    if project.days.is_empty() && !project.setups.is_empty() {
        all.push(next(
            "Set a day",
            "A date and a call: then sun, twilight, batteries and hours are worked out.",
            "/make/day",
            "Make a day",
        ));
    }
    if let Some(days) = &known.days {
        for day in &days.days {
            if !day.plan.reasons.is_empty() {
                all.push(next(
                    "Make the day possible",
                    day.plan.reasons.join(" "),
                    "/day",
                    "To the day",
                ));
            } else if !day.typed.is_empty() {
                all.push(next(
                    "Plan the day anew",
                    format!(
                        "The order that was kept no longer holds: {}.",
                        day.typed
                            .iter()
                            .map(ToString::to_string)
                            .collect::<Vec<_>>()
                            .join("; ")
                    ),
                    "/day",
                    "To the day",
                ));
            } else if project
                .days
                .iter()
                .any(|known| known.id == day.plan.day && known.order.is_empty())
            {
                let left = day.plan.left_out.len();
                let why = if left == 0 {
                    format!(
                        "All {} fit.",
                        counted(day.plan.order.len(), "setup", "setups")
                    )
                } else {
                    format!(
                        "{} fit, {left} do not.",
                        counted(day.plan.order.len(), "setup", "setups")
                    )
                };
                all.push(next(
                    "Look at the day and keep it",
                    why,
                    "/day",
                    "To the day",
                ));
            }
        }
    }
    if let Some(kit) = &known.kit {
        for day in &kit.summary.days {
            let mut mind = |what, found: &Finding| {
                all.push(next(
                    what,
                    shell::sentence(&found.to_string()),
                    "/kit",
                    "To the kit",
                ));
            };
            match day.batteries.severity {
                Severity::Note => {}
                Severity::Unknown => mind("Say what the batteries feed", &day.batteries),
                Severity::Warning | Severity::Problem => mind("Mind the batteries", &day.batteries),
            }
            match day.cards.severity {
                Severity::Note | Severity::Warning => {}
                Severity::Unknown => mind("Say what is recorded", &day.cards),
                Severity::Problem => mind("Get another card", &day.cards),
            }
        }
        if let Some(first) = kit.summary.missing.first() {
            let rest = kit.summary.missing.len() - 1;
            let more = if rest > 0 {
                format!(" And {rest} more.")
            } else {
                String::new()
            };
            all.push(next(
                "Get what is missing",
                format!("{}{more}", shell::sentence(&first.to_string())),
                "/kit",
                "To the kit",
            ));
        }
    }
    if !unasked.is_empty() {
        all.push(next(
            "Ask for leave to be there",
            format!("Nobody has been asked yet: {}.", unasked.join(", ")),
            "/places",
            "To the places",
        ));
    }
    if !project.setups.is_empty() {
        all.push(next(
            "Bring in the first takes",
            "After the shoot: drop them in, and each is placed on the song by its sound.",
            "/takes",
            "To the takes",
        ));
    }
}

fn after_the_shoot(project: &Project, all: &mut Vec<Next>) {
    let loose = project
        .takes
        .iter()
        .filter(|take| take.setup.is_none())
        .count();
    if loose > 0 {
        all.push(next(
            "Say which setup each take is of",
            format!(
                "{} of {} belong to no setup yet.",
                counted(loose, "take", "takes"),
                project.takes.len()
            ),
            "/takes",
            "To the takes",
        ));
    }
    if project.cuts.is_empty() {
        all.push(next(
            "Make the first assembly",
            format!("{} are in.", counted(project.takes.len(), "take", "takes")),
            "/assembly",
            "To the assembly",
        ));
    }
    let unrated = project
        .takes
        .iter()
        .filter(|take| take.rating == Rating::Unrated)
        .count();
    if unrated > 0 {
        all.push(next(
            "Rate the takes",
            format!(
                "{} not rated; circled ones are preferred in the cut.",
                counted(unrated, "take is", "takes are")
            ),
            "/takes",
            "To the takes",
        ));
    }
    if let Some(cut) = project.newest_cut() {
        all.push(next(
            "Go through the assembly",
            format!(
                "Version {} has {}.",
                cut.version,
                counted(cut.shots.len(), "shot", "shots")
            ),
            "/assembly",
            "Play it",
        ));
    }
}

/// What stands, step by step, with the page of each.
fn standing(head: &Head) -> Markup {
    let project = &head.project;
    let rows: [(Here, String); 8] = [
        (
            Here::Brief,
            if project.brief.artist.is_empty() {
                "not written".into()
            } else {
                project.brief.artist.clone()
            },
        ),
        (
            Here::Song,
            project.song.as_ref().map_or_else(
                || "none yet".into(),
                |song| {
                    format!(
                        "{} long, {} pinned",
                        short(song.length),
                        counted(project.ideas.len(), "idea", "ideas")
                    )
                },
            ),
        ),
        (
            Here::Places,
            counted(project.places.len(), "place", "places"),
        ),
        (Here::Kit, counted(project.kit.len(), "thing", "things")),
        (
            Here::Setups,
            counted(project.setups.len(), "setup", "setups"),
        ),
        (Here::Day, counted(project.days.len(), "day", "days")),
        (Here::Takes, {
            let circled = project
                .takes
                .iter()
                .filter(|take| take.rating == Rating::Circled)
                .count();
            format!(
                "{}, {circled} circled",
                counted(project.takes.len(), "take", "takes")
            )
        }),
        (
            Here::Assembly,
            project.newest_cut().map_or_else(
                || "not made".into(),
                |cut| {
                    format!(
                        "version {}, {}",
                        cut.version,
                        counted(cut.shots.len(), "shot", "shots")
                    )
                },
            ),
        ),
    ];
    html! {
        dl.facts.standing {
            @for (here, says) in &rows {
                dt { a href=(here.path()) { (here.name()) } }
                dd { (says) }
            }
        }
    }
}

/// Minutes and seconds: `2:33`.
pub fn short(length: model::Length) -> String {
    let seconds = length.seconds().round() as i64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

async fn show(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let mut known = Known::default();
    if !project.kit.is_empty() || !project.setups.is_empty() {
        known.kit = computed::kit(&app, &head, None).await.value().cloned();
    }
    if !project.days.is_empty() && !project.setups.is_empty() {
        known.days = computed::days(&app, &head).await.value().cloned();
    }
    let todo = to_do(project, &known);
    let body = html! {
        @if project.song.is_none() {
            (welcome(&session))
        } @else {
            h1 { "Next" }
            ol.next {
                @for one in todo.iter().take(3) {
                    li {
                        h2 { (one.what) }
                        p { (one.why) }
                        p { a.button href=(one.path) { (one.go) } }
                    }
                }
            }
            @if todo.is_empty() { p { "Nothing is waiting. The pages above show everything there is." } }
        }
        h2 { "Where it stands" }
        (standing(&head))
        section {
            h2 { "What it is called" }
            form.row method="post" action="/title" {
                input type="hidden" name="token" value=(session.token);
                div.field { label for="title" { "Title of the video" } input #title name="title" value=(project.title) maxlength="200"; }
                button { "Save" }
            }
        }
    };
    Ok(shell::page_at(
        &app,
        &head,
        &session,
        Here::First,
        Layer::ideas(project).and(Layer::cut(project)),
        &body,
    )
    .await?
    .into_response())
}

fn welcome(session: &Session) -> Markup {
    html! {
        h1 { "Begin with the song" }
        p { "Everything hangs from it. It is listened to once, in some seconds: tempo, bars, sections, voice. You correct what was heard, plan setups over its bars, and later every take is laid on it by ear." }
        (song_form(session))
    }
}

/// The form a song comes in by.
pub fn song_form(session: &Session) -> Markup {
    html! {
        drop-here.drop-here {
            form method="post" action="/take-in/song" enctype="multipart/form-data" data-plain="" hx-boost="false" {
                input type="hidden" name="token" value=(session.token);
                label for="song-file" { strong { "The finished song" } br; "WAV, FLAC, MP3, AIFF, Ogg or M4A; drop it here or choose it" }
                input #song-file type="file" name="song" accept="audio/*,.wav,.flac,.mp3,.aif,.aiff,.ogg,.m4a" required;
                button { "Take it in" }
            }
        }
    }
}

async fn title(State(app): State<Arc<App>>, posted: Posted) -> Result<Response, Refused> {
    app.edit(&Edit::title(posted.text("title")))?;
    Ok(posted.back())
}

async fn take_in_song(State(app): State<Arc<App>>, request: Request) -> Result<Response, Response> {
    let upload = Upload::read(&app, Kind::Song, request).await?;
    let Some(path) = upload.files.first().cloned() else {
        return Err(Refused::Unreadable(
            "no song was chosen; choose a file and send it again".into(),
        )
        .into_response());
    };
    let named = path
        .file_stem()
        .map(|stem| stem.to_string_lossy().into_owned());
    app.start_and_wait(
        ("Listening to the song", Lane::Quick),
        Duration::from_secs(8),
        move |job, progress| {
            // It is copied into the project only once it is known to be a song.
            let out = job.set_song(&upload.files[0], progress);
            drop(upload);
            out
        },
        move |app, heard| {
            let mut notes: Vec<String> = heard.notes.iter().map(ToString::to_string).collect();
            if let (Ok(head), Some(name)) = (app.head(), named)
                && head.project.title.is_empty()
            {
                // A video is called like its song until somebody says otherwise.
                let title = name.replace(['-', '_'], " ");
                if let Err(why) = app.edit(&Edit::title(title)) {
                    notes.push(format!(
                        "the video could not be called like its song: {why}"
                    ));
                }
            }
            (!notes.is_empty()).then(|| notes.join("; "))
        },
    )
    .await;
    Ok(Redirect::to("/song").into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_a_song_there_is_one_thing_to_do() {
        let todo = to_do(&Project::default(), &Known::default());
        assert_eq!(todo.len(), 1);
        assert_eq!(todo[0].what, "Drop the song in");
    }

    fn after(json: serde_json::Value) -> Vec<&'static str> {
        let mut whole = serde_json::json!({
            "format": 1,
            "brief": {"artist": "Ilse Quarry", "rate": "25", "frame": [1920, 1080]},
            "ideas": [{"id": "bulb", "text": "Begin on the bulb."}],
            "song": {
                "file": {"path": "s", "hash": "00000000000000000000000000000000", "bytes": 1},
                "length": "1:00",
                "corrections": {"beats_per_bar": 4},
            },
        });
        if let (Some(whole), serde_json::Value::Object(more)) = (whole.as_object_mut(), json) {
            whole.extend(more);
        }
        let project: Project = serde_json::from_value(whole).expect("a project");
        let todo = to_do(&project, &Known::default());
        todo.iter().map(|next| next.what).collect()
    }

    #[test]
    fn what_everything_else_waits_for_comes_first() {
        use serde_json::json;
        assert_eq!(
            after(json!({}))[..3],
            ["Find a place", "List your kit", "Plan a first setup"]
        );
        assert_eq!(
            after(json!({"brief": {"rate": "25", "frame": [1920, 1080]}}))[0],
            "Write down what was agreed"
        );
        let planned = json!({
            "places": [{"id": "quay", "name": "Quay", "permission": {"leave": "granted"}}],
            "kit": [{"id": "camera"}],
            "setups": [{"id": "wide", "place": "quay"}],
        });
        assert_eq!(after(planned), ["Set a day", "Bring in the first takes"]);
        let take = json!({"takes": [{"id": "a1", "file": {"path": "a", "hash": "00000000000000000000000000000000", "bytes": 1}}]});
        assert_eq!(
            after(take),
            [
                "Say which setup each take is of",
                "Make the first assembly",
                "Rate the takes"
            ]
        );
    }
}
