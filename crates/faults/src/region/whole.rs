//! Faults of the supply: the whole board is the region. Such a fault darkens every lamp, or leaves open what each shows, or it
//! is not followed further.

use super::solve::Regions;
use super::{Effect, Why};
use crate::Fault;
use crate::apply::{apply, shifted as moved};
use crate::kinds::shifted::Way;
use crate::lanes::{Behaviour, Shown, Target};
use dryjoint_board::{NetId, PartId, PartKind};
use dryjoint_circuit::{GROUND, Network, solve};
use dryjoint_logic::SignalId;
use dryjoint_parts::Glow;

/// The board with its plug one pin off.
pub(super) fn shifted(regions: &Regions, header: PartId, way: Way) -> Effect {
    judge(regions, &Network::of_board(&moved(regions.extracted.shape.board, header, way)))
}

/// The board with a fault of its supply.
pub(super) fn solved(regions: &Regions, fault: &Fault) -> Effect {
    let board = regions.extracted.shape.board;
    let mut network = Network::of_board(board);
    if let Fault::JointOpen(pin) = *fault
        && board.parts[board.pins[pin].part].kind == PartKind::Header
    {
        // The one pin that brings a supply: nothing flows, whichever of the two leads it was.
        let rails = board.nets.iter().filter(|(_, net)| net.supply.is_some());
        rails.for_each(|(id, _)| {
            network.let_go(id);
        });
    } else if !apply(board, fault, &mut network) {
        return Effect::Undecided(Why::WholeBoard);
    }
    judge(regions, &network)
}

/// Whether a jumper on `net`, which a fault joins with the supply's other lead, leaves every lamp dark: the
/// supply gives its limit at next to no voltage.
pub(super) fn is_blackout(regions: &Regions, net: NetId, fault: &Fault, high: bool) -> bool {
    let shape = &regions.extracted.shape;
    let mut network = Network::of_board(shape.board);
    if !apply(shape.board, fault, &mut network) {
        return false;
    }
    let to = if high { network.find(shape.rail_net()) } else { Some(GROUND) };
    let Some(to) = to else { return false };
    network.tie(net, to);
    matches!(judge(regions, &network), Effect::Changes(_))
}

/// Whether every lamp is dark with a selector turned to a position, a fault in the board.
pub(super) fn is_dark_at(regions: &Regions, fault: &Fault, switch: PartId, position: usize) -> bool {
    let board = regions.extracted.shape.board;
    let mut network = Network::of_board(board);
    if !apply(board, fault, &mut network) {
        return false;
    }
    network.select(switch, position);
    matches!(judge(regions, &network), Effect::Changes(_))
}

fn judge(regions: &Regions, network: &Network) -> Effect {
    let Ok(solution) = solve(network) else { return Effect::Undecided(Why::Unsolved) };
    let dark = |(lamp, _): (PartId, SignalId)| {
        solution.lamp(network, lamp).is_some_and(|(_, glow)| glow == Glow::Dark)
    };
    match lamps(regions).all(dark) {
        true => Effect::Changes(all_lamps(regions, Shown::Zero)),
        false => Effect::Undecided(Why::WholeBoard),
    }
}

/// What is seen of a board whose supply gives enough, or sags, as it was set.
pub(super) fn left_open(regions: &Regions) -> Behaviour {
    all_lamps(regions, Shown::Unknown)
}

fn all_lamps(regions: &Regions, shown: Shown) -> Behaviour {
    let writes: Vec<_> = lamps(regions).map(|(_, signal)| Target::Signal(signal)).collect();
    Behaviour { table: vec![shown; writes.len()], writes, ..Behaviour::default() }
}

fn lamps(regions: &Regions) -> impl Iterator<Item = (PartId, SignalId)> {
    regions.extracted.lamp_of.iter().filter_map(|(lamp, signal)| Some((lamp, (*signal)?)))
}
