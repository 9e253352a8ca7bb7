//! Patches: small cut-outs of the board, solved in the circuit.
//!
//! A patch holds what decides the voltage of a few signals: the clusters on them, and on the far side
//! of every receiver the resistor its collector needs to behave. All other signals are held at a
//! voltage. Equal patches have equal answers: a board of many like stages solves few of them.

use super::clusters::{ClusterId, Clusters};
use super::nodes::{Node, Nodes, is_passive};
use dryjoint_board::{Board, NetId, PartId, PartKind, Supply};
use dryjoint_circuit::Network;
use dryjoint_ids::{Id, Side};
use dryjoint_parts::Glow;
use dryjoint_units::{Ohms, Volts};

/// The board with what is known of its shape.
#[derive(Clone, Debug)]
pub struct Shape<'b> {
    /// The board.
    pub board: &'b Board,
    /// Its nodes.
    pub nodes: Nodes,
    /// Its clusters.
    pub clusters: Clusters,
    /// The clusters that touch a node.
    pub touching: Side<NetId, Vec<ClusterId>>,
    /// The links on a node.
    links: Side<NetId, Vec<PartId>>,
    /// The highest rail's voltage.
    pub rail: Volts,
}

impl<'b> Shape<'b> {
    /// Indexes a board's clusters by node.
    pub fn new(board: &'b Board, nodes: Nodes, clusters: Clusters) -> Self {
        let mut touching = Side::filled(&board.nets, Vec::new());
        let mut links = Side::filled(&board.nets, Vec::new());
        for (id, cluster) in clusters.rows.iter() {
            for &net in cluster.drives.iter().chain(&cluster.reads) {
                touching[net].push(id);
            }
        }
        for (id, _) in board.parts.iter().filter(|(_, part)| part.kind == PartKind::Link) {
            links[nodes.ends(board, id)[0]].push(id);
        }
        let rails = board.nets.iter().filter_map(|(_, net)| match net.supply {
            Some(Supply::Rail { volts, .. }) => Some(volts.0),
            _ => None,
        });
        let rail = Volts(rails.fold(0.0, f64::max));
        Self { board, nodes, clusters, touching, links, rail }
    }

    /// The clusters with a collector on this node, clock sources left out.
    pub fn drivers(&self, net: NetId) -> impl Iterator<Item = ClusterId> {
        let at = self.nodes.first(net);
        self.touching[at].iter().copied().filter(move |&id| {
            let cluster = &self.clusters.rows[id];
            !cluster.is_source && cluster.drives.contains(&at)
        })
    }

    /// The net of the highest rail; ground on a board without one.
    pub fn rail_net(&self) -> NetId {
        let volts = |net: NetId| match self.nodes.kind(net) {
            Node::Rail(volts) => volts.0,
            _ => 0.0,
        };
        let highest = |a: NetId, b: NetId| if volts(b) > volts(a) { b } else { a };
        let supplies = self.board.nets.ids().filter(|&net| self.nodes.is_supply(net));
        supplies.reduce(highest).unwrap_or(NetId::at(0))
    }

    /// Whether a cluster has no transistor.
    pub fn passive(&self, cluster: ClusterId) -> bool {
        let parts = &self.clusters.rows[cluster].parts;
        parts.iter().all(|&part| is_passive(&self.board.parts[part].kind))
    }

    /// Whether a hand or a clock source sets this node.
    pub fn is_set(&self, net: NetId) -> bool {
        let at = self.nodes.first(net);
        let clocks = self.board.clocks.iter().flat_map(|(_, clock)| [Some(clock.net), clock.complement]);
        let lines = self.board.lines.iter().map(|(_, line)| Some(line.net));
        lines.chain(clocks).flatten().any(|net| self.nodes.first(net) == at)
    }

    /// Whether a passive cluster joins driven signals to ones that nobody else drives.
    pub fn is_join(&self, id: ClusterId) -> bool {
        self.passive(id) && self.clusters.rows[id].reads.len() > 1
    }

    /// Whether this node has a driver of its own, a hand included.
    pub fn is_source(&self, net: NetId) -> bool {
        self.is_set(net) || self.drivers(net).next().is_some()
    }

    /// The transistors of a cluster whose collector or emitter is the output on `net`.
    pub fn output_transistors(&self, cluster: ClusterId, net: NetId) -> impl Iterator<Item = PartId> {
        let at = self.nodes.first(net);
        self.clusters.rows[cluster].parts.iter().copied().filter(move |&part| {
            let ends = self.nodes.ends(self.board, part);
            matches!(self.board.parts[part].kind, PartKind::Bipolar(_)) && (ends[0] == at || ends[2] == at)
        })
    }
}

/// A cut-out: parts to solve, signals to hold.
#[derive(Clone, Debug, Default)]
pub struct Patch {
    /// The parts, in board order, each once.
    pub parts: Vec<PartId>,
    /// Signals held at a voltage, by node.
    pub held: Vec<(NetId, Volts)>,
    /// Signals that nothing on the board pulls, each lent a pull-up to this voltage.
    pub lent: Vec<(NetId, Volts)>,
}

/// The pull-up lent to a signal that leaves the board open: weak against any driver, strong against
/// any leakage.
const LENT: Ohms = Ohms(47e3);

impl Patch {
    /// The patch around `free` signals. `hold` gives the voltage of a signal at its edge; `without`
    /// are parts left out.
    pub fn around(
        shape: &Shape,
        free: &[NetId],
        also: &[ClusterId],
        hold: &dyn Fn(NetId) -> Option<Volts>,
        without: &[PartId],
    ) -> Self {
        let mut clusters: Vec<ClusterId> = also.to_vec();
        for &net in free {
            clusters.extend(shape.touching[shape.nodes.first(net)].iter().copied());
        }
        clusters.sort_unstable();
        clusters.dedup();
        // Behind a clock source stands an oscillator, not a load.
        clusters.retain(|&id| !shape.clusters.rows[id].is_source);
        let mut patch = Self::default();
        let mut edges: Vec<(NetId, bool)> = Vec::new();
        let mut pulls = Vec::new();
        for &id in &clusters {
            let cluster = &shape.clusters.rows[id];
            patch.parts.extend(&cluster.parts);
            edges.extend(cluster.reads.iter().map(|&net| (net, true)));
            edges.extend(cluster.drives.iter().map(|&net| (net, false)));
        }
        let is_free = |net: NetId| free.iter().any(|&f| shape.nodes.first(f) == net);
        for &(net, read) in &edges {
            if is_free(net) || patch.held.iter().any(|&(known, _)| known == net) {
                continue;
            }
            match hold(net) {
                Some(volts) if read => patch.held.push((net, volts)),
                // A receiver's output moves by itself, but needs what pulls it.
                _ => pulls.extend(shape.touching[net].iter().copied().filter(|&id| {
                    let cluster = &shape.clusters.rows[id];
                    shape.passive(id) && cluster.reads.len() == 1 && !cluster.is_source
                })),
            }
        }
        for id in pulls {
            patch.parts.extend(&shape.clusters.rows[id].parts);
        }
        let nets: Vec<NetId> = free.iter().copied().chain(edges.iter().map(|&(net, _)| net)).collect();
        for net in nets {
            patch.parts.extend(&shape.links[shape.nodes.first(net)]);
        }
        patch.parts.sort_unstable();
        patch.parts.dedup();
        patch.parts.retain(|part| !without.contains(part));
        patch.held.sort_unstable_by_key(|&(net, _)| net);
        patch
    }

    /// The patch as a network, its edge held.
    pub fn network(&self, board: &Board) -> Network {
        let mut network = Network::of_parts(board, &self.parts);
        for &(net, volts) in &self.held {
            network.force(net, volts);
        }
        for &(net, volts) in &self.lent {
            let far = network.node();
            network.ideal(far, volts);
            network.bridge(net, far, LENT);
        }
        network
    }
}

/// What a patch answers: the voltages asked for, and how the lamps glow.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// In the order asked; nothing where the circuit found no solution.
    pub volts: Vec<Option<Volts>>,
    /// In the order asked.
    pub glow: Vec<Option<Glow>>,
}
