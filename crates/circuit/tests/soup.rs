//! Random soups of parts: whatever they are, an accepted point keeps Kirchhoff's current law, and
//! nothing panics.

mod soups;

use dryjoint_circuit::{Network, NodeId, Pace, Solver, Spot, kirchhoff};
use dryjoint_draws::Draws;
use dryjoint_units::{Farads, Seconds};
use proptest::prelude::*;
use soups::{KINDS, Piece, soup};

fn piece(nodes: usize) -> impl Strategy<Value = Piece> {
    (0..KINDS, [0..nodes, 0..nodes, 0..nodes], 0.0f64..1.0).prop_map(|(kind, ends, size)| Piece {
        kind,
        ends,
        size,
    })
}

fn check(network: &Network, refused: &mut u32) -> Result<(), TestCaseError> {
    match Solver::default().solve(network) {
        Ok(solution) => {
            prop_assert!(solution.volts().iter().all(|v| v.is_finite()));
            let missing = kirchhoff(network, &solution);
            prop_assert!(missing.0 <= 1e-9, "{:?} by {}", missing, solution.method);
        }
        Err(failure) => {
            *refused += 1;
            prop_assert!(!failure.tried.is_empty(), "{}", failure);
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn small_soups_keep_kirchhoffs_law(pieces in prop::collection::vec(piece(8), 1..24)) {
        check(&soup(&pieces, 8), &mut 0)?;
    }

    #[test]
    fn large_soups_keep_kirchhoffs_law(pieces in prop::collection::vec(piece(70), 60..260)) {
        check(&soup(&pieces, 70), &mut 0)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn soups_in_time_stay_finite(pieces in prop::collection::vec(piece(7), 1..16), caps in prop::collection::vec((0usize..7, 0usize..7, 0.0f64..1.0), 1..6)) {
        let mut network = soup(&pieces, 7);
        let nodes: Vec<NodeId> = network.nodes().map(|(node, _)| node).collect();
        for (a, b, size) in caps {
            // ten picofarads to ten microfarads
            network.capacitor(nodes[a], nodes[b], Farads(10f64.powf(6.0 * size - 11.0)));
        }
        let watch: Vec<Spot> = nodes.iter().map(|node| (*node).into()).collect();
        if let Ok(trace) = Solver::default().transient(&network, None, &[], Seconds(1e-6), &watch, Pace::default()) {
            prop_assert!(trace.volts.iter().flatten().all(|v| v.is_finite()));
            prop_assert!(trace.times.windows(2).all(|pair| pair[0] < pair[1]));
        }
    }
}

#[test]
fn hardly_any_soup_is_refused() {
    // Soups of a fixed list, so that the share solved cannot fade unnoticed.
    let mut draws = Draws::new(0x9e37_79b9_7f4a_7c15);
    let mut refused = 0;
    let total = 200;
    for round in 0..total {
        let count = if round % 2 == 0 { 8 } else { 60 };
        let pieces: Vec<Piece> = (0..count * 3)
            .map(|_| Piece {
                kind: (draws.bits() % u64::from(KINDS)) as u8,
                ends: [0; 3].map(|_: usize| (draws.bits() % count as u64) as usize),
                size: (draws.bits() % 1_000_000) as f64 / 1e6,
            })
            .collect();
        check(&soup(&pieces, count), &mut refused).unwrap();
    }
    assert!(refused * 50 <= total, "{refused} of {total} refused");
}
