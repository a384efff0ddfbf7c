//! Work that takes long: how far each has come and how it ended, one at a time in its lane, with stop.

use crate::events::{Event, Events};
use crate::text::said;
use maud::{Markup, html};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use steps::Progress;

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
    /// What went otherwise than it should, one sentence each.
    pub notes: Vec<String>,
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
    notes: Vec<String>,
    told: Instant,
}

/// One work.
pub struct Work {
    id: u64,
    what: String,
    begun: Instant,
    stop: AtomicBool,
    moving: Mutex<Moving>,
    events: Events,
}

impl Work {
    fn moving(&self) -> MutexGuard<'_, Moving> {
        self.moving.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Asks it to stop.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Says how it ended.
    pub fn end(&self, end: End) {
        self.change(|moving| moving.end = Some(end));
    }

    fn change(&self, change: impl FnOnce(&mut Moving)) {
        let mut moving = self.moving();
        change(&mut moving);
        // Pages needn't hear of every part.
        if moving.end.is_some() || moving.told.elapsed() > Duration::from_millis(250) {
            moving.told = Instant::now();
            drop(moving);
            self.events.tell(Event::Work);
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
            notes: moving.notes.clone(),
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
    fn note(&self, says: &str) {
        self.change(|moving| {
            if !moving.notes.iter().any(|one| one == says) {
                moving.notes.push(says.to_owned());
            }
        });
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
/// How many works may run and wait at most.
const MOST_WAITING: usize = 32;

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
            work.stop();
        }
    }

    /// Asks the work with this number to stop.
    pub fn stop(&self, id: u64) {
        for work in self.all().iter().filter(|work| work.id == id) {
            work.stop();
        }
    }

    /// Waits until it is the turn of a work in `lane`, which lasts as long as what is given.
    pub fn turn(&self, lane: Lane) -> MutexGuard<'_, ()> {
        let lane = match lane {
            Lane::Quick => &self.quick,
            Lane::Long => &self.long,
        };
        lane.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A work that waits for its turn; `events` are told how it comes on. `None` when too many wait already.
    pub fn begin(&self, events: &Events, what: &str) -> Option<Arc<Work>> {
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
                notes: Vec::new(),
                told: now,
            }),
            events: events.clone(),
        });
        let mut all = self.all();
        let ended = all
            .iter()
            .filter(|work| work.moving().end.is_some())
            .count();
        if all.len() - ended >= MOST_WAITING {
            return None;
        }
        all.push(work.clone());
        for _ in KEPT..ended {
            if let Some(oldest) = all.iter().position(|work| work.moving().end.is_some()) {
                all.remove(oldest);
            }
        }
        Some(work)
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

/// The works a person should see: those that take longer than a moment, and how the last ones ended.
pub fn draw(all: &[Standing], token: &str) -> Markup {
    let shown: Vec<&Standing> = all
        .iter()
        .filter(|one| match &one.end {
            None => one.begun.elapsed() > Duration::from_millis(300),
            Some(End::Done(says)) => says.is_some() || !one.notes.is_empty(),
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
                        Some(End::Done(Some(says))) => { span { (said(says)) } }
                        Some(End::Done(None)) => {}
                        Some(End::Stopped) => { span { "Stopped; what was done so far is kept." } }
                        Some(End::Failed(why)) => { span.bad { (said(why)) } }
                    }
                    @for note in &one.notes { span.warn { (said(note)) } }
                }
            }
        }
    }
}
