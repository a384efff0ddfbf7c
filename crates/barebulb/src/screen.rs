//! What a person sees while and after a command works, and how they stop it.

use anyhow::Context as _;
use indicatif::{ProgressBar, ProgressStyle};
use model::Finding;
use serde::Serialize;
use std::borrow::Cow;
use std::io::{ErrorKind, IsTerminal as _, Write as _};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use steps::Progress;

/// Set by the first Ctrl-C (or a polite end from the system); the second ends the program at once.
static STOP: AtomicBool = AtomicBool::new(false);

/// Standard output for results, standard error for everything else.
pub struct Screen {
    json: bool,
    bar: Mutex<Option<ProgressBar>>,
    /// What steps noted and was shown.
    noted: Mutex<Vec<String>>,
    /// Whether a result was given already.
    given: AtomicBool,
    /// Why a result could not be written.
    unwritten: Mutex<Option<std::io::Error>>,
}

impl Screen {
    /// A screen; with `json` only [`Screen::result`] writes to standard output.
    pub fn new(json: bool) -> Self {
        let on_stop = || {
            if STOP.swap(true, Ordering::SeqCst) {
                std::process::exit(130);
            }
        };
        // Without a handler Ctrl-C still ends the program; files are whole or absent either way.
        let _ = ctrlc::set_handler(on_stop);
        Self {
            json,
            bar: Mutex::new(None),
            noted: Mutex::default(),
            given: AtomicBool::new(false),
            unwritten: Mutex::default(),
        }
    }

    /// The result: as JSON, or in the words of `text`.
    pub fn result(&self, json: &impl Serialize, text: impl FnOnce() -> String) {
        self.finish();
        let mut out = if self.json {
            serde_json::to_string_pretty(json).unwrap_or_default()
        } else {
            plain(&text()).into_owned()
        };
        if !out.ends_with('\n') {
            out.push('\n');
        }
        self.given.store(true, Ordering::Relaxed);
        let mut to = std::io::stdout();
        match to.write_all(out.as_bytes()).and_then(|()| to.flush()) {
            Ok(()) => {}
            // Somebody who closed the pipe has seen enough.
            Err(error) if error.kind() == ErrorKind::BrokenPipe => {}
            Err(error) => {
                if let Ok(mut unwritten) = self.unwritten.lock() {
                    unwritten.get_or_insert(error);
                }
            }
        }
    }

    /// What the command could not do, when it failed.
    ///
    /// # Errors
    /// When a result could not be written.
    pub fn written(&self) -> anyhow::Result<()> {
        let unwritten = self.unwritten.lock().ok().and_then(|mut held| held.take());
        unwritten.map_or(Ok(()), |error| {
            Err(error).context("the result could not be written to standard output; make room or choose another place")
        })
    }

    /// Part of the result in words, ahead of the whole; nothing with `--json`.
    pub fn text(&self, text: impl FnOnce() -> String) {
        if !self.json {
            self.result(&(), text);
        }
    }

    /// Something worth knowing.
    pub fn note(&self, text: &str) {
        self.line(&format!("note: {text}"));
    }

    /// The same as a craft found it.
    pub fn finding(&self, finding: &Finding) {
        self.note(&finding.to_string());
    }

    /// Something that could not be done, while the rest was.
    pub fn trouble(&self, file: &str, says: &str) {
        if says.contains(file) {
            self.line(&format!("barebulb: {says}"));
        } else {
            self.line(&format!("barebulb: {file}: {says}"));
        }
    }

    /// What stopped the command.
    pub fn error(&self, text: &str) {
        if self.json && !self.given.load(Ordering::Relaxed) {
            self.result(&serde_json::json!({ "error": text }), String::new);
        }
        self.line(&format!("barebulb: {text}"));
    }

    /// A line to standard error, beside any progress.
    pub fn line(&self, text: &str) {
        let text = &*plain(text);
        let held = self.bar.lock();
        match held.as_ref().ok().and_then(|bar| bar.as_ref()) {
            Some(bar) if !bar.is_hidden() => bar.println(text),
            _ => {
                let _ = writeln!(std::io::stderr(), "{text}");
            }
        }
    }

    /// Takes the progress away.
    pub fn finish(&self) {
        if let Ok(mut bar) = self.bar.lock()
            && let Some(bar) = bar.take()
        {
            bar.finish_and_clear();
        }
    }
}

/// `text` without what a terminal would take for orders: names of files and of setups come from anywhere.
fn plain(text: &str) -> Cow<'_, str> {
    let order = |c: char| c.is_control() && !matches!(c, '\n' | '\t');
    match text.contains(order) {
        true => text.replace(order, "\u{fffd}").into(),
        false => text.into(),
    }
}

impl Progress for Screen {
    fn stage(&self, what: &str, parts: usize) {
        self.finish();
        if !std::io::stderr().is_terminal() {
            let count = if parts > 0 {
                format!(" ({parts})")
            } else {
                String::new()
            };
            self.line(&format!("{what}{count}"));
            return;
        }
        let bar = ProgressBar::new(if parts > 0 { parts as u64 } else { 1000 });
        let form = if parts > 0 {
            "{msg} [{bar:28}] {pos}/{len} {eta}"
        } else {
            "{msg} [{bar:28}] {percent}% {eta}"
        };
        if let Ok(style) = ProgressStyle::with_template(form) {
            bar.set_style(style.progress_chars("=  "));
        }
        bar.set_message(plain(what).into_owned());
        bar.enable_steady_tick(Duration::from_millis(200));
        if let Ok(mut held) = self.bar.lock() {
            *held = Some(bar);
        }
    }

    fn part(&self, _what: &str) {
        if let Ok(held) = self.bar.lock()
            && let Some(bar) = held.as_ref()
        {
            bar.inc(1);
        }
    }

    fn share(&self, done: f32) {
        if let Ok(held) = self.bar.lock()
            && let Some(bar) = held.as_ref()
        {
            bar.set_position((f64::from(done.clamp(0.0, 1.0)) * 1000.0) as u64);
        }
    }

    fn note(&self, says: &str) {
        if let Ok(mut noted) = self.noted.lock()
            && !noted.iter().any(|one| one == says)
        {
            noted.push(says.to_owned());
            Self::note(self, says);
        }
    }

    fn keep_going(&self) -> bool {
        !STOP.load(Ordering::SeqCst)
    }
}
