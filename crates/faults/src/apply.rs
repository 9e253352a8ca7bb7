//! A fault put into a circuit.

use crate::Fault;
use crate::kinds::leads::Exchange;
use crate::kinds::shifted::Way;
use dryjoint_board::{Board, PartId, PartKind, PinId, Supply};
use dryjoint_circuit::{Network, Spot};
use dryjoint_parts::{Model, Polarity, library};
use dryjoint_units::Ohms;

/// Resistance of a solder bridge.
pub const BRIDGE: Ohms = Ohms(0.1);

/// Builds the fault into a network of the board or of some of its parts. False where the network does
/// not hold what is faulty, or where the fault moves the supply (see [`shifted`]).
pub fn apply(board: &Board, fault: &Fault, network: &mut Network) -> bool {
    match *fault {
        Fault::JointOpen(pin) => network.lift(pin).is_some(),
        Fault::Missing(part) | Fault::Dead(part) => network.remove(part),
        Fault::WrongValue(part, ohms) => network.set_ohms(part, ohms),
        Fault::Reversed(part) => network.permute(part, &[1, 0]),
        Fault::Leads(part, exchange) => network.permute(part, &Exchange::order(exchange)),
        Fault::WrongType(part) => twin(board, part).is_some_and(|model| network.set_model(part, &model)),
        Fault::Bridge(a, b) => {
            let (a, b) = (spot(board, network, a), spot(board, network, b));
            network.bridge(a, b, BRIDGE).is_some()
        }
        Fault::RailShort(net, rail) => network.bridge(net, rail, BRIDGE).is_some(),
        Fault::Shifted(..) => false,
    }
}

/// A pin where the network holds its part, else the copper it sits on.
fn spot(board: &Board, network: &Network, pin: PinId) -> Spot {
    match network.find(pin) {
        Some(_) => Spot::Pin(pin),
        None => Spot::Net(board.pins[pin].net),
    }
}

/// The transistor of the other polarity that lies in the next drawer: the small-signal pair 2N3904
/// and 2N3906, same case, same lead order.
pub(crate) fn twin(board: &Board, part: PartId) -> Option<Model> {
    let PartKind::Bipolar(model) = board.parts[part].kind else { return None };
    let Model::Bipolar(card) = &board.models[model].model else { return None };
    library(match card.polarity {
        Polarity::Npn => "2N3906",
        Polarity::Pnp => "2N3904",
    })
}

/// The board as it stands with the bench plug one pin off: the supply's leads meet other nets.
pub fn shifted(board: &Board, header: PartId, way: Way) -> Board {
    let mut moved = board.clone();
    let pins = &board.parts[header].pins;
    for (_, net) in moved.nets.iter_mut() {
        net.supply = None;
    }
    for (index, &pin) in pins.iter().enumerate() {
        let to = match way {
            Way::Up => index.checked_add(1),
            Way::Down => index.checked_sub(1),
        };
        let Some(&to) = to.and_then(|to| pins.get(to)) else { continue };
        if let Some(supply) = board.nets[board.pins[pin].net].supply {
            let net = &mut moved.nets[board.pins[to].net];
            // Two leads on one net: the supply is shorted to itself, and ground wins.
            if net.supply != Some(Supply::Ground) {
                net.supply = Some(supply);
            }
        }
    }
    moved
}
