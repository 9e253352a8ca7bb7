//! Lamp dead: fitted and soldered, but it does not light. To the circuit it is not there.

use crate::Fault;
use dryjoint_board::{Board, PartId, PartKind};

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    let lamps = board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Lamp(_)));
    faults.extend(lamps.map(|(id, _)| Fault::Dead(id)));
}

pub(crate) fn name(board: &Board, lamp: PartId) -> String {
    format!("{} dead", board.parts[lamp].reference)
}

pub(crate) fn look(board: &Board, lamp: PartId) -> String {
    format!("try another lamp in place of {}", board.parts[lamp].reference)
}
