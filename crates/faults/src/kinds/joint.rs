//! Joint open: a pin that is not held to its net. Every joint can be dry, those of links and
//! connectors too. A net's only pin cannot miss anything, so unconnected connector pins have none.

use crate::Fault;
use crate::fault::pin_name;
use dryjoint_board::{Board, PinId};

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    let joined = |pin: &PinId| board.nets[board.pins[*pin].net].pins.len() > 1;
    faults.extend(board.pins.ids().filter(joined).map(Fault::JointOpen));
}

pub(crate) fn name(board: &Board, pin: PinId) -> String {
    format!("{} open", pin_name(board, pin))
}

pub(crate) fn look(board: &Board, pin: PinId) -> String {
    let net = &board.nets[board.pins[pin].net].name;
    format!("look at the joint of {} to `{net}` and reflow it", pin_name(board, pin))
}
