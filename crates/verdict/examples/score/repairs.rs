//! What is left to mend at the end of a hunt, and what of it some reading would still have told apart.

use crate::hunt::Hunt;
use dryjoint_board::{NetId, PartId};
use dryjoint_faults::{Fault, FaultId};
use dryjoint_procedure::{Costs, Procedure, Study};
use std::collections::BTreeSet;

/// Where the iron goes: a part, resoldered or exchanged, or solder between two nets.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    Part(PartId),
    Between(NetId, NetId),
}

fn place(study: &Study, fault: FaultId) -> Place {
    let board = study.extracted.shape.board;
    let between = |a: NetId, b: NetId| Place::Between(a.min(b), a.max(b));
    match study.faults[fault] {
        Fault::Bridge(a, b) => between(board.pins[a].net, board.pins[b].net),
        Fault::RailShort(a, b) => between(a, b),
        ref one => Place::Part(one.parts(board)[0]),
    }
}

/// With more circuits than this it is not tried, which takes minutes: they count as if readings parted them all.
const MOST_PARTED: usize = 12;

/// The repairs that the first suspect names, and into how many sets of them some reading would part these.
pub fn repairs(hunt: &mut Hunt, study: &Study, procedure: &Procedure, costs: &Costs) -> (usize, usize) {
    let Some(head) = hunt.verdict.suspects.first().cloned() else { return (0, 0) };
    let all: BTreeSet<Place> = head.faults.iter().map(|&(fault, _)| place(study, fault)).collect();
    if hunt.inquiry.circuits(&head) > MOST_PARTED {
        return (all.len(), all.len());
    }
    let classes = hunt.inquiry.apart(procedure, costs, &hunt.session, &head);
    // Two repairs that share a class are one as far as any reading goes.
    let mut sets: Vec<BTreeSet<Place>> = Vec::new();
    for class in classes {
        let mut own: BTreeSet<Place> = class.into_iter().map(|fault| place(study, fault)).collect();
        let (joined, apart): (Vec<_>, Vec<_>) = sets.into_iter().partition(|set| !set.is_disjoint(&own));
        joined.into_iter().for_each(|set| own.extend(set));
        sets = apart;
        sets.push(own);
    }
    (all.len(), sets.len())
}
