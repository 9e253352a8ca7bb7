//! Part missing: never fitted, or fallen out. Buttons, switches, connectors and test points are seen
//! to be missing before anything is switched on.

use crate::Fault;
use dryjoint_board::{Board, PartId, PartKind};

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    let small = |kind: &PartKind| {
        matches!(
            kind,
            PartKind::Resistor { .. }
                | PartKind::Capacitor { .. }
                | PartKind::Diode(_)
                | PartKind::Lamp(_)
                | PartKind::Bipolar(_)
                | PartKind::Link
        )
    };
    let parts = board.parts.iter().filter(|(_, part)| small(&part.kind));
    faults.extend(parts.map(|(id, _)| Fault::Missing(id)));
}

pub(crate) fn name(board: &Board, part: PartId) -> String {
    format!("{} missing", board.parts[part].reference)
}

pub(crate) fn look(board: &Board, part: PartId) -> String {
    format!("look whether {} is fitted", board.parts[part].reference)
}
