//! The published circuits, where they are at hand.

#![allow(dead_code, reason = "each test file uses its share")]

pub mod plain;

use dryjoint_logic::Logic;
use std::io::Write as _;
use std::path::Path;

/// Reads a netlist of gates of our own under `cases/gates`.
pub fn own(name: &str) -> Logic {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../cases/gates").join(name);
    logic(&path).unwrap_or_else(|| panic!("{} is part of the repository", path.display()))
}

/// Reads a published circuit from the data beside the repository. Without the data the check is
/// skipped aloud; where `CI` is true it must be there.
pub fn published(name: &str) -> Option<Logic> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data").join(name);
    let logic = logic(&path);
    if logic.is_none() {
        assert!(std::env::var("CI").as_deref() != Ok("true"), "{} is missing", path.display());
        // Straight to the handle: what `eprintln` writes is kept back where a test passes.
        let _ = writeln!(std::io::stderr(), "SKIPPED: {name} is not in ../shared/data");
    }
    logic
}

fn logic(path: &Path) -> Option<Logic> {
    let text = std::fs::read_to_string(path).ok()?;
    let (gates, problems) = dryjoint_netlist::verilog::read(&text, None);
    assert!(problems.is_empty(), "{}: {problems:?}", path.display());
    Some(gates.expect("no problem, so there is a netlist").logic)
}
