//! Places: what is known of each, its sky on the day, the light in hand, what is still to ask.

use crate::app::App;
use crate::computed;
use crate::door::Session;
use crate::finding;
use crate::memo::Kept;
use crate::page::cautions;
use crate::page::figures::lux;
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use crate::upload::{Kind, Upload, forget_unknown, free};
use crate::work::Lane;
use axum::Router;
use axum::extract::{Query, Request, State};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use model::metering::LightFrom;
use model::{Date, Leave, Place, Project, SetupId};
use scout::PlaceReport;
use serde::Deserialize;
use std::sync::Arc;
use std::time::Duration;
use steps::{DaysReport, KitReport, PlaceSky, ScoutOptions, SkyCurve};

/// `/places`, `/take-in/photos`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/places", get(show))
        .route("/take-in/photos", post(take_in))
}

#[derive(Deserialize)]
struct Asked {
    date: Option<String>,
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let typed = asked.date.as_deref().filter(|date| !date.is_empty());
    let date: Option<Date> = typed
        .map(str::parse)
        .transpose()
        .map_err(Refused::Unreadable)?;
    let scouted = computed::scouted(&app, &head).await;
    let kit = computed::kit(&app, &head, None).await;
    let skies = computed::skies(&app, &head, date).await;
    let curves = computed::sky_curves(&app, &head, date).await;
    let days = if project.days.is_empty() || project.setups.is_empty() {
        None
    } else {
        computed::days(&app, &head).await.value().cloned()
    };
    let day = date.or_else(|| project.days.first().map(|day| day.date));
    let from = [
        Some(head.project.clone() as Kept),
        scouted.value().map(|one| one.clone() as Kept),
        kit.value().map(|one| one.clone() as Kept),
        skies.value().map(|one| one.clone() as Kept),
        curves.value().map(|one| one.clone() as Kept),
        days.clone().map(|one| one as Kept),
    ];
    let body = html! {
        h1 { "Places" }
        div.columns {
            section aria-labelledby="walk" {
                h2 #walk { "From a walk" }
                (photo_form(&session))
            }
            section aria-labelledby="by-hand" {
                h2 #by-hand { "By hand" }
                p { "A place without photographs: write its position, and its sky is known; write the light you measured, and stops are." }
                p { a.button.quiet href="/make/place" { "Add a place" } }
                form.row method="get" action="/places" {
                    div.field {
                        label for="date" { "Sky on" }
                        input #date type="date" name="date" value=[day] data-size="number";
                    }
                    button.quiet { "Look" }
                }
            }
        }
        (computed::waiting(&scouted, "what the photographs say", &session.token))
        (computed::waiting(&skies, "the sky", &session.token))
        @if let Some(skies) = skies.value() {
            (finding::list(project, &skies.1))
        }
        (app.memo.drawn("places", &from, || html! { @for place in &project.places {
            @let report = scouted.value().and_then(|all| all.places.iter().find(|one| one.id == place.id.as_str()));
            @let sky = skies.value().map(|all| all.0.iter().filter(|one| one.place == place.id).collect::<Vec<_>>()).unwrap_or_default();
            @let curves = curves.value().map(|all| all.iter().filter(|one| one.place == place.id).collect::<Vec<_>>()).unwrap_or_default();
            (draw(project, place, report, &Over { skies: &sky, curves: &curves, days: days.as_deref() }, kit.value().map(|kit| &**kit)))
        } }))
        @if project.places.is_empty() { p.faint { "No places yet." } }
    };
    Ok(
        shell::page_at(&app, &head, &session, Here::Places, Layer::default(), &body)
            .await?
            .into_response(),
    )
}

fn photo_form(session: &Session) -> Markup {
    html! {
        drop-here.drop-here {
            form method="post" action="/take-in/photos" enctype="multipart/form-data" hx-boost="false" {
                input type="hidden" name="token" value=(session.token);
                label for="photos" { strong { "Photographs" } br; "JPEG, HEIF, PNG, WebP or TIFF; those taken near each other become one place" }
                input #photos type="file" name="photos" accept="image/*,.heic,.heif,.tif,.tiff" multiple required;
                button { "Take them in" }
            }
        }
    }
}

/// Leave to be there, in words.
pub fn leave(place: &Place) -> &'static str {
    match place.permission.as_ref().map(|one| one.leave) {
        None | Some(Leave::Unasked) => "not asked yet",
        Some(Leave::Asked) => "asked",
        Some(Leave::Promised) => "promised",
        Some(Leave::Granted) => "granted",
        Some(Leave::Refused) => "refused",
        Some(Leave::NotNeeded) => "not needed",
    }
}

/// What is known of the sky over one place, and of the days planned there.
struct Over<'a> {
    skies: &'a [&'a PlaceSky],
    curves: &'a [&'a SkyCurve],
    days: Option<&'a DaysReport>,
}

fn draw(
    project: &Project,
    place: &Place,
    report: Option<&PlaceReport>,
    over: &Over,
    kit: Option<&KitReport>,
) -> Markup {
    let id = &place.id;
    html! {
        section.sheet.place #(format!("place-{id}")) aria-labelledby=(format!("name-{id}")) {
            h2 #(format!("name-{id}")) { (place.name) }
            div.columns {
                div {
                    dl.facts {
                        @if !place.address.is_empty() { dt { "Address" } dd { (place.address) } }
                        dt { "Leave" }
                        dd {
                            span.warn[leave(place) == "not asked yet" || leave(place) == "refused"] { (leave(place)) }
                            @if let Some(one) = place.permission.as_ref().filter(|one| !one.who.is_empty()) { ", " (one.who) }
                        }
                        @if !place.access.is_empty() {
                            dt { "Hours" }
                            dd { (place.access.iter().map(|[a, b]| format!("{a}–{b}")).collect::<Vec<_>>().join(", ")) }
                        }
                        @if let Some(light) = report.and_then(|one| one.light.as_ref()) {
                            dt { "Light there" }
                            dd {
                                data value=(lux(light.lux)) { (lux(light.lux)) } " lux, give or take " (format!("{:.1}", light.stops_uncertainty)) " stops "
                                span.faint { @match light.source { LightFrom::Photographs => "(from photographs)", _ => "(measured)" } }
                            }
                        }
                        @for reading in &place.readings {
                            dt { "Measured" @if let Some(at) = reading.at { " " (at) } }
                            dd { data value=(lux(reading.lux)) { (lux(reading.lux)) } " lux " span.faint { (reading.remark) } }
                        }
                        @if let Some([lat, lon]) = place.position_deg { dt { "Position" } dd { (format!("{lat:.4}, {lon:.4}")) "°" } }
                        @if !place.hospital.is_empty() { dt { "Hospital" } dd { (place.hospital) } }
                        @if !place.noise.is_empty() { dt { "Noise" } dd { (place.noise) } }
                        @if !place.remark.is_empty() { dt { "Remark" } dd { (place.remark) } }
                    }
                    @if let Some(asks) = report.map(|one| &one.to_ask).filter(|asks| !asks.is_empty()) {
                        h3 { "Still to ask" }
                        ul { @for ask in asks { li { (shell::said(ask)) } } }
                    }
                    p { a.button.quiet href=(format!("/change/place/{id}")) { "Change" span.unseen { ": " (place.name) } } }
                }
                div {
                    @if !place.photos.is_empty() {
                        ul.pictures {
                            @for (nth, photo) in place.photos.iter().enumerate() {
                                li { img src=(format!("/media/photo/{}", photo.file.hash)) alt=(format!("{}, photograph {}", place.name, nth + 1)) loading="lazy" width="160" height="120"; }
                            }
                        }
                    }
                    (stops(project, place, kit))
                }
            }
            @for sky in over.skies { (sky_of(place, sky, over)) }
            @if let Some(kit) = kit {
                (cautions::list(kit.cautions.iter().filter(|one| one.finding.places().any(|at| at == id) && !one.kind.is_of_the_day())))
            }
        }
    }
}

/// The sky over a place: what happens when.
fn sky_of(place: &Place, sky: &PlaceSky, over: &Over) -> Markup {
    let report = &sky.sky;
    let date = Date::from(report.date);
    let curve = over.curves.iter().find(|one| one.date == date);
    let plan = over
        .days
        .and_then(|days| days.days.iter().find(|one| one.plan.date == date));
    html! {
        h3 { "Sky on " time datetime=(date) { (date) } }
        @if let Some(curve) = curve {
            @let sky = charts::Sky { place, date: &date.in_words(), curve: &curve.curve, plan: plan.map(|one| &one.plan) };
            (charts::figure(&sky, &format!("sky-{}-{date}", place.id)))
        }
        details {
            summary { "Every hour of it: " (place.name) }
            table {
                thead { tr { th scope="col" { "When" } th scope="col" { "What" } th.num scope="col" { "Direction" } } }
                tbody {
                    @for event in &report.events {
                        tr { td.num { (event.at.clock()) } td { (shell::words(&event.what)) } td.num { (format!("{:.0}°", event.azimuth_deg)) } }
                    }
                }
            }
            @for note in &report.notes { p.faint { (shell::said(note.to_string())) } }
        }
    }
}

/// Stops in hand of every setup at this place, and what closes the gaps.
fn stops(project: &Project, place: &Place, kit: Option<&KitReport>) -> Markup {
    let here: Vec<_> = project
        .setups
        .iter()
        .filter(|setup| setup.place.as_ref() == Some(&place.id))
        .collect();
    let judged = |id: &SetupId| kit.and_then(|kit| kit.setups.iter().find(|one| one.setup == *id));
    html! {
        @if !here.is_empty() {
            h3 { "Setups here, stops in hand" }
            @if let Some(kit) = kit {
                @let slack_stops = kit.practice.iter().find(|one| one.name == "slack_stops").map_or(0.0, |one| one.value);
                @let stops = charts::Stops { of: &place.name, setups: here.clone(), judged: &kit.setups, slack_stops };
                (charts::figure(&stops, &format!("stops-{}", place.id)))
            }
            ul.plain {
                @for setup in here {
                    @let judged = judged(&setup.id);
                    li {
                        a href=(format!("/change/setup/{}", setup.id)) { (setup.called()) } ": "
                        @match judged.map(|one| (one.off_target().next(), one.unknown())) {
                            Some((Some(off), _)) => { (finding::one_line(project, off)) }
                            Some((None, Some(unknown))) => { (finding::one_line(project, unknown)) }
                            Some((None, None)) => { span.good { "on its target" } }
                            None => { span.faint { "its light is not known" } }
                        }
                    }
                }
            }
        }
    }
}

async fn take_in(State(app): State<Arc<App>>, request: Request) -> Result<Response, Response> {
    let upload = Upload::read(&app, Kind::Photo, request).await?;
    if upload.files.is_empty() {
        return Err(Refused::Unreadable(
            "no photograph was chosen; choose some and send them again".into(),
        )
        .into_response());
    }
    app.start_and_wait(
        ("Bringing in photographs", Lane::Quick),
        Duration::from_secs(5),
        move |job, progress| {
            let folder = job.folder().root().join("walk");
            let cannot = |cause| {
                steps::Error::Store(store::Error::File {
                    doing: "write",
                    path: folder.clone(),
                    cause,
                })
            };
            std::fs::create_dir_all(&folder).map_err(cannot)?;
            let mut kept = Vec::new();
            for file in &upload.files {
                let name = file.file_name().unwrap_or_default().to_string_lossy();
                let path = free(&folder, &name);
                std::fs::rename(file, &path).map_err(cannot)?;
                kept.push(path);
            }
            drop(upload);
            let out = job.scout(&kept, &ScoutOptions::default(), progress);
            let photos = job.project().places.iter().flat_map(|place| &place.photos);
            forget_unknown(job, &kept, photos.map(|photo| &photo.file));
            out
        },
        |_, scouted| {
            let mut says = format!("{} photographs brought in", scouted.brought);
            for note in &scouted.notes {
                says += &format!("; {note}");
            }
            Some(says)
        },
    )
    .await
    .map_err(IntoResponse::into_response)?;
    Ok(Redirect::to("/places").into_response())
}
