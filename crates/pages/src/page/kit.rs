//! Kit: what there is, whether light and power last, what to pack, what is short, how one works.

use crate::app::{App, Head};
use crate::computed;
use crate::door::Session;
use crate::finding;
use crate::form::Faults;
use crate::page::cautions;
use crate::page::figures::{in_hand, lux};
use crate::page::noun::{self, Noun};
use crate::refusal::Refused;
use crate::shell::{self, Here, Layer};
use axum::Router;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use maud::{Markup, html};
use model::clock::shown;
use model::{Holding, Project, Sort};
use serde::Deserialize;
use std::sync::Arc;
use steps::{DayReport, KitReport};

/// `/kit`
pub fn routes() -> Router<Arc<App>> {
    Router::new().route("/kit", get(show))
}

#[derive(Deserialize)]
struct Asked {
    by_air: Option<String>,
}

async fn show(
    State(app): State<Arc<App>>,
    session: Session,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    let head = app.head()?;
    let project = &head.project;
    let by_air = asked.by_air.and_then(|text| text.trim().parse().ok());
    let answer = computed::kit(&app, &head, by_air).await;
    let report = answer.value().cloned();
    let body = html! {
        h1 { "Kit" }
        (computed::waiting(&answer, "light, power and cards", &session.token))
        @if let Some(report) = &report {
            @if !project.setups.is_empty() { (in_short(project, report)) }
        }
        (list(project))
        @if let Some(report) = &report {
            @for day in &report.days { (power(project, day)) }
            @if !report.setups.is_empty() { (light(project, report)) }
            (packing(project, report, by_air))
            (cautions::list(report.cautions.iter()))
            (practice(&head, &session))
            (finding::list(project, &report.notes))
        }
    };
    Ok(
        shell::page_at(&app, &head, &session, Here::Kit, Layer::default(), &body)
            .await?
            .into_response(),
    )
}

fn in_short(project: &Project, report: &KitReport) -> Markup {
    html! {
        section.sheet aria-labelledby="short" {
            h2 #short { "In short" }
            ul.findings {
                @for (what, one) in report.summary.findings() { li { strong { (shell::sentence(&format!("{what}:"))) } " " (finding::one_line(project, one)) } }
            }
        }
    }
}

const SORTS: [(Sort, &str); 15] = [
    (Sort::Camera, "Cameras"),
    (Sort::Lens, "Lenses"),
    (Sort::Filter, "Filters"),
    (Sort::Support, "Supports"),
    (Sort::Light, "Lights"),
    (Sort::Power, "Power"),
    (Sort::Adapter, "Adapters"),
    (Sort::Card, "Cards"),
    (Sort::Sound, "Sound"),
    (Sort::Safety, "Safety"),
    (Sort::Wardrobe, "Wardrobe"),
    (Sort::MakeUp, "Make-up"),
    (Sort::Prop, "Props"),
    (Sort::Vehicle, "Vehicles"),
    (Sort::Other, "Other"),
];

fn list(project: &Project) -> Markup {
    html! {
        section aria-labelledby="things" {
            h2 #things { "What there is" }
            @if project.kit.is_empty() { p { "Begin with the camera, a lens, a light and a battery: then stops, hours and cards can be worked out." } }
            div.columns {
                @for (sort, name) in SORTS {
                    @let things: Vec<_> = project.kit.iter().filter(|item| item.sort == sort).collect();
                    @if !things.is_empty() {
                        div {
                            h3 { (name) }
                            ul.plain {
                                @for item in things {
                                    li {
                                        @if item.count > 1 { (item.count) " × " }
                                        a href=(format!("/change/kit/{}", item.id)) { (item.called()) }
                                        span.faint {
                                            ", " span.bad[item.holding == Holding::Missing] { (item.holding.label()) }
                                            @if !item.from.is_empty() { ", from " (item.from) }
                                            @if let Some(back) = &item.back_by { ", back by " time datetime=(back) { (back) } }
                                        }
                                    }
                                }
                            }
                        }
                    }
                }
            }
            p { a.button.quiet href="/make/kit" { "Add a thing" } }
        }
    }
}

fn power(project: &Project, day: &DayReport) -> Markup {
    let (power, cards) = (&day.power, &day.cards);
    html! {
        section aria-labelledby=(format!("power-{}", day.day)) {
            h2 #(format!("power-{}", day.day)) { "Power over " time datetime=(day.date) { (day.date) } }
            @if !power.slots.is_empty() {
                @let chart = charts::Power { project, date: &day.date.in_words(), power, cards };
                (charts::figure(&chart, &format!("power-of-{}", day.day)))
            }
            div.columns {
                // A table that scrolls and holds no link takes the keyboard itself.
                table tabindex="0" {
                    caption { "What each battery gives" }
                    thead { tr { th scope="col" { "Battery" } th.num scope="col" { "At call" } th.num scope="col" { "Drawn" } th.num scope="col" { "Charged" } th.num scope="col" { "Left, Wh" } } }
                    tbody {
                        @for one in &power.ledger {
                            tr {
                                th scope="row" { (project.item_name(&one.piece.battery)) " " (one.piece.piece) }
                                @for wh in [one.start_wh, one.drawn_wh, one.charged_wh, one.left_wh] { td.num { data value=(format!("{wh:.1}")) { (format!("{wh:.1}")) } } }
                            }
                        }
                    }
                }
                div {
                    @if !power.swaps.is_empty() {
                        h3 { "Swaps" }
                        ul {
                            @for swap in &power.swaps {
                                li {
                                    (shown(swap.at_min)) ": " (swap.items.iter().map(|id| project.item_name(id)).collect::<Vec<_>>().join(", "))
                                    " to “" (project.item_name(&swap.on.battery)) "” " (swap.on.piece)
                                }
                            }
                        }
                    }
                    @if !power.shortages.is_empty() {
                        h3.bad { "What runs short" }
                        (finding::list(project, power.shortages.iter().map(|one| &one.finding)))
                    }
                    @if !power.findings.is_empty() || !cards.findings.is_empty() {
                        h3 { "To know" }
                        (finding::list(project, power.findings.iter().chain(&cards.findings)))
                    }
                    h3 { "Cards" }
                    p {
                        (format!("{:.1}", cards.needed_gb)) " GB to record, " (format!("{:.1}", cards.wanted_gb)) " GB wanted with reserve, " (format!("{:.1}", cards.there_gb)) " GB there."
                        @if let Some(minutes) = cards.copying_min { " Copying and checking all of it takes " (format!("{minutes:.0}")) " min." }
                    }
                }
            }
        }
    }
}

fn light(project: &Project, report: &KitReport) -> Markup {
    html! {
        section aria-labelledby="light" {
            h2 #light { "Light of each setup" }
            table {
                thead { tr {
                    th scope="col" { "Setup" } th scope="col" { "Camera" }
                    th.num scope="col" { "Face, lux" } th.num scope="col" { "stops" }
                    th.num scope="col" { "Background, lux" } th.num scope="col" { "stops" }
                    th scope="col" { "To know" }
                } }
                tbody {
                    @for one in &report.setups {
                        tr {
                            th scope="row" { a href=(format!("/change/setup/{}", one.setup)) { (project.setup_name(&one.setup)) } }
                            td {
                                @if let Some(focal) = one.camera.focal_mm { (format!("{focal:.0} mm ")) }
                                @if let Some(t) = one.camera.t_stop { (format!("T{t:.1} ")) }
                                @if let Some(iso) = one.camera.iso { (format!("ISO {iso:.0} ")) }
                                span.faint { (format!("{:.0}°", one.camera.shutter_deg)) }
                            }
                            @for side in [&one.face, &one.background] {
                                td.num { @if let Some(value) = side.lux { data value=(lux(value)) { (lux(value)) } } @else { "–" } }
                                td.num { (side.gap_stops.map_or_else(|| "–".into(), in_hand)) }
                            }
                            td {
                                @if !one.findings.is_empty() {
                                    details data-fold=(format!("light-{}", one.setup)) {
                                        summary { (one.findings.len()) " to know" }
                                        (finding::list(project, &one.findings))
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn packing(project: &Project, report: &KitReport, by_air: Option<u32>) -> Markup {
    let packing = &report.packing;
    html! {
        section aria-labelledby="pack" {
            h2 #pack { "To pack" }
            div.columns {
                @for load in &packing.loads {
                    div {
                        h3 { "For " (load.name) @if let Some(date) = &load.date { ", " time datetime=(date) { (date) } } }
                        p.faint { (format!("{:.1} kg known, {} ", load.weight_kg, load.trips)) @if load.trips == 1 { "trip" } @else { "trips" } @if !load.unweighed.is_empty() { ", " (load.unweighed.len()) " things without a weight" } }
                        ul.plain.ticks {
                            @for group in &load.groups {
                                @for packed in &group.items {
                                    li { @if packed.count > 1 { (packed.count) " × " } (packed.name) @if !packed.why.is_empty() { span.faint { " " (packed.why.join(", ")) } } }
                                }
                            }
                        }
                    }
                }
            }
            @if !packing.findings.is_empty() {
                h3 { "What does not work out" }
                (finding::list(project, &packing.findings))
            }
            @if !packing.bring.is_empty() {
                h3 { "For safety" }
                ul { @for one in &packing.bring { li { (one.name) span.faint { " " (one.why.join(", ")) } } } }
            }
            @if let Some(carriage) = &report.carriage {
                h3 { "Batteries by air" }
                (finding::list(project, &carriage.findings))
                p.faint { "Airlines may ask for more; ask yours before the day." }
            }
            @if project.kit.iter().any(|item| item.battery.is_some()) {
                form.row method="get" action="/kit" {
                    div.field {
                        label for="by-air" { "People it flies with" }
                        input #by-air name="by_air" inputmode="numeric" data-size="number" value=[by_air.map(|people| people.to_string())];
                    }
                    button.quiet { "Say how batteries fly" }
                }
            }
        }
    }
}

/// How one works, folded.
fn practice(head: &Head, session: &Session) -> Markup {
    let value = Noun::PRACTICE.find(&head.project, "it").unwrap_or_default();
    let changed = value.as_object().map_or(0, serde_json::Map::len);
    html! {
        details.more data-fold="practice" {
            summary { "How you work: " (model::Practice::NOUN.fields.len()) " values that everything above goes by" @if changed > 0 { ", " (changed) " not as usual" } }
            p.faint { "What is usual is common practice or a published value. Empty a field to go back to what is usual." }
            (noun::draw(Noun::PRACTICE, Some("it"), &value, head, session, &Faults::default()))
        }
    }
}
