//! Coupling capacitors: what makes an edge out of a level.
//!
//! A capacitor from a signal into a stage tells the stage of the signal's edges and nothing of its level: the
//! differentiator into a base, the steering network of a toggle. Such a stage gets a function of edges (see
//! `pulses.rs`). One across a resistor only hurries it, one against a rail only slows; any other is refused.

use super::clusters::{ClusterId, Clusters};
use super::nodes::{Node, Nodes};
use dryjoint_board::{Board, Entity, NetId, Notice, PartId, PartKind};

/// A capacitor from a signal into a stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Coupling {
    /// The capacitor.
    pub capacitor: PartId,
    /// The signal whose edges it hands on, as a node.
    pub from: NetId,
    /// The stage they go into.
    pub cluster: ClusterId,
}

/// Inputs that a stage with a coupling may have: every combination meets every edge.
const MOST_READS: usize = 4;

/// Every coupling that can be followed, and a notice for every other.
pub(super) fn couplings(board: &Board, nodes: &Nodes, clusters: &Clusters) -> (Vec<Coupling>, Vec<Notice>) {
    let (mut found, mut notices) = (Vec::new(), Vec::new());
    for (id, part) in board.parts.iter() {
        if !matches!(part.kind, PartKind::Capacitor { .. }) || is_harmless(board, nodes, clusters, id) {
            continue;
        }
        match coupling(board, nodes, clusters, id) {
            Ok(coupling) => found.push(coupling),
            Err(why) => notices.push(refused(board, nodes, id, why)),
        }
    }
    (found, notices)
}

fn coupling(board: &Board, nodes: &Nodes, clusters: &Clusters, id: PartId) -> Result<Coupling, &'static str> {
    let ends = nodes.ends(board, id);
    let signals: Vec<NetId> = ends.iter().copied().filter(|&net| nodes.kind(net) == Node::Signal).collect();
    let [from] = signals[..] else {
        return Err(match signals.len() {
            0 => "neither of the two is a signal",
            _ => "both are signals, and nothing between them makes a level of it",
        });
    };
    let inside = ends.into_iter().find(|&net| net != from).unwrap_or(from);
    let mut parts = nodes.pins(board, inside).map(|pin| board.pins[pin].part);
    let Some(cluster) = parts.find_map(|part| clusters.of_part[part]) else {
        return Err("no stage is there");
    };
    let row = &clusters.rows[cluster];
    if row.drives.is_empty() {
        return Err("no transistor there makes a level of it");
    }
    if row.reads.contains(&from) || row.drives.contains(&from) {
        return Err("the stage there has its level too");
    }
    if row.reads.len() > MOST_READS {
        return Err("the stage there reads too many other signals");
    }
    Ok(Coupling { capacitor: id, from, cluster })
}

/// Whether a capacitor only slows or hurries, or belongs to a clock source.
fn is_harmless(board: &Board, nodes: &Nodes, clusters: &Clusters, id: PartId) -> bool {
    let ends = nodes.ends(board, id);
    if ends.iter().any(|&net| nodes.is_supply(net)) || ends[0] == ends[1] {
        return true;
    }
    let beside = |&other: &PartId| {
        let mut there = nodes.ends(board, other);
        there.sort_unstable();
        let mut here = ends.clone();
        here.sort_unstable();
        there == here && matches!(board.parts[other].kind, PartKind::Resistor { .. })
    };
    let touching = |net: NetId| nodes.pins(board, net).map(|pin| board.pins[pin].part);
    let source =
        |part: PartId| clusters.of_part[part].is_some_and(|cluster| clusters.rows[cluster].is_source);
    touching(ends[0]).any(|other| beside(&other)) || ends.iter().flat_map(|&net| touching(net)).any(source)
}

/// The error for a capacitor whose edges are not followed.
pub(super) fn refused(board: &Board, nodes: &Nodes, id: PartId, why: &str) -> Notice {
    let ends = nodes.ends(board, id);
    let text = format!(
        "{} couples `{}` to `{}`, an edge that cannot be followed: {why}",
        board.parts[id].reference, board.nets[ends[0]].name, board.nets[ends[1]].name
    );
    let mend = "declare the net it makes as a `clock`, or drive the stage by levels";
    Notice::error("coupling-capacitor", Entity::Part(id), text, mend)
}
