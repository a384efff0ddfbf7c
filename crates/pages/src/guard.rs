//! What is looked at before anything is answered: the Host, the Origin of changes, the device's key;
//! and the headers every answer carries.

use crate::app::App;
use crate::door::{self, Session};
use crate::dress;
use crate::refusal;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::Response;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// The content policy of every page: nothing from elsewhere, nothing inline.
pub const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; connect-src 'self'; font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const HEADERS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "same-origin"),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
    (header::X_FRAME_OPTIONS, "DENY"),
];

/// The name a request asks for is one this machine goes by: loopback, or an address of its own. A page
/// of another site whose name was pointed here (DNS rebinding) has its own name there.
fn is_ours(host: &str, allowed: &[IpAddr], port: u16) -> bool {
    let name = match host.parse::<SocketAddr>() {
        Ok(address) => {
            return address.port() == port && allowed.contains(&address.ip());
        }
        Err(_) => host.rsplit_once(':'),
    };
    name.is_some_and(|(name, asked)| name == "localhost" && asked.parse() == Ok(port))
}

/// Where this is reached, put into every request by the net.
#[derive(Clone, Debug)]
pub struct Reached {
    /// The addresses a request may name.
    pub addresses: Arc<[IpAddr]>,
    /// The port.
    pub port: u16,
}

/// How well a connection is known: not at all, by having asked, by the number of who was let in.
#[derive(Clone, Debug, Default)]
pub struct KnownAs(Arc<AtomicU64>);

/// Something was asked through it.
pub const ASKED: u64 = 1;

impl KnownAs {
    /// Somebody asks through it.
    pub fn asks(&self) {
        self.0.fetch_max(ASKED, Ordering::Relaxed);
    }

    /// How well it is known: 0 where nothing was asked, [`ASKED`], or above that.
    pub fn level(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }

    /// The number of who asks through it, if they were let in.
    pub fn who(&self) -> Option<u64> {
        self.level().checked_sub(ASKED).filter(|id| *id > 0)
    }

    fn is(&self, session: &Session) {
        self.0.store(ASKED + session.id, Ordering::Relaxed);
    }
}

/// Looks at a request before it is answered.
pub async fn guard(State(app): State<Arc<App>>, mut request: Request, next: Next) -> Response {
    let night = dress::asks_for_night(request.headers());
    let answered = async {
        match admitted(&app, &mut request) {
            Ok(()) => next.run(request).await,
            Err(response) => *response,
        }
    };
    let mut response = dress::NIGHT.scope(night, answered).await;
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
    // What is private stays out of caches, but for what its address names by content.
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    response
}

fn admitted(app: &App, request: &mut Request) -> Result<(), Box<Response>> {
    let no = |status, says: &str| Err(Box::new(refusal::said(status, says)));
    let headers = request.headers();
    let Some(host) = only(headers, &header::HOST) else {
        return no(StatusCode::BAD_REQUEST, "the request names no host");
    };
    let reached = request.extensions().get::<Reached>();
    let Some(reached) = reached.filter(|at| is_ours(host, &at.addresses, at.port)) else {
        return no(
            StatusCode::MISDIRECTED_REQUEST,
            "this address is none of this machine's; open the one that was printed",
        );
    };
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    if changes {
        let ours = format!("http://{host}");
        if only(headers, &header::ORIGIN) != Some(ours.as_str()) {
            return no(
                StatusCode::FORBIDDEN,
                "the change comes from a page of another site, and is not made",
            );
        }
    }
    let path = request.uri().path();
    let open_to_all = path.starts_with("/assets/") || matches!(path, "/enter" | "/pair");
    match app.door.who(headers, reached.port) {
        Some(session) => {
            if let Some(known) = request.extensions().get::<KnownAs>() {
                known.is(&session);
            }
            request.extensions_mut().insert(session);
        }
        None if open_to_all => {}
        None => return Err(Box::new(door::closed())),
    }
    Ok(())
}

/// A header that must stand once.
fn only<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut all = headers.get_all(name).iter();
    let first = all.next()?.to_str().ok()?;
    all.next().is_none().then_some(first)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_this_machine_are_ours() {
        let here: Vec<IpAddr> = vec![
            "127.0.0.1".parse().expect("address"),
            "::1".parse().expect("address"),
        ];
        for (host, ours) in [
            ("127.0.0.1:4000", true),
            ("localhost:4000", true),
            ("[::1]:4000", true),
            ("127.0.0.1:4001", false),
            ("127.0.0.1", false),
            ("localhost", false),
            ("evil.example:4000", false),
            ("localhost.evil.example:4000", false),
            ("192.168.1.5:4000", false),
            ("127.0.0.1:4000@evil.example", false),
            ("", false),
        ] {
            assert_eq!(is_ours(host, &here, 4000), ours, "{host}");
        }
    }
}
