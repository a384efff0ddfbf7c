//! Files that are not ours, damaged, newer, or held by somebody else: a sentence each, never a
//! panic, and never a wrong document.

use crate::{NOW, file, idea, impatient, is_sentence, new_store, title, world};
use model::Project;
use proptest::prelude::*;
use std::path::Path;
use std::sync::OnceLock;
use store::{Error, RevisionId, Store};

fn refusal(dir: &Path) -> Error {
    match Store::open_with(dir, impatient()) {
        Err(error) => {
            assert!(is_sentence(&error.to_string()), "{error}");
            error
        }
        Ok(_) => panic!("opened"),
    }
}

#[test]
fn what_is_not_a_project_is_told_apart() {
    let dir = tempfile::tempdir().unwrap();
    assert!(matches!(refusal(dir.path()), Error::NoProject { .. }));
    assert!(matches!(
        refusal(&dir.path().join("missing")),
        Error::NoProject { .. }
    ));
    for content in [&b""[..], b"x", b"RIFF....WAVEfmt and so on", &[0; 5000]] {
        std::fs::write(file(dir.path()), content).unwrap();
        assert!(matches!(refusal(dir.path()), Error::NotOurs { .. }));
        assert_eq!(std::fs::read(file(dir.path())).unwrap(), content);
    }
    // A folder that is a file, and a file that is a folder.
    assert!(matches!(
        refusal(&file(dir.path())),
        Error::NoProject { .. }
    ));
    std::fs::remove_file(file(dir.path())).unwrap();
    std::fs::create_dir(file(dir.path())).unwrap();
    assert!(matches!(refusal(dir.path()), Error::NotOurs { .. }));
    // The database of another program.
    std::fs::remove_dir(file(dir.path())).unwrap();
    rusqlite::Connection::open(file(dir.path()))
        .unwrap()
        .execute_batch("CREATE TABLE recipe (name TEXT); PRAGMA user_version = 2")
        .unwrap();
    let error = refusal(dir.path());
    assert!(matches!(error, Error::NotOurs { .. }), "{error}");
}

#[test]
fn a_project_is_not_started_over_another() {
    let (dir, mut store) = new_store();
    store.apply(&title("kept"), NOW).unwrap();
    let Err(error) = Store::create(dir.path(), &Project::default(), NOW) else {
        panic!("started again");
    };
    assert!(matches!(error, Error::AlreadyThere { .. }), "{error}");
    assert_eq!(store.head().unwrap().1.title, "kept");
    drop(store);
    // Nothing half made is left in the folder.
    let left: Vec<_> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left, ["project.sqlite"]);
}

#[test]
fn a_newer_schema_is_left_alone() {
    let (dir, store) = new_store();
    drop(store);
    rusqlite::Connection::open(file(dir.path()))
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let before = std::fs::read(file(dir.path())).unwrap();
    let error = refusal(dir.path());
    assert!(matches!(error, Error::Newer { found: 99, .. }), "{error}");
    assert!(
        error.to_string().contains("made by a newer Barebulb"),
        "{error}"
    );
    assert_eq!(std::fs::read(file(dir.path())).unwrap(), before);
}

#[test]
fn a_document_we_cannot_read_names_the_field() {
    let (dir, store) = new_store();
    drop(store);
    let mut wrong = serde_json::to_value(world::project()).unwrap();
    wrong["takes"][5]["rating"] = serde_json::json!("splendid");
    crate::edits::put_document(dir.path(), &wrong);
    let error = refusal(dir.path());
    assert!(error.to_string().contains("takes[5].rating"), "{error}");
    assert!(error.to_string().contains("plan rescue"), "{error}");
    wrong["format"] = serde_json::json!(model::FORMAT + 1);
    crate::edits::put_document(dir.path(), &wrong);
    let error = refusal(dir.path());
    assert!(
        error.to_string().contains("a newer Barebulb wrote it"),
        "{error}"
    );
    // That is no damage, and nothing is put in its place.
    let rescued = store::rescue(dir.path(), store::UnixMs(1), store::Options::default());
    let error = rescued.unwrap_err().to_string();
    assert!(error.contains("a newer Barebulb wrote it"), "{error}");
}

#[test]
fn a_file_held_by_another_is_read_but_not_edited() {
    let (dir, store) = new_store();
    drop(store);
    let mut store = Store::open_with(dir.path(), impatient()).unwrap();
    let holder = rusqlite::Connection::open(file(dir.path())).unwrap();
    holder.execute_batch("BEGIN IMMEDIATE").unwrap();
    let error = store.apply(&title("x"), NOW).unwrap_err();
    assert!(
        matches!(error, Error::Busy { .. }) && is_sentence(&error.to_string()),
        "{error}"
    );
    let error = store.undo(NOW).unwrap_err();
    assert!(matches!(error, Error::Busy { .. }), "{error}");
    assert_eq!(store.head().unwrap().1, Project::default());
    assert!(Store::open_with(dir.path(), impatient()).is_ok());
    holder.execute_batch("ROLLBACK").unwrap();
    store.apply(&title("x"), NOW).unwrap();
    drop(store);
    // Held so that not even reading is possible.
    holder
        .execute_batch(
            "PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE; UPDATE head SET moved_ms = 1",
        )
        .unwrap();
    let error = refusal(dir.path());
    assert!(matches!(error, Error::Busy { .. }), "{error}");
}

/// A closed file with a short history, and its documents.
fn sample() -> &'static (Vec<u8>, Vec<Project>) {
    static SAMPLE: OnceLock<(Vec<u8>, Vec<Project>)> = OnceLock::new();
    SAMPLE.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let mut store = Store::create(dir.path(), &world::project(), NOW).unwrap();
        for n in 0..60 {
            store.apply(&idea(&format!("n{n}")), NOW).unwrap();
        }
        let documents = (1..=61)
            .map(|n| store.at(RevisionId::new(n)).unwrap())
            .collect();
        drop(store);
        (std::fs::read(file(dir.path())).unwrap(), documents)
    })
}

/// Opens what is left of a damaged file and does everything with it. Each call may fail with a
/// sentence; a document that comes back must be one that was put in.
fn use_damaged(content: &[u8]) -> Result<(), TestCaseError> {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(file(dir.path()), content).unwrap();
    let documents = &sample().1;
    let said = |error: &Error| is_sentence(&error.to_string());
    match Store::open_with(dir.path(), impatient()) {
        Err(error) => prop_assert!(said(&error), "{}", error),
        Ok(mut store) => {
            let head = store.head();
            match &head {
                Ok((_, project)) => prop_assert!(documents.contains(project)),
                Err(error) => prop_assert!(said(error), "{}", error),
            }
            for n in [1, 30, 51, 60] {
                match store.at(RevisionId::new(n)) {
                    Ok(project) => prop_assert!(documents.contains(&project)),
                    Err(error) => prop_assert!(said(&error), "{}", error),
                }
            }
            match store.check() {
                Ok(check) => prop_assert!(
                    check
                        .problems
                        .iter()
                        .all(|text| !text.is_empty() && !text.contains('\n'))
                ),
                Err(error) => prop_assert!(said(&error), "{}", error),
            }
            for outcome in [
                store.undo(NOW),
                store.apply(&title("x"), NOW),
                store.redo(NOW),
            ] {
                if let Err(error) = outcome {
                    prop_assert!(said(&error), "{}", error);
                }
            }
            if let Err(error) = store.history(100) {
                prop_assert!(said(&error), "{}", error);
            }
        }
    }
    Ok(())
}

#[test]
fn damage_in_a_document_is_noticed() {
    let (content, _) = sample();
    // The words of the newest idea, as they lie in the file.
    let word = b"idea n59";
    let mut damaged = content.clone();
    let places: Vec<usize> = (0..content.len() - word.len())
        .filter(|at| content[*at..].starts_with(word))
        .collect();
    assert!(!places.is_empty());
    for at in places {
        damaged[at] = b'I';
    }
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(file(dir.path()), damaged).unwrap();
    let error = refusal(dir.path());
    assert!(matches!(error, Error::Damaged { .. }), "{error}");
}

#[test]
fn a_file_with_other_tables_is_damaged() {
    for change in [
        "DELETE FROM head",
        "DROP TABLE head",
        "DROP TABLE revision",
        "ALTER TABLE revision RENAME COLUMN patch TO pitch",
        "DROP TRIGGER revision_is_not_changed; UPDATE revision SET document = 'x'",
        "DROP TRIGGER revision_is_not_changed; UPDATE revision SET document = '[]'",
        "DROP TRIGGER revision_is_not_changed; UPDATE revision SET sum = sum + 1",
        "DROP TRIGGER revision_is_not_changed; PRAGMA ignore_check_constraints = 1;
         UPDATE revision SET parent = 2, document = NULL, patch = '[]'",
    ] {
        let (dir, store) = new_store();
        drop(store);
        let connection = rusqlite::Connection::open(file(dir.path())).unwrap();
        connection.execute_batch("PRAGMA foreign_keys = 0").unwrap();
        connection.execute_batch(change).unwrap();
        drop(connection);
        let error = refusal(dir.path());
        assert!(
            matches!(error, Error::Damaged { .. } | Error::Unreadable { .. }),
            "{change}: {error}"
        );
    }
}

#[test]
fn what_was_kept_cannot_be_changed_by_mistake() {
    let (dir, store) = new_store();
    drop(store);
    let connection = rusqlite::Connection::open(file(dir.path())).unwrap();
    for change in ["UPDATE revision SET document = 'x'", "DELETE FROM revision"] {
        let error = connection.execute(change, []).unwrap_err().to_string();
        assert!(error.starts_with("a revision is never"), "{error}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 80, ..ProptestConfig::default() })]

    #[test]
    fn a_damaged_file_gives_a_sentence_or_a_true_document(
        hits in prop::collection::vec((any::<prop::sample::Index>(), 1u8..), 1..20),
        burst in prop::option::of((any::<prop::sample::Index>(), 1usize..9000)),
    ) {
        let mut content = sample().0.clone();
        for (at, flip) in &hits {
            let at = at.index(content.len());
            content[at] ^= flip;
        }
        if let Some((at, length)) = burst {
            let at = at.index(content.len());
            let end = (at + length).min(content.len());
            content[at..end].fill(0);
        }
        use_damaged(&content)?;
    }

    #[test]
    fn a_truncated_file_gives_a_sentence_or_a_true_document(length in any::<prop::sample::Index>()) {
        let content = &sample().0;
        use_damaged(&content[..length.index(content.len())])?;
    }
}
