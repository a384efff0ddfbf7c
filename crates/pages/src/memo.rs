//! What was computed for the pages, kept as long as the parts of the document it came from stay the same.

use crate::app::{App, Head};
use crate::events::Event;
use crate::work::{End, Lane};
use model::Project;
use serde::Serialize;
use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use steps::{Job, Progress};
use tokio::sync::Notify;

type Kept = Arc<dyn Any + Send + Sync>;

#[derive(Default)]
struct Slot {
    /// What the value was computed from.
    key: u64,
    /// The newest value; of older parts while a newer one is computed.
    value: Option<Kept>,
    /// What is being computed, if anything.
    running: Option<u64>,
    /// The parts it was stopped at, so that it isn't begun again unasked.
    stopped: Option<u64>,
}

/// What was computed, by name.
#[derive(Default)]
pub struct Memo {
    slots: Mutex<HashMap<String, Slot>>,
    news: Notify,
}

/// A part of the document that something is computed from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The song with its corrections and lyrics.
    Song,
    /// Places, people, kit, days, practice.
    Night,
    /// Setups and performer states.
    Setups,
    /// Wishes.
    Wishes,
    /// Takes, their ratings and setups.
    Takes,
    /// Brief.
    Brief,
    /// Locks, weights and cuts.
    Cut,
}

/// What there is to show.
pub enum Answer<T> {
    /// Computed from the document as it stands.
    Ready(Arc<T>),
    /// It can't be computed; one sentence.
    Failed(String),
    /// It is being computed; what was true a moment ago, if anything.
    Working(Option<Arc<T>>),
    /// A person stopped it; what was true before, if anything.
    Stopped(Option<Arc<T>>),
}

impl<T> Answer<T> {
    /// The newest value there is.
    pub fn value(&self) -> Option<&Arc<T>> {
        match self {
            Self::Ready(value) => Some(value),
            Self::Failed(_) => None,
            Self::Working(last) | Self::Stopped(last) => last.as_ref(),
        }
    }

    /// Whether it is being computed.
    pub fn is_working(&self) -> bool {
        matches!(self, Self::Working(_))
    }
}

fn key(project: &Project, parts: &[Part], extra: &str) -> u64 {
    fn write(out: &mut Vec<u8>, part: &impl Serialize) {
        // A document that was read can be written.
        let _ = serde_json::to_writer(&mut *out, part);
        out.push(0);
    }
    let mut bytes = Vec::with_capacity(1 << 14);
    bytes.extend_from_slice(extra.as_bytes());
    for part in parts {
        bytes.push(*part as u8);
        match part {
            Part::Song => write(&mut bytes, &project.song),
            Part::Night => write(
                &mut bytes,
                &(
                    &project.places,
                    &project.people,
                    &project.kit,
                    &project.days,
                    &project.practice,
                ),
            ),
            Part::Setups => write(&mut bytes, &(&project.setups, &project.states)),
            Part::Wishes => write(&mut bytes, &project.wishes),
            Part::Takes => write(&mut bytes, &project.takes),
            Part::Brief => write(&mut bytes, &project.brief),
            Part::Cut => write(
                &mut bytes,
                &(&project.locks, &project.weights, &project.cuts),
            ),
        }
    }
    xxhash_rust::xxh3::xxh3_64(&bytes)
}

/// How long a page waits for something before it is shown without.
const PATIENCE: Duration = Duration::from_millis(1500);

impl App {
    /// What `does` computes, from the memo where the document's `parts` are the same as then; otherwise
    /// it is begun in its lane, and waited for a moment. `name` tells it from others, `what` tells a person.
    pub async fn ask<T, F>(
        self: &Arc<Self>,
        head: &Head,
        name: &'static str,
        extra: &str,
        (what, lane): (&str, Lane),
        parts: &[Part],
        does: F,
    ) -> Answer<T>
    where
        T: Send + Sync + 'static,
        F: FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
    {
        let key = key(&head.project, parts, extra);
        let slot_name = name.to_owned();
        let mut does = Some(does);
        let deadline = tokio::time::Instant::now() + PATIENCE;
        loop {
            let news = self.memo.news.notified();
            tokio::pin!(news);
            news.as_mut().enable();
            let begin = {
                let mut slots = self
                    .memo
                    .slots
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner);
                let slot = slots.entry(slot_name.clone()).or_default();
                let value = slot.value.clone();
                if slot.key == key && value.is_some() {
                    return answer(value);
                }
                if slot.stopped == Some(key) {
                    return Answer::Stopped(last(value));
                }
                let idle = slot.running.is_none();
                if idle && does.is_some() {
                    slot.running = Some(key);
                }
                idle
            };
            if begin && let Some(does) = does.take() {
                let slot_name = slot_name.clone();
                let (parts, extra) = (parts.to_vec(), extra.to_owned());
                // The document may have moved on by the time it is read.
                let does = move |job: &mut Job, progress: &dyn Progress| {
                    let key = self::key(job.project(), &parts, &extra);
                    Ok((key, does(job, progress)))
                };
                self.start(what, lane, does, move |app, out| {
                    let (key, out) = out.unwrap_or_else(|error| (key, Err(error)));
                    app.keep(&slot_name, key, out);
                    app.tell(Event::Computed(name));
                    // How it went is shown where it is shown.
                    End::Done(None)
                });
            }
            if tokio::time::timeout_at(deadline, news).await.is_err() {
                let slots = self
                    .memo
                    .slots
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner);
                let value = slots.get(&slot_name).and_then(|slot| slot.value.clone());
                return Answer::Working(last(value));
            }
        }
    }

    fn keep<T: Send + Sync + 'static>(&self, name: &str, key: u64, out: Result<T, steps::Error>) {
        let mut slots = self
            .memo
            .slots
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        let slot = slots.entry(name.to_owned()).or_default();
        slot.running = None;
        match out {
            Err(error) if error.is_stop() => slot.stopped = Some(key),
            Ok(value) => {
                slot.key = key;
                slot.value = Some(Arc::new(Ok::<Arc<T>, String>(Arc::new(value))));
            }
            Err(error) => {
                slot.key = key;
                slot.value = Some(Arc::new(Err::<Arc<T>, String>(error.to_string())));
            }
        }
        drop(slots);
        self.memo.news.notify_waiters();
    }

    /// Lets what was stopped be begun again.
    pub fn go_on(&self) {
        let mut slots = self
            .memo
            .slots
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        slots.values_mut().for_each(|slot| slot.stopped = None);
    }
}

fn answer<T: Send + Sync + 'static>(value: Option<Kept>) -> Answer<T> {
    match value.and_then(|kept| kept.downcast::<Result<Arc<T>, String>>().ok()) {
        Some(kept) => match &*kept {
            Ok(value) => Answer::Ready(value.clone()),
            Err(why) => Answer::Failed(why.clone()),
        },
        None => Answer::Working(None),
    }
}

fn last<T: Send + Sync + 'static>(value: Option<Kept>) -> Option<Arc<T>> {
    let kept = value?.downcast::<Result<Arc<T>, String>>().ok()?;
    kept.as_ref().as_ref().ok().cloned()
}
