//! Edits, undo and redo, history, two editors at once.

use crate::{NOW, file, idea, impatient, new_store, title, world};
use model::{Edit, Idea, Project, Rating, Take, TakeId};
use proptest::prelude::*;
use serde_json::{Value, json};
use store::{Error, RevisionId, Store, UnixMs};

#[test]
fn what_was_edited_is_there_after_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let first = world::project();
    let mut store = Store::create(dir.path(), &first, NOW).unwrap();
    assert_eq!(store.head().unwrap(), (RevisionId::new(1), first));
    let (id, project) = store.apply(&title("Paper Weather II"), NOW).unwrap();
    drop(store);

    let mut store = Store::open(dir.path()).unwrap();
    assert_eq!(store.head().unwrap(), (id, project));
    assert_eq!(store.head_id().unwrap(), id);
    assert_eq!(store.check().unwrap().problems, Vec::<String>::new());
    assert!(!store.is_read_only());
}

#[test]
fn undo_and_redo_reach_across_restarts() {
    let (dir, mut store) = new_store();
    store.apply(&idea("a"), NOW).unwrap();
    store.apply(&idea("b"), NOW).unwrap();
    let names = |project: &Project| -> Vec<String> {
        project
            .ideas
            .iter()
            .map(|idea| idea.id.to_string())
            .collect()
    };
    for kept in [vec!["a"], vec![]] {
        drop(store);
        store = Store::open(dir.path()).unwrap();
        assert_eq!(names(&store.undo(NOW).unwrap().1), kept);
    }
    let refused = store.undo(NOW).unwrap_err();
    assert!(matches!(refused, Error::NothingToUndo), "{refused}");
    for kept in [vec!["a"], vec!["a", "b"]] {
        drop(store);
        store = Store::open(dir.path()).unwrap();
        assert_eq!(names(&store.redo(NOW).unwrap().1), kept);
    }
    let refused = store.redo(NOW).unwrap_err();
    assert!(matches!(refused, Error::NothingToRedo), "{refused}");
}

#[test]
fn an_edit_after_undo_starts_a_branch_and_loses_nothing() {
    let (_dir, mut store) = new_store();
    let (left, left_project) = store.apply(&idea("left"), NOW).unwrap();
    store.undo(NOW).unwrap();
    let (right, right_project) = store.apply(&idea("right"), NOW).unwrap();
    assert_eq!(store.at(left).unwrap(), left_project);
    // Forward again from the fork leads to the newer branch.
    store.undo(NOW).unwrap();
    assert_eq!(store.redo(NOW).unwrap(), (right, right_project));
    let history = store.history(10).unwrap();
    let told: Vec<_> = history
        .iter()
        .map(|entry| {
            (
                entry.id.number(),
                entry.parent.map(RevisionId::number),
                entry.stands,
            )
        })
        .collect();
    assert_eq!(
        told,
        [(3, Some(1), true), (2, Some(1), false), (1, None, true)]
    );
}

#[test]
fn the_history_says_who_did_what_when() {
    let (dir, store) = new_store();
    drop(store);
    let mut store = Store::open_with(dir.path(), impatient()).unwrap();
    store
        .apply(&title("Paper Weather"), UnixMs(NOW.0 + 5))
        .unwrap();
    let newest = store.history(1).unwrap().remove(0);
    assert_eq!(
        (newest.at, newest.by.as_str(), newest.what.as_str()),
        (UnixMs(NOW.0 + 5), "test", "title")
    );
    let edit: Edit = serde_json::from_str(&newest.edit.unwrap()).unwrap();
    assert_eq!(edit, title("Paper Weather"));
    assert!(store.history(0).unwrap().is_empty());
    // What was undone no longer stands.
    store.undo(NOW).unwrap();
    assert!(!store.history(1).unwrap()[0].stands);
}

#[test]
fn an_edit_that_changes_nothing_makes_no_revision() {
    let (_dir, mut store) = new_store();
    let (id, project) = store.apply(&title("x"), NOW).unwrap();
    assert_eq!(store.apply(&title("x"), NOW).unwrap(), (id, project));
    assert_eq!(store.history(10).unwrap().len(), 2);
}

#[test]
fn a_refused_edit_leaves_no_trace() {
    let (_dir, mut store) = new_store();
    let before = store.head().unwrap();
    let gone = Edit::RateTake {
        id: TakeId::new("nowhere").unwrap(),
        rating: Rating::Circled,
    };
    let refused = store.apply(&gone, NOW).unwrap_err();
    let Error::Refused(refusal) = &refused else {
        panic!("{refused}");
    };
    assert!(refusal.is::<model::Refusal>());
    assert_eq!(
        refused.to_string(),
        "there is no take `nowhere`; it may have been removed meanwhile"
    );
    assert_eq!(store.head().unwrap(), before);
    assert_eq!(store.history(10).unwrap().len(), 1);
    store.apply(&title("goes on"), NOW).unwrap();
}

#[test]
fn a_document_that_would_not_come_back_is_refused() {
    let (_dir, mut store) = new_store();
    let refused = store
        .apply_with::<String>("break it", NOW, |project| {
            let mut project = project.clone();
            project.weights.wish = f64::NAN;
            Ok(project)
        })
        .unwrap_err();
    assert!(matches!(refused, Error::Unkeepable { .. }), "{refused}");
    assert_eq!(store.head().unwrap().1, Project::default());
}

#[test]
fn zero_that_became_minus_zero_can_be_read_again() {
    let (dir, mut store) = new_store();
    for wish in [0.0, -0.0, 0.0] {
        let kept = store
            .apply_with::<String>("weigh", NOW, |project| {
                let mut project = project.clone();
                project.weights.wish = wish;
                project.title.push('x');
                Ok(project)
            })
            .unwrap();
        assert_eq!(Store::open(dir.path()).unwrap().head().unwrap(), kept);
    }
}

#[test]
fn a_store_can_move_to_another_thread() {
    fn moves<T: Send>(_: &T) {}
    moves(&new_store().1);
}

#[test]
fn a_second_editor_works_on_top_of_the_first() {
    let (dir, mut one) = new_store();
    let mut other = Store::open(dir.path()).unwrap();
    one.apply(&idea("a"), NOW).unwrap();
    let (at, project) = other.apply(&idea("b"), NOW).unwrap();
    assert_eq!(project.ideas.len(), 2);
    assert_eq!(one.head().unwrap(), (at, project));

    // Made for a revision that is no longer the newest.
    let meant_for = at;
    one.apply(&idea("c"), NOW).unwrap();
    let refused = other
        .apply_if_at(meant_for, &title("whole"), NOW)
        .unwrap_err();
    assert!(matches!(refused, Error::Moved { .. }), "{refused}");
    assert_eq!(
        refused.to_string(),
        "the project was changed meanwhile (it is at revision 4, the edit was made for 3); look at it again and repeat the edit"
    );
    let (now_at, _) = other.head().unwrap();
    other.apply_if_at(now_at, &title("whole"), NOW).unwrap();

    // What the first removed, the second can't remove again.
    let remove = Edit::remove::<Idea>("a");
    one.apply(&remove, NOW).unwrap();
    assert!(matches!(other.apply(&remove, NOW), Err(Error::Refused(_))));
    // Undo by the one is seen by the other.
    let (back, _) = one.undo(NOW).unwrap();
    assert_eq!(other.head_id().unwrap(), back);
    assert_eq!(other.head().unwrap().1.ideas.len(), 3);
}

#[test]
fn what_a_newer_version_wrote_is_kept() {
    let (dir, store) = new_store();
    drop(store);
    // As a newer version would: fields we don't know, in the document and deep in it.
    let mut newer = serde_json::to_value(world::project()).unwrap();
    newer["format"] = json!(model::FORMAT + 6);
    newer["moods"] = json!([{ "id": "m", "hue": 0.1 }]);
    newer["takes"][3]["lens_mm"] = json!(35.000_000_000_000_01);
    newer["brief"]["holiday"] = json!({ "deep": [1, 2.5, null, "x"] });
    newer["song"]["file"]["codec"] = json!("flac");
    let number = put_document(dir.path(), &newer);

    let mut store = Store::open(dir.path()).unwrap();
    let take = TakeId::new("A001_C004").unwrap();
    let (id, _) = store
        .apply(
            &Edit::RateTake {
                id: take,
                rating: Rating::NoGood,
            },
            NOW,
        )
        .unwrap();
    store.apply(&title("edited here"), NOW).unwrap();
    drop(store);

    let store = Store::open(dir.path()).unwrap();
    for (revision, expected) in [
        (RevisionId::new(number), newer.clone()),
        (id, {
            let mut rated = newer.clone();
            rated["takes"][3]["rating"] = json!("no-good");
            rated
        }),
        (RevisionId::new(id.number() + 1), {
            let mut titled = newer.clone();
            titled["takes"][3]["rating"] = json!("no-good");
            titled["title"] = json!("edited here");
            titled
        }),
    ] {
        let kept = serde_json::to_value(store.at(revision).unwrap()).unwrap();
        assert_eq!(kept, expected, "revision {revision}");
    }
    assert_eq!(store.check().unwrap().problems, Vec::<String>::new());
}

/// Writes `document` into the closed project in `dir` as its newest revision, by SQL alone.
pub fn put_document(dir: &std::path::Path, document: &Value) -> i64 {
    let connection = rusqlite::Connection::open(file(dir)).unwrap();
    connection
        .execute(
            "INSERT INTO revision (parent, at_ms, what, document) SELECT revision, 0, 'elsewhere', ?1 FROM head",
            [document.to_string()],
        )
        .unwrap();
    let number = connection.last_insert_rowid();
    connection
        .execute("UPDATE head SET revision = ?1", [number])
        .unwrap();
    number
}

/// A random edit, as numbers that [`edit_of`] makes an edit from.
fn any_edit() -> impl Strategy<Value = (u8, u8, String)> {
    (0u8..7, any::<u8>(), "[a-zé~/\"\\\\ ]{0,12}")
}

fn edit_of(project: &Project, (kind, which, text): &(u8, u8, String)) -> Edit {
    let which = usize::from(*which);
    let take = || project.takes[which % project.takes.len()].clone();
    match kind {
        0 => title(text),
        1 => idea(&format!("i{}", which % 20)),
        2 => Edit::remove::<Idea>(format!("i{}", which % 20)),
        3 => {
            let mut take = take();
            take.remark.clone_from(text);
            Edit::put(&take)
        }
        4 if project.takes.len() > 1 => Edit::remove::<Take>(take().id),
        5 => Edit::RemoveCut {
            version: which as u32 % 3,
        },
        _ => Edit::PlaceTake {
            id: take().id,
            by_hand: Some(
                serde_json::from_value(
                    json!({ "song_start": which * 7 + 1, "speed": 0.1 + which as f64 / 30.0 }),
                )
                .unwrap(),
            ),
        },
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, ..ProptestConfig::default() })]

    #[test]
    fn back_to_the_start_and_forward_again(edits in prop::collection::vec(any_edit(), 1..80)) {
        let dir = tempfile::tempdir().unwrap();
        let mut first = world::project();
        first.takes.truncate(8);
        first.cuts.truncate(1);
        let mut store = Store::create(dir.path(), &first, NOW).unwrap();
        let mut line = vec![store.head().unwrap()];
        for seed in &edits {
            let (at, project) = line.last().unwrap();
            let edit = edit_of(project, seed);
            match (store.apply(&edit, NOW), edit.apply(project)) {
                (Ok(made), Ok(wanted)) => {
                    prop_assert_eq!(&made.1, &wanted);
                    prop_assert_eq!(made.0 == *at, wanted == *project);
                    if made.0 != *at {
                        line.push(made);
                    }
                }
                (Err(Error::Refused(_)), Err(_)) => {}
                (stored, wanted) => prop_assert!(false, "{:?} but {:?}", stored, wanted),
            }
        }
        // Every revision can be rebuilt by a store that has seen nothing yet.
        let fresh = Store::open(dir.path()).unwrap();
        for (id, project) in &line {
            prop_assert_eq!(&fresh.at(*id).unwrap(), project);
        }
        for step in line.iter().rev().skip(1) {
            prop_assert_eq!(&store.undo(NOW).unwrap(), step);
        }
        prop_assert!(store.undo(NOW).is_err());
        prop_assert_eq!(&store.head().unwrap().1, &first);
        for step in line.iter().skip(1) {
            prop_assert_eq!(&store.redo(NOW).unwrap(), step);
        }
        prop_assert!(store.redo(NOW).is_err());
        let check = store.check().unwrap();
        prop_assert_eq!(check.problems, Vec::<String>::new());
        prop_assert_eq!(check.revisions, line.len() as u64);
    }
}
