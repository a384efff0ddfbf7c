//! Devices: who is in, the code that lets another in, and the way in itself.

use crate::app::App;
use crate::door::{NotLetIn, Session, closed};
use crate::dress;
use crate::events::Event;
use crate::guard::Reached;
use crate::posted::Posted;
use crate::refusal::{self, Refused};
use crate::shell::{self, Here, Layer};
use axum::Router;
use axum::extract::{Extension, Path, Query, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, PreEscaped, html};
use serde::Deserialize;
use std::sync::Arc;
use std::time::Duration;

/// `/enter` (the printed address), `/pair` (another device), `/devices`.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/enter", get(enter))
        .route("/pair", get(pair).post(try_pair))
        .route("/devices", get(devices))
        .route("/devices/{id}/out", post(send_away))
}

#[derive(Deserialize)]
struct Key {
    key: Option<String>,
}

async fn enter(
    State(app): State<Arc<App>>,
    Extension(reached): Extension<Reached>,
    headers: HeaderMap,
    Query(key): Query<Key>,
) -> Response {
    if !app.door.opens_to_owner(&key.key.unwrap_or_default()) {
        return closed();
    }
    match app.door.let_in(device(&headers), true) {
        Ok(session) => welcome(&session, &reached),
        Err(why) => not_let_in(&why),
    }
}

fn welcome(session: &Session, reached: &Reached) -> Response {
    let mut response = Redirect::to("/").into_response();
    if let Ok(value) = HeaderValue::from_str(&session.cookie(reached.port)) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    response
}

/// What a browser says it is, in a few words.
fn device(headers: &HeaderMap) -> String {
    let agent = headers
        .get(header::USER_AGENT)
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default();
    let kind = ["iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux"]
        .into_iter()
        .find(|kind| agent.contains(kind));
    kind.map_or_else(|| "a device".into(), |kind| format!("a browser on {kind}"))
}

#[derive(Deserialize)]
struct Given {
    code: Option<String>,
}

async fn pair(
    State(app): State<Arc<App>>,
    Extension(reached): Extension<Reached>,
    headers: HeaderMap,
    Query(given): Query<Given>,
) -> Response {
    // A scanned code still asks for one tap: links are followed by previews and prefetching too.
    if app.door.who(&headers, reached.port).is_some() {
        return Redirect::to("/").into_response();
    }
    pair_form(
        StatusCode::OK,
        given.code.as_deref().unwrap_or_default(),
        None,
    )
}

fn pair_form(status: StatusCode, code: &str, wrong: Option<&str>) -> Response {
    let body = html! {
        section.pair {
            h1 { "Let this device in" }
            p { "The code stands on the laptop, on the page Devices." }
            form method="post" action="/pair" {
                label for="code" { "Code" }
                input #code name="code" value=(code) inputmode="numeric" autocomplete="one-time-code" maxlength="12" required aria-describedby=[wrong.map(|_| "wrong")];
                @if let Some(wrong) = wrong { p #wrong .bad role="alert" { (wrong) } }
                button { "Let in" }
            }
        }
    };
    (status, dress::bare("Let this device in", &body)).into_response()
}

async fn try_pair(
    State(app): State<Arc<App>>,
    Extension(reached): Extension<Reached>,
    headers: HeaderMap,
    axum::Form(given): axum::Form<Given>,
) -> Response {
    let digits: String = given
        .code
        .unwrap_or_default()
        .chars()
        .filter(char::is_ascii_digit)
        .collect();
    if !app.door.opens(&digits) {
        // Slows down whoever tries them all; after a few tries another code holds anyway.
        tokio::time::sleep(Duration::from_millis(700)).await;
        return pair_form(
            StatusCode::FORBIDDEN,
            "",
            Some(
                "That is not the code that holds now. Look on the laptop again: after a few wrong tries, or ten minutes, there is another one.",
            ),
        );
    }
    match app.door.let_in(device(&headers), false) {
        Ok(session) => {
            app.tell(Event::Devices);
            welcome(&session, &reached)
        }
        Err(why) => not_let_in(&why),
    }
}

fn not_let_in(why: &NotLetIn) -> Response {
    refusal::said(StatusCode::FORBIDDEN, &why.to_string())
}

async fn devices(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let body = draw(&app, &session);
    let page = shell::page(&app, &session, Here::Devices, Layer::None, &body).await?;
    Ok(page.into_response())
}

async fn send_away(
    State(app): State<Arc<App>>,
    Path(id): Path<u64>,
    posted: Posted,
) -> Result<Response, Refused> {
    if !posted.session.owner && posted.session.id != id {
        return Err(Refused::NotHere(
            "only the laptop sends other devices away; do it on its page Devices".into(),
        ));
    }
    app.door.send_away(id);
    app.tell(Event::Devices);
    Ok(posted.back())
}

fn draw(app: &App, session: &Session) -> Markup {
    let (sessions, shared) = (app.door.sessions(), app.door.shared_at());
    html! {
        h1 { "Devices" }
        @if let Some(first) = shared.first().filter(|_| session.owner) {
            section.pairing aria-labelledby="code-title" {
                h2 #code-title { "Let another device in" }
                @match app.door.code() {
                    Ok(code) => {
                        p { "Point its camera here, or open " strong { (first) "/pair" } " and type the code." }
                        div.qr { (qr(&format!("{first}/pair?code={code}"))) }
                        p.code aria-label="Pairing code" { (format!("{} {}", &code[..4], &code[4..])) }
                    }
                    Err(why) => { p.bad { (shell::said(why.to_string())) } }
                }
                p.faint { "It holds for ten minutes and for one device. What goes over the local network is not encrypted: share only where you trust who else is on it." }
            }
        } @else if session.owner {
            p { "Only this machine can come in. To let a phone in on the same local network, end the program and start it with " code { "barebulb open DIR --share" } "." }
        }
        h2 { "In now" }
        ul.devices {
            @for one in &sessions {
                @if session.owner || one.id == session.id {
                    li {
                        span { (one.device) @if one.owner { " (this machine)" } @if one.id == session.id { " — the one you look at" } }
                        form method="post" action=(format!("/devices/{}/out", one.id)) {
                            input type="hidden" name="token" value=(session.token);
                            button.quiet { "Send away" span.unseen { ": " (one.device) " " (one.id) } }
                        }
                    }
                }
            }
        }
    }
}

/// `text` as a QR code (ISO/IEC 18004).
fn qr(text: &str) -> Markup {
    let Ok(code) = qrcode::QrCode::new(text) else {
        return html! {};
    };
    let svg = code
        .render::<qrcode::render::svg::Color<'_>>()
        .min_dimensions(200, 200)
        .build();
    // The drawing alone: the heading of a file has no place in a page.
    let svg = svg.split_once("?>").map_or(svg.as_str(), |(_, svg)| svg);
    PreEscaped(svg.replacen(
        "<svg",
        r#"<svg role="img" aria-label="QR code with the address""#,
        1,
    ))
}
