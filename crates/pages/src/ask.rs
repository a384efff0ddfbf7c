//! Work begun beside the requests, and what is computed for the pages: asked for by name, from the memo where
//! the parts of the document are as they were.

use crate::app::{App, Head};
use crate::blocking;
use crate::events::Event;
use crate::memo::{self, Answer, Look, Part, Question};
use crate::refusal::Refused;
use crate::work::{End, Lane, Work, told};
use std::sync::Arc;
use std::time::Duration;
use steps::{Job, Progress};
use tokio::sync::Notify;

/// How long a page waits for something before it is shown without.
const PATIENCE: Duration = Duration::from_millis(1500);

impl App {
    /// Starts `does` in its lane. `after` gets what came of it (in the work's thread, before pages are
    /// told of its end) and gives how it ended, in words.
    ///
    /// # Errors
    /// When too many works wait already.
    pub fn start<T: Send + 'static>(
        self: &Arc<Self>,
        what: &str,
        lane: Lane,
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
        after: impl FnOnce(&Arc<Self>, Result<T, steps::Error>) -> End + Send + 'static,
    ) -> Result<Arc<Work>, Refused> {
        let work = self.works.begin(&self.events, what);
        let work = work.ok_or(Refused::TooMany)?;
        let (app, mine) = (self.clone(), work.clone());
        tokio::spawn(blocking::run(move || {
            let turn = app.works.turn(lane);
            let out = if mine.keep_going() {
                blocking::caught(|| app.with_job(|job| does(job, &*mine)))
                    .unwrap_or_else(|says| Err(steps::Error::Fault(says)))
            } else {
                Err(steps::Error::Stopped)
            };
            drop(turn);
            mine.end(blocking::caught(|| after(&app, out)).unwrap_or_else(End::Failed));
        }));
        Ok(work)
    }

    /// As [`App::start`], waited for up to `patience`, so that what usually takes moments is done by the time the
    /// next page is drawn. `says` gives a sentence for the person when there is something to say.
    ///
    /// # Errors
    /// When too many works wait already.
    pub async fn start_and_wait<T: Send + 'static>(
        self: &Arc<Self>,
        (what, lane): (&str, Lane),
        patience: Duration,
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
        says: impl FnOnce(&Arc<Self>, &T) -> Option<String> + Send + 'static,
    ) -> Result<(), Refused> {
        let done = Arc::new(Notify::new());
        let tell = done.clone();
        self.start(what, lane, does, move |app, out| {
            let end = match &out {
                Ok(value) => End::Done(says(app, value)),
                Err(_) => told(&out),
            };
            tell.notify_one();
            end
        })?;
        // Longer work goes on, and its progress stands on every page.
        let _ = tokio::time::timeout(patience, done.notified()).await;
        Ok(())
    }

    /// What `does` computes, from the memo where the document's `parts` are the same as then; otherwise
    /// it is begun in its lane, and waited for a moment. `name` and `of` tell it from others, `what` tells a person.
    pub async fn ask<T, F>(
        self: &Arc<Self>,
        head: &Head,
        name: &'static str,
        of: &str,
        (what, lane): (&str, Lane),
        parts: &[Part],
        does: F,
    ) -> Answer<T>
    where
        T: Send + Sync + 'static,
        F: FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
    {
        let of = of.to_owned();
        let question = Question { name, of };
        let key = head.key(parts);
        let mut does = Some(does);
        let deadline = tokio::time::Instant::now() + PATIENCE;
        loop {
            let news = self.memo.news();
            tokio::pin!(news);
            news.as_mut().enable();
            match self.memo.look(&question, key, does.is_some()) {
                Look::Known(answer) => return answer,
                Look::Yours => {
                    if let Some(does) = does.take() {
                        self.work_out(question.clone(), key, (what, lane), parts, does);
                    }
                }
                Look::Wait => {}
            }
            if tokio::time::timeout_at(deadline, news).await.is_err() {
                return Answer::Working(self.memo.last(&question));
            }
        }
    }

    /// As [`App::ask`], begun where it is not known and not waited for. Gives what is known already.
    pub fn begin<T: Send + Sync + 'static>(
        self: &Arc<Self>,
        head: &Head,
        name: &'static str,
        work: (&str, Lane),
        parts: &[Part],
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
    ) -> Option<Answer<T>> {
        let of = String::new();
        let question = Question { name, of };
        let key = head.key(parts);
        match self.memo.look(&question, key, true) {
            Look::Known(answer) => return Some(answer),
            Look::Yours => self.work_out(question, key, work, parts, does),
            Look::Wait => {}
        }
        None
    }

    fn work_out<T: Send + Sync + 'static>(
        self: &Arc<Self>,
        question: Question,
        key: u64,
        (what, lane): (&str, Lane),
        parts: &[Part],
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
    ) {
        let parts = parts.to_vec();
        let mine = question.clone();
        // The document may have moved on by the time it is read.
        let does = move |job: &mut Job, progress: &dyn Progress| {
            let key = memo::key(job.project(), &parts);
            Ok((key, does(job, progress)))
        };
        let started = self.start(what, lane, does, move |app, out| {
            let (key, out) = out.unwrap_or_else(|error| (key, Err(error)));
            app.memo.keep(&question, key, out);
            app.tell(Event::Computed(question.name));
            // How it went is shown where it is shown.
            End::Done(None)
        });
        if started.is_err() {
            // The page says that it is being worked out, and asks again.
            self.memo.give_up(&mine);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::door::Door;
    use model::Project;
    use store::RevisionId;

    fn breaks(_: &mut Job, _: &dyn Progress) -> Result<(), steps::Error> {
        panic!("there is no bar 9")
    }

    #[tokio::test]
    async fn a_panic_ends_as_a_sentence_and_the_next_has_its_turn() {
        let dir = tempfile::tempdir().expect("a folder");
        Job::create(dir.path(), &Project::default()).expect("a project");
        let app = App::open(dir.path(), Door::new().expect("secrets")).expect("opened");
        let head = Head::new(RevisionId::new(1), Project::default());
        let lane = Lane::Quick;
        let answer = app.ask(&head, "breaks", "", ("Breaking", lane), &[], breaks);
        match answer.await {
            Answer::Failed(says) => assert!(says.contains("(there is no bar 9)"), "{says}"),
            answer => panic!("it ended as {:?}", answer.value()),
        }
        let goes = |_: &mut Job, _: &dyn Progress| Ok(7);
        let answer = app.ask(&head, "goes", "", ("Going", lane), &[], goes);
        assert!(matches!(answer.await, Answer::Ready(seven) if *seven == 7));
        // A work that nobody asked for as an answer says it at the foot of every page.
        let work = app.start("Breaking", Lane::Long, breaks, |_, out| told(&out));
        let work = work.expect("room");
        while work.standing().end.is_none() {
            tokio::task::yield_now().await;
        }
        let end = work.standing().end;
        assert!(matches!(end, Some(End::Failed(says)) if says.contains("no bar 9")));
        // So does one whose words broke.
        let work = app.start("Wording", lane, goes, |_, _| panic!("no words"));
        let work = work.expect("room");
        while work.standing().end.is_none() {
            tokio::task::yield_now().await;
        }
        let end = work.standing().end;
        assert!(matches!(end, Some(End::Failed(says)) if says.contains("no words")));
    }
}
