//! What was computed for the pages, kept as long as the parts of the document it came from stay the same.

use model::Project;
use serde::Serialize;
use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;
use tokio::sync::futures::Notified;

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

/// What tells one state of `parts` from another.
pub fn key(project: &Project, parts: &[Part], extra: &str) -> u64 {
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

/// What the memo says to whoever asks.
pub enum Look<T> {
    /// This.
    Known(Answer<T>),
    /// Nothing yet, and nobody is at it: whoever asked works it out, and [`Memo::keep`]s what came of it.
    Yours,
    /// Somebody is at it.
    Wait,
}

impl Memo {
    fn slots(&self) -> MutexGuard<'_, HashMap<String, Slot>> {
        self.slots.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Told when something was kept.
    pub fn news(&self) -> Notified<'_> {
        self.news.notified()
    }

    /// What is known under `name` of parts with this `key`; `may_begin` says whether the one who asks would
    /// work it out.
    pub fn look<T: Send + Sync + 'static>(&self, name: &str, key: u64, may_begin: bool) -> Look<T> {
        let mut slots = self.slots();
        let slot = slots.entry(name.to_owned()).or_default();
        let value = slot.value.clone();
        if slot.key == key && value.is_some() {
            return Look::Known(answer(value));
        }
        if slot.stopped == Some(key) {
            return Look::Known(Answer::Stopped(last(value)));
        }
        if slot.running.is_some() || !may_begin {
            return Look::Wait;
        }
        slot.running = Some(key);
        Look::Yours
    }

    /// The newest value there is under `name`, of whatever parts.
    pub fn last<T: Send + Sync + 'static>(&self, name: &str) -> Option<Arc<T>> {
        last(self.slots().get(name)?.value.clone())
    }

    /// Keeps what came of working it out.
    pub fn keep<T: Send + Sync + 'static>(
        &self,
        name: &str,
        key: u64,
        out: Result<T, steps::Error>,
    ) {
        let mut slots = self.slots();
        let slot = slots.entry(name.to_owned()).or_default();
        slot.running = None;
        match out {
            Err(error) if error.is_stop() => slot.stopped = Some(key),
            out => {
                let out = out.map(Arc::new).map_err(|error| error.to_string());
                slot.key = key;
                slot.value = Some(Arc::new(out));
            }
        }
        drop(slots);
        self.news.notify_waiters();
    }

    /// Lets what was stopped be begun again.
    pub fn go_on(&self) {
        let mut slots = self.slots();
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
