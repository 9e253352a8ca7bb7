//! Swapped leads: a transistor fitted in a mirrored lead order. Turned round, collector and emitter
//! change places; with the outer lead crossed to the middle, collector and base do.

use crate::Fault;
use dryjoint_board::{Board, PartId, PartKind};

/// Which two leads changed places.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Exchange {
    /// Collector with emitter.
    CollectorEmitter,
    /// Collector with base.
    CollectorBase,
}

impl Exchange {
    /// Which lead sits in the holes of `c b e`, counted in the same order.
    pub fn order(self) -> [usize; 3] {
        match self {
            Self::CollectorEmitter => [2, 1, 0],
            Self::CollectorBase => [1, 0, 2],
        }
    }
}

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    for (id, part) in board.parts.iter() {
        if let PartKind::Bipolar(_) = part.kind {
            faults.extend([Exchange::CollectorEmitter, Exchange::CollectorBase].map(|x| Fault::Leads(id, x)));
        }
    }
}

pub(crate) fn name(board: &Board, part: PartId, exchange: Exchange) -> String {
    let leads = match exchange {
        Exchange::CollectorEmitter => "c-e",
        Exchange::CollectorBase => "c-b",
    };
    format!("{} {leads} swapped", board.parts[part].reference)
}

pub(crate) fn look(board: &Board, part: PartId, exchange: Exchange) -> String {
    let leads = match exchange {
        Exchange::CollectorEmitter => "collector and emitter",
        Exchange::CollectorBase => "collector and base",
    };
    let reference = &board.parts[part].reference;
    format!("see which way the flat face of {reference} points: {leads} may have changed places")
}
