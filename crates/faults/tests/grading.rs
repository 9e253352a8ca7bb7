//! The fast grading against the plain simulator.

mod circuits;

use circuits::plain::{Plain, drawn};
use circuits::{own, published};
use dryjoint_faults::gates::{Circuit, Exposure, StuckFaults, Vector, grade};
use dryjoint_logic::Logic;
use proptest::prelude::*;

/// Vectors from a plain linear congruence (the constants of Knuth's MMIX, from memory).
fn vectors(inputs: usize, count: usize) -> Vec<Vector> {
    let mut state = 42_u64;
    let mut bit = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        state >> 40 & 1 != 0
    };
    (0..count).map(|_| Vector((0..inputs).map(|_| bit()).collect())).collect()
}

/// Every fault, not only one of each group, so that the grouping is checked too.
fn agree(logic: &Logic, vectors: &[Vector]) -> Result<(), TestCaseError> {
    let circuit = Circuit::compile(logic).expect("a netlist of gates");
    let faults = StuckFaults::of(logic);
    let exposures = Exposure::all(logic, &circuit, &faults);
    let graded = grade(&circuit, &faults, &exposures, vectors);
    let plain = Plain::new(logic);
    let rows: Vec<Vec<bool>> = vectors.iter().map(|v| v.0.clone()).collect();
    let good = plain.run(&rows, None);
    for (id, &fault) in faults.faults.iter() {
        let expected = plain.first(&rows, &good, fault);
        let group = faults.group_of[id];
        prop_assert_eq!(graded.first[group], expected, "{}", faults.name(logic, id));
    }
    Ok(())
}

#[test]
fn grading_agrees_on_the_circuit_of_the_repository() {
    let logic = own("c17.v");
    agree(&logic, &vectors(5, 40)).unwrap();
}

/// Brglez & Fujiwara 1985: one of their circuits with many reconvergent ways.
#[test]
fn grading_agrees_on_published_circuits() {
    for name in ["c432", "c880"] {
        if let Some(logic) = published(&format!("iscas85/{name}.v")) {
            agree(&logic, &vectors(logic.inputs().count(), 20)).unwrap();
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn grading_agrees_on_drawn_circuits(
        rows in prop::collection::vec((any::<u8>(), prop::collection::vec(any::<u32>(), 1..4)), 1..40),
        outputs in 1_usize..4,
    ) {
        let logic = drawn(5, &rows, outputs);
        agree(&logic, &vectors(5, 32))?;
    }
}
