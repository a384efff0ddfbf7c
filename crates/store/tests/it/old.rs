//! A file of the earliest schema and format, stored in `tests/old`, opened by today's store.

use crate::{NOW, file, impatient, title};
use model::Project;
use rusqlite::Connection;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use store::{RevisionId, Store};

/// The stored file. `cargo test -p store -- --ignored write_the_old_file` writes it again.
pub fn stored() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/old/schema-1-format-0.sqlite")
}

/// The document at `revision` of the stored file, as today's program reads it.
pub fn document(revision: usize) -> Project {
    let mut document = json!({
        "format": model::FORMAT,
        "title": "Paper Weather",
        "brief": { "artist": "Ilse Quarry", "frame": [1920, 1080], "rate": "24000/1001", "fit": "crop" },
        "ideas": [
            { "id": "idea-1", "text": "steam on the glass" },
            { "id": "idea-2", "text": "hands in the drum" },
        ],
    });
    if revision >= 2 {
        document["title"] = json!("Paper Weather, wet");
        document["ideas"][1]["text"] = json!("powder at the river");
    }
    if revision >= 3 {
        document["brief"]["rate"] = json!("25");
    }
    serde_json::from_value(document).unwrap()
}

/// Makes the stored file, as the first program to keep a project wrote it.
#[test]
#[ignore = "writes the stored file; run by hand when it has to be made anew"]
fn write_the_old_file() {
    let _ = std::fs::remove_file(stored());
    let connection = Connection::open(stored()).unwrap();
    connection
        .execute_batch(include_str!("../../src/schema/0001_revisions.sql"))
        .unwrap();
    let first = json!({
        "title": "Paper Weather",
        "brief": { "artist": "Ilse Quarry", "frame": [1920, 1080], "fps": 23.976, "fit": "crop" },
        "ideas": ["steam on the glass", "hands in the drum"],
    });
    let second = json!([
        { "op": "replace", "path": "/title", "value": "Paper Weather, wet" },
        { "op": "replace", "path": "/ideas/1", "value": "powder at the river" },
    ]);
    let third = json!([{ "op": "replace", "path": "/brief/fps", "value": 25 }]);
    let add = |parent: Option<i64>,
               at: i64,
               what: &str,
               patch: Option<&Value>,
               whole: Option<&Value>| {
        connection
            .execute(
                "INSERT INTO revision (parent, at_ms, what, patch, document) VALUES (?1, ?2, ?3, ?4, ?5)",
                rusqlite::params![parent, at, what, patch.map(Value::to_string), whole.map(Value::to_string)],
            )
            .unwrap();
    };
    add(None, 1_789_000_000_000, "started", None, Some(&first));
    add(Some(1), 1_789_000_060_000, "title", Some(&second), None);
    add(Some(2), 1_789_000_120_000, "brief", Some(&third), None);
    // The last one was undone.
    connection
        .execute("INSERT INTO head (one, revision) VALUES (1, 2)", [])
        .unwrap();
    connection
        .pragma_update(None, "application_id", 0x4242_6c62)
        .unwrap();
    connection.pragma_update(None, "user_version", 1).unwrap();
}

fn names(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn an_old_file_is_brought_up_and_a_copy_left_beside() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::copy(stored(), file(dir.path())).unwrap();
    let mut store = Store::open(dir.path()).unwrap();
    assert_eq!(store.head().unwrap(), (RevisionId::new(2), document(2)));
    // Undo reaches back into what the old program wrote, and what it undid can be redone.
    assert_eq!(store.redo(NOW).unwrap(), (RevisionId::new(3), document(3)));
    assert_eq!(store.undo(NOW).unwrap().1, document(2));
    assert_eq!(store.undo(NOW).unwrap(), (RevisionId::new(1), document(1)));
    assert_eq!(store.redo(NOW).unwrap().1, document(2));
    // New edits go on top, and do not change what lies below.
    let (id, project) = store.apply(&title("today"), NOW).unwrap();
    assert_eq!((id, project.title.as_str()), (RevisionId::new(4), "today"));
    assert_eq!(store.apply(&title("today"), NOW).unwrap().0, id);
    assert_eq!(store.undo(NOW).unwrap().1, document(2));
    let history = store.history(10).unwrap();
    assert_eq!(history.len(), 4);
    assert_eq!(history[3].at.0, 1_789_000_000_000);
    assert_eq!(store.check().unwrap().problems, Vec::<String>::new());
    drop(store);

    let copy = "project.sqlite.before-2";
    assert_eq!(names(dir.path()), ["project.sqlite", copy]);
    let read = |path: &Path| -> Vec<(i64, Option<String>, Option<String>)> {
        let connection = Connection::open(path).unwrap();
        let version: i64 = connection
            .pragma_query_value(None, "user_version", |row| row.get(0))
            .unwrap();
        assert_eq!(version, 1);
        let mut statement = connection
            .prepare("SELECT id, patch, document FROM revision ORDER BY id")
            .unwrap();
        let rows = statement
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .unwrap();
        rows.map(Result::unwrap).collect()
    };
    assert_eq!(read(&dir.path().join(copy)), read(&stored()));

    // Done once.
    drop(Store::open(dir.path()).unwrap());
    assert_eq!(names(dir.path()), ["project.sqlite", copy]);
}

#[test]
fn a_copy_from_before_is_never_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::copy(stored(), file(dir.path())).unwrap();
    std::fs::write(dir.path().join("project.sqlite.before-2"), "another").unwrap();
    drop(Store::open(dir.path()).unwrap());
    assert_eq!(
        std::fs::read(dir.path().join("project.sqlite.before-2")).unwrap(),
        b"another"
    );
    assert!(dir.path().join("project.sqlite.before-2-2").is_file());
}

#[test]
fn without_a_copy_nothing_is_brought_up() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::copy(stored(), file(dir.path())).unwrap();
    // Every name a copy could have is taken.
    for count in 1..=100 {
        let ending = if count == 1 {
            String::new()
        } else {
            format!("-{count}")
        };
        std::fs::create_dir(dir.path().join(format!("project.sqlite.before-2{ending}"))).unwrap();
    }
    let Err(error) = Store::open_with(dir.path(), impatient()) else {
        panic!("brought up");
    };
    assert!(crate::is_sentence(&error.to_string()), "{error}");
    let connection = Connection::open(file(dir.path())).unwrap();
    let version: i64 = connection
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap();
    assert_eq!(version, 1);
}

#[test]
fn two_that_open_an_old_file_at_once_bring_it_up_once() {
    for _ in 0..10 {
        let dir = tempfile::tempdir().unwrap();
        std::fs::copy(stored(), file(dir.path())).unwrap();
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    let mut store = Store::open(dir.path()).unwrap();
                    assert_eq!(store.head().unwrap().1, document(2));
                });
            }
        });
        // Of several that close in the same instant none need be the last one, which takes the log away.
        drop(Store::open(dir.path()).unwrap());
        assert_eq!(
            names(dir.path()),
            ["project.sqlite", "project.sqlite.before-2"]
        );
    }
}
