//! What reads foreign bytes, each as one function that says whether it took them.

use crate::seeds;
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request, header};
use model::Project;
use pages::App;
use pages::door::Door;
use pages::guard::Reached;
use std::path::PathBuf;
use std::sync::Arc;
use tempfile::TempDir;
use tokio::runtime::Runtime;
use tower::ServiceExt as _;

/// Reads what it is given, and says whether it took it.
pub type Reads = Box<dyn Fn(&[u8]) -> bool>;

/// A reader.
pub struct Target {
    /// What it is called.
    pub name: &'static str,
    /// What it should take.
    pub seeds: Vec<Vec<u8>>,
    /// Reads, and says whether it took it.
    pub reads: Reads,
}

fn target(
    name: &'static str,
    seeds: Vec<Vec<u8>>,
    reads: impl Fn(&[u8]) -> bool + 'static,
) -> Target {
    Target {
        name,
        seeds,
        reads: Box::new(reads),
    }
}

/// A place for one file, which goes with the target.
struct Place(TempDir);

impl Place {
    fn new() -> anyhow::Result<Self> {
        Ok(Self(tempfile::tempdir()?))
    }

    fn with(&self, bytes: &[u8]) -> PathBuf {
        let path = self.0.path().join("file");
        let _ = std::fs::write(&path, bytes);
        path
    }
}

/// All of them.
pub fn all() -> anyhow::Result<Vec<Target>> {
    let (sounds, photographs) = (seeds::sounds()?, seeds::photographs()?);
    let (sound, photo, picture) = (Place::new()?, Place::new()?, Place::new()?);
    let kinds = [sounds.clone(), photographs.clone()].concat();
    Ok(vec![
        target("kind", kinds, |bytes| media::Kind::of(bytes).is_some()),
        target("sound", sounds, move |bytes| {
            let path = sound.with(bytes);
            let probed = media::probe(&path, None);
            media::decode_song(&path, None, &|| true).is_ok() && probed.is_ok()
        }),
        target("photograph", photographs.clone(), move |bytes| {
            media::read_photo(&photo.with(bytes)).is_ok()
        }),
        target("codes", vec![photographs[0].clone()], move |bytes| {
            media::read_codes(&picture.with(bytes), &|| true).is_ok()
        }),
        target("plan", vec![seeds::plan()], |bytes| {
            let read = std::str::from_utf8(bytes)
                .ok()
                .map(model::plan_file::import);
            // What is taken is written and read again.
            read.and_then(Result::ok).is_some_and(|plan| {
                let written = model::plan_file::export(&plan.project);
                let again = model::plan_file::import(&written);
                assert!(
                    again.is_ok_and(|again| again.project == plan.project),
                    "{written}"
                );
                true
            })
        }),
        target("log", log(), |bytes| {
            pocket::log::LogFile::read(bytes).is_ok()
        }),
        target("parts", parts(), |bytes| {
            std::str::from_utf8(bytes).is_ok_and(|text| pocket::log::join(text.lines()).is_ok())
        }),
        target("instance", vec![instance()], |bytes| {
            let read = serde_json::from_slice::<schedule::Instance>(bytes);
            read.is_ok_and(|instance| instance.checked().is_ok())
        }),
        values()?,
        served(
            "upload",
            upload(),
            "multipart/form-data; boundary=b",
            "/take-in/song",
        )?,
        served(
            "form",
            form(),
            "application/x-www-form-urlencoded",
            "/make/place",
        )?,
        served("post", vec![post()], "application/json", "/pocket/log")?,
        ranges()?,
    ])
}

/// A field with what was typed into it, `kit.a.weight_kg=1.2`.
fn values() -> anyhow::Result<Target> {
    let plan = model::plan_file::import(std::str::from_utf8(&seeds::plan())?)?;
    let project = plan.project;
    let typed = [
        "title=Night",
        "brief.fee_minor=1.900,00",
        "kit.cam.weight_kg=1.2",
        "kit.panel.light.kelvin=5600",
        "places.quay.access=18:00–26:30; 7:00-9:00",
        "places.quay.position_deg=52.1, 4.3",
        "setups.wide.bars=1–8; 12",
        "setups.wide.stretches=0:10–0:20.5",
        "days.night.date=2026-11-20",
        "practice.rig_minutes=20",
        "kit.cam.camera={sensor_mm=[36.0, 24.0]}",
    ];
    let seeds = typed.iter().map(|line| line.as_bytes().to_vec()).collect();
    Ok(target("values", seeds, move |bytes| {
        let text = String::from_utf8_lossy(bytes);
        let Some((path, value)) = text.split_once('=') else {
            return false;
        };
        let edit = model::path::set(&project, &[(path.to_owned(), value.to_owned())]);
        edit.is_ok_and(|edit| {
            let _ = edit.apply(&project);
            true
        })
    }))
}

fn log() -> Vec<Vec<u8>> {
    let file = serde_json::json!({
        "barebulb_log": 1, "version": 1, "project": "0123456789ab", "day": "night", "device": "phone",
        "entries": [{ "device": "phone", "number": 1, "at_ms": 1, "what": { "kind": "note", "text": "x" } }],
    });
    let known: Result<pocket::log::LogFile, _> = serde_json::from_value(file);
    known
        .map(|log| vec![log.write().into_bytes()])
        .unwrap_or_default()
}

fn parts() -> Vec<Vec<u8>> {
    let read = |bytes: &Vec<u8>| pocket::log::LogFile::read(bytes).ok();
    let logs = log();
    logs.iter()
        .filter_map(read)
        .map(|log| log.parts(100).join("\n").into_bytes())
        .collect()
}

fn instance() -> Vec<u8> {
    serde_json::json!({
        "call": 960, "latest_wrap": 1440, "travel": { "a": { "a": 0 } }, "start_place": "a",
        "bar_values": [3, 2], "option_values": [1],
        "setups": [{ "id": "one", "place": "a", "rig_minutes": 5, "relight_minutes": 5, "shoot_minutes": 10, "bars": [0] }],
    })
    .to_string()
    .into_bytes()
}

fn upload() -> Vec<Vec<u8>> {
    let part = |name: &str, file: &str, body: &str| {
        format!("--b\r\ncontent-disposition: form-data; name=\"{name}\"{file}\r\n\r\n{body}\r\n")
    };
    let song = part("song", "; filename=\"a.wav\"", "RIFF\u{24}\0\0\0WAVEfmt ");
    vec![(part("note", "", "x") + &song + "--b--\r\n").into_bytes()]
}

fn form() -> Vec<Vec<u8>> {
    vec![
        b"name=Quay&id=quay2&position_deg=52.1%2C+4.3&access=18%3A00%E2%80%9326%3A30".to_vec(),
        b"name=Yard&revision=1&light.kelvin=5600".to_vec(),
    ]
}

fn post() -> Vec<u8> {
    let mark = pocket::log::mark(&Project::default());
    serde_json::json!({ "device": "phone", "project": mark, "entries": [
        { "device": "phone", "number": 1, "at_ms": 1, "what": { "kind": "note", "text": "x" } },
    ] })
    .to_string()
    .into_bytes()
}

/// A project being served, asked in this process as a browser that was let in asks.
struct Served {
    runtime: Runtime,
    router: axum::Router,
    cookie: String,
    token: String,
    _dir: TempDir,
}

const PORT: u16 = 4999;

impl Served {
    fn new(fill: impl FnOnce(&std::path::Path) -> anyhow::Result<()>) -> anyhow::Result<Self> {
        let dir = tempfile::tempdir()?;
        steps::Job::create(dir.path(), &Project::default())?;
        fill(dir.path())?;
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .enable_all()
            .build()?;
        let app = App::open(dir.path(), Door::new()?)?;
        let session = app.door.let_in("a browser".into(), true)?;
        let cookie = session.cookie(PORT);
        Ok(Self {
            runtime,
            router: pages::router(app),
            cookie: cookie.split(';').next().unwrap_or_default().to_owned(),
            token: session.token,
            _dir: dir,
        })
    }

    /// Whether there is an answer that is no fault of the program's own: a refusal is one too.
    fn answers(&self, mut request: Request<Body>) -> bool {
        request.extensions_mut().insert(Reached {
            addresses: Arc::new([std::net::Ipv4Addr::LOCALHOST.into()]),
            port: PORT,
        });
        self.runtime.block_on(async {
            let Ok(answer) = self.router.clone().oneshot(request).await;
            let status = answer.status();
            assert!(!status.is_server_error(), "it answers {status}");
            to_bytes(answer.into_body(), 64 << 20).await.is_ok()
        })
    }

    fn request(&self, method: Method, path: &str) -> axum::http::request::Builder {
        Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, format!("127.0.0.1:{PORT}"))
            .header(header::ORIGIN, format!("http://127.0.0.1:{PORT}"))
            .header(header::COOKIE, &self.cookie)
            .header("x-barebulb-token", &self.token)
    }
}

/// What is posted to `path`. A refusal is an answer too; a fault of the program is not.
fn served(
    name: &'static str,
    seeds: Vec<Vec<u8>>,
    kind: &'static str,
    path: &'static str,
) -> anyhow::Result<Target> {
    let served = Served::new(|_| Ok(()))?;
    Ok(target(name, seeds, move |bytes| {
        let request = served
            .request(Method::POST, path)
            .header(header::CONTENT_TYPE, kind);
        request
            .body(Body::from(bytes.to_vec()))
            .is_ok_and(|request| served.answers(request))
    }))
}

/// The part of a file that a player asks for.
fn ranges() -> anyhow::Result<Target> {
    let served = Served::new(|dir| {
        let path = dir.join("a.wav");
        media::write_wav(&path, 8000, &[&[0.1; 8000]], media::WavFormat::Int16)?;
        steps::Job::open(dir)?.set_song(&path, &steps::Quiet)?;
        Ok(())
    })?;
    let seeds = ["bytes=0-", "bytes=0-99", "bytes=-5", "bytes=5-,9-12"];
    let seeds = seeds
        .iter()
        .map(|range| range.as_bytes().to_vec())
        .collect();
    Ok(target("ranges", seeds, move |bytes| {
        let Ok(range) = axum::http::HeaderValue::from_bytes(bytes) else {
            return false;
        };
        let request = served
            .request(Method::GET, "/media/song")
            .header(header::RANGE, range);
        request
            .body(Body::empty())
            .is_ok_and(|request| served.answers(request))
    }))
}
