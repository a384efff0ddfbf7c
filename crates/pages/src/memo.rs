//! What was computed for the pages, kept as long as the parts of the document it came from stay the same.
//!
//! While a question is worked out anew, its last answer may stand: the one to the very same question, asked of
//! the document as it was. An answer to another question (another date's sky) never stands in for it.

use maud::Markup;
use model::Project;
use serde::Serialize;
use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;
use tokio::sync::futures::Notified;

/// A value that is kept.
pub type Kept = Arc<dyn Any + Send + Sync>;

/// What is asked.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Question {
    /// Of what sort it is.
    pub name: &'static str,
    /// What is asked within it: a date, options; empty where there is one question of the sort.
    pub of: String,
}

/// How many questions of one sort are remembered at most.
const MOST_OF_A_SORT: usize = 6;

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
    /// When it was last asked, counted.
    asked: u64,
}

#[derive(Default)]
struct Slots {
    of: HashMap<Question, Slot>,
    asked: u64,
}

/// What was drawn, with the values that it was drawn from.
type Drawn = (Vec<Option<Kept>>, Markup);

/// What was computed, by what was asked; and what was drawn from it, by what it was drawn for.
#[derive(Default)]
pub struct Memo {
    slots: Mutex<Slots>,
    news: Notify,
    drawn: Mutex<HashMap<&'static str, Drawn>>,
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
    /// What the takes' files are, whatever is said of them.
    Files,
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

    /// Why it can't be computed, when it can't.
    pub fn failed(&self) -> Option<&str> {
        match self {
            Self::Failed(why) => Some(why),
            _ => None,
        }
    }

    /// Whether it is being computed.
    pub fn is_working(&self) -> bool {
        matches!(self, Self::Working(_))
    }
}

/// What tells one state of `parts` from another.
pub fn key(project: &Project, parts: &[Part]) -> u64 {
    fn write(out: &mut Vec<u8>, part: &impl Serialize) {
        // A document that was read can be written.
        let _ = serde_json::to_writer(&mut *out, part);
        out.push(0);
    }
    let mut bytes = Vec::with_capacity(1 << 14);
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
            Part::Files => {
                let files = project.takes.iter().map(|take| (&take.id, &take.file.hash));
                write(&mut bytes, &files.collect::<Vec<_>>());
            }
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
    fn slots(&self) -> MutexGuard<'_, Slots> {
        self.slots.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Told when something was kept.
    pub fn news(&self) -> Notified<'_> {
        self.news.notified()
    }

    /// What is known of `question` with parts of this `key`; `may_begin` says whether the one who asks would
    /// work it out. Of one sort one question is worked out at a time.
    pub fn look<T: Send + Sync + 'static>(
        &self,
        question: &Question,
        key: u64,
        may_begin: bool,
    ) -> Look<T> {
        let mut slots = self.slots();
        slots.asked += 1;
        let asked = slots.asked;
        let mut of_sort = slots.of.iter().filter(|(one, _)| one.name == question.name);
        let busy = of_sort.any(|(_, slot)| slot.running.is_some());
        let slot = slots.slot(question);
        slot.asked = asked;
        let value = slot.value.clone();
        if slot.key == key && value.is_some() {
            return Look::Known(answer(value));
        }
        if slot.stopped == Some(key) {
            return Look::Known(Answer::Stopped(last(value)));
        }
        if busy || !may_begin {
            return Look::Wait;
        }
        slot.running = Some(key);
        Look::Yours
    }

    /// The newest answer there is to `question`, from whatever parts.
    pub fn last<T: Send + Sync + 'static>(&self, question: &Question) -> Option<Arc<T>> {
        last(self.slots().of.get(question)?.value.clone())
    }

    /// Keeps what came of working it out.
    pub fn keep<T: Send + Sync + 'static>(
        &self,
        question: &Question,
        key: u64,
        out: Result<T, steps::Error>,
    ) {
        let mut slots = self.slots();
        let slot = slots.slot(question);
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

    /// What `draws` draws for the page `name`; drawn anew when one of the values that it is drawn `from` is another.
    pub fn drawn(
        &self,
        name: &'static str,
        from: &[Option<Kept>],
        draws: impl FnOnce() -> Markup,
    ) -> Markup {
        let drawn = || self.drawn.lock().unwrap_or_else(PoisonError::into_inner);
        let is = |was: &Option<Kept>, now: &Option<Kept>| match (was, now) {
            (Some(was), Some(now)) => Arc::ptr_eq(was, now),
            (was, now) => was.is_none() && now.is_none(),
        };
        let same = |was: &[Option<Kept>]| {
            was.len() == from.len() && was.iter().zip(from).all(|(was, now)| is(was, now))
        };
        // The values are held as long as what was drawn from them, so that no other can come to lie in their place.
        let known = drawn()
            .get(name)
            .filter(|one| same(&one.0))
            .map(|one| one.1.clone());
        known.unwrap_or_else(|| {
            let markup = draws();
            drawn().insert(name, (from.to_vec(), markup.clone()));
            markup
        })
    }

    /// Nobody works `question` out after all: whoever asks next does.
    pub fn give_up(&self, question: &Question) {
        self.slots().slot(question).running = None;
    }

    /// Forgets the answers to questions of the sort `name`, so that they are worked out again when asked.
    pub fn forget(&self, name: &str) {
        let mut slots = self.slots();
        slots
            .of
            .retain(|question, slot| question.name != name || slot.running.is_some());
    }

    /// Lets what was stopped be begun again.
    pub fn go_on(&self) {
        let mut slots = self.slots();
        slots.of.values_mut().for_each(|slot| slot.stopped = None);
    }
}

impl Slots {
    /// The slot of `question`; a new one in place of the one that was not asked for longest.
    fn slot(&mut self, question: &Question) -> &mut Slot {
        if !self.of.contains_key(question) {
            let of_sort = |one: &&Question| one.name == question.name;
            if self.of.keys().filter(of_sort).count() >= MOST_OF_A_SORT {
                let mut idle: Vec<(u64, Question)> = Vec::new();
                for (one, slot) in &self.of {
                    if one.name == question.name && slot.running.is_none() {
                        idle.push((slot.asked, one.clone()));
                    }
                }
                if let Some((_, oldest)) = idle.into_iter().min_by_key(|(asked, _)| *asked) {
                    self.of.remove(&oldest);
                }
            }
        }
        self.of.entry(question.clone()).or_default()
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

#[cfg(test)]
mod tests {
    use super::*;

    fn sky(date: &str) -> Question {
        Question {
            name: "skies",
            of: date.into(),
        }
    }

    #[test]
    fn another_dates_sky_does_not_stand_in() {
        let memo = Memo::default();
        let (first, second) = (sky("2026-11-20"), sky("2026-12-20"));
        assert!(matches!(memo.look::<u32>(&first, 1, true), Look::Yours));
        memo.keep(&first, 1, Ok(20_u32));
        assert!(matches!(memo.look::<u32>(&second, 1, true), Look::Yours));
        assert_eq!(memo.last::<u32>(&second), None);
        // The same date of an older plan may stand meanwhile.
        assert!(matches!(memo.look::<u32>(&first, 2, true), Look::Wait));
        assert_eq!(memo.last::<u32>(&first).as_deref(), Some(&20));
        memo.keep(&second, 1, Ok(21_u32));
        let known = memo.look::<u32>(&second, 1, true);
        assert!(matches!(known, Look::Known(Answer::Ready(one)) if *one == 21));
        let known = memo.look::<u32>(&first, 1, true);
        assert!(matches!(known, Look::Known(Answer::Ready(one)) if *one == 20));
    }

    #[test]
    fn what_was_not_asked_for_longest_makes_room() {
        let memo = Memo::default();
        let dates: Vec<Question> = (1..=20).map(|n| sky(&format!("2026-11-{n:02}"))).collect();
        for date in &dates {
            assert!(matches!(memo.look::<u32>(date, 1, true), Look::Yours));
            memo.keep(date, 1, Ok(1_u32));
            // The first is asked for again and again.
            let first = memo.look::<u32>(&dates[0], 1, true);
            assert!(matches!(first, Look::Known(Answer::Ready(_))));
        }
        assert_eq!(memo.slots().of.len(), MOST_OF_A_SORT);
        assert!(memo.last::<u32>(&dates[1]).is_none());
        assert!(memo.last::<u32>(&dates[19]).is_some());
    }

    #[test]
    fn a_fault_is_an_answer() {
        let memo = Memo::default();
        assert!(matches!(memo.look::<u32>(&sky(""), 1, true), Look::Yours));
        memo.keep::<u32>(&sky(""), 1, Err(steps::Error::Fault("it broke".into())));
        let known = memo.look::<u32>(&sky(""), 1, true);
        assert!(matches!(known, Look::Known(Answer::Failed(why)) if why == "it broke"));
    }
}
