//! Several faults on one board: their behaviours made fit to share a lane.
//!
//! Each table was made with the rest of the board sound. Where two faults set the same thing, or one
//! looks at what the other sets, the tables do not say what happens: then nothing is known of it, unless
//! both hold it at the same level whatever happens.

use super::behaviour::{Behaviour, Shown, Target};
use std::collections::BTreeMap;

/// The behaviours as they are together.
pub(super) fn together(behaviours: &[&Behaviour]) -> Vec<Behaviour> {
    let mut writers: BTreeMap<Target, usize> = BTreeMap::new();
    for target in behaviours.iter().flat_map(|behaviour| &behaviour.writes) {
        *writers.entry(*target).or_default() += 1;
    }
    let constant = |behaviour: &Behaviour, target: Target| {
        let column = behaviour.writes.iter().position(|&known| known == target)?;
        behaviour.reads.is_empty().then(|| behaviour.table[column])
    };
    let mut held: BTreeMap<Target, Shown> = BTreeMap::new();
    let mut kept = Vec::new();
    for (at, behaviour) in behaviours.iter().enumerate() {
        let others = || behaviours.iter().enumerate().filter(move |(other, _)| *other != at).map(|(_, b)| *b);
        let misled = behaviour
            .reads
            .iter()
            .any(|read| others().any(|other| other.writes.contains(&Target::Signal(read.signal))));
        let mut columns = Vec::new();
        for (column, &target) in behaviour.writes.iter().enumerate() {
            if misled {
                held.insert(target, Shown::Unknown);
            } else if writers[&target] > 1 {
                let mine = constant(behaviour, target);
                let agree = mine.is_some()
                    && others().filter(|o| o.writes.contains(&target)).all(|o| constant(o, target) == mine);
                let shown = if agree { mine.unwrap_or(Shown::Unknown) } else { Shown::Unknown };
                held.entry(target).or_insert(shown);
            } else {
                columns.push(column);
            }
        }
        kept.push((*behaviour, columns));
    }
    let width = |behaviour: &Behaviour| behaviour.writes.len();
    let mut all: Vec<Behaviour> = kept
        .into_iter()
        .filter(|(_, columns)| !columns.is_empty())
        .map(|(behaviour, columns)| Behaviour {
            reads: behaviour.reads.clone(),
            writes: columns.iter().map(|&column| behaviour.writes[column]).collect(),
            table: behaviour
                .table
                .chunks(width(behaviour))
                .flat_map(|row| columns.iter().map(|&column| row[column]))
                .collect(),
            blackout: None,
        })
        .collect();
    // What one misled fault sets is not known, whoever else sets it.
    all.extend(held.into_iter().map(|(target, shown)| Behaviour {
        reads: Vec::new(),
        writes: vec![target],
        table: vec![shown],
        blackout: None,
    }));
    let dark = behaviours.iter().filter(|behaviour| behaviour.blackout.is_some());
    all.extend(dark.map(|behaviour| Behaviour { blackout: behaviour.blackout, ..Behaviour::default() }));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lanes::{Drive, Read};
    use dryjoint_ids::Id;
    use dryjoint_logic::SignalId;

    fn s(at: usize) -> SignalId {
        SignalId::at(at)
    }

    fn reading(from: usize, to: usize) -> Behaviour {
        let drives = vec![Drive::Free, Drive::Low];
        let read = Read { signal: s(from), stages: Vec::new(), bench: true, drives };
        Behaviour {
            reads: vec![read],
            writes: vec![Target::Signal(s(to))],
            table: vec![Shown::One, Shown::Zero],
            blackout: None,
        }
    }

    #[test]
    fn faults_apart_stay_as_they_are() {
        let (a, b) = (Behaviour::stuck(s(1), Shown::Zero), reading(2, 3));
        assert_eq!(together(&[&a, &b]), [a, b]);
    }

    #[test]
    fn a_short_of_the_supply_stays_beside_any_other_fault() {
        let dark = Behaviour { blackout: Some(s(7)), ..Behaviour::default() };
        let low = Behaviour::stuck(s(1), Shown::Zero);
        assert_eq!(together(&[&dark, &low]), [low.clone(), dark.clone()]);
    }

    #[test]
    fn what_both_hold_alike_is_held_and_what_they_fight_over_is_not_known() {
        let (low, high) = (Behaviour::stuck(s(1), Shown::Zero), Behaviour::stuck(s(1), Shown::One));
        assert_eq!(together(&[&low, &low]), std::slice::from_ref(&low));
        assert_eq!(together(&[&low, &high]), [Behaviour::stuck(s(1), Shown::Unknown)]);
        assert_eq!(together(&[&low, &reading(2, 1)]), [Behaviour::stuck(s(1), Shown::Unknown)]);
    }

    #[test]
    fn a_table_that_looks_at_what_the_other_sets_says_nothing() {
        let (a, b) = (Behaviour::stuck(s(1), Shown::Zero), reading(1, 2));
        assert_eq!(together(&[&a, &b]), [a.clone(), Behaviour::stuck(s(2), Shown::Unknown)]);
    }
}
