//! Nets on which inputs wait and nothing drives.
//!
//! A net is driven when current can come to it: from a supply, a collector or emitter, a connector, a
//! switch or a capacitor on it, or through a resistor, diode, lamp or link from a driven net. What
//! reaches it only through a net with a base does not count: the base's own resistors pull there.

use super::lone::Meant;
use super::undeclared::sounds_like_supply;
use crate::{Board, Entity, NetId, Notice, PartKind};
use dryjoint_ids::Side;

pub(super) fn check(board: &Board, meant: &mut Meant, out: &mut Vec<Notice>) {
    let mut driven = Side::new(&board.nets, |net| board.nets[net].supply.is_some());
    let mut base = Side::filled(&board.nets, false);
    for pin in board.pins.rows() {
        match board.parts[pin.part].kind {
            PartKind::Bipolar(_) if pin.name == "b" => base[pin.net] = true,
            PartKind::Resistor { .. } | PartKind::Diode(_) | PartKind::Lamp(_) | PartKind::Link => {}
            PartKind::TestPoint => {}
            _ => driven[pin.net] = true,
        }
    }
    let mut open: Vec<NetId> = board.nets.ids().filter(|net| driven[*net]).collect();
    while let Some(net) = open.pop() {
        // A supply passes on whatever else is on it; a base's net only takes.
        if base[net] && board.nets[net].supply.is_none() {
            continue;
        }
        for pin in &board.nets[net].pins {
            let part = &board.parts[board.pins[*pin].part];
            let passes = matches!(
                part.kind,
                PartKind::Resistor { .. } | PartKind::Diode(_) | PartKind::Lamp(_) | PartKind::Link
            );
            for other in part.pins.iter().filter(|_| passes) {
                let other = board.pins[*other].net;
                if !std::mem::replace(&mut driven[other], true) {
                    open.push(other);
                }
            }
        }
    }
    for (id, net) in board.nets.iter() {
        let waiting =
            net.pins.iter().filter(|pin| board.parts[board.pins[**pin].part].kind != PartKind::TestPoint);
        let waiting = waiting.count();
        // A net with a single pin has its own notice, and so has a supply that is not declared.
        if driven[id] || net.pins.len() < 2 || waiting == 0 || sounds_like_supply(&net.name) {
            continue;
        }
        let text = format!("net `{}` is driven by nothing, and {waiting} pins wait on it", net.name);
        let mend =
            meant.of(board, &net.name).unwrap_or_else(|| "connect an output or a connector's pin".into());
        out.push(Notice::warning("net-undriven", Entity::Net(id), text, mend));
    }
}
