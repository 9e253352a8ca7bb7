//! One row's circuit: the parts of a region, what stands in for the rest of the board, and the fault.
//!
//! Where a driver outside the region is to pull a signal, a second set of its parts is put there with its inputs
//! held so that it pulls. The drivers themselves stay, since they load the signals they read, but their outputs are
//! taken off.

use super::solve::{Regions, Site};
use crate::Fault;
use crate::apply::{BRIDGE, apply};
use crate::proof::Stand;
use dryjoint_board::{NetId, PartId, PartKind};
use dryjoint_circuit::{ElementId, GROUND, Network, NodeId};
use dryjoint_logic::{ClusterId, Patch};
use dryjoint_parts::Model;
use dryjoint_units::{Ohms, Volts};
use std::collections::BTreeMap;

/// The collector resistor lent to a driver whose output was taken off.
const OWN_PULL: Ohms = Ohms(2200.0);

/// What a clock source pulls low through: a transistor whose base current allows no more than some tens of
/// milliamperes (judgement). What lifts it is its collector resistor, [`OWN_PULL`].
const CLOCK_PULL: Ohms = Ohms(100.0);

/// The nodes and elements of a copy, by the nets and parts that they are copies of.
pub(super) type Copied = (BTreeMap<NetId, NodeId>, Vec<(PartId, ElementId)>);

/// Where the other inputs of whoever reads a region are held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Around {
    Low,
    High,
}

/// The circuit of one row.
pub(super) struct Built {
    pub network: Network,
    pub patch: Patch,
    /// The copies in it, each with its place in the list of edges.
    pub stand_ins: Vec<(usize, Copied)>,
}

impl Regions<'_, '_> {
    /// What of the board is solved.
    pub(super) fn patch(&self, site: &Site, around: Around) -> Patch {
        let held = |net: NetId| Some(self.extracted.levels[net].volts(around == Around::High));
        Patch::around(&self.extracted.shape, &site.signals, &site.core, &held, &[])
    }

    /// One row's circuit.
    pub(super) fn build<'s>(
        &self,
        site: &Site,
        stands: impl Iterator<Item = (NetId, &'s Stand)>,
        fault: Option<&Fault>,
        around: Around,
    ) -> Built {
        self.built(site, self.patch(site, around), stands, fault)
    }

    /// The same of a patch that is there.
    pub(super) fn built<'s>(
        &self,
        site: &Site,
        patch: Patch,
        stands: impl Iterator<Item = (NetId, &'s Stand)>,
        fault: Option<&Fault>,
    ) -> Built {
        let shape = &self.extracted.shape;
        let mut network = patch.network(shape.board);
        self.take_off_drivers(site, &patch, &mut network);
        let mut stand_ins = Vec::new();
        for (at, (net, stand)) in stands.enumerate() {
            stand_ins.extend(self.put(&mut network, net, stand).map(|copied| (at, copied)));
        }
        match fault {
            // Joints hold here, so pins are as good as their nets, and an output taken off above is not
            // where its pin is soldered.
            Some(Fault::Bridge(a, b)) => {
                network.bridge(shape.board.pins[*a].net, shape.board.pins[*b].net, BRIDGE);
            }
            Some(fault) => {
                apply(shape.board, fault, &mut network);
            }
            None => {}
        }
        Built { network, patch, stand_ins }
    }

    /// Outputs of clusters outside the core, off the region's signals: the copies speak for them.
    fn take_off_drivers(&self, site: &Site, patch: &Patch, network: &mut Network) {
        let shape = &self.extracted.shape;
        for &net in &site.signals {
            for id in shape.drivers(net).filter(|id| !site.core.contains(id)) {
                for part in shape.output_transistors(id, net) {
                    if patch.parts.binary_search(&part).is_err() {
                        continue;
                    }
                    let ends = shape.nodes.ends(shape.board, part);
                    for (pin, _) in
                        shape.board.parts[part].pins.iter().zip(&ends).filter(|(_, end)| **end == net)
                    {
                        if let Some(free) = network.lift(*pin) {
                            // Its collector still needs current, or its base would draw less.
                            network.bridge(free, shape.rail_net(), OWN_PULL);
                        }
                    }
                }
            }
        }
    }

    /// Puts a stand-in there; its own nodes and elements where it is a copy.
    fn put(&self, network: &mut Network, net: NetId, stand: &Stand) -> Option<Copied> {
        let rail = network.find(self.extracted.shape.rail_net());
        match stand {
            Stand::Nobody => {}
            Stand::Hand(high) => {
                let to = if *high { rail } else { Some(GROUND) };
                if let Some(to) = to {
                    network.tie(net, to);
                }
            }
            Stand::Clock(high) => {
                let (to, ohms) = if *high { (rail, OWN_PULL) } else { (Some(GROUND), CLOCK_PULL) };
                if let (Some(at), Some(to)) = (network.find(net), to) {
                    network.resistor(at, to, ohms);
                }
            }
            Stand::Copy(cluster, inputs) => return Some(self.copy(network, net, *cluster, inputs)),
        }
        None
    }

    /// A second set of a cluster's parts: its inputs held, its output on the signal.
    fn copy(&self, network: &mut Network, output: NetId, id: ClusterId, inputs: &[(NetId, Volts)]) -> Copied {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let cluster = &shape.clusters.rows[id];
        let mut nodes: BTreeMap<NetId, NodeId> = BTreeMap::new();
        let mut elements = Vec::new();
        for &(net, volts) in inputs {
            let node = network.node();
            network.ideal(node, volts);
            nodes.insert(net, node);
        }
        for &part in &cluster.parts {
            let ends: Vec<NodeId> = shape
                .nodes
                .ends(board, part)
                .into_iter()
                .map(|net| {
                    let shared = net == output || shape.nodes.is_supply(net);
                    match (shared, network.find(net)) {
                        (true, Some(node)) => node,
                        _ => *nodes.entry(net).or_insert_with(|| network.node()),
                    }
                })
                .collect();
            let card = |model| &board.models[model].model;
            let element = match board.parts[part].kind {
                PartKind::Resistor { ohms, .. } => network.resistor(ends[0], ends[1], ohms),
                PartKind::Diode(model) | PartKind::Lamp(model) | PartKind::Bipolar(model) => {
                    match card(model) {
                        Model::Diode(diode) => network.diode(ends[0], ends[1], diode),
                        Model::Lamp(lamp) => network.lamp(ends[0], ends[1], lamp),
                        Model::Bipolar(bipolar) => network.bipolar(ends[0], ends[1], ends[2], bipolar),
                        Model::Mosfet(_) => continue,
                    }
                }
                _ => continue,
            };
            elements.push((part, element));
        }
        (nodes, elements)
    }
}
