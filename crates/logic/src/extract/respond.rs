//! What a cluster answers when its inputs are held: the voltage on each signal it drives, under that
//! signal's real load, and the glow of its lamps.

use super::clusters::ClusterId;
use super::patch::{Answer, Patch, Shape};
use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::{GROUND, Memory, NodeId, Solver};
use dryjoint_units::Volts;
use std::cell::RefCell;

/// Solves patches, each distinct one once.
pub struct Bench<'s, 'b> {
    /// The board's shape.
    pub shape: &'s Shape<'b>,
    memory: Memory,
    solver: RefCell<Solver>,
}

impl<'s, 'b> Bench<'s, 'b> {
    /// A bench that knows no answers yet.
    pub fn new(shape: &'s Shape<'b>) -> Self {
        Self { shape, memory: Memory::default(), solver: RefCell::default() }
    }

    /// How many distinct patches were solved.
    pub fn solved(&self) -> usize {
        self.memory.len()
    }

    /// Solves a patch for some nets and lamps.
    pub fn ask(&self, patch: &Patch, nets: &[NetId], lamps: &[PartId]) -> Answer {
        let network = patch.network(self.shape.board);
        let at: Vec<Option<NodeId>> = nets.iter().map(|&net| network.find(net)).collect();
        let nodes: Vec<NodeId> = at.iter().map(|node| node.unwrap_or(GROUND)).collect();
        match self.memory.ask(&mut self.solver.borrow_mut(), &network, &nodes, lamps) {
            Some((volts, glow)) => Answer {
                volts: volts.into_iter().zip(at).map(|(volts, at)| at.map(|_| volts)).collect(),
                glow: glow.into_iter().map(Some).collect(),
            },
            None => Answer { volts: vec![None; nets.len()], glow: vec![None; lamps.len()] },
        }
    }

    /// The answer of one cluster with its inputs held: its outputs in the order of `drives`, its
    /// lamps in theirs. Other drivers of the same signals are left out; `edge` holds whatever else
    /// touches the outputs.
    pub fn respond(&self, id: ClusterId, inputs: &[Volts], edge: &dyn Fn(NetId) -> Option<Volts>) -> Answer {
        let cluster = &self.shape.clusters.rows[id];
        let hold = |net: NetId| match cluster.reads.iter().position(|&read| read == net) {
            Some(at) => Some(inputs[at]),
            None => edge(net),
        };
        let others: Vec<PartId> = cluster
            .drives
            .iter()
            .flat_map(|&net| {
                self.shape.drivers(net).filter(|&other| other != id).map(move |other| (other, net))
            })
            .flat_map(|(other, net)| self.shape.output_transistors(other, net))
            .collect();
        let mut patch = Patch::around(self.shape, &cluster.drives, &[id], &hold, &others);
        self.lend(&mut patch, &cluster.drives);
        self.ask(&patch, &cluster.drives, &cluster.lamps)
    }

    /// The voltage of a signal that nobody drives: pull resistors and loads alone.
    pub fn rest(&self, net: NetId, edge: &dyn Fn(NetId) -> Option<Volts>) -> Option<Volts> {
        let shape = self.shape;
        let mut without: Vec<PartId> =
            shape.drivers(net).flat_map(|id| shape.output_transistors(id, net)).collect();
        if !shape.is_source(net) {
            let joins = shape.touching[net].iter().filter(|&&id| shape.is_join(id));
            without.extend(joins.flat_map(|&id| &shape.clusters.rows[id].parts));
        }
        let mut patch = Patch::around(shape, &[net], &[], edge, &without);
        self.lend(&mut patch, &[net]);
        self.ask(&patch, &[net], &[]).volts[0]
    }

    /// What a join puts on one of its undriven ends, its driven ends held.
    pub fn carry(
        &self,
        to: NetId,
        inputs: &[(NetId, Volts)],
        edge: &dyn Fn(NetId) -> Option<Volts>,
    ) -> Option<Volts> {
        let hold = |net: NetId| {
            inputs.iter().find(|(known, _)| *known == net).map(|&(_, v)| v).or_else(|| edge(net))
        };
        let patch = Patch::around(self.shape, &[to], &[], &hold, &[]);
        self.ask(&patch, &[to], &[]).volts[0]
    }

    fn lend(&self, patch: &mut Patch, nets: &[NetId]) {
        let open = nets.iter().filter(|&&net| !self.shape.nodes.reaches_rail(self.shape.board, net));
        patch.lent.extend(open.map(|&net| (net, self.shape.rail)));
    }
}
