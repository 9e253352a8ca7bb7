//! Bridge: two pins joined by solder. Pins of one part can always touch; pins of two parts can when
//! their holes are within reach of each other (see the board's footprints).

use crate::Fault;
use crate::fault::pin_name;
use dryjoint_board::{Board, PartKind, PinId};

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    let differ = |a: PinId, b: PinId| board.pins[a].net != board.pins[b].net;
    for (_, part) in board.parts.iter() {
        let neighbours_only = matches!(part.kind, PartKind::Header | PartKind::Selector);
        for (index, &a) in part.pins.iter().enumerate() {
            let reach = if neighbours_only { 1 } else { part.pins.len() };
            for &b in part.pins[index + 1..].iter().take(reach) {
                if differ(a, b) {
                    faults.push(Fault::Bridge(a, b));
                }
            }
        }
    }
    faults.extend(
        board.neighbours().into_iter().filter(|&(a, b)| differ(a, b)).map(|(a, b)| Fault::Bridge(a, b)),
    );
}

pub(crate) fn name(board: &Board, a: PinId, b: PinId) -> String {
    format!("{}-{} bridged", pin_name(board, a), pin_name(board, b))
}

pub(crate) fn look(board: &Board, a: PinId, b: PinId) -> String {
    format!("look for solder between {} and {}", pin_name(board, a), pin_name(board, b))
}
