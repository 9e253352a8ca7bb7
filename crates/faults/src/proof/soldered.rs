//! A part as it was soldered in, with what is wrong on the board written into it.

use super::Place;
use crate::Fault;
use crate::apply::twin;
use dryjoint_board::{Board, PartId, PartKind, PinId};
use dryjoint_parts::Model;
use std::collections::BTreeSet;

/// A solder bridge, ohms.
pub(super) const BRIDGE: f64 = 0.1;
/// A jumper lead, a link or a closed contact, ohms.
pub(super) const JUMPER: f64 = 0.01;

/// What sits on the board.
pub(super) struct Soldered {
    /// What it is, with the value that it has.
    pub kind: PartKind,
    /// Where its leads sit, in the order of its pins.
    pub ends: Vec<Place>,
    /// The card of what was fitted in its place.
    pub card: Option<Model>,
}

/// A part with a fault, some of its pins in the air; nothing where it is not there.
pub(super) fn soldered(
    board: &Board,
    part: PartId,
    fault: Option<&Fault>,
    air: &BTreeSet<PinId>,
) -> Option<Soldered> {
    let row = &board.parts[part];
    let in_air = |pin: PinId| air.contains(&pin) || fault == Some(&Fault::JointOpen(pin));
    let place = |&pin: &PinId| if in_air(pin) { Place::Lifted(pin) } else { Place::Net(board.pins[pin].net) };
    let mut fitted =
        Soldered { kind: row.kind.clone(), ends: row.pins.iter().map(place).collect(), card: None };
    match fault {
        Some(Fault::Missing(at) | Fault::Dead(at)) if *at == part => return None,
        Some(Fault::WrongValue(at, value)) if *at == part => {
            if let PartKind::Resistor { ohms, .. } = &mut fitted.kind {
                *ohms = *value;
            }
        }
        Some(Fault::Reversed(at)) if *at == part => fitted.ends.reverse(),
        Some(Fault::Leads(at, exchange)) if *at == part => {
            fitted.ends = exchange.order().iter().map(|&hole| fitted.ends[hole]).collect();
        }
        Some(Fault::WrongType(at)) if *at == part => fitted.card = twin(board, part),
        _ => {}
    }
    Some(fitted)
}

/// What a fault joins.
pub(super) fn joined(board: &Board, fault: &Fault) -> Option<[Place; 2]> {
    let nets = match *fault {
        Fault::Bridge(a, b) => [board.pins[a].net, board.pins[b].net],
        Fault::RailShort(net, rail) => [net, rail],
        _ => return None,
    };
    Some(nets.map(Place::Net))
}
