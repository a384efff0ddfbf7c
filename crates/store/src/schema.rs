//! The tables, made by numbered steps. A step, once released, is never changed: the next number
//! is added instead.

use rusqlite::{Connection, Transaction};

/// Marks the file as ours (SQLite's `application_id`): the letters `BBlb`.
pub(crate) const APPLICATION_ID: i64 = 0x4242_6c62;

/// Step `n` leads from schema `n` to `n + 1`, counted from nothing.
const STEPS: [&str; 2] = [
    include_str!("schema/0001_revisions.sql"),
    include_str!("schema/0002_who_and_sum.sql"),
];

/// The schema this version writes.
pub(crate) const NEWEST: i64 = STEPS.len() as i64;

/// The schema version that the file says it has.
pub(crate) fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Takes the file from schema `from` to [`NEWEST`] within `transaction`, and marks it as ours.
pub(crate) fn bring_up(transaction: &Transaction, from: i64) -> rusqlite::Result<()> {
    let done = usize::try_from(from).unwrap_or(0);
    for step in STEPS.iter().skip(done) {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", NEWEST)
}
