//! Any bytes as a board's text: reading never panics, every notice can be drawn, and what is read as a
//! small board can be read as logic and solved.
//!
//! `mkdir -p fuzz/corpus/board; RUSTC_BOOTSTRAP=1 cargo fuzz run board fuzz/corpus/board boards`
#![no_main]

use dryjoint_circuit::{Network, Solver, kirchhoff};
use dryjoint_logic::extract;
use dryjoint_netlist::{Look, draw, read_alone};
use libfuzzer_sys::fuzz_target;

/// Parts up to which a board is looked at further: finding its logic takes a while.
const FEW: usize = 12;

fuzz_target!(|data: &[u8]| {
    let reading = read_alone("fuzz.board", data);
    let _ = draw(&reading.sources, &reading.notices, Look::default());
    let Some(board) = reading.board else { return };
    let _ = board.check();
    if board.parts.len() > FEW {
        return;
    }
    let _ = extract(&board);
    let network = Network::of_board(&board);
    if let Ok(solution) = Solver::default().solve(&network) {
        assert!(kirchhoff(&network, &solution).0 <= 1e-9);
    }
});
