//! The project on disk: one SQLite file that holds every revision of the document, the folder
//! around it, and a cache that may be deleted at any time.
//!
//! * [`Store`] opens `project.sqlite`, applies edits, goes back and forward, shows the history.
//! * [`Folder`] knows where things lie in a project's folder.
//! * [`Cache`] keeps what can be computed again, up to a bound.
//!
//! # What it promises
//! When a call that edits has returned, its revision is on disk (write-ahead log,
//! `synchronous = FULL`). Two processes may edit at once: each edit is applied to whatever is
//! newest when its turn comes. Nothing is ever deleted from the history: an edit after going back
//! starts a branch.
//!
//! # What it does not do
//! It reads no clock but for when an entry of the cache was last used (the time is an argument), knows nothing of media, and decides nothing about
//! whether an edit makes sense: that is the document's own affair.

mod backup;
mod cache;
mod chain;
mod diff;
mod error;
mod folder;
mod format;
mod open;
mod rescue;
mod revision;
mod schema;
mod store;

pub use cache::{Cache, used_at};
pub use error::{BoxedRefusal, Error};
pub use folder::Folder;
pub use rescue::{Rescued, rescue};
pub use revision::{Check, Entry, RevisionId, UnixMs};
pub use store::{Options, Store};
