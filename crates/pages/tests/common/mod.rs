//! A project in a folder of its own, and a browser that asks for its pages without a network.

#![allow(dead_code, reason = "each test file uses what it needs")]

use axum::body::Body;
use axum::http::{Method, Request, Response, StatusCode, header};
use model::Project;
use pages::App;
use pages::guard::Reached;
use serde_json::Value;
use std::net::{IpAddr, Ipv4Addr};
use std::path::Path;
use std::sync::Arc;
use steps::{Job, Quiet};
use tower::ServiceExt as _;

const HOST: &str = "127.0.0.1:4717";

/// A project being served, and one device that was let in.
pub struct Open {
    pub app: Arc<App>,
    cookie: String,
    _folder: tempfile::TempDir,
}

/// What came back.
pub struct Answer {
    pub status: StatusCode,
    /// Where it leads on.
    pub location: String,
    pub body: String,
}

impl Open {
    /// A project with a song of clicks: 120 beats a minute, four in a bar, the first the loudest.
    pub async fn with_song(seconds: u32) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let song = folder.path().join("clicks.wav");
        std::fs::write(&song, clicks(seconds)).expect("written");
        let dir = folder.path().join("video");
        let mut job = Job::create(&dir, &Project::default()).expect("a project");
        job.set_song(&song, &Quiet).expect("a song");
        drop(job);
        Self::of(folder, &dir).await
    }

    /// A project without anything.
    pub async fn empty() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let dir = folder.path().join("video");
        Job::create(&dir, &Project::default()).expect("a project");
        Self::of(folder, &dir).await
    }

    async fn of(folder: tempfile::TempDir, dir: &Path) -> Self {
        let app = App::open(dir).expect("open");
        let mut open = Self {
            app,
            cookie: String::new(),
            _folder: folder,
        };
        let path = format!("/enter?key={}", open.app.door.owner_key());
        let response = open
            .ask(open.request(Method::GET, &path, Body::empty()))
            .await;
        let cookie = response
            .headers()
            .get(header::SET_COOKIE)
            .and_then(|value| value.to_str().ok())
            .expect("let in");
        open.cookie = cookie.split(';').next().unwrap_or_default().to_owned();
        open
    }

    fn request(&self, method: Method, path: &str, body: Body) -> Request<Body> {
        let address = IpAddr::V4(Ipv4Addr::LOCALHOST);
        Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, HOST)
            .header(header::ORIGIN, format!("http://{HOST}"))
            .header(header::COOKIE, &self.cookie)
            .extension(Reached {
                addresses: Arc::from([address]),
                port: 4717,
            })
            .body(body)
            .expect("a request")
    }

    async fn ask(&self, request: Request<Body>) -> Response<Body> {
        pages::router(self.app.clone())
            .oneshot(request)
            .await
            .unwrap_or_else(|never| match never {})
    }

    async fn answer(&self, request: Request<Body>) -> Answer {
        let response = self.ask(request).await;
        let location = response
            .headers()
            .get(header::LOCATION)
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default()
            .to_owned();
        let status = response.status();
        let bytes = axum::body::to_bytes(response.into_body(), 64 << 20)
            .await
            .expect("a body");
        Answer {
            status,
            location,
            body: String::from_utf8_lossy(&bytes).into_owned(),
        }
    }

    /// A page.
    pub async fn get(&self, path: &str) -> Answer {
        self.answer(self.request(Method::GET, path, Body::empty()))
            .await
    }

    /// The token the pages carry.
    pub async fn token(&self) -> String {
        let page = self.get("/").await.body;
        let (_, rest) = page.split_once("data-token=\"").expect("a token");
        rest.split('"').next().unwrap_or_default().to_owned()
    }

    /// A form, sent as a browser sends it, with the token.
    pub async fn send(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let mut form = form_urlencoded::Serializer::new(String::new());
        form.append_pair("token", &self.token().await);
        form.append_pair(
            "-revision",
            &self.app.revision().expect("a revision").to_string(),
        );
        for (name, value) in fields {
            form.append_pair(name, value);
        }
        let mut request = self.request(Method::POST, path, Body::from(form.finish()));
        request.headers_mut().insert(
            header::CONTENT_TYPE,
            header::HeaderValue::from_static("application/x-www-form-urlencoded"),
        );
        self.answer(request).await
    }

    /// JSON, sent as a script of the pages sends it.
    pub async fn post(&self, path: &str, value: &Value) -> Answer {
        let mut request = self.request(Method::POST, path, Body::from(value.to_string()));
        let token = self.token().await;
        let token = header::HeaderValue::from_str(&token).expect("a token");
        request
            .headers_mut()
            .insert(pages::posted::TOKEN_HEADER, token);
        self.answer(request).await
    }

    /// The document.
    pub fn project(&self) -> Arc<Project> {
        self.app.head().expect("a document").project
    }
}

/// A WAV of clicks, 16 bits, one channel.
fn clicks(seconds: u32) -> Vec<u8> {
    const RATE: u32 = 22_050;
    let samples = RATE * seconds;
    let mut out = Vec::with_capacity(44 + samples as usize * 2);
    out.extend(b"RIFF");
    out.extend((36 + samples * 2).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16_u32.to_le_bytes());
    out.extend(1_u16.to_le_bytes());
    out.extend(1_u16.to_le_bytes());
    out.extend(RATE.to_le_bytes());
    out.extend((RATE * 2).to_le_bytes());
    out.extend(2_u16.to_le_bytes());
    out.extend(16_u16.to_le_bytes());
    out.extend(b"data");
    out.extend((samples * 2).to_le_bytes());
    for n in 0..samples {
        let beat = n / (RATE / 2);
        let into = f64::from(n % (RATE / 2)) / f64::from(RATE);
        let (loud, pitch) = if beat.is_multiple_of(4) {
            (0.9, 90.0)
        } else {
            (0.4, 1_200.0)
        };
        let tone = (into * pitch * std::f64::consts::TAU).sin() * (-into * 40.0).exp();
        out.extend(((tone * loud * 32_000.0) as i16).to_le_bytes());
    }
    out
}
