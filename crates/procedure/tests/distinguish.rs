//! Faults of gate netlists told apart: the published structures' classes, and every vector tried.

#[path = "../../faults/tests/circuits/mod.rs"]
mod circuits;

use circuits::plain::{Plain, drawn};
use circuits::published;
use dryjoint_logic::Logic;
use dryjoint_procedure::gates::{Distinction, distinguish};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn told(logic: &Logic) -> Distinction {
    let told = distinguish(logic, 1).expect("gates").expect("no flip-flops");
    assert_eq!(told.open, 0);
    let members = told.faults.groups.len() + usize::from(told.silent.is_some());
    assert_eq!(told.proven + told.classes.len(), members, "every class is proven");
    told
}

/// What the plain simulator sees of every group under some vectors.
fn classes_of(logic: &Logic, told: &Distinction, rows: &[Vec<bool>]) -> Vec<Vec<usize>> {
    let plain = Plain::new(logic);
    let mut classes: BTreeMap<Vec<Vec<Option<bool>>>, Vec<usize>> = BTreeMap::new();
    for (at, group) in told.faults.groups.rows().iter().enumerate() {
        let seen = plain.run(rows, Some(told.faults.faults[group[0]]));
        classes.entry(seen).or_default().push(at);
    }
    let mut classes: Vec<Vec<usize>> = classes.into_values().collect();
    classes.sort();
    classes
}

fn list(told: &Distinction) -> Vec<Vec<usize>> {
    let number = |group: &_| dryjoint_ids::Id::index(*group);
    told.classes.iter().map(|class| class.iter().map(number).collect()).collect()
}

/// The vectors split the faults into as many classes as nothing can split further: computed from the
/// published structures by an independent program. Faults that no vector shows are no class of them.
fn splits(name: &str, classes: usize) {
    let Some(logic) = published(&format!("iscas85/{name}.v")) else { return };
    let told = told(&logic);
    assert_eq!(told.classes.len() - usize::from(told.silent.is_some()), classes, "{name}");
    let rows: Vec<Vec<bool>> = told.vectors.iter().map(|v| v.0.clone()).collect();
    assert_eq!(classes_of(&logic, &told, &rows), list(&told), "{name}: the plain simulator sees the same");
}

#[test]
fn c17_splits_into_its_22_classes() {
    splits("c17", 22);
}

#[test]
fn c432_splits_into_its_507_classes() {
    splits("c432", 507);
}

#[test]
fn c499_splits_into_its_738_classes() {
    splits("c499", 738);
}

#[test]
fn c880_splits_into_its_887_classes() {
    splits("c880", 887);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// On circuits small enough to try every vector the classes are those of all vectors together.
    #[test]
    fn classes_agree_with_trying_every_vector(
        rows in prop::collection::vec((any::<u8>(), prop::collection::vec(any::<u32>(), 1..4)), 1..30),
        outputs in 1_usize..4,
    ) {
        let logic = drawn(5, &rows, outputs);
        let told = told(&logic);
        let all: Vec<Vec<bool>> = (0..32).map(|n| (0..5).map(|k| n >> k & 1 != 0).collect()).collect();
        prop_assert_eq!(classes_of(&logic, &told, &all), list(&told));
        let silent: Vec<usize> = told.silent.map_or(Vec::new(), |at| list(&told)[at].clone());
        let plain = Plain::new(&logic);
        let good = plain.run(&all, None);
        for (at, group) in told.faults.groups.rows().iter().enumerate() {
            let shown = plain.first(&all, &good, told.faults.faults[group[0]]).is_some();
            prop_assert_eq!(shown, !silent.contains(&at));
        }
    }
}
