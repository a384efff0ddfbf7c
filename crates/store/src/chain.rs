//! The chain of revisions in the file: rebuilding a document from the nearest full copy and the
//! patches after it, and adding one more.

use crate::diff::diff;
use crate::error::{At, Error, one_line};
use crate::format;
use crate::revision::{Entry, RevisionId, UnixMs};
use json_patch::Patch;
use model::Project;
use rusqlite::{Connection, OptionalExtension, params};
use serde_json::Value;
use xxhash_rust::xxh3::xxh3_64;

/// What to do with a revision of a newer version.
pub(crate) const NEWER: &str = "a newer Barebulb wrote it: update this one to open it";

/// How many patches may follow a full copy. More make the file smaller and the first reading
/// slower: with 50, a document of 60 kB costs 1.2 kB a revision, and rebuilding takes a few
/// milliseconds.
const MOST_PATCHES: u32 = 50;

/// A document read from the file.
#[derive(Clone)]
pub(crate) struct Loaded {
    pub id: RevisionId,
    /// As it stands in the file, in whatever format.
    raw: Value,
    /// As this version reads it.
    pub project: Project,
    /// How many patches lie between it and the full copy before it.
    patches: u32,
}

/// What is kept beside a new revision.
pub(crate) struct Kept<'a> {
    pub what: &'a str,
    pub by: &'a str,
    pub edit: Option<&'a str>,
    pub now: UnixMs,
}

/// The revision the document stands on.
pub(crate) fn head(connection: &Connection, at: At) -> Result<RevisionId, Error> {
    connection
        .prepare_cached("SELECT revision FROM head")
        .and_then(|mut statement| statement.query_row([], |row| row.get(0)).optional())
        .map_err(|error| at.sqlite(error))?
        .map(RevisionId)
        .ok_or_else(|| at.damaged("it does not say which revision stands"))
}

/// Makes `id` the revision the document stands on.
pub(crate) fn set_head(
    connection: &Connection,
    id: RevisionId,
    now: UnixMs,
) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO head (one, revision, moved_ms) VALUES (1, ?1, ?2)
             ON CONFLICT (one) DO UPDATE SET revision = excluded.revision, moved_ms = excluded.moved_ms",
        )?
        .execute(params![id.0, now.0])?;
    Ok(())
}

/// The revision that `id` was made from.
pub(crate) fn parent(
    connection: &Connection,
    at: At,
    id: RevisionId,
) -> Result<Option<RevisionId>, Error> {
    connection
        .query_row("SELECT parent FROM revision WHERE id = ?1", [id.0], |row| {
            row.get::<_, Option<i64>>(0)
        })
        .map(|parent| parent.map(RevisionId))
        .map_err(|error| at.sqlite(error))
}

/// The newest revision made from `id`.
pub(crate) fn newest_child(
    connection: &Connection,
    at: At,
    id: RevisionId,
) -> Result<Option<RevisionId>, Error> {
    connection
        .query_row(
            "SELECT max(id) FROM revision WHERE parent = ?1",
            [id.0],
            |row| row.get::<_, Option<i64>>(0),
        )
        .map(|child| child.map(RevisionId))
        .map_err(|error| at.sqlite(error))
}

/// The document at `id`, starting from `near` where that lies on the way.
pub(crate) fn load(
    connection: &Connection,
    at: At,
    id: RevisionId,
    near: Option<Loaded>,
) -> Result<Loaded, Error> {
    let mut near = match near {
        Some(near) if near.id == id => return Ok(near),
        other => other,
    };
    let mut statement = connection
        .prepare_cached("SELECT parent, patch, document, sum FROM revision WHERE id = ?1")
        .map_err(|error| at.sqlite(error))?;
    let mut patches = Vec::new();
    let mut wanted_sum = None;
    let mut step = id;
    // Ends because a parent's number is always the smaller one.
    let (mut raw, mut count) = loop {
        if let Some(near) = near.take_if(|near| near.id == step) {
            break (near.raw, near.patches);
        }
        type Row = (Option<i64>, Option<String>, Option<String>, Option<i64>);
        let row: Option<Row> = statement
            .query_row([step.0], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
            })
            .optional()
            .map_err(|error| at.sqlite(error))?;
        let Some((parent, patch, document, sum)) = row else {
            return Err(if step == id {
                Error::NoRevision(id)
            } else {
                at.damaged(format!("revision {step} is missing"))
            });
        };
        if step == id {
            wanted_sum = sum;
        }
        if let Some(document) = document {
            let raw = serde_json::from_str(&document)
                .map_err(|error| at.damaged(format!("revision {step}: {error}")))?;
            break (raw, 0);
        }
        match (parent, patch) {
            (Some(parent), Some(patch)) if parent < step.0 => {
                patches.push((step, patch));
                step = RevisionId(parent);
            }
            _ => return Err(at.damaged(format!("revision {step} leads nowhere"))),
        }
    };
    for (step, patch) in patches.into_iter().rev() {
        let patch: Patch = serde_json::from_str(&patch)
            .map_err(|error| at.damaged(format!("revision {step}: {error}")))?;
        json_patch::patch(&mut raw, &patch)
            .map_err(|error| at.damaged(format!("revision {step}: {error}")))?;
        count += 1;
    }
    if wanted_sum.is_some_and(|wanted| wanted != sum(&raw)) {
        return Err(at.damaged(format!(
            "revision {id} does not match the sum kept beside it"
        )));
    }
    let project = read(at, id, raw.clone())?;
    Ok(Loaded {
        id,
        raw,
        project,
        patches: count,
    })
}

/// Adds the revision that leads from `before` to `after`.
pub(crate) fn insert(
    connection: &Connection,
    at: At,
    before: Option<&Loaded>,
    after: &Project,
    kept: &Kept,
) -> Result<Loaded, Error> {
    let raw = serde_json::to_value(after).map_err(|error| Error::Unkeepable {
        detail: error.to_string(),
    })?;
    let back = document(raw.clone()).map_err(|detail| Error::Unkeepable { detail })?;
    if back != *after {
        return Err(Error::Unkeepable {
            detail: "it would not read back the same; is a number in it not finite?".into(),
        });
    }
    let text = raw.to_string();
    // As text it is read with a bound of its own: how deep it is nested.
    let unread = |error: serde_json::Error| Error::Unkeepable {
        detail: format!("it could not be read again: {error}"),
    };
    reads(&text).map_err(unread)?;
    kept.edit.map_or(Ok(()), reads).map_err(unread)?;
    let sum = sum(&raw);
    let patch = before
        .filter(|before| before.patches < MOST_PATCHES)
        .and_then(|before| patch_between(&before.raw, &raw, sum))
        .filter(|patch| patch.len() < text.len());
    let patches = match (&patch, before) {
        (Some(_), Some(before)) => before.patches + 1,
        _ => 0,
    };
    connection
        .prepare_cached(
            "INSERT INTO revision (parent, at_ms, what, patch, document, by_whom, edit, sum)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        )
        .and_then(|mut statement| {
            statement.insert(params![
                before.map(|before| before.id.0),
                kept.now.0,
                kept.what,
                patch,
                patch.is_none().then_some(&text),
                kept.by,
                kept.edit,
                sum,
            ])
        })
        .map(|id| Loaded {
            id: RevisionId(id),
            raw,
            project: back,
            patches,
        })
        .map_err(|error| at.sqlite(error))
}

/// The patch that leads from `from` to `to`, or `None` when it does not give back `to` to the
/// letter (it does not see zero become minus zero): then a full copy is kept.
fn patch_between(from: &Value, to: &Value, sum_of_to: i64) -> Option<String> {
    let patch = diff(from, to);
    let mut after = from.clone();
    json_patch::patch(&mut after, &patch).ok()?;
    if sum(&after) != sum_of_to {
        return None;
    }
    let text = serde_json::to_string(&patch).ok()?;
    reads(&text).is_ok().then_some(text)
}

/// That a text can be read as JSON.
fn reads(text: &str) -> Result<(), serde_json::Error> {
    serde_json::from_str::<Value>(text).map(drop)
}

/// The newest `limit` revisions, newest first.
pub(crate) fn history(connection: &Connection, limit: usize) -> rusqlite::Result<Vec<Entry>> {
    connection
        .prepare_cached(
            "WITH RECURSIVE
                 shown AS (SELECT * FROM revision ORDER BY id DESC LIMIT ?1),
                 line (id) AS (
                     SELECT revision FROM head
                     UNION
                     SELECT revision.parent FROM revision JOIN line USING (id)
                     WHERE revision.parent >= (SELECT min(id) FROM shown)
                 )
             SELECT id, parent, at_ms, by_whom, what, edit, id IN line FROM shown ORDER BY id DESC",
        )?
        .query_map([i64::try_from(limit).unwrap_or(i64::MAX)], |row| {
            Ok(Entry {
                id: RevisionId(row.get(0)?),
                parent: row.get::<_, Option<i64>>(1)?.map(RevisionId),
                at: UnixMs(row.get(2)?),
                by: row.get(3)?,
                what: row.get(4)?,
                edit: row.get(5)?,
                stands: row.get(6)?,
            })
        })?
        .collect()
}

/// Every revision, oldest first.
pub(crate) fn ids(connection: &Connection) -> rusqlite::Result<Vec<RevisionId>> {
    connection
        .prepare("SELECT id FROM revision ORDER BY id")?
        .query_map([], |row| row.get(0).map(RevisionId))?
        .collect()
}

/// Rebuilds every revision, adding what is wrong to `problems`; how many there are.
pub(crate) fn check(connection: &Connection, at: At, problems: &mut Vec<String>) -> u64 {
    let ids = match ids(connection) {
        Ok(ids) => ids,
        Err(error) => {
            problems.push(at.sqlite(error).to_string());
            return 0;
        }
    };
    let mut near = None;
    for id in &ids {
        match load(connection, at, *id, near.take()) {
            Ok(loaded) => near = Some(loaded),
            Err(error) => problems.push(error.to_string()),
        }
    }
    ids.len() as u64
}

/// `raw` as this version reads it.
fn read(at: At, id: RevisionId, raw: Value) -> Result<Project, Error> {
    let newer = format::is_newer(&raw);
    document(raw).map_err(|detail| Error::Unreadable {
        path: at.path.to_path_buf(),
        revision: id,
        detail,
        remedy: if newer {
            NEWER
        } else {
            "`barebulb plan rescue` goes on with the newest change that can be read"
        },
    })
}

/// `raw` as a document, or where it is not one.
fn document(mut raw: Value) -> Result<Project, String> {
    format::bring_up(&mut raw);
    serde_path_to_error::deserialize(raw).map_err(|error| {
        let path = error.path().to_string();
        one_line(&if path == "." {
            error.inner().to_string()
        } else {
            format!("`{path}`: {}", error.inner())
        })
    })
}

/// XXH3-64 of the document's JSON with sorted keys: the same however the keys came to be ordered.
fn sum(raw: &Value) -> i64 {
    let mut sorted = raw.clone();
    sorted.sort_all_objects();
    xxh3_64(sorted.to_string().as_bytes()).cast_signed()
}
