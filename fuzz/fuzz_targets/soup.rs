//! Random soups of parts, and the same with one part changed: nothing panics, no accepted point holds
//! a number that is none or breaks Kirchhoff's current law, and a refusal says what was tried.
//!
//! `RUSTC_BOOTSTRAP=1 cargo fuzz run soup`
#![no_main]

#[path = "../../crates/circuit/tests/soups/mod.rs"]
mod soups;

use dryjoint_circuit::{Network, NoSolution, Solution, Solver, kirchhoff};
use dryjoint_units::Ohms;
use libfuzzer_sys::fuzz_target;
use soups::{KINDS, Piece, soup};

/// Bytes of one piece.
const PIECE: usize = 6;
/// Pieces of the largest soup.
const MOST: usize = 150;

fn hold(network: &Network, result: &Result<Solution, NoSolution>) {
    match result {
        Ok(solution) => {
            assert!(solution.volts().iter().all(|volts| volts.is_finite()));
            let missing = kirchhoff(network, solution);
            assert!(missing.0 <= 1e-9, "{missing} missing by {}", solution.method);
        }
        Err(failure) => assert!(!failure.tried.is_empty(), "{failure}"),
    }
}

fuzz_target!(|data: &[u8]| {
    let [count, rest @ ..] = data else { return };
    let count = 3 + usize::from(*count) % 62;
    let pieces: Vec<Piece> = rest
        .chunks_exact(PIECE)
        .take(MOST)
        .map(|bytes| Piece {
            kind: bytes[0] % KINDS,
            ends: [1, 2, 3].map(|k| usize::from(bytes[k]) % count),
            size: f64::from(u16::from_le_bytes([bytes[4], bytes[5]])) / 65535.0,
        })
        .collect();
    let network = soup(&pieces, count);
    let mut solver = Solver::default();
    let start = solver.solve(&network);
    hold(&network, &start);
    if let Ok(start) = start {
        let mut changed = network.clone();
        let nodes: Vec<_> = changed.nodes().map(|(node, _)| node).collect();
        changed.bridge(nodes[count / 2], nodes[count - 1], Ohms(100.0));
        hold(&changed, &solver.solve_from(&changed, &start));
    }
});
