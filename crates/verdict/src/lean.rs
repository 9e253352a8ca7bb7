//! Levels that a fault leaves in between, settled one way or the other.
//!
//! Where a voltage falls between a receiver's thresholds the table says that nothing is known. But it
//! is one receiver and one voltage: it reads the same every time. So a behaviour with such entries is
//! played also with each of them settled, all ways where they are few, all low and all high where not.
//!
//! A supply that a fault drains is another matter: it gives enough, and all is as on a good board, or that is dark. No lamp is
//! lit by that.

use dryjoint_faults::lanes::{Behaviour, Shown};
use dryjoint_faults::proof::drained;
use dryjoint_procedure::{Group, Study};

/// Entries up to which every way is played.
const FEW: usize = 2;

/// What a group does with what it leaves open settled; nothing where that is nothing.
pub fn ways(study: &Study, group: &Group) -> Vec<Behaviour> {
    let board = study.extracted.shape.board;
    if !group.faults.iter().all(|&fault| drained(board, &study.faults[fault]).is_some()) {
        return settled(&group.behaviour);
    }
    let table = vec![Shown::Zero; group.behaviour.table.len()];
    vec![Behaviour::default(), Behaviour { table, ..group.behaviour.clone() }]
}

/// The behaviour with its open entries settled; nothing where none is open.
fn settled(behaviour: &Behaviour) -> Vec<Behaviour> {
    let open: Vec<usize> = behaviour
        .table
        .iter()
        .enumerate()
        .filter(|(_, shown)| **shown == Shown::Unknown)
        .map(|(at, _)| at)
        .collect();
    let ways: Vec<Vec<bool>> = match open.len() {
        0 => Vec::new(),
        count if count <= FEW => {
            (0..1usize << count).map(|way| (0..count).map(|bit| way >> bit & 1 != 0).collect()).collect()
        }
        count => vec![vec![false; count], vec![true; count]],
    };
    ways.into_iter()
        .map(|way| {
            let mut settled = behaviour.clone();
            for (&at, high) in open.iter().zip(way) {
                settled.table[at] = if high { Shown::One } else { Shown::Zero };
            }
            settled
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_faults::lanes::Target;
    use dryjoint_ids::Id;
    use dryjoint_logic::SignalId;

    #[test]
    fn few_open_entries_are_settled_every_way_and_many_to_one_side() {
        let behaviour = |table: &[Shown]| Behaviour {
            reads: Vec::new(),
            writes: (0..table.len()).map(|at| Target::Signal(SignalId::at(at))).collect(),
            table: table.to_vec(),
            blackout: None,
        };
        use Shown::{One, Unknown, Zero};
        assert!(settled(&behaviour(&[One, Zero])).is_empty());
        assert_eq!(settled(&behaviour(&[Unknown, One])), [behaviour(&[Zero, One]), behaviour(&[One, One])]);
        assert_eq!(settled(&behaviour(&[Unknown, Unknown])).len(), 4);
        assert_eq!(settled(&behaviour(&[Unknown; 3])), [behaviour(&[Zero; 3]), behaviour(&[One; 3])]);
    }
}
