//! Entries in and out of a store, twice the same, late ones, and files that carry them elsewhere.

use dryjoint_records::{Entry, Form, Imported, Kept, Kind, Millis, Read, SessionId, Sort, Store};
use proptest::prelude::*;
use std::path::PathBuf;

fn file(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("keeping-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join(name);
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.join(format!("{name}{ending}")));
    }
    file
}

fn begun(name: &str, practice: Option<i64>) -> (Store, SessionId) {
    let mut store = Store::open(&file(name)).unwrap();
    let unit = store.unit("address", "7", practice, Millis(1)).unwrap();
    assert_eq!(unit, store.unit("address", "7", None, Millis(2)).unwrap(), "one unit, one row");
    let session = store.begin(unit, &format!("{name} one"), "mark", Millis(3)).unwrap();
    (store, session)
}

fn look(key: &str, at: i64) -> Entry {
    let mut entry = Entry::new(key, Millis(at), Kind::Look);
    entry.step = Some(2);
    entry.actions = vec!["tie /LD low".into(), "pulse /P1".into()];
    entry.readings = vec![Read::lamp("DS1", "lit", "dark"), Read::lamp("DS2", "dark", "dark")];
    entry
}

#[test]
fn an_entry_comes_back_as_it_was_kept_and_only_once() {
    let (mut store, session) = begun("once.db", None);
    let mut measured = Entry::new("b", Millis(20), Kind::Measure);
    measured.readings = vec![Read::figure(Sort::Volts, "BIT0.q", 3.42), Read::figure(Sort::Supply, "", 0.21)];
    let no_reading = Read { other: "GND".into(), ..Read::noticed(Sort::Ohms, "BIT0.q") };
    measured.readings.extend([no_reading, Read::noticed(Sort::Smelt, "")]);
    assert_eq!(store.keep(session, 0, &look("a", 10)).unwrap(), Kept::Taken);
    assert_eq!(store.keep(session, 0, &look("a", 10)).unwrap(), Kept::Known, "sent again after a crash");
    assert_eq!(store.keep(session, 0, &look("c", 11)).unwrap(), Kept::Late, "from a tab that saw less");
    assert_eq!(store.keep(session, 1, &measured).unwrap(), Kept::Taken);
    assert_eq!(store.entries(session).unwrap(), [look("a", 10), measured]);
}

#[test]
fn what_names_nothing_is_refused_whole() {
    let (mut store, session) = begun("orphan.db", None);
    let mut undo = Entry::new("u", Millis(5), Kind::Undo);
    undo.about = "never taken".into();
    assert!(store.keep(session, 0, &undo).unwrap_err().to_string().contains("never taken"));
    assert!(store.keep(SessionId(99), 0, &look("a", 1)).is_err(), "foreign keys are on");
    assert_eq!(store.entries(session).unwrap(), []);
}

#[test]
fn counts_leave_practice_and_what_was_taken_back_out() {
    let (mut store, session) = begun("counts.db", None);
    let minute = 60_000;
    let mut repair = Entry::new("r", Millis(2 * minute), Kind::Repair);
    repair.fault_kind = "bridge".into();
    let mut undone = Entry { key: "x".into(), ..repair.clone() };
    undone.fault_kind = "missing".into();
    let mut undo = Entry::new("u", Millis(3 * minute), Kind::Undo);
    undo.about = "x".into();
    let passed = Entry::new("p", Millis(60 * minute), Kind::Passed);
    for (after, entry) in [look("a", 0), repair.clone(), undone, undo, passed].iter().enumerate() {
        store.keep(session, after, entry).unwrap();
    }
    let second = store.unit("address", "8", None, Millis(1)).unwrap();
    let second = store.begin(second, "second", "mark", Millis(1)).unwrap();
    store.keep(second, 0, &look("a2", 0)).unwrap();
    store.keep(second, 1, &Entry::new("p2", Millis(4 * minute), Kind::Passed)).unwrap();
    let practice = store.unit("address", "practice 1", Some(1), Millis(1)).unwrap();
    let practice = store.begin(practice, "practice", "mark", Millis(1)).unwrap();
    store.keep(practice, 0, &Entry { key: "pr".into(), ..repair }).unwrap();
    let faults = store.faults().unwrap();
    assert_eq!(faults.len(), 1);
    assert_eq!((faults[0].kind.as_str(), faults[0].count), ("bridge", 1));
    let boards = store.boards().unwrap();
    assert_eq!((boards[0].units, boards[0].passed, boards[0].first_pass), (2, 2, 1));
    // Two minutes to the repair, then a break; four minutes on the other unit.
    assert_eq!(boards[0].minutes, Some(3.0));
}

/// Exported bytes.
fn out(store: &Store, form: Form) -> Vec<u8> {
    let mut bytes = Vec::new();
    store.export(form, &mut bytes).unwrap();
    bytes
}

#[test]
fn both_forms_carry_everything_into_another_store() {
    let (mut store, session) = begun("from.db", Some(4));
    let mut undo = Entry::new("u", Millis(30), Kind::Undo);
    undo.about = "a".into();
    let mut note = Entry::new("n", Millis(40), Kind::Note);
    note.text = "a comma, a \"quote\"\nand a second line; µ".into();
    note.readings = vec![Read::noticed(Sort::Smelt, ""), Read::noticed(Sort::Ohms, "A")];
    for (after, entry) in [look("a", 10), undo, note].iter().enumerate() {
        store.keep(session, after, entry).unwrap();
    }
    let unit = store.units().unwrap()[0].id;
    store.begin(unit, "an empty one", "mark", Millis(9)).unwrap();
    for (form, name) in [(Form::JsonLines, "into-lines.db"), (Form::Csv, "into-table.db")] {
        let bytes = out(&store, form);
        let mut other = Store::open(&file(name)).unwrap();
        assert_eq!(other.import(form, &bytes[..]).unwrap(), Imported { taken: 3, known: 0 });
        assert_eq!(other.import(form, &bytes[..]).unwrap(), Imported { taken: 0, known: 3 });
        assert_eq!(out(&other, form), bytes);
        assert_eq!(other.units().unwrap(), store.units().unwrap());
    }
}

#[test]
fn a_file_with_one_bad_line_brings_nothing_and_names_it() {
    let (mut store, session) = begun("good.db", None);
    store.keep(session, 0, &look("a", 10)).unwrap();
    for form in [Form::JsonLines, Form::Csv] {
        let mut bytes = out(&store, form);
        bytes.extend_from_slice(b"{\"board\":3}\n");
        let mut other = Store::open(&file("bad.db")).unwrap();
        let refused = other.import(form, &bytes[..]).unwrap_err().to_string();
        assert!(refused.contains("line 2") || refused.contains("row 4"), "{refused}");
        assert_eq!(other.units().unwrap(), []);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Any text, in a note or a name, survives the store and both forms.
    #[test]
    fn any_text_survives(text in "\\PC{0,40}", what in "[^\0]{1,12}", value in proptest::num::f64::NORMAL) {
        let (mut store, session) = begun("any.db", None);
        let mut entry = Entry::new("k", Millis(1), Kind::Measure);
        entry.text = text;
        entry.readings.push(Read::figure(Sort::Volts, what, value));
        store.keep(session, 0, &entry).unwrap();
        prop_assert_eq!(&store.entries(session).unwrap()[0], &entry);
        for form in [Form::JsonLines, Form::Csv] {
            let bytes = out(&store, form);
            let mut other = Store::open(&file("any-other.db")).unwrap();
            other.import(form, &bytes[..]).unwrap();
            prop_assert_eq!(out(&other, form), bytes);
        }
    }

    /// Nothing in a file makes the reader panic.
    #[test]
    fn bad_files_are_refused_quietly(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let mut store = Store::open(&file("soup.db")).unwrap();
        let _ = store.import(Form::JsonLines, &bytes[..]);
        let _ = store.import(Form::Csv, &bytes[..]);
    }
}
