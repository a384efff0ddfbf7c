//! Who may come in: the person at this machine by the address that was printed, another device by a
//! pairing code; each with a key of its own that can be taken back.
//!
//! Keys live in memory alone: when the program ends, every device is out. Traffic on the local network
//! is not encrypted, so whoever can listen there can read it; `docs/pages.md` says so too.

use crate::dress;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::html;
use std::sync::{Mutex, MutexGuard, PoisonError};
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
    /// The cookie that says who it is.
    pub fn cookie(&self) -> String {
        format!("{COOKIE}={}; Path=/; HttpOnly; SameSite=Strict", self.key)
    }

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

impl<S: Sync> FromRequestParts<S> for Session {
    type Rejection = Response;
    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Response> {
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

    /// Whether `key` is the one the printed address carries.
    pub fn is_owner_key(&self, key: &str) -> bool {
        same(key, &self.owner_key)
    }

    /// Where other devices find this one; empty when it is not shared.
    pub fn shared_at(&self) -> Vec<String> {
        self.inside().shared_at.clone()
    }

    /// Every device that is in.
    pub fn sessions(&self) -> Vec<Session> {
        self.inside().sessions.clone()
    }

    /// Whether `session` is still in.
    pub fn holds(&self, session: &Session) -> bool {
        self.inside().sessions.iter().any(|one| one == session)
    }

    /// Sends the device with this number away.
    pub fn send_away(&self, id: u64) {
        self.inside().sessions.retain(|one| one.id != id);
    }

    /// Lets a device in; `None` when there are as many as there may be.
    pub fn let_in(&self, device: String, owner: bool) -> Option<Session> {
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
    pub fn code(&self) -> String {
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
    pub fn opens(&self, digits: &str) -> bool {
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

/// The answer to a device that was not let in.
pub fn closed() -> Response {
    let body = html! {
        section.refused {
            h1 { "This device was not let in" }
            p { "At the machine Barebulb runs on, open the address it printed. On another device, open " a href="/pair" { "the page with the code" } "." }
        }
    };
    (StatusCode::UNAUTHORIZED, dress::bare("Not let in", &body)).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

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
        let text = format!("a=b; {}", session.cookie());
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
