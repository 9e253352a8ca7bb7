//! The board on which this package's own tests try things: one bit of store, each state on a lamp.

use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_procedure::Study;

/// Does something with the faults of the latch of `cases/verdict/latch.md`.
pub(crate) fn with_latch(what: impl FnOnce(&Study)) {
    let text = include_str!("../../../cases/verdict/latch.md");
    let text = text.split("```board\n").nth(1).and_then(|text| text.split("```").next()).expect("a board");
    let board = dryjoint_netlist::read_alone("latch.board", text).board.expect("a sound board");
    let (extracted, _) = extract(&board);
    what(&Study::new(&extracted, &Priors::default()));
}
