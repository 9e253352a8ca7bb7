//! Connector one pin off: the bench lead's plug sits one pin too far to either side, so that every
//! wire of the bench, the supply's too, meets the pin beside its own.

use crate::Fault;
use dryjoint_board::{Board, PartId, PartKind};

/// To which side the plug is off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Way {
    /// What belongs on pin 1 sits on pin 2.
    Up,
    /// What belongs on pin 2 sits on pin 1.
    Down,
}

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    for (id, part) in board.parts.iter() {
        let powered = part.pins.iter().any(|&pin| board.nets[board.pins[pin].net].supply.is_some());
        if part.kind == PartKind::Header && part.pins.len() > 1 && powered {
            faults.extend([Way::Up, Way::Down].map(|way| Fault::Shifted(id, way)));
        }
    }
}

pub(crate) fn name(board: &Board, header: PartId, way: Way) -> String {
    let side = match way {
        Way::Up => "up",
        Way::Down => "down",
    };
    format!("{} one pin {side}", board.parts[header].reference)
}

pub(crate) fn look(board: &Board, header: PartId, way: Way) -> String {
    let side = match way {
        Way::Up => "pin 1 of the plug may sit on pin 2",
        Way::Down => "pin 2 of the plug may sit on pin 1",
    };
    format!("power off, then see how the plug sits on {}: {side}", board.parts[header].reference)
}
