//! Wrong type: an NPN where a PNP belongs, or the other way round, in the same case with the same
//! lead order.

use crate::Fault;
use dryjoint_board::{Board, PartId, PartKind};
use dryjoint_parts::{Model, Polarity};

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    let parts = board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Bipolar(_)));
    faults.extend(parts.map(|(id, _)| Fault::WrongType(id)));
}

pub(crate) fn name(board: &Board, part: PartId) -> String {
    format!("{} {}", board.parts[part].reference, other(board, part))
}

pub(crate) fn look(board: &Board, part: PartId) -> String {
    let reference = &board.parts[part].reference;
    format!("read the type printed on {reference}: it may be {}", other(board, part))
}

fn other(board: &Board, part: PartId) -> &'static str {
    if let PartKind::Bipolar(model) = board.parts[part].kind
        && let Model::Bipolar(card) = &board.models[model].model
        && card.polarity == Polarity::Pnp
    {
        return "NPN fitted";
    }
    "PNP fitted"
}
