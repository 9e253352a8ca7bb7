//! Reversed: a diode, lamp or electrolytic the wrong way round.

use crate::Fault;
use dryjoint_board::{Board, PartId, PartKind};

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    let directed = |kind: &PartKind| {
        matches!(kind, PartKind::Diode(_) | PartKind::Lamp(_) | PartKind::Capacitor { polar: true, .. })
    };
    let parts = board.parts.iter().filter(|(_, part)| directed(&part.kind));
    faults.extend(parts.map(|(id, _)| Fault::Reversed(id)));
}

pub(crate) fn name(board: &Board, part: PartId) -> String {
    format!("{} reversed", board.parts[part].reference)
}

pub(crate) fn look(board: &Board, part: PartId) -> String {
    let part = &board.parts[part];
    match part.kind {
        PartKind::Capacitor { .. } => {
            format!(
                "see which way {} points; with power on it may burst, so switch off first",
                part.reference
            )
        }
        _ => format!("see which way {} points", part.reference),
    }
}
