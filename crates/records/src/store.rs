//! The store itself: one file, opened with care.

use crate::migrate::{MIGRATIONS, migrate};
use crate::{Entry, Kind, Millis, Read, Sort};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A unit's row in the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnitId(pub i64);

/// A session's row in the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SessionId(pub i64);

/// A unit as the store knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnitRow {
    /// Its row.
    pub id: UnitId,
    /// The board's name.
    pub board: String,
    /// The serial number as its owner writes it.
    pub serial: String,
    /// The number of the hidden fault, where the unit is virtual.
    pub practice: Option<i64>,
    /// When work on it began.
    pub began: Millis,
}

/// A session as the store knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionRow {
    /// Its row.
    pub id: SessionId,
    /// Its unit.
    pub unit: UnitId,
    /// Unique wherever it is carried to.
    pub key: String,
    /// Which text of the board its step numbers belong to.
    pub text_mark: String,
    /// When it began.
    pub began: Millis,
}

/// What became of an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It is on the disk.
    Taken,
    /// An entry of this key was on the disk already; nothing was added.
    Known,
    /// Something else was entered since the submitter looked; nothing was added.
    Late,
}

/// Why the store cannot do what is asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The file is of a later version of this program.
    #[error("{}: the records were written by a newer version of dryjoint; use that one, nothing was changed", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
    },
    /// The file is damaged.
    #[error("{}: the records are damaged ({found}); nothing was changed. Put a copy of the file in its place, or name another with --records", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What the check found first.
        found: String,
    },
    /// A file cannot be reached.
    #[error("{}: {error}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        error: std::io::Error,
    },
    /// What is to be kept does not fit together.
    #[error("{0}")]
    Unfit(String),
    /// The store refused.
    #[error("the records cannot be used: {0}")]
    Refused(#[from] rusqlite::Error),
}

/// The store.
///
/// **Invariant:** whatever [`keep`](Self::keep) answered with [`Kept::Taken`] is on the disk, whole, even
/// if the process or the power ends the moment after.
#[derive(Debug)]
pub struct Store {
    pub(crate) connection: Connection,
    backup: Option<PathBuf>,
}

impl Store {
    /// Opens a file, making it where there is none: checks it through, copies it before an upgrade.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_with(path, MIGRATIONS)
    }

    pub(crate) fn open_with(path: &Path, migrations: &[&str]) -> Result<Self, StoreError> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder)
                .map_err(|error| StoreError::File { path: folder.to_owned(), error })?;
        }
        let mut connection = Connection::open(path)?;
        connection.busy_timeout(Duration::from_secs(5))?;
        check(&connection, path)?;
        connection.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
        // In WAL mode only FULL waits for the disk at each commit.
        connection.pragma_update(None, "synchronous", "FULL")?;
        let backup = migrate(&mut connection, path, migrations)?;
        connection.pragma_update(None, "foreign_keys", true)?;
        Ok(Self { connection, backup })
    }

    /// The copy made before this opening's upgrade, if there was one.
    pub fn backup(&self) -> Option<&Path> {
        self.backup.as_deref()
    }

    /// The unit of that board and serial number, entered now where it is new.
    pub fn unit(
        &mut self,
        board: &str,
        serial: &str,
        practice: Option<i64>,
        now: Millis,
    ) -> Result<UnitId, StoreError> {
        self.connection.execute(
            "INSERT INTO unit (board, serial, practice, began) VALUES (?1, ?2, ?3, ?4) \
             ON CONFLICT (board, serial) DO NOTHING",
            params![board, serial, practice, now.0],
        )?;
        let id = self.connection.query_row(
            "SELECT id FROM unit WHERE board = ?1 AND serial = ?2",
            params![board, serial],
            |row| row.get(0),
        )?;
        Ok(UnitId(id))
    }

    /// All units, the latest last.
    pub fn units(&self) -> Result<Vec<UnitRow>, StoreError> {
        let mut all = self
            .connection
            .prepare_cached("SELECT id, board, serial, practice, began FROM unit ORDER BY id")?;
        let rows = all.query_map([], |row| {
            Ok(UnitRow {
                id: UnitId(row.get(0)?),
                board: row.get(1)?,
                serial: row.get(2)?,
                practice: row.get(3)?,
                began: Millis(row.get(4)?),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Begins a session on a unit.
    pub fn begin(
        &mut self,
        unit: UnitId,
        key: &str,
        text_mark: &str,
        now: Millis,
    ) -> Result<SessionId, StoreError> {
        self.connection.execute(
            "INSERT INTO session (unit, key, text_mark, began) VALUES (?1, ?2, ?3, ?4)",
            params![unit.0, key, text_mark, now.0],
        )?;
        Ok(SessionId(self.connection.last_insert_rowid()))
    }

    /// The sessions on a unit in order.
    pub fn sessions(&self, unit: UnitId) -> Result<Vec<SessionRow>, StoreError> {
        let mut all = self.connection.prepare_cached(
            "SELECT id, unit, key, text_mark, began FROM session WHERE unit = ?1 ORDER BY id",
        )?;
        let rows = all.query_map([unit.0], |row| {
            Ok(SessionRow {
                id: SessionId(row.get(0)?),
                unit: UnitId(row.get(1)?),
                key: row.get(2)?,
                text_mark: row.get(3)?,
                began: Millis(row.get(4)?),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Keeps an entry. `after` is how many entries the session had when its submitter looked: where it
    /// has others by now the entry is not taken, since it may answer a question that is no longer asked.
    pub fn keep(&mut self, session: SessionId, after: usize, entry: &Entry) -> Result<Kept, StoreError> {
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        if id_of(&transaction, &entry.key)?.is_some() {
            return Ok(Kept::Known);
        }
        let count: usize = transaction
            .prepare_cached("SELECT count(*) FROM entry WHERE session = ?1")?
            .query_row([session.0], |row| row.get::<_, i64>(0))?
            .try_into()
            .unwrap_or_default();
        if count != after {
            return Ok(Kept::Late);
        }
        insert(&transaction, session, entry)?;
        transaction.commit()?;
        Ok(Kept::Taken)
    }

    /// The entries of a session in order.
    pub fn entries(&self, session: SessionId) -> Result<Vec<Entry>, StoreError> {
        let mut all = self.connection.prepare_cached(
            "SELECT entry.id, entry.key, entry.at, entry.kind, entry.step, entry.actions, entry.text, \
             entry.fault, entry.fault_kind, entry.probability, coalesce(about.key, '') \
             FROM entry LEFT JOIN entry AS about ON about.id = entry.about \
             WHERE entry.session = ?1 ORDER BY entry.id",
        )?;
        let mut of = self.connection.prepare_cached(
            "SELECT sort, what, other, sight, value, expected FROM reading WHERE entry = ?1 ORDER BY id",
        )?;
        let rows = all.query_map([session.0], |row| Ok((row.get::<_, i64>(0)?, entry(row)?)))?;
        let mut entries = Vec::new();
        for row in rows {
            let (id, mut entry) = row?;
            entry.readings = of.query_map([id], reading)?.collect::<Result<_, _>>()?;
            entries.push(entry);
        }
        Ok(entries)
    }

    /// A number that changes whenever another process changes the file.
    pub fn others_changes(&self) -> Result<i64, StoreError> {
        Ok(self.connection.query_row("PRAGMA data_version", [], |row| row.get(0))?)
    }
}

/// Reads the whole file through before anything is written to it.
fn check(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let damaged = |found: String| StoreError::Damaged { path: path.to_owned(), found };
    let first = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get::<_, String>(0));
    match first {
        Ok(found) if found == "ok" => {}
        Ok(found) => return Err(damaged(found)),
        Err(error) => match error.sqlite_error_code() {
            Some(rusqlite::ErrorCode::NotADatabase | rusqlite::ErrorCode::DatabaseCorrupt) => {
                return Err(damaged(error.to_string()));
            }
            _ => return Err(error.into()),
        },
    }
    let lost =
        connection.query_row("PRAGMA foreign_key_check", [], |row| row.get::<_, String>(0)).optional()?;
    lost.map_or(Ok(()), |table| Err(damaged(format!("a row of `{table}` belongs to nothing"))))
}

fn id_of(connection: &Connection, key: &str) -> Result<Option<i64>, StoreError> {
    let mut find = connection.prepare_cached("SELECT id FROM entry WHERE key = ?1")?;
    Ok(find.query_row([key], |row| row.get(0)).optional()?)
}

pub(crate) fn insert(transaction: &Transaction, session: SessionId, entry: &Entry) -> Result<(), StoreError> {
    let about = match entry.about.as_str() {
        "" => None,
        key => Some(id_of(transaction, key)?.ok_or_else(|| {
            StoreError::Unfit(format!("entry {} is about {key}, which was never taken", entry.key))
        })?),
    };
    transaction
        .prepare_cached(
            "INSERT INTO entry (session, key, at, kind, step, actions, text, fault, fault_kind, probability, \
             about) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
        )?
        .execute(params![
            session.0,
            entry.key,
            entry.at.0,
            entry.kind.word(),
            entry.step,
            entry.actions.join("; "),
            entry.text,
            entry.fault,
            entry.fault_kind,
            entry.probability,
            about,
        ])?;
    let id = transaction.last_insert_rowid();
    let mut add = transaction.prepare_cached(
        "INSERT INTO reading (entry, sort, what, other, sight, value, expected) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?;
    for read in &entry.readings {
        add.execute(params![
            id,
            read.sort.word(),
            read.what,
            read.other,
            read.sight,
            read.value,
            read.expected
        ])?;
    }
    Ok(())
}

/// A word that the tables' own checks let in.
fn known<T>(word: &str, value: Option<T>) -> rusqlite::Result<T> {
    value.ok_or_else(|| rusqlite::Error::InvalidColumnName(word.to_owned()))
}

fn entry(row: &Row) -> rusqlite::Result<Entry> {
    let kind: String = row.get(3)?;
    let actions: String = row.get(5)?;
    Ok(Entry {
        key: row.get(1)?,
        at: Millis(row.get(2)?),
        kind: known(&kind, Kind::of(&kind))?,
        step: row.get(4)?,
        actions: split_actions(&actions),
        readings: Vec::new(),
        text: row.get(6)?,
        fault: row.get(7)?,
        fault_kind: row.get(8)?,
        probability: row.get(9)?,
        about: row.get(10)?,
    })
}

pub(crate) fn split_actions(actions: &str) -> Vec<String> {
    actions.split("; ").filter(|one| !one.is_empty()).map(str::to_owned).collect()
}

fn reading(row: &Row) -> rusqlite::Result<Read> {
    let sort: String = row.get(0)?;
    Ok(Read {
        sort: known(&sort, Sort::of(&sort))?,
        what: row.get(1)?,
        other: row.get(2)?,
        sight: row.get(3)?,
        value: row.get(4)?,
        expected: row.get(5)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("dryjoint-records-{}-{name}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        folder
    }

    #[test]
    fn an_upgrade_leaves_a_copy_of_the_file_before_it() {
        let file = folder("upgrade").join("records.db");
        let mut store = Store::open_with(&file, MIGRATIONS).unwrap();
        assert_eq!(store.backup(), None, "a new file is not worth a copy");
        store.unit("address", "7", None, Millis(1)).unwrap();
        drop(store);
        let longer = [MIGRATIONS, &["ALTER TABLE unit ADD COLUMN shelf TEXT"]].concat();
        let store = Store::open_with(&file, &longer).unwrap();
        let copy = store.backup().unwrap().to_owned();
        assert_eq!(copy, file.with_file_name(format!("records.db.version-{}", MIGRATIONS.len())));
        store.connection.query_row("SELECT shelf FROM unit", [], |_| Ok(())).unwrap();
        let before = Store::open_with(&copy, MIGRATIONS).unwrap();
        assert_eq!(before.units().unwrap()[0].serial, "7");
        drop((store, before));
        assert!(matches!(Store::open(&file), Err(StoreError::Newer { .. })), "an older program keeps off");
    }

    /// A file of the first version, which knew no smell, comes through whole and learns it.
    #[test]
    fn a_file_that_knew_no_smell_is_read_and_takes_one() {
        let file = folder("smell").join("records.db");
        let mut store = Store::open_with(&file, &MIGRATIONS[..1]).unwrap();
        let unit = store.unit("address", "7", None, Millis(1)).unwrap();
        let session = store.begin(unit, "key", "mark", Millis(1)).unwrap();
        let mut looked = Entry::new("a", Millis(2), Kind::Look);
        looked.readings = vec![Read::lamp("DS1", "dark", "lit"), Read::lamp("DS2", "lit", "lit")];
        let mut measured = Entry::new("b", Millis(3), Kind::Measure);
        measured.readings = vec![Read::figure(Sort::Volts, "A", 3.3), Read::figure(Sort::Supply, "", 0.1)];
        let mut smelt = Entry::new("c", Millis(4), Kind::Measure);
        smelt.readings = vec![Read::noticed(Sort::Smelt, ""), Read::noticed(Sort::Hot, "Q1")];
        store.keep(session, 0, &looked).unwrap();
        store.keep(session, 1, &measured).unwrap();
        assert!(store.keep(session, 2, &smelt).is_err(), "the first version had no word for it");
        drop(store);
        let mut store = Store::open(&file).unwrap();
        assert_eq!(store.backup(), Some(&*file.with_file_name("records.db.version-1")));
        assert_eq!(store.entries(session).unwrap(), [looked.clone(), measured.clone()]);
        assert_eq!(store.keep(session, 2, &smelt).unwrap(), Kept::Taken);
        assert_eq!(store.entries(session).unwrap(), [looked, measured, smelt]);
        let unknown = "INSERT INTO reading (entry, sort, what, other, sight, expected) VALUES (1, 'taste', '', '', '', '')";
        assert!(store.connection.execute(unknown, []).is_err(), "no other word is let in");
        let orphan = "INSERT INTO reading (entry, sort, what, other, sight, expected) VALUES (99, 'lamp', '', '', '', '')";
        assert!(store.connection.execute(orphan, []).is_err(), "a reading still belongs to an entry");
        drop(store);
        Store::open(&file).unwrap();
    }

    #[test]
    fn an_upgrade_that_fails_changes_nothing() {
        let file = folder("failing").join("records.db");
        drop(Store::open(&file).unwrap());
        let wrong =
            [MIGRATIONS, &["CREATE TABLE shelf (id INTEGER); INSERT INTO nowhere VALUES (1)"]].concat();
        assert!(Store::open_with(&file, &wrong).is_err());
        let store = Store::open(&file).unwrap();
        assert!(store.connection.query_row("SELECT * FROM shelf", [], |_| Ok(())).is_err());
    }

    #[test]
    fn a_damaged_file_is_refused_and_left_alone() {
        let folder = folder("damaged");
        for (name, damage) in [("text", 0usize), ("pages", 4096)] {
            let file = folder.join(name);
            let mut store = Store::open(&file).unwrap();
            for serial in 0..200 {
                store.unit("address", &format!("{serial:0200}"), None, Millis(1)).unwrap();
            }
            store.connection.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(())).unwrap();
            drop(store);
            let mut bytes = std::fs::read(&file).unwrap();
            bytes[damage..damage + 2000].fill(b'x');
            std::fs::write(&file, &bytes).unwrap();
            let refused = Store::open(&file).unwrap_err();
            assert!(matches!(refused, StoreError::Damaged { .. }), "{name}: {refused}");
            assert_eq!(std::fs::read(&file).unwrap(), bytes);
        }
    }
}
