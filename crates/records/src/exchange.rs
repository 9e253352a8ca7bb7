//! Records out and in again: JSON lines, one entry a line, or CSV, one reading a row.
//!
//! Both forms carry everything, so a file taken out of one store and into another brings the same
//! entries; what is there already, by its key, is left as it is.

use crate::store::{insert, split_actions};
use crate::{Entry, Kind, Millis, Read, SessionId, SessionRow, Sort, Store, StoreError, UnitRow};
use rusqlite::{OptionalExtension, Transaction, params};
use serde::{Deserialize, Serialize};
use std::io::{BufRead, BufReader, Write};

/// The form of an exported file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// One JSON object a line.
    JsonLines,
    /// Comma-separated values as RFC 4180 has them, with a head.
    Csv,
}

/// What an import did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// Entries taken.
    pub taken: usize,
    /// Entries that were there already.
    pub known: usize,
}

/// An entry with the unit and session it belongs to. An empty session has no entry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    board: String,
    serial: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    practice: Option<i64>,
    unit_began: Millis,
    session: String,
    session_began: Millis,
    text_mark: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    entry: Option<Entry>,
}

/// A row of the CSV form: an entry with one of its readings.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
struct Cells {
    board: String,
    serial: String,
    practice: Option<i64>,
    unit_began: i64,
    session: String,
    session_began: i64,
    text_mark: String,
    key: String,
    at: Option<i64>,
    at_utc: String,
    kind: String,
    step: Option<u32>,
    actions: String,
    text: String,
    fault: String,
    fault_kind: String,
    probability: Option<f64>,
    about: String,
    sort: String,
    what: String,
    other: String,
    sight: String,
    value: Option<f64>,
    expected: String,
}

impl Store {
    /// Writes every entry of every unit.
    pub fn export(&self, form: Form, out: &mut impl Write) -> Result<(), StoreError> {
        let failed =
            |error: std::io::Error| StoreError::Unfit(format!("the export cannot be written: {error}"));
        let mut table = csv::Writer::from_writer(Vec::new());
        for unit in self.units()? {
            for session in self.sessions(unit.id)? {
                let entries = self.entries(session.id)?;
                let none = entries.is_empty().then_some(None);
                for entry in entries.into_iter().map(Some).chain(none) {
                    let line = line(&unit, &session, entry);
                    match form {
                        Form::JsonLines => {
                            serde_json::to_writer(&mut *out, &line).map_err(|error| failed(error.into()))?;
                            writeln!(out).map_err(failed)?;
                        }
                        Form::Csv => {
                            for row in cells(&line) {
                                table.serialize(row).map_err(|error| failed(error.into()))?;
                            }
                        }
                    }
                }
            }
        }
        if form == Form::Csv {
            let bytes = table.into_inner().map_err(|error| failed(error.into_error()))?;
            out.write_all(&bytes).map_err(failed)?;
        }
        out.flush().map_err(failed)
    }

    /// Takes in what [`export`](Self::export) wrote, all of it or nothing.
    pub fn import(&mut self, form: Form, from: impl std::io::Read) -> Result<Imported, StoreError> {
        let lines = match form {
            Form::JsonLines => read_lines(from)?,
            Form::Csv => read_table(from)?,
        };
        let transaction = self.connection.transaction()?;
        let mut imported = Imported::default();
        for line in lines {
            let session = session_of(&transaction, &line)?;
            let Some(entry) = line.entry else { continue };
            let known = transaction
                .query_row("SELECT 1 FROM entry WHERE key = ?1", [&entry.key], |_| Ok(()))
                .optional()?;
            if known.is_some() {
                imported.known += 1;
            } else {
                insert(&transaction, session, &entry)?;
                imported.taken += 1;
            }
        }
        transaction.commit()?;
        Ok(imported)
    }
}

fn line(unit: &UnitRow, session: &SessionRow, entry: Option<Entry>) -> Line {
    Line {
        board: unit.board.clone(),
        serial: unit.serial.clone(),
        practice: unit.practice,
        unit_began: unit.began,
        session: session.key.clone(),
        session_began: session.began,
        text_mark: session.text_mark.clone(),
        entry,
    }
}

fn session_of(transaction: &Transaction, line: &Line) -> Result<SessionId, StoreError> {
    transaction.execute(
        "INSERT INTO unit (board, serial, practice, began) VALUES (?1, ?2, ?3, ?4) \
         ON CONFLICT (board, serial) DO NOTHING",
        params![line.board, line.serial, line.practice, line.unit_began.0],
    )?;
    transaction.execute(
        "INSERT INTO session (unit, key, text_mark, began) \
         SELECT id, ?3, ?4, ?5 FROM unit WHERE board = ?1 AND serial = ?2 ON CONFLICT (key) DO NOTHING",
        params![line.board, line.serial, line.session, line.text_mark, line.session_began.0],
    )?;
    let find = "SELECT id FROM session WHERE key = ?1";
    Ok(SessionId(transaction.query_row(find, [&line.session], |row| row.get(0))?))
}

fn read_lines(from: impl std::io::Read) -> Result<Vec<Line>, StoreError> {
    let mut lines = Vec::new();
    for (index, text) in BufReader::new(from).lines().enumerate() {
        let place = |problem: String| StoreError::Unfit(format!("line {}: {problem}", index + 1));
        let text = text.map_err(|error| place(error.to_string()))?;
        if !text.trim().is_empty() {
            lines.push(serde_json::from_str(&text).map_err(|error| place(error.to_string()))?);
        }
    }
    Ok(lines)
}

/// The rows of one entry: one for each reading, at least one.
fn cells(line: &Line) -> Vec<Cells> {
    let mut head = Cells {
        board: line.board.clone(),
        serial: line.serial.clone(),
        practice: line.practice,
        unit_began: line.unit_began.0,
        session: line.session.clone(),
        session_began: line.session_began.0,
        text_mark: line.text_mark.clone(),
        ..Cells::default()
    };
    let Some(entry) = &line.entry else { return vec![head] };
    head.key.clone_from(&entry.key);
    head.at = Some(entry.at.0);
    head.at_utc = entry.at.utc();
    entry.kind.word().clone_into(&mut head.kind);
    head.step = entry.step;
    head.actions = entry.actions.join("; ");
    head.text.clone_from(&entry.text);
    head.fault.clone_from(&entry.fault);
    head.fault_kind.clone_from(&entry.fault_kind);
    head.probability = entry.probability;
    head.about.clone_from(&entry.about);
    if entry.readings.is_empty() {
        return vec![head];
    }
    let row = |read: &Read| Cells {
        sort: read.sort.word().to_owned(),
        what: read.what.clone(),
        other: read.other.clone(),
        sight: read.sight.clone(),
        value: read.value,
        expected: read.expected.clone(),
        ..head.clone()
    };
    entry.readings.iter().map(row).collect()
}

fn read_table(from: impl std::io::Read) -> Result<Vec<Line>, StoreError> {
    let mut lines: Vec<Line> = Vec::new();
    for (index, row) in csv::Reader::from_reader(from).deserialize().enumerate() {
        let place = |problem: String| StoreError::Unfit(format!("row {}: {problem}", index + 2));
        let row: Cells = row.map_err(|error| place(error.to_string()))?;
        let read = read_of(&row).map_err(place)?;
        if let Some(Line { entry: Some(last), .. }) = lines.last_mut()
            && last.key == row.key
        {
            last.readings.extend(read);
            continue;
        }
        lines.push(line_of(row, read).map_err(place)?);
    }
    Ok(lines)
}

fn line_of(row: Cells, read: Option<Read>) -> Result<Line, String> {
    let mut line = Line {
        board: row.board,
        serial: row.serial,
        practice: row.practice,
        unit_began: Millis(row.unit_began),
        session: row.session,
        session_began: Millis(row.session_began),
        text_mark: row.text_mark,
        entry: None,
    };
    if let Some(at) = row.at {
        let kind = Kind::of(&row.kind).ok_or_else(|| format!("`{}` is no kind of entry", row.kind))?;
        let mut entry = Entry::new(row.key, Millis(at), kind);
        entry.step = row.step;
        entry.actions = split_actions(&row.actions);
        entry.readings.extend(read);
        entry.text = row.text;
        entry.fault = row.fault;
        entry.fault_kind = row.fault_kind;
        entry.probability = row.probability;
        entry.about = row.about;
        line.entry = Some(entry);
    }
    Ok(line)
}

fn read_of(row: &Cells) -> Result<Option<Read>, String> {
    if row.sort.is_empty() {
        return Ok(None);
    }
    let sort = Sort::of(&row.sort).ok_or_else(|| format!("`{}` is no sort of reading", row.sort))?;
    Ok(Some(Read {
        sort,
        what: row.what.clone(),
        other: row.other.clone(),
        sight: row.sight.clone(),
        value: row.value,
        expected: row.expected.clone(),
    }))
}
