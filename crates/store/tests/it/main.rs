//! The store as a whole: edits, trouble, old files, and being killed.

#[path = "../../examples/torture/rig.rs"]
mod rig;
#[path = "../../examples/torture/world.rs"]
mod world;

mod edits;
mod elsewhere;
mod kept;
mod old;
mod torture;
mod trouble;

use model::{Edit, Idea, NoteId, Project};
use std::path::Path;
use std::time::Duration;
use store::{Options, Store, UnixMs};
use tempfile::TempDir;

/// A moment; the store takes any.
const NOW: UnixMs = UnixMs(1_790_000_000_000);

/// A project with an empty document in a folder of its own.
fn new_store() -> (TempDir, Store) {
    let dir = tempfile::tempdir().unwrap();
    let store = Store::create(dir.path(), &Project::default(), NOW).unwrap();
    (dir, store)
}

fn impatient() -> Options {
    Options {
        by: "test".into(),
        wait: Duration::from_millis(150),
    }
}

fn title(text: &str) -> Edit {
    Edit::title(text)
}

fn idea(id: &str) -> Edit {
    Edit::put(&Idea {
        id: NoteId::new(id).unwrap(),
        at: None,
        text: format!("idea {id}"),
        extra: Default::default(),
    })
}

/// The file itself, without its log; the store must be closed.
fn file(dir: &Path) -> std::path::PathBuf {
    dir.join("project.sqlite")
}

/// Whether a message is one sentence for a person: no line break, not a value printed for programmers.
fn is_sentence(text: &str) -> bool {
    !text.is_empty()
        && !text.contains('\n')
        && !text.contains("Error {")
        && !text.contains("SqliteFailure")
        && !text.ends_with('.')
}
