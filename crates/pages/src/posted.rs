//! A change as posted: a form's fields, or JSON, with the token that says it was meant.

use crate::door::Session;
use crate::refusal::Refused;
use axum::body::{Body, Bytes};
use axum::extract::{FromRequest, FromRequestParts as _, Request};
use axum::http::{HeaderMap, HeaderName, header};
use axum::response::{IntoResponse, Redirect, Response};
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;

/// The most a form may hold, bytes.
const MOST_BYTES: usize = 2 << 20;
/// The header a script sends the token in.
const TOKEN_HEADER: &str = "x-barebulb-token";

/// A form's fields; whoever sent it was let in and meant it.
#[derive(Clone, Debug)]
pub struct Posted {
    /// Whose it is.
    pub session: Session,
    /// Every field with its values, in order.
    pub fields: BTreeMap<String, Vec<String>>,
    /// Whether a script asks for a part of a page.
    pub wants_fragment: bool,
    /// The page it was sent from: a path of ours.
    from: String,
}

impl Posted {
    /// The first value of `name`, without spaces around it; empty when it is not there.
    pub fn text(&self, name: &str) -> &str {
        self.fields
            .get(name)
            .and_then(|values| values.first())
            .map_or("", |value| value.trim())
    }

    /// The page it was sent from.
    pub fn from(&self) -> &str {
        &self.from
    }

    /// A form as somebody let in sends it, for tests.
    #[cfg(test)]
    pub(crate) fn for_tests(pairs: &[(&str, &str)]) -> Self {
        let mut fields: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for (name, value) in pairs {
            fields
                .entry((*name).to_owned())
                .or_default()
                .push((*value).to_owned());
        }
        Self {
            session: Session::for_tests(),
            fields,
            wants_fragment: false,
            from: "/".into(),
        }
    }

    /// Back to the page it was sent from.
    pub fn back(&self) -> Response {
        Redirect::to(&self.from).into_response()
    }
}

/// The token a script sends.
pub fn token_of(headers: &HeaderMap) -> Option<&str> {
    headers.get(TOKEN_HEADER)?.to_str().ok()
}

/// Whether `token` is `session`'s.
pub fn is_meant(session: &Session, token: &str) -> bool {
    !token.is_empty() && session.token == token
}

/// The path of the page a request was sent from, as far as it is one of ours; the first page otherwise.
fn referring(headers: &HeaderMap) -> String {
    let text = |name: HeaderName| headers.get(name)?.to_str().ok();
    let (Some(referrer), Some(host)) = (text(header::REFERER), text(header::HOST)) else {
        return "/".into();
    };
    referrer
        .strip_prefix("http://")
        .and_then(|rest| rest.strip_prefix(host))
        .filter(|path| path.starts_with('/') && !path.starts_with("//"))
        .map_or_else(|| "/".into(), str::to_owned)
}

/// All that was sent, which is a `what`.
async fn all(body: Body, what: &str) -> Result<Bytes, Response> {
    let read = axum::body::to_bytes(body, MOST_BYTES).await;
    let refused = || Refused::TooLarge(format!("the {what} holds more than is taken in"));
    read.map_err(|_| refused().into_response())
}

impl<S: Sync> FromRequest<S> for Posted {
    type Rejection = Response;
    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let (mut parts, body) = request.into_parts();
        let session = Session::from_request_parts(&mut parts, state).await?;
        let bytes = all(body, "form").await?;
        let mut fields: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for (name, value) in form_urlencoded::parse(&bytes) {
            fields
                .entry(name.into_owned())
                .or_default()
                .push(value.into_owned());
        }
        let given = fields.get("token").and_then(|values| values.first());
        let token = given.map(String::as_str).or(token_of(&parts.headers));
        if !token.is_some_and(|token| is_meant(&session, token)) {
            return Err(Refused::WrongToken.into_response());
        }
        Ok(Self {
            session,
            fields,
            wants_fragment: parts.headers.contains_key("hx-request"),
            from: referring(&parts.headers),
        })
    }
}

/// JSON a script posts; whoever sent it was let in and meant it.
#[derive(Clone, Debug)]
pub struct PostedJson<T> {
    /// Whose it is.
    pub session: Session,
    /// What was sent.
    pub value: T,
}

impl<S: Sync, T: DeserializeOwned> FromRequest<S> for PostedJson<T> {
    type Rejection = Response;
    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let (mut parts, body) = request.into_parts();
        let session = Session::from_request_parts(&mut parts, state).await?;
        if !token_of(&parts.headers).is_some_and(|token| is_meant(&session, token)) {
            return Err(Refused::WrongToken.into_response());
        }
        let bytes = all(body, "change").await?;
        let value = serde_json::from_slice(&bytes).map_err(|error| {
            Refused::Unreadable(format!("the change can't be read: {error}")).into_response()
        })?;
        Ok(Self { session, value })
    }
}
