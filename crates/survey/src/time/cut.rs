//! Pieces of the board that move: the stages on some nets with their capacitors and the wiring's.
//!
//! The logic's own cut-outs know no capacitors, for levels at rest need none, and end at clock
//! sources. Here both belong to the piece.

use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_circuit::{GROUND, Network};
use dryjoint_logic::{Extracted, Node, Patch};
use dryjoint_units::{Farads, Volts};

/// What the wiring of a net adds to the capacitance of the junctions on it (judgement: some centimetres
/// of track or wire).
pub(crate) const WIRING: Farads = Farads(20e-12);
/// The same where a net leaves the board by a connector (judgement: a backplane's length of wire).
pub(crate) const LEAVING: Farads = Farads(50e-12);

/// The piece around `free` nets as a network. `hold` gives the voltages at its edge; the clock sources
/// belong to it where `sources` says so.
pub(crate) fn cut(
    extracted: &Extracted,
    free: &[NetId],
    hold: &dyn Fn(NetId) -> Option<Volts>,
    sources: bool,
) -> Network {
    let shape = &extracted.shape;
    let board = shape.board;
    let mut patch = Patch::around(shape, free, &[], hold, &[]);
    let mut moving = free.to_vec();
    if sources {
        for cluster in shape.clusters.rows.rows().iter().filter(|cluster| cluster.is_source) {
            patch.parts.extend(&cluster.parts);
            moving.extend(&cluster.drives);
        }
        patch.parts.extend(board.clocks.rows().iter().filter_map(|clock| clock.selector));
    }
    for &net in free {
        if !shape.nodes.reaches_rail(board, net) {
            patch.lent.push((net, shape.rail));
        }
    }
    patch.parts.extend(capacitors(extracted, &patch.parts, &moving));
    patch.parts.sort_unstable();
    patch.parts.dedup();
    let mut network = patch.network(board);
    add_wiring(extracted, &mut network);
    network
}

/// The capacitors that hang on a free net, or on a net inside the piece.
fn capacitors(extracted: &Extracted, parts: &[PartId], free: &[NetId]) -> Vec<PartId> {
    let nodes = &extracted.shape.nodes;
    let board = extracted.shape.board;
    let inside: Vec<NetId> = parts
        .iter()
        .flat_map(|&part| nodes.ends(board, part))
        .filter(|&net| nodes.kind(net) == Node::Inside)
        .chain(free.iter().map(|&net| nodes.first(net)))
        .collect();
    let touched = |net: &NetId| inside.contains(net) || nodes.is_supply(*net);
    let capacitors = board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Capacitor { .. }));
    capacitors
        .filter(|&(id, _)| {
            let ends = nodes.ends(board, id);
            ends.iter().all(touched) && ends.iter().any(|net| inside.contains(net))
        })
        .map(|(id, _)| id)
        .collect()
}

/// The wiring of every signal of a network, against ground.
fn add_wiring(extracted: &Extracted, network: &mut Network) {
    let board = extracted.shape.board;
    for net in board.nets.ids().filter(|&net| extracted.is_signal(net)) {
        if let Some(node) = network.find(net) {
            network.capacitor(node, GROUND, if leaves(board, net) { LEAVING } else { WIRING });
        }
    }
}

/// Whether a net leaves the board by a connector.
pub(crate) fn leaves(board: &Board, net: NetId) -> bool {
    let on_header = |part: PartId| board.parts[part].kind == PartKind::Header;
    board.nets[net].pins.iter().any(|pin| on_header(board.pins[*pin].part))
}
