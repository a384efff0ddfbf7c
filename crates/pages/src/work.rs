//! Work that takes long: beside the requests, one at a time in its lane, with progress and stop.

use crate::app::App;
use crate::door::Session;
use crate::events::Event;
use crate::posted::Posted;
use crate::shell;
use axum::Router;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use steps::{Job, Progress};
use tokio::sync::Notify;

/// Which works wait for which: quick ones never wait for long ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lane {
    /// Figures of the plan: moments.
    Quick,
    /// Files are read: minutes.
    Long,
}

/// How far a work has come, for a page.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Its number.
    pub id: u64,
    /// What it is for.
    pub what: String,
    /// What it is at.
    pub stage: String,
    /// Share of the stage that is done, 0 to 1, where that is known.
    pub share: Option<f32>,
    /// How it ended, once it has.
    pub end: Option<End>,
    /// When it began.
    pub begun: Instant,
}

/// How a work ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    /// Done; a sentence for the person when there is something to say.
    Done(Option<String>),
    /// It was stopped; what was done so far is kept.
    Stopped,
    /// It could not be done.
    Failed(String),
}

struct Moving {
    stage: String,
    parts: usize,
    done: usize,
    share: Option<f32>,
    end: Option<End>,
    told: Instant,
}

/// One work.
pub struct Work {
    id: u64,
    what: String,
    begun: Instant,
    stop: AtomicBool,
    moving: Mutex<Moving>,
    app: std::sync::Weak<App>,
}

impl Work {
    fn moving(&self) -> MutexGuard<'_, Moving> {
        self.moving.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn change(&self, change: impl FnOnce(&mut Moving)) {
        let mut moving = self.moving();
        change(&mut moving);
        // Pages needn't hear of every part.
        if moving.end.is_some() || moving.told.elapsed() > Duration::from_millis(250) {
            moving.told = Instant::now();
            drop(moving);
            if let Some(app) = self.app.upgrade() {
                app.tell(Event::Work);
            }
        }
    }

    /// How far it has come.
    pub fn standing(&self) -> Standing {
        let moving = self.moving();
        let share = if moving.parts > 0 {
            Some(moving.done as f32 / moving.parts as f32)
        } else {
            moving.share
        };
        Standing {
            id: self.id,
            what: self.what.clone(),
            stage: moving.stage.clone(),
            share,
            end: moving.end.clone(),
            begun: self.begun,
        }
    }

    /// Its number.
    pub fn id(&self) -> u64 {
        self.id
    }
}

impl Progress for Work {
    fn stage(&self, what: &str, parts: usize) {
        self.change(|moving| {
            moving.stage = what.to_owned();
            moving.parts = parts;
            moving.done = 0;
            moving.share = None;
        });
    }
    fn part(&self, _what: &str) {
        self.change(|moving| moving.done += 1);
    }
    fn share(&self, done: f32) {
        self.change(|moving| moving.share = Some(done.clamp(0.0, 1.0)));
    }
    fn keep_going(&self) -> bool {
        !self.stop.load(Ordering::Relaxed)
    }
}

/// All works, those that ended a while ago left out.
#[derive(Default)]
pub struct Works {
    next: AtomicU64,
    all: Mutex<Vec<Arc<Work>>>,
    quick: Mutex<()>,
    long: Mutex<()>,
}

/// How many ended works are still told of.
const KEPT: usize = 4;

impl Works {
    fn all(&self) -> MutexGuard<'_, Vec<Arc<Work>>> {
        self.all.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Every work that runs or ended lately, oldest first.
    pub fn standing(&self) -> Vec<Standing> {
        self.all().iter().map(|work| work.standing()).collect()
    }

    /// Asks every work to stop.
    pub fn stop_all(&self) {
        for work in self.all().iter() {
            work.stop.store(true, Ordering::Relaxed);
        }
    }

    fn begin(&self, app: &Arc<App>, what: &str) -> Arc<Work> {
        let now = Instant::now();
        let work = Arc::new(Work {
            id: self.next.fetch_add(1, Ordering::Relaxed) + 1,
            what: what.to_owned(),
            begun: now,
            stop: AtomicBool::new(false),
            moving: Mutex::new(Moving {
                stage: "waiting for its turn".into(),
                parts: 0,
                done: 0,
                share: None,
                end: None,
                told: now,
            }),
            app: Arc::downgrade(app),
        });
        let mut all = self.all();
        all.push(work.clone());
        let ended = all
            .iter()
            .filter(|work| work.moving().end.is_some())
            .count();
        for _ in KEPT..ended {
            if let Some(oldest) = all.iter().position(|work| work.moving().end.is_some()) {
                all.remove(oldest);
            }
        }
        work
    }
}

impl App {
    /// Starts `does` in its lane. `after` gets what came of it (in the work's thread, before pages are
    /// told of its end) and gives how it ended, in words.
    pub fn start<T: Send + 'static>(
        self: &Arc<Self>,
        what: &str,
        lane: Lane,
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
        after: impl FnOnce(&Arc<Self>, Result<T, steps::Error>) -> End + Send + 'static,
    ) -> Arc<Work> {
        let work = self.works.begin(self, what);
        let (app, mine) = (self.clone(), work.clone());
        tokio::task::spawn_blocking(move || {
            let held = match lane {
                Lane::Quick => app.works.quick.lock(),
                Lane::Long => app.works.long.lock(),
            };
            let out = if mine.keep_going() {
                app.with_job(|job| does(job, &*mine))
            } else {
                Err(steps::Error::Stopped)
            };
            drop(held);
            let end = after(&app, out);
            mine.change(|moving| moving.end = Some(end));
        });
        work
    }
}

impl App {
    /// As [`App::start`], waited for up to `patience`, so that what usually takes moments is done by the time the
    /// next page is drawn. `says` gives a sentence for the person when there is something to say.
    pub async fn start_and_wait<T: Send + 'static>(
        self: &Arc<Self>,
        (what, lane): (&str, Lane),
        patience: Duration,
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
        says: impl FnOnce(&Arc<Self>, &T) -> Option<String> + Send + 'static,
    ) {
        let done = Arc::new(Notify::new());
        let tell = done.clone();
        self.start(what, lane, does, move |app, out| {
            let end = match &out {
                Ok(value) => End::Done(says(app, value)),
                Err(_) => told(&out),
            };
            tell.notify_one();
            end
        });
        // Longer work goes on, and its progress stands on every page.
        let _ = tokio::time::timeout(patience, done.notified()).await;
    }
}

/// How a result is told when it carries no words of its own.
pub fn told<T>(out: &Result<T, steps::Error>) -> End {
    match out {
        Ok(_) => End::Done(None),
        Err(error) if error.is_stop() => End::Stopped,
        Err(error) => End::Failed(error.to_string()),
    }
}

/// `GET /works`, `POST /works/{id}/stop`, `POST /works/go-on`
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/works", get(show))
        .route("/works/{id}/stop", post(stop))
        .route("/works/go-on", post(go_on))
}

async fn go_on(State(app): State<Arc<App>>, posted: Posted) -> Response {
    app.go_on();
    posted.back()
}

async fn show(State(app): State<Arc<App>>, session: Session) -> Markup {
    draw(&app, &session.token)
}

async fn stop(State(app): State<Arc<App>>, Path(id): Path<u64>, posted: Posted) -> Response {
    for work in app.works.all().iter().filter(|work| work.id == id) {
        work.stop.store(true, Ordering::Relaxed);
    }
    app.tell(Event::Work);
    if posted.wants_fragment {
        draw(&app, &posted.session.token).into_response()
    } else {
        posted.back()
    }
}

/// The works a person should see: those that take longer than a moment, and how the last ones ended.
pub fn draw(app: &App, token: &str) -> Markup {
    let shown: Vec<Standing> = app
        .works
        .standing()
        .into_iter()
        .filter(|one| match &one.end {
            None => one.begun.elapsed() > Duration::from_millis(300),
            Some(End::Done(says)) => says.is_some(),
            Some(End::Stopped | End::Failed(_)) => true,
        })
        .collect();
    html! {
        div #works role="status" aria-live="polite" hx-get="/works" hx-trigger="barebulb:work from:body" hx-swap="outerHTML" hx-target="this" {
            @for one in &shown {
                div.work data-ended[one.end.is_some()] {
                    strong { (one.what) }
                    @match &one.end {
                        None => {
                            span { (one.stage) }
                            @if let Some(share) = one.share {
                                progress aria-label=(one.what) max="100" value=(format!("{:.0}", share * 100.0)) { (format!("{:.0} %", share * 100.0)) }
                            } @else {
                                progress aria-label=(one.what) {}
                            }
                            form method="post" action=(format!("/works/{}/stop", one.id)) hx-post=(format!("/works/{}/stop", one.id)) hx-target="#works" hx-swap="outerHTML" {
                                input type="hidden" name="token" value=(token);
                                button.quiet { "Stop" }
                            }
                        }
                        Some(End::Done(Some(says))) => { span { (shell::said(says)) } }
                        Some(End::Done(None)) => {}
                        Some(End::Stopped) => { span { "Stopped; what was done so far is kept." } }
                        Some(End::Failed(why)) => { span.bad { (shell::said(why)) } }
                    }
                }
            }
        }
    }
}
