//! Reasons of structure held against the copper: "another pin brings the same supply", "it only smooths the supply",
//! "nothing on this board hangs on it".
//!
//! All three say the same in the end: what direct current can flow through is the same with the fault as without it.
//! So the board is written down twice as a plain list of contacts: which part sits on which net by which pin, which
//! supply comes in where, which hand reaches what. A test point or an idle pin of a connector makes no contact; two
//! pins that bring the same supply make the same one. Where the two lists differ something hangs on it.

use super::Objection;
use crate::Fault;
use dryjoint_board::{Access, Board, LineId, NetId, PartId, PartKind, PinId};
use std::collections::BTreeSet;

/// Something that feeds a net, or that a net feeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Contact {
    /// A part that direct current flows through, by one of its pins.
    Pin(PinId),
    /// The bench supply, by whichever pin of a connector.
    Supply,
    /// The jumper of a line.
    Hand(LineId),
}

/// Whether a fault takes nothing off the board that current flows through, and puts nothing on.
pub fn stands(board: &Board, fault: &Fault) -> Result<(), Objection> {
    match *fault {
        // Solder between two nets leads nowhere where one of them has nothing on it.
        Fault::Bridge(a, b) => {
            let nets = [a, b].map(|pin| board.pins[pin].net);
            let bare = |net: &NetId| contacts(board, None).iter().all(|(at, _)| at != net);
            if nets.iter().any(bare) { Ok(()) } else { Err(Objection::Hangs(nets[0])) }
        }
        Fault::JointOpen(pin) => match board.parts[board.pins[pin].part].kind {
            PartKind::Capacitor { .. } => between_supplies(board, board.pins[pin].part),
            _ => same(board, &[pin]),
        },
        Fault::Missing(part) => match board.parts[part].kind {
            PartKind::Capacitor { .. } => between_supplies(board, part),
            _ => same(board, &board.parts[part].pins),
        },
        // Other values, other parts and turned ones conduct in another way.
        Fault::RailShort(net, _) => Err(Objection::Hangs(net)),
        Fault::WrongValue(part, _)
        | Fault::Reversed(part)
        | Fault::Leads(part, _)
        | Fault::WrongType(part)
        | Fault::Dead(part)
        | Fault::Shifted(part, _) => Err(Objection::Hangs(first_net(board, part))),
    }
}

fn first_net(board: &Board, part: PartId) -> NetId {
    board.pins[board.parts[part].pins[0]].net
}

/// Whether the contacts are the same without some pins.
fn same(board: &Board, without: &[PinId]) -> Result<(), Objection> {
    let (before, after) = (contacts(board, None), contacts(board, Some(without)));
    match before.difference(&after).next() {
        Some(&(net, _)) => Err(Objection::Hangs(net)),
        None => Ok(()),
    }
}

/// A capacitor carries no direct current; without it, and whatever it carries, nothing differs where both its ends are held by
/// the bench.
pub(super) fn between_supplies(board: &Board, part: PartId) -> Result<(), Objection> {
    let fed = |net: NetId| contacts(board, None).contains(&(net, Contact::Supply));
    let ends = board.parts[part].pins.iter().map(|&pin| board.pins[pin].net);
    match ends.into_iter().find(|&net| !fed(net)) {
        Some(net) => Err(Objection::Hangs(net)),
        None => Ok(()),
    }
}

/// Every contact of the board, some pins left out.
fn contacts(board: &Board, without: Option<&[PinId]>) -> BTreeSet<(NetId, Contact)> {
    let mut contacts = BTreeSet::new();
    for (pin, row) in board.pins.iter().filter(|(pin, _)| !without.is_some_and(|out| out.contains(pin))) {
        match board.parts[row.part].kind {
            PartKind::Capacitor { .. } | PartKind::TestPoint => {}
            PartKind::Header => {
                if board.nets[row.net].supply.is_some() {
                    contacts.insert((row.net, Contact::Supply));
                }
                let by_hand = board.lines.iter().filter(|(_, line)| line.net == row.net);
                let by_pin = by_hand.filter(|(_, line)| !matches!(line.access, Access::Contact(_)));
                contacts.extend(by_pin.map(|(line, _)| (row.net, Contact::Hand(line))));
            }
            _ => {
                contacts.insert((row.net, Contact::Pin(pin)));
            }
        }
    }
    contacts
}
