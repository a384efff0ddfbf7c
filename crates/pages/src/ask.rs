//! Work begun beside the requests, and what is computed for the pages: asked for by name, from the memo where
//! the parts of the document are as they were.

use crate::app::{App, Head};
use crate::events::Event;
use crate::memo::{self, Answer, Look, Part};
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
    pub fn start<T: Send + 'static>(
        self: &Arc<Self>,
        what: &str,
        lane: Lane,
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
        after: impl FnOnce(&Arc<Self>, Result<T, steps::Error>) -> End + Send + 'static,
    ) -> Arc<Work> {
        let work = self.works.begin(&self.events, what);
        let (app, mine) = (self.clone(), work.clone());
        tokio::task::spawn_blocking(move || {
            let turn = app.works.turn(lane);
            let out = if mine.keep_going() {
                app.with_job(|job| does(job, &*mine))
            } else {
                Err(steps::Error::Stopped)
            };
            drop(turn);
            mine.end(after(&app, out));
        });
        work
    }

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
        let key = memo::key(&head.project, parts, extra);
        let mut does = Some(does);
        let deadline = tokio::time::Instant::now() + PATIENCE;
        loop {
            let news = self.memo.news();
            tokio::pin!(news);
            news.as_mut().enable();
            match self.memo.look(name, key, does.is_some()) {
                Look::Known(answer) => return answer,
                Look::Yours => {
                    if let Some(does) = does.take() {
                        self.work_out(name, key, extra, (what, lane), parts, does);
                    }
                }
                Look::Wait => {}
            }
            if tokio::time::timeout_at(deadline, news).await.is_err() {
                return Answer::Working(self.memo.last(name));
            }
        }
    }

    fn work_out<T: Send + Sync + 'static>(
        self: &Arc<Self>,
        name: &'static str,
        key: u64,
        extra: &str,
        (what, lane): (&str, Lane),
        parts: &[Part],
        does: impl FnOnce(&mut Job, &dyn Progress) -> Result<T, steps::Error> + Send + 'static,
    ) {
        let (parts, extra) = (parts.to_vec(), extra.to_owned());
        // The document may have moved on by the time it is read.
        let does = move |job: &mut Job, progress: &dyn Progress| {
            let key = memo::key(job.project(), &parts, &extra);
            Ok((key, does(job, progress)))
        };
        self.start(what, lane, does, move |app, out| {
            let (key, out) = out.unwrap_or_else(|error| (key, Err(error)));
            app.memo.keep(name, key, out);
            app.tell(Event::Computed(name));
            // How it went is shown where it is shown.
            End::Done(None)
        });
    }
}
