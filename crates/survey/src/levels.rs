//! How low a high can get and how high a low, under the real loads, at the worst corner.
//!
//! What the states of the board showed is the typical figure; how much worse it can get is found on the
//! cut-out around the net: its drivers, its pull-ups and everything that loads it.

use crate::corner::{AtCorners, corners_of};
use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::{Conditions, Network, Solver, corners};
use dryjoint_ids::Id;
use dryjoint_logic::{Extracted, Function, Level, Patch};
use dryjoint_units::Volts;
use std::collections::HashMap;

/// Finds how far levels can move, each distinct circuit once.
pub(crate) struct Levels<'e, 'b> {
    extracted: &'e Extracted<'b>,
    conditions: Conditions,
    known: HashMap<Vec<u64>, Option<(f64, AtCorners)>>,
}

impl<'e, 'b> Levels<'e, 'b> {
    pub(crate) fn new(extracted: &'e Extracted<'b>, conditions: Conditions) -> Self {
        Self { extracted, conditions, known: HashMap::new() }
    }

    /// The level of a net with typical parts, and at each corner of the surroundings with the parts that
    /// move it towards the other level; nothing where no circuit of it holds that level.
    pub(crate) fn of(&mut self, net: NetId, high: bool, solver: &mut Solver) -> Option<(f64, AtCorners)> {
        let network = self.network(net, high)?;
        let nameless = network.anonymous();
        let at = network.find(net)?;
        let mut key = nameless.key.clone();
        key.extend([nameless.node(at)?.index() as u64, u64::from(high)]);
        let board = self.extracted.shape.board;
        let conditions = self.conditions;
        *self.known.entry(key).or_insert_with(|| {
            let mut measure = |network: &Network| {
                let volts = solver.solve(network).ok().and_then(|solution| solution.at(network, net));
                volts.map(|volts| vec![volts.0]).ok_or(())
            };
            let typical = measure(&network).ok()?.pop()?;
            let mut worst = [typical; 4];
            for (worst, corner) in worst.iter_mut().zip(corners_of(&conditions)) {
                let network = corner.around(&network, board);
                let found =
                    corners(&network, &corner.tolerances(&network, board), &mut measure).ok()?.pop()?;
                *worst = if high { found.least.value } else { found.most.value };
            }
            Some((typical, worst))
        })
    }

    /// The net with everything on it, held at a level as its stages hold it.
    pub(crate) fn network(&self, net: NetId, high: bool) -> Option<Network> {
        let shape = &self.extracted.shape;
        let levels = &self.extracted.levels;
        let rests_high = levels[net].rest == Level::WeakOne;
        let lies_low = levels[net].rest == Level::WeakZero && shape.drivers(net).next().is_none();
        let mut inputs: Vec<(NetId, Volts)> = Vec::new();
        let mut without: Vec<PartId> = Vec::new();
        let all = |out: &mut Vec<PartId>| {
            out.extend(shape.drivers(net).flat_map(|id| shape.output_transistors(id, net)));
        };
        let mut also = Vec::new();
        if high && rests_high || !high && lies_low {
            all(&mut without);
        } else {
            let (cluster, row) = self.driving(net, high)?;
            let reads = &shape.clusters.rows[cluster].reads;
            let held = reads.iter().enumerate();
            inputs.extend(held.map(|(bit, &read)| (read, levels[read].volts(row >> bit & 1 != 0))));
            all(&mut without);
            without.retain(|part| !shape.output_transistors(cluster, net).any(|own| own == *part));
            also.push(cluster);
        }
        let hold = |other: NetId| {
            let known = inputs.iter().find(|(read, _)| *read == other);
            Some(known.map_or(levels[other].low, |(_, volts)| *volts))
        };
        let mut patch = Patch::around(shape, &[net], &also, &hold, &without);
        if !shape.nodes.reaches_rail(shape.board, net) {
            patch.lent.push((net, shape.rail));
        }
        for (_, volts) in &mut patch.held {
            *volts = Volts((volts.0 / 0.02).round() * 0.02);
        }
        Some(patch.network(shape.board))
    }

    /// A stage that drives the net to this level, with the row of fewest high inputs that does.
    fn driving(&self, net: NetId, high: bool) -> Option<(dryjoint_logic::ClusterId, usize)> {
        let signal = self.extracted.signal_of[net]?;
        let wanted = Level::from(high);
        let stages = self.extracted.logic.stages.iter().filter(|(_, stage)| stage.output == signal);
        stages
            .filter_map(|(id, stage)| {
                let cluster = self.extracted.cluster_of[id]?;
                let Function::Found(rows) = &stage.function else { return None };
                let fits = (0..rows.len()).filter(|&row| rows[row] == wanted);
                fits.min_by_key(|row| row.count_ones()).map(|row| (cluster, row))
            })
            .next()
    }
}
