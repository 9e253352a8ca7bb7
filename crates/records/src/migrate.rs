//! The tables, and how a file of an earlier version comes to have them.
//!
//! The file's `user_version` says how many migrations it has seen. Before one is made the whole file is
//! copied beside itself, and each is a transaction of its own.

use crate::StoreError;
use rusqlite::Connection;
use std::path::{Path, PathBuf};

/// Every migration in order; what was released is never edited, only added to.
pub(crate) const MIGRATIONS: &[&str] = &[
    "
CREATE TABLE unit (
    id INTEGER PRIMARY KEY,
    board TEXT NOT NULL,
    serial TEXT NOT NULL,
    practice INTEGER,           -- the number of the hidden fault, where the unit is virtual
    began INTEGER NOT NULL,
    UNIQUE (board, serial)
) STRICT;
CREATE TABLE session (
    id INTEGER PRIMARY KEY,
    unit INTEGER NOT NULL REFERENCES unit,
    key TEXT NOT NULL UNIQUE,
    text_mark TEXT NOT NULL,    -- of the board's text: step numbers mean nothing beside another text
    began INTEGER NOT NULL
) STRICT;
CREATE INDEX session_unit ON session (unit);
CREATE TABLE entry (
    id INTEGER PRIMARY KEY,
    session INTEGER NOT NULL REFERENCES session,
    key TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN
        ('look', 'afresh', 'measure', 'undo', 'correction', 'note', 'verdict', 'repair', 'passed')),
    step INTEGER,
    actions TEXT NOT NULL,
    text TEXT NOT NULL,
    fault TEXT NOT NULL,
    fault_kind TEXT NOT NULL,
    probability REAL,
    about INTEGER REFERENCES entry
) STRICT;
CREATE INDEX entry_session ON entry (session);
CREATE INDEX entry_about ON entry (about);
CREATE TABLE reading (
    id INTEGER PRIMARY KEY,
    entry INTEGER NOT NULL REFERENCES entry,
    sort TEXT NOT NULL CHECK (sort IN ('lamp', 'volts', 'supply', 'ohms', 'hot', 'sound')),
    what TEXT NOT NULL,
    other TEXT NOT NULL,
    sight TEXT NOT NULL,
    value REAL,
    expected TEXT NOT NULL
) STRICT;
CREATE INDEX reading_entry ON reading (entry);
",
    "
-- A smell is a reading too: the table with one more word in its check, in place of the other.
CREATE TABLE reading_anew (
    id INTEGER PRIMARY KEY,
    entry INTEGER NOT NULL REFERENCES entry,
    sort TEXT NOT NULL CHECK (sort IN ('lamp', 'volts', 'supply', 'ohms', 'hot', 'smelt', 'sound')),
    what TEXT NOT NULL,
    other TEXT NOT NULL,
    sight TEXT NOT NULL,
    value REAL,                 -- none where a meter on ohms shows no reading
    expected TEXT NOT NULL
) STRICT;
INSERT INTO reading_anew SELECT id, entry, sort, what, other, sight, value, expected FROM reading;
DROP TABLE reading;
ALTER TABLE reading_anew RENAME TO reading;
CREATE INDEX reading_entry ON reading (entry);
",
];

/// Brings a file up to the last of `migrations`; returns the copy made before, if one was.
pub(crate) fn migrate(
    connection: &mut Connection,
    path: &Path,
    migrations: &[&str],
) -> Result<Option<PathBuf>, StoreError> {
    let version: usize = connection
        .query_row("PRAGMA user_version", [], |row| row.get::<_, i64>(0))?
        .try_into()
        .map_err(|_| StoreError::Newer { path: path.to_owned() })?;
    if version > migrations.len() {
        return Err(StoreError::Newer { path: path.to_owned() });
    }
    if version == migrations.len() {
        return Ok(None);
    }
    let copy = if version > 0 { Some(back_up(connection, path, version)?) } else { None };
    for (index, migration) in migrations.iter().enumerate().skip(version) {
        let transaction = connection.transaction()?;
        transaction.execute_batch(migration)?;
        transaction.pragma_update(None, "user_version", index as i64 + 1)?;
        transaction.commit()?;
    }
    Ok(copy)
}

/// A copy of the whole file beside it, `records.db` as `records.db.version-1`.
fn back_up(connection: &Connection, path: &Path, version: usize) -> Result<PathBuf, StoreError> {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".version-{version}"));
    let copy = path.with_file_name(name);
    let failed = |error| StoreError::File { path: copy.clone(), error };
    // One from an earlier try that did not get to the end holds no more than this file does.
    if copy.exists() {
        std::fs::remove_file(&copy).map_err(failed)?;
    }
    connection.execute("VACUUM INTO ?1", [copy.to_string_lossy()])?;
    std::fs::File::open(&copy).and_then(|file| file.sync_all()).map_err(failed)?;
    Ok(copy)
}
