//! Who may come in: the person at this machine by the address that was printed, another device by a
//! pairing code; each with a key of its own that can be taken back.
//!
//! Keys live in memory alone: when the program ends, every device is out. Traffic on the local network
//! is not encrypted, so whoever can listen there can read it; `docs/pages.md` says so too.

use crate::app::App;
use crate::events::Event;
use crate::posted::Posted;
use crate::refusal::{self, Refused};
use crate::shell;
use axum::Router;
use axum::extract::{FromRequestParts, Path, Query, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, PreEscaped, html};
use serde::Deserialize;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A device that was let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// Its number.
    pub id: u64,
    /// The secret its cookie holds.
    key: String,
    /// What every change it makes must carry, so that no other site can make one through it.
    pub token: String,
    /// What it said it is.
    pub device: String,
    /// Whether it is the one at this machine.
    pub owner: bool,
}

impl Session {
    /// Somebody who was let in, for tests.
    #[cfg(test)]
    pub(crate) fn for_tests() -> Self {
        Self {
            id: 1,
            key: "key".into(),
            token: "token".into(),
            device: "a test".into(),
            owner: true,
        }
    }
}

impl FromRequestParts<Arc<App>> for Session {
    type Rejection = Response;
    async fn from_request_parts(parts: &mut Parts, _app: &Arc<App>) -> Result<Self, Response> {
        parts.extensions.get::<Self>().cloned().ok_or_else(closed)
    }
}

/// The name of the cookie.
const COOKIE: &str = "barebulb";
/// Wrong codes after which another code is made.
const TRIES: u32 = 5;
/// How long a code holds.
const CODE_HOLDS: Duration = Duration::from_secs(10 * 60);
/// Devices at most.
const MOST_DEVICES: usize = 16;

struct Code {
    digits: String,
    wrong: u32,
    made: Instant,
}

#[derive(Default)]
struct Inside {
    sessions: Vec<Session>,
    next: u64,
    code: Option<Code>,
    /// Where other devices find this one, when it is shared.
    shared_at: Vec<String>,
}

/// Who may come in.
pub struct Door {
    /// What the printed address carries.
    owner_key: String,
    inside: Mutex<Inside>,
}

impl Default for Door {
    fn default() -> Self {
        Self {
            owner_key: secret(),
            inside: Mutex::default(),
        }
    }
}

fn random<const N: usize>() -> [u8; N] {
    let mut bytes = [0; N];
    // Without a source of secrets nobody can be let in safely; there is none to go on with.
    if let Err(error) = getrandom::fill(&mut bytes) {
        eprintln!(
            "barebulb: the system gives no random numbers ({error}), so no device can be let in safely"
        );
        std::process::exit(1);
    }
    bytes
}

/// 128 bits as text.
fn secret() -> String {
    format!("{:032x}", u128::from_ne_bytes(random()))
}

/// Whether two secrets are the same, in a time that does not depend on where they differ.
fn same(a: &str, b: &str) -> bool {
    a.len() == b.len()
        && a.bytes()
            .zip(b.bytes())
            .fold(0, |differ, (a, b)| differ | (a ^ b))
            == 0
}

impl Door {
    fn inside(&self) -> MutexGuard<'_, Inside> {
        self.inside.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The key the printed address carries.
    pub fn owner_key(&self) -> &str {
        &self.owner_key
    }

    /// Says where other devices find this one.
    pub fn share(&self, addresses: Vec<String>) {
        self.inside().shared_at = addresses;
    }

    /// The device a request comes from, if it was let in.
    pub fn who(&self, headers: &HeaderMap) -> Option<Session> {
        let key = cookie(headers)?;
        self.inside()
            .sessions
            .iter()
            .find(|session| same(&session.key, key))
            .cloned()
    }

    fn let_in(&self, device: String, owner: bool) -> Option<Session> {
        let mut inside = self.inside();
        if inside.sessions.len() >= MOST_DEVICES {
            // The owner can always come in again; the oldest of their browsers makes room.
            let oldest = inside.sessions.iter().position(|one| one.owner)?;
            if !owner {
                return None;
            }
            inside.sessions.remove(oldest);
        }
        inside.next += 1;
        let session = Session {
            id: inside.next,
            key: secret(),
            token: secret(),
            device,
            owner,
        };
        inside.sessions.push(session.clone());
        Some(session)
    }

    /// The code that lets a device in, made anew when there is none that holds.
    fn code(&self) -> String {
        let mut inside = self.inside();
        let stale = inside
            .code
            .as_ref()
            .is_none_or(|code| code.made.elapsed() > CODE_HOLDS || code.wrong >= TRIES);
        if stale {
            let number = u64::from_ne_bytes(random()) % 100_000_000;
            inside.code = Some(Code {
                digits: format!("{number:08}"),
                wrong: 0,
                made: Instant::now(),
            });
        }
        inside
            .code
            .as_ref()
            .map(|code| code.digits.clone())
            .unwrap_or_default()
    }

    /// Whether `digits` is the code that holds; a right one is used up.
    fn opens(&self, digits: &str) -> bool {
        let mut inside = self.inside();
        let Some(code) = inside.code.as_mut() else {
            return false;
        };
        if code.made.elapsed() > CODE_HOLDS || code.wrong >= TRIES {
            return false;
        }
        if same(&code.digits, digits) {
            inside.code = None;
            return true;
        }
        code.wrong += 1;
        false
    }
}

fn cookie(headers: &HeaderMap) -> Option<&str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE)
        .map(|(_, key)| key)
}

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
    headers: HeaderMap,
    Query(key): Query<Key>,
) -> Response {
    let key = key.key.unwrap_or_default();
    if !same(&key, &app.door.owner_key) {
        return closed();
    }
    match app.door.let_in(device(&headers), true) {
        Some(session) => welcome(&session),
        None => full(),
    }
}

fn welcome(session: &Session) -> Response {
    let mut response = Redirect::to("/").into_response();
    let text = format!(
        "{COOKIE}={}; Path=/; HttpOnly; SameSite=Strict",
        session.key
    );
    if let Ok(value) = HeaderValue::from_str(&text) {
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
    headers: HeaderMap,
    Query(given): Query<Given>,
) -> Response {
    // A scanned code still asks for one tap: links are followed by previews and prefetching too.
    if app.door.who(&headers).is_some() {
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
    (status, shell::bare("Let this device in", &body)).into_response()
}

async fn try_pair(
    State(app): State<Arc<App>>,
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
        Some(session) => {
            app.tell(Event::Devices);
            welcome(&session)
        }
        None => full(),
    }
}

fn full() -> Response {
    refusal::said(
        StatusCode::FORBIDDEN,
        "there are as many devices in as there may be; send one away on the page Devices first",
    )
}

/// The answer to a device that was not let in.
pub fn closed() -> Response {
    let body = html! {
        section.refused {
            h1 { "This device was not let in" }
            p { "At the machine Barebulb runs on, open the address it printed. On another device, open " a href="/pair" { "the page with the code" } "." }
        }
    };
    (StatusCode::UNAUTHORIZED, shell::bare("Not let in", &body)).into_response()
}

async fn devices(State(app): State<Arc<App>>, session: Session) -> Result<Response, Refused> {
    let body = draw(&app, &session);
    let page = shell::page(
        &app,
        &session,
        shell::Here::Devices,
        shell::Layer::None,
        &body,
    )
    .await?;
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
    app.door.inside().sessions.retain(|one| one.id != id);
    app.tell(Event::Devices);
    Ok(posted.back())
}

fn draw(app: &App, session: &Session) -> Markup {
    let (sessions, shared) = {
        let inside = app.door.inside();
        (inside.sessions.clone(), inside.shared_at.clone())
    };
    html! {
        h1 { "Devices" }
        @if let Some(first) = shared.first().filter(|_| session.owner) {
            @let code = app.door.code();
            section.pairing aria-labelledby="code-title" {
                h2 #code-title { "Let another device in" }
                p { "Point its camera here, or open " strong { (first) "/pair" } " and type the code." }
                div.qr { (qr(&format!("{first}/pair?code={code}"))) }
                p.code aria-label="Pairing code" { (format!("{} {}", &code[..4], &code[4..])) }
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
pub fn qr(text: &str) -> Markup {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_opens_once_and_goes_after_wrong_tries() {
        let door = Door::default();
        assert!(!door.opens("00000000"));
        let code = door.code();
        assert_eq!(code.len(), 8);
        assert_eq!(door.code(), code);
        assert!(door.opens(&code));
        assert!(!door.opens(&code), "used up");
        let next = door.code();
        for _ in 0..TRIES {
            assert!(!door.opens("x"));
        }
        assert!(!door.opens(&next), "too many wrong tries");
    }

    #[test]
    fn a_device_sent_away_is_out() {
        let door = Door::default();
        let session = door.let_in("a phone".into(), false).expect("room");
        let mut headers = HeaderMap::new();
        let text = format!("a=b; {COOKIE}={}", session.key);
        headers.insert(header::COOKIE, HeaderValue::from_str(&text).expect("text"));
        assert_eq!(door.who(&headers), Some(session.clone()));
        door.inside().sessions.clear();
        assert_eq!(door.who(&headers), None);
    }

    #[test]
    fn the_owner_comes_in_when_it_is_full_and_others_do_not() {
        let door = Door::default();
        for _ in 0..MOST_DEVICES {
            assert!(door.let_in("a laptop".into(), true).is_some());
        }
        assert!(door.let_in("a phone".into(), false).is_none());
        assert!(door.let_in("a laptop".into(), true).is_some());
        assert_eq!(door.inside().sessions.len(), MOST_DEVICES);
    }
}
