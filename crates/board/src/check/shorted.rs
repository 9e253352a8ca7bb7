//! Parts that their own nets short: both ends on one net.

use crate::{Board, Entity, Notice, PartKind};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    for (id, part) in board.parts.iter() {
        let net = |at: usize| board.pins[part.pins[at]].net;
        let name = |at: usize| &board.nets[net(at)].name;
        let text = match part.kind {
            // Diode-connected transistors (base on collector) are in use.
            PartKind::Bipolar(_) if net(1) == net(2) => {
                format!("base and emitter of `{}` are both on `{}`", part.reference, name(1))
            }
            PartKind::Bipolar(_) if net(0) == net(2) => {
                format!("collector and emitter of `{}` are both on `{}`", part.reference, name(0))
            }
            PartKind::Header | PartKind::TestPoint | PartKind::Selector | PartKind::Bipolar(_) => continue,
            _ if net(0) == net(1) => format!("both ends of `{}` are on `{}`", part.reference, name(0)),
            _ => continue,
        };
        let mend = "it does nothing there; one of its pins belongs to another net";
        out.push(Notice::warning("part-shorted", Entity::Part(id), text, mend));
    }
}
