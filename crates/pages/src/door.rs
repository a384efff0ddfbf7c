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
    /// The cookie that says who it is, to the server at `port`.
    pub fn cookie(&self, port: u16) -> String {
        format!(
            "{}={}; Path=/; HttpOnly; SameSite=Strict",
            cookie_name(port),
            self.key
        )
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

/// The name of the cookie. Browsers keep one jar for all ports of a machine; two projects that are open at once
/// each have theirs.
fn cookie_name(port: u16) -> String {
    format!("barebulb-{port}")
}

/// Wrong codes after which another code is made.
const TRIES: u32 = 5;
/// How long a code holds.
const CODE_HOLDS: Duration = Duration::from_secs(10 * 60);
/// How long the browser may take to start.
const STARTS_WITHIN: Duration = Duration::from_secs(60);
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
    /// The key that the browser is started with, and when it was made.
    started_with: Option<(String, Instant)>,
    /// Where other devices find this one, when it is shared.
    shared_at: Vec<String>,
}

/// Who may come in.
pub struct Door {
    /// What the printed address carries.
    owner_key: String,
    random: Random,
    inside: Mutex<Inside>,
}

/// Why a device can't be let in. One sentence each.
#[derive(Clone, Debug, thiserror::Error)]
pub enum NotLetIn {
    /// There are as many as there may be.
    #[error(
        "there are as many devices in as there may be; send one away on the page Devices first"
    )]
    Full,
    /// Without a source of secrets nobody can be let in safely.
    #[error(
        "the system gives no random numbers ({0}), so no device can be let in safely; start the program again once it does"
    )]
    NoSecrets(getrandom::Error),
}

/// Fills bytes with what nobody can guess.
type Random = fn(&mut [u8]) -> Result<(), getrandom::Error>;

fn random<const N: usize>(from: Random) -> Result<[u8; N], NotLetIn> {
    let mut bytes = [0; N];
    from(&mut bytes).map_err(NotLetIn::NoSecrets)?;
    Ok(bytes)
}

/// 128 bits as text.
fn secret(from: Random) -> Result<String, NotLetIn> {
    Ok(format!("{:032x}", u128::from_ne_bytes(random(from)?)))
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
    /// A door that nobody came through yet.
    ///
    /// # Errors
    /// When the system gives no random numbers.
    pub fn new() -> Result<Self, NotLetIn> {
        Self::with(getrandom::fill)
    }

    fn with(random: Random) -> Result<Self, NotLetIn> {
        Ok(Self {
            owner_key: secret(random)?,
            random,
            inside: Mutex::default(),
        })
    }

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

    /// The device that a request to the server at `port` comes from, if it was let in.
    pub fn who(&self, headers: &HeaderMap, port: u16) -> Option<Session> {
        let key = cookie(headers, &cookie_name(port))?;
        self.inside()
            .sessions
            .iter()
            .find(|session| same(&session.key, key))
            .cloned()
    }

    /// A key to start the browser of this machine with: it opens once, and within a minute. What a program is
    /// started with can be read by everybody on the machine; the key that is printed is not given away so.
    ///
    /// # Errors
    /// When the system gives no random numbers.
    pub fn one_use_key(&self) -> Result<String, NotLetIn> {
        let key = secret(self.random)?;
        self.inside().started_with = Some((key.clone(), Instant::now()));
        Ok(key)
    }

    /// Whether `key` opens to the person at this machine: the one the printed address carries, or the one that
    /// the browser was started with, which is used up.
    pub fn opens_to_owner(&self, key: &str) -> bool {
        if same(key, &self.owner_key) {
            return true;
        }
        let mut inside = self.inside();
        let held = inside.started_with.as_ref();
        let opens =
            held.is_some_and(|(held, made)| same(key, held) && made.elapsed() <= STARTS_WITHIN);
        if opens {
            inside.started_with = None;
        }
        opens
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

    /// Lets a device in.
    ///
    /// # Errors
    /// When there are as many as there may be, or no secrets to be had.
    pub fn let_in(&self, device: String, owner: bool) -> Result<Session, NotLetIn> {
        let (key, token) = (secret(self.random)?, secret(self.random)?);
        let mut inside = self.inside();
        if inside.sessions.len() >= MOST_DEVICES {
            // The owner can always come in again; the oldest of their browsers makes room.
            let oldest = inside.sessions.iter().position(|one| one.owner);
            let oldest = oldest.filter(|_| owner).ok_or(NotLetIn::Full)?;
            inside.sessions.remove(oldest);
        }
        inside.next += 1;
        let session = Session {
            id: inside.next,
            key,
            token,
            device,
            owner,
        };
        inside.sessions.push(session.clone());
        Ok(session)
    }

    /// The code that lets a device in, made anew when there is none that holds.
    ///
    /// # Errors
    /// When the system gives no random numbers.
    pub fn code(&self) -> Result<String, NotLetIn> {
        let mut inside = self.inside();
        let held = inside.code.as_ref();
        let held = held.filter(|code| code.made.elapsed() <= CODE_HOLDS && code.wrong < TRIES);
        if let Some(code) = held {
            return Ok(code.digits.clone());
        }
        let number = u64::from_ne_bytes(random(self.random)?) % 100_000_000;
        let digits = format!("{number:08}");
        inside.code = Some(Code {
            digits: digits.clone(),
            wrong: 0,
            made: Instant::now(),
        });
        Ok(digits)
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

fn cookie<'a>(headers: &'a HeaderMap, called: &str) -> Option<&'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == called)
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

    fn door() -> Door {
        Door::new().expect("secrets")
    }

    fn code_of(door: &Door) -> String {
        door.code().expect("a code")
    }

    #[test]
    fn without_secrets_nobody_is_let_in_and_the_program_goes_on() {
        fn none(_: &mut [u8]) -> Result<(), getrandom::Error> {
            Err(getrandom::Error::UNSUPPORTED)
        }
        assert!(matches!(Door::with(none), Err(NotLetIn::NoSecrets(_))));
        let door = Door {
            random: none,
            ..door()
        };
        let says = door.code().expect_err("no secrets").to_string();
        assert!(says.contains("no random numbers"), "{says}");
        assert!(door.let_in("a phone".into(), false).is_err());
        assert!(!door.opens("00000000"));
    }

    #[test]
    fn a_code_opens_once_and_goes_after_wrong_tries() {
        let door = door();
        assert!(!door.opens("00000000"));
        let code = code_of(&door);
        assert_eq!(code.len(), 8);
        assert_eq!(code_of(&door), code);
        assert!(door.opens(&code));
        assert!(!door.opens(&code), "used up");
        let next = code_of(&door);
        for _ in 0..TRIES {
            assert!(!door.opens("x"));
        }
        assert!(!door.opens(&next), "too many wrong tries");
    }

    #[test]
    fn what_the_browser_is_started_with_opens_once() {
        let door = door();
        let key = door.one_use_key().expect("secrets");
        assert!(!door.opens_to_owner("") && !door.opens_to_owner("guess"));
        assert!(door.opens_to_owner(&key));
        assert!(!door.opens_to_owner(&key), "used up");
        assert!(door.opens_to_owner(door.owner_key()) && door.opens_to_owner(door.owner_key()));
    }

    #[test]
    fn a_device_sent_away_is_out() {
        let door = door();
        let session = door.let_in("a phone".into(), false).expect("room");
        let mut headers = HeaderMap::new();
        let text = format!("a=b; {}", session.cookie(4000));
        headers.insert(header::COOKIE, HeaderValue::from_str(&text).expect("text"));
        assert_eq!(door.who(&headers, 4000), Some(session.clone()));
        assert_eq!(door.who(&headers, 4001), None, "another project's");
        door.inside().sessions.clear();
        assert_eq!(door.who(&headers, 4000), None);
    }

    #[test]
    fn the_owner_comes_in_when_it_is_full_and_others_do_not() {
        let door = door();
        for _ in 0..MOST_DEVICES {
            assert!(door.let_in("a laptop".into(), true).is_ok());
        }
        assert!(door.let_in("a phone".into(), false).is_err());
        assert!(door.let_in("a laptop".into(), true).is_ok());
        assert_eq!(door.inside().sessions.len(), MOST_DEVICES);
    }
}
