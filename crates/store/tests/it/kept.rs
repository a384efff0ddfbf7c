//! Projects that earlier programs kept, as their demos wrote them, opened by today's store: every
//! revision reads, nothing that was written is lost, undo goes back through all of them.

use crate::{NOW, file};
use rusqlite::Connection;
use serde_json::Value;
use std::path::Path;
use store::{Error, RevisionId, Store};

/// A stored project. The figures were counted in the file itself, with Python's sqlite3 and
/// jsonpatch, when it was stored.
struct Kept {
    name: &'static str,
    revisions: usize,
    /// How many there are of each noun in the newest revision.
    nouns: &'static [(&'static str, usize)],
}

const KEPT: [Kept; 2] = [
    Kept {
        name: "demo-spine.sqlite",
        revisions: 30,
        nouns: &[
            ("ideas", 4),
            ("references", 2),
            ("places", 3),
            ("people", 3),
            ("states", 2),
            ("setups", 10),
            ("wishes", 7),
            ("takes", 24),
            ("cuts", 1),
        ],
    },
    Kept {
        name: "demo-pages.sqlite",
        revisions: 32,
        nouns: &[
            ("ideas", 4),
            ("references", 2),
            ("places", 4),
            ("people", 3),
            ("states", 2),
            ("setups", 10),
            ("kit", 27),
            ("days", 1),
            ("wishes", 7),
            ("takes", 24),
            ("cuts", 1),
        ],
    },
];

/// A copy of a stored project, opened.
fn opened(dir: &Path, kept: &Kept) -> Store {
    let stored = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/old");
    std::fs::copy(stored.join(kept.name), file(dir)).unwrap();
    Store::open(dir).unwrap()
}

/// Every document in the file as it was written, oldest first, by the standard's own patches alone.
fn written(dir: &Path) -> Vec<(i64, Value)> {
    let connection = Connection::open(file(dir)).unwrap();
    let mut statement = connection
        .prepare("SELECT id, parent, patch, document FROM revision ORDER BY id")
        .unwrap();
    type Row = (i64, Option<i64>, Option<String>, Option<String>);
    let rows = statement
        .query_map([], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        })
        .unwrap();
    let mut documents: Vec<(i64, Value)> = Vec::new();
    for row in rows {
        let (id, parent, patch, whole): Row = row.unwrap();
        let document = match (whole, patch) {
            (Some(whole), _) => serde_json::from_str(&whole).unwrap(),
            (None, Some(patch)) => {
                let before = documents.iter().find(|(id, _)| Some(*id) == parent);
                let mut document = before.unwrap().1.clone();
                let patch: json_patch::Patch = serde_json::from_str(&patch).unwrap();
                json_patch::patch(&mut document, &patch).unwrap();
                document
            }
            (None, None) => panic!("revision {id} holds nothing"),
        };
        documents.push((id, document));
    }
    documents
}

/// Where something of `old` is not in `new` as it was.
fn lost(old: &Value, new: &Value, place: &str) -> Vec<String> {
    match (old, new) {
        (Value::Object(old), Value::Object(new)) => old
            .iter()
            .flat_map(|(key, value)| {
                let place = format!("{place}/{key}");
                match new.get(key) {
                    Some(new) => lost(value, new, &place),
                    None => vec![format!("{place}: {value}")],
                }
            })
            .collect(),
        (Value::Array(old), Value::Array(new)) if old.len() == new.len() => (0..)
            .zip(old.iter().zip(new))
            .flat_map(|(at, (old, new)): (usize, _)| lost(old, new, &format!("{place}/{at}")))
            .collect(),
        _ if old == new || (old.is_number() && old.as_f64() == new.as_f64()) => Vec::new(),
        _ => vec![format!("{place}: {old} became {new}")],
    }
}

/// `old` with what format 3 changed: setups name their people by the ids that those have in `new`. A name that no
/// person bears stays, and is then missed.
fn brought_up(old: &Value, new: &Value) -> Value {
    let mut old = old.clone();
    // It says which form it was brought up to.
    old["format"] = new["format"].clone();
    let empty = Vec::new();
    let people = new["people"].as_array().unwrap_or(&empty);
    for setup in old["setups"].as_array_mut().into_iter().flatten() {
        for named in setup
            .get_mut("people")
            .and_then(Value::as_array_mut)
            .into_iter()
            .flatten()
        {
            if let Some(person) = people.iter().find(|person| person["name"] == *named) {
                *named = person["id"].clone();
            }
        }
    }
    old
}

#[test]
fn every_revision_reads_and_keeps_what_was_written() {
    for kept in &KEPT {
        let dir = tempfile::tempdir().unwrap();
        let store = opened(dir.path(), kept);
        let documents = written(dir.path());
        assert_eq!(documents.len(), kept.revisions, "{}", kept.name);
        for (id, old) in &documents {
            let project = store.at(RevisionId::new(*id)).unwrap();
            let new = serde_json::to_value(&project).unwrap();
            let at = format!("{} at {id}", kept.name);
            // What is read and written again is the same.
            let again: model::Project = serde_json::from_value(new.clone()).unwrap();
            assert_eq!(again, project, "{at}");
            let lost = lost(&brought_up(old, &new), &new, "");
            assert_eq!(lost, Vec::<String>::new(), "{at}");
        }
        let check = store.check().unwrap();
        assert_eq!(check.problems, Vec::<String>::new(), "{}", kept.name);
        assert_eq!(check.revisions, kept.revisions as u64, "{}", kept.name);
    }
}

#[test]
fn undo_goes_back_through_all_of_them_and_redo_forward() {
    for kept in &KEPT {
        let dir = tempfile::tempdir().unwrap();
        let mut store = opened(dir.path(), kept);
        let (last, newest) = store.head().unwrap();
        let value = serde_json::to_value(&newest).unwrap();
        for (noun, count) in kept.nouns {
            let found = value[noun].as_array().map_or(0, Vec::len);
            assert_eq!(found, *count, "{}: {noun}", kept.name);
        }
        let mut way = vec![last];
        loop {
            match store.undo(NOW) {
                Ok((id, project)) => {
                    assert_eq!(project, store.at(id).unwrap(), "{} at {id}", kept.name);
                    way.push(id);
                }
                Err(Error::NothingToUndo) => break,
                Err(error) => panic!("{}: {error}", kept.name),
            }
        }
        assert_eq!(way.len(), kept.revisions, "{}", kept.name);
        for id in way.iter().rev().skip(1) {
            assert_eq!(store.redo(NOW).unwrap().0, *id, "{}", kept.name);
        }
        assert!(matches!(store.redo(NOW), Err(Error::NothingToRedo)));
        assert_eq!(store.head().unwrap(), (last, newest), "{}", kept.name);
    }
}
