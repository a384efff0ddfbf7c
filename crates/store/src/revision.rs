//! What is said about revisions: which one, when, by whom, what changed.

use std::fmt;

/// Milliseconds since 1970-01-01 00:00 UTC. The clock is read by the caller.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnixMs(pub i64);

/// One state of the document. Counted from 1, never used twice; a later revision has a greater one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RevisionId(pub(crate) i64);

impl RevisionId {
    /// The revision numbered `number`, as a person or a form gives it. Whether it exists is seen
    /// when it is used.
    pub const fn new(number: i64) -> Self {
        Self(number)
    }

    /// Its number.
    pub const fn number(self) -> i64 {
        self.0
    }
}

impl fmt::Display for RevisionId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// One line of the history.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Which revision.
    pub id: RevisionId,
    /// The one it was made from; `None` for the first.
    pub parent: Option<RevisionId>,
    /// When it was made.
    pub at: UnixMs,
    /// Who made it: the text of [`crate::Options::by`].
    pub by: String,
    /// What was done, in words.
    pub what: String,
    /// The edit as JSON, where it was a typed one.
    pub edit: Option<String>,
    /// Whether the document now stands on it: the newest revision or one it descends from. The
    /// others were undone, or lie on a branch that was left.
    pub stands: bool,
}

/// What [`crate::Store::check`] found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Check {
    /// How many revisions were rebuilt and read.
    pub revisions: u64,
    /// What is wrong, one sentence each; empty when all is well.
    pub problems: Vec<String>,
}
