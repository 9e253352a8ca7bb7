//! Dunlin's boards pass their own `check`; copies of one with a design mistake in them fail it, each
//! for the right reason at the right part.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// The exit code of `check --json` on the address board with pieces of its text replaced, and all warnings:
/// code, what it says, and the text of the line it points at.
fn check(name: &str, edits: &[(&str, &str)]) -> (i32, Vec<[String; 3]>) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("copies").join(name);
    fs::create_dir_all(&folder).unwrap();
    fs::copy(repository().join("boards/dunlin.cells"), folder.join("dunlin.cells")).unwrap();
    let mut text = fs::read_to_string(repository().join("boards/address.board")).unwrap();
    for (from, to) in edits {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        text = text.replace(from, to);
    }
    fs::write(folder.join("copy.board"), &text).unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_dryjoint"))
        .args(["check", "copy.board", "--json"])
        .current_dir(&folder)
        .output()
        .unwrap();
    let document: serde_json::Value = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)));
    let notices = document["notices"].as_array().unwrap().iter();
    let warnings = notices.filter(|notice| notice["severity"] != "remark").map(|notice| {
        let words = |key: &str| notice[key].as_str().unwrap_or("").to_owned();
        let line =
            notice["line"].as_u64().map_or("", |line| text.lines().nth(line as usize - 1).unwrap_or(""));
        [words("code"), words("text"), line.to_owned()]
    });
    (output.status.code().unwrap(), warnings.collect())
}

/// Fails with one kind of warning only; returns the warnings.
fn fails(name: &str, code: &str, edits: &[(&str, &str)]) -> Vec<[String; 3]> {
    let (exit, warnings) = check(name, edits);
    assert_eq!(exit, 1, "{warnings:?}");
    assert!(!warnings.is_empty() && warnings.iter().all(|[kind, ..]| kind == code), "{warnings:#?}");
    warnings
}

#[test]
fn the_board_as_it_is_passes() {
    assert_eq!(check("sound", &[]), (0, Vec::new()));
}

#[test]
fn nine_loads_are_too_many() {
    // README of the boards: one gate feeds at most five. CYN1 feeds two of the stages of bit 1.
    let more = "TP1 testpoint P1N";
    let edit = format!("X[0..6] nor1 CYN1 Z[#] number 900\n{more}");
    let warnings = fails("fan-out", "margin", &[(more, &edit)]);
    // Q115 is the twelfth gate of bit 0: twelve rows down its cell stands CN, which makes CYN1.
    assert_eq!(warnings.len(), 1, "{warnings:#?}");
    assert!(warnings[0][1].starts_with("`CYN1` from Q115 feeds 9 stages: its high is"), "{warnings:#?}");
}

#[test]
fn a_line_without_its_pull_up_acts_by_itself() {
    let warnings = fails("no-line-pull-up", "line-acts-open", &[("R2 4k7 VCC /LD ", "#")]);
    assert_eq!(warnings.len(), 1, "{warnings:#?}");
    assert_eq!(warnings[0][1], "`/LD` acts when it is left open: it then lies low");
    assert!(warnings[0][2].starts_with("line /LD "), "{warnings:#?}");
}

#[test]
fn a_bus_pin_without_its_pull_up_is_never_high() {
    let warnings = fails("no-bus-pull-up", "no-pull-up", &[("R10 2k2 VCC D3 ", "#")]);
    assert_eq!(warnings.len(), 1, "{warnings:#?}");
    assert!(warnings[0][1].starts_with("nothing pulls `D3` high: Q418 only pulls it low"), "{warnings:#?}");
}

#[test]
fn a_base_resistor_of_220k_leaves_its_transistor_off() {
    // Ten times the usual 22k against 22k to the emitter: the base gets a tenth of 4.6 V.
    let edit = ("CO  nor1   CYN6 CARRY ", "CO  nor1   CYN6 CARRY RB=220k ");
    let warnings = fails("base-220k", "input-deaf", &[edit]);
    assert_eq!(warnings.len(), 1, "{warnings:#?}");
    assert!(warnings[0][1].contains(" of 220k does not move Q28"), "{warnings:#?}");
}
