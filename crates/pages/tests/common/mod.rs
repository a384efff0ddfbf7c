//! What the tests of the pages share: a project, the router around it, and requests as a browser sends them.
#![allow(dead_code, reason = "each test file uses its own part")]

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request, StatusCode, header};
use axum::response::Response;
use model::{Edit, Project};
use pages::App;
use pages::door::Door;
use pages::guard::Reached;
use std::sync::Arc;
use tempfile::TempDir;
use tower::ServiceExt as _;

/// The port the requests say they are for; nothing listens.
pub const PORT: u16 = 4999;

/// A project being served, with the cookie and token of the person at the machine.
pub struct Served {
    /// Where it lies; goes with this.
    pub dir: TempDir,
    /// What is served.
    pub app: Arc<App>,
    router: Router,
    cookie: String,
    token: String,
}

/// An answer, read whole.
#[derive(Debug)]
pub struct Answer {
    /// Its status.
    pub status: StatusCode,
    /// Where it leads on to.
    pub location: Option<String>,
    /// Its headers.
    pub headers: axum::http::HeaderMap,
    /// Its text.
    pub text: String,
}

impl Served {
    /// Serves `project` from a folder of its own.
    pub async fn new(project: &Project) -> Self {
        let dir = tempfile::tempdir().expect("a folder");
        steps::Job::create(dir.path(), project).expect("a project");
        let app = App::open(dir.path(), Door::new().expect("secrets")).expect("opened");
        let router = pages::router(app.clone());
        let mut served = Self {
            dir,
            app,
            router,
            cookie: String::new(),
            token: String::new(),
        };
        let key = served.app.door.owner_key().to_owned();
        let entered = served.get(&format!("/enter?key={key}")).await;
        assert_eq!(entered.status, StatusCode::SEE_OTHER);
        let cookie = entered.headers[header::SET_COOKIE].to_str().expect("text");
        served.cookie = cookie.split(';').next().unwrap_or_default().to_owned();
        let page = served.get("/").await;
        let token = page.text.split("data-token=\"").nth(1).expect("a token");
        served.token = token.split('"').next().unwrap_or_default().to_owned();
        served
    }

    /// The token of every change.
    pub fn token(&self) -> &str {
        &self.token
    }

    /// A request of the browser that was let in.
    pub fn request(&self, method: Method, path: &str) -> axum::http::request::Builder {
        let mut request = Request::builder()
            .method(method.clone())
            .uri(path)
            .header(header::HOST, format!("127.0.0.1:{PORT}"));
        if !self.cookie.is_empty() {
            request = request.header(header::COOKIE, &self.cookie);
        }
        if method != Method::GET {
            request = request.header(header::ORIGIN, format!("http://127.0.0.1:{PORT}"));
        }
        request
    }

    /// Sends it; the answer is read by whoever asked.
    pub async fn open(&self, mut request: Request<Body>) -> Response {
        request.extensions_mut().insert(Reached {
            addresses: Arc::new(["127.0.0.1".parse().expect("an address")]),
            port: PORT,
        });
        let answered = self.router.clone().oneshot(request).await;
        answered.expect("an answer")
    }

    /// Sends it.
    pub async fn send(&self, request: Request<Body>) -> Answer {
        let (parts, body) = self.open(request).await.into_parts();
        let bytes = to_bytes(body, 64 << 20).await.expect("a body");
        Answer {
            status: parts.status,
            location: parts
                .headers
                .get(header::LOCATION)
                .and_then(|value| value.to_str().ok())
                .map(str::to_owned),
            headers: parts.headers,
            text: String::from_utf8_lossy(&bytes).into_owned(),
        }
    }

    /// A page.
    pub async fn get(&self, path: &str) -> Answer {
        let request = self
            .request(Method::GET, path)
            .body(Body::empty())
            .expect("a request");
        self.send(request).await
    }

    /// A form, sent with the token and from the page `from`.
    pub async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let mut form = form_urlencoded::Serializer::new(String::new());
        form.append_pair("token", &self.token);
        for (name, value) in fields {
            form.append_pair(name, value);
        }
        let request = self
            .request(Method::POST, path)
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(form.finish()))
            .expect("a request");
        self.send(request).await
    }

    /// JSON, sent as a script of the page does.
    pub async fn post_json(&self, path: &str, value: &serde_json::Value) -> Answer {
        let request = self
            .request(Method::POST, path)
            .header("x-barebulb-token", &self.token)
            .header(header::CONTENT_TYPE, "application/json")
            .body(Body::from(value.to_string()))
            .expect("a request");
        self.send(request).await
    }

    /// The document as it now stands.
    pub fn project(&self) -> Arc<Project> {
        self.beside(|app| app.head().expect("a document").project)
    }

    /// The revision the document stands on.
    pub fn revision(&self) -> i64 {
        self.beside(|app| app.revision().expect("a revision").number())
    }

    /// An edit made by another program meanwhile, say.
    pub fn edit(&self, edit: &Edit) {
        self.beside(|app| app.edit(edit).expect("saved"));
    }

    /// What is asked of the project outside of a request, on a thread that may wait.
    pub fn beside<T: Send>(&self, asks: impl FnOnce(&App) -> T + Send) -> T {
        std::thread::scope(|threads| threads.spawn(|| asks(&self.app)).join()).expect("an answer")
    }
}
