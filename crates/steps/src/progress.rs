//! How long work is watched and stopped.

/// Somebody who watches long work. Methods are called from several threads.
pub trait Progress: Sync {
    /// A stage of `parts` parts begins: "placing takes", 24.
    fn stage(&self, what: &str, parts: usize);
    /// One part of the stage is done.
    fn part(&self, what: &str);
    /// The share of the stage that is done, 0 to 1, where there are no parts.
    fn share(&self, done: f32);
    /// Something went otherwise than it should, though not so that it stops: one sentence. The same one may come
    /// many times and is worth showing once.
    fn note(&self, says: &str);
    /// Whether to go on. Once `false`, the work stops within a second or so and leaves nothing half done.
    fn keep_going(&self) -> bool;
}

/// Nobody watches and nobody stops it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Quiet;

impl Progress for Quiet {
    fn stage(&self, _what: &str, _parts: usize) {}
    fn part(&self, _what: &str) {}
    fn share(&self, _done: f32) {}
    fn note(&self, _says: &str) {}
    fn keep_going(&self) -> bool {
        true
    }
}

/// Somebody who remembers what was noted, for tests.
#[cfg(test)]
#[derive(Default)]
pub(crate) struct Noted(pub(crate) std::sync::Mutex<Vec<String>>);

#[cfg(test)]
impl Progress for Noted {
    fn stage(&self, _what: &str, _parts: usize) {}
    fn part(&self, _what: &str) {}
    fn share(&self, _done: f32) {}
    fn note(&self, says: &str) {
        self.0.lock().unwrap().push(says.to_owned());
    }
    fn keep_going(&self) -> bool {
        true
    }
}
