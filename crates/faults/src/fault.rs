//! A build fault: one thing wrong on one board.

use crate::kinds;
use dryjoint_board::{Board, NetId, PartId, PinId};
use dryjoint_ids::id;
use dryjoint_units::Ohms;

id!(
    /// A fault in the list of all faults of a board.
    FaultId, "fault"
);

/// One thing that can be wrong on a board as built.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// A pin is not joined to its net.
    JointOpen(PinId),
    /// A part was never fitted.
    Missing(PartId),
    /// A resistor of another value was fitted.
    WrongValue(PartId, Ohms),
    /// A two-lead part with a direction sits the wrong way round.
    Reversed(PartId),
    /// A transistor whose leads are exchanged.
    Leads(PartId, kinds::leads::Exchange),
    /// A transistor of the other polarity was fitted.
    WrongType(PartId),
    /// Solder or a bent lead joins two pins.
    Bridge(PinId, PinId),
    /// A net touches a rail or ground.
    RailShort(NetId, NetId),
    /// The bench lead sits one pin off on a connector.
    Shifted(PartId, kinds::shifted::Way),
    /// A lamp that does not light.
    Dead(PartId),
}

impl Fault {
    /// A short name that is unique on the board, such as `Q17.c open` or `R43 220k`.
    pub fn name(&self, board: &Board) -> String {
        match *self {
            Self::JointOpen(pin) => kinds::joint::name(board, pin),
            Self::Missing(part) => kinds::missing::name(board, part),
            Self::WrongValue(part, ohms) => kinds::value::name(board, part, ohms),
            Self::Reversed(part) => kinds::reversed::name(board, part),
            Self::Leads(part, exchange) => kinds::leads::name(board, part, exchange),
            Self::WrongType(part) => kinds::polarity::name(board, part),
            Self::Bridge(a, b) => kinds::bridge::name(board, a, b),
            Self::RailShort(net, rail) => kinds::rail::name(board, net, rail),
            Self::Shifted(header, way) => kinds::shifted::name(board, header, way),
            Self::Dead(lamp) => kinds::dead::name(board, lamp),
        }
    }

    /// What to look at and what mends it, in one sentence for a person with the board in hand.
    pub fn look(&self, board: &Board) -> String {
        match *self {
            Self::JointOpen(pin) => kinds::joint::look(board, pin),
            Self::Missing(part) => kinds::missing::look(board, part),
            Self::WrongValue(part, ohms) => kinds::value::look(board, part, ohms),
            Self::Reversed(part) => kinds::reversed::look(board, part),
            Self::Leads(part, exchange) => kinds::leads::look(board, part, exchange),
            Self::WrongType(part) => kinds::polarity::look(board, part),
            Self::Bridge(a, b) => kinds::bridge::look(board, a, b),
            Self::RailShort(net, rail) => kinds::rail::look(board, net, rail),
            Self::Shifted(header, way) => kinds::shifted::look(board, header, way),
            Self::Dead(lamp) => kinds::dead::look(board, lamp),
        }
    }

    /// The parts to look at.
    pub fn parts(&self, board: &Board) -> Vec<PartId> {
        match *self {
            Self::JointOpen(pin) => vec![board.pins[pin].part],
            Self::Missing(part)
            | Self::WrongValue(part, _)
            | Self::Reversed(part)
            | Self::Leads(part, _)
            | Self::WrongType(part)
            | Self::Shifted(part, _)
            | Self::Dead(part) => vec![part],
            Self::Bridge(a, b) => {
                let mut parts = vec![board.pins[a].part, board.pins[b].part];
                parts.dedup();
                parts
            }
            Self::RailShort(net, _) => board.nets[net].pins.iter().map(|&pin| board.pins[pin].part).collect(),
        }
    }

    /// The nets that it lies between: those that it joins, or those of its part's pins.
    pub fn nets(&self, board: &Board) -> Vec<NetId> {
        match *self {
            Self::RailShort(net, rail) => vec![net, rail],
            Self::Bridge(a, b) => vec![board.pins[a].net, board.pins[b].net],
            _ => {
                let pins = self.parts(board).into_iter().flat_map(|part| &board.parts[part].pins);
                pins.map(|&pin| board.pins[pin].net).collect()
            }
        }
    }
}

/// Every fault that the board can have, kind by kind in the order of the parts.
pub fn enumerate(board: &Board) -> Vec<Fault> {
    let mut faults = Vec::new();
    for list in [
        kinds::joint::list,
        kinds::missing::list,
        kinds::value::list,
        kinds::reversed::list,
        kinds::leads::list,
        kinds::polarity::list,
        kinds::bridge::list,
        kinds::rail::list,
        kinds::shifted::list,
        kinds::dead::list,
    ] {
        list(board, &mut faults);
    }
    faults
}

/// `Q17.c`: how a pin is spoken of.
pub(crate) fn pin_name(board: &Board, pin: PinId) -> String {
    let pin = &board.pins[pin];
    format!("{}.{}", board.parts[pin.part].reference, pin.name)
}
