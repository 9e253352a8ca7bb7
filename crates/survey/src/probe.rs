//! One input of one stage as a circuit by itself: everything held but the input.
//!
//! A stage reads low up to the first and high from the second point of its transfer curve at which the
//! slope is −1 (the usual definition of V_IL and V_IH; e.g. Sedra & Smith, *Microelectronic
//! Circuits*, "The voltage transfer characteristic"). A lamp driver reads low while its lamp is plainly
//! dark, and high from where it is plainly lit.
//!
//! The worst parts are sought on the output at the typical threshold, for all tolerances at once.

use crate::corner::corners_of;
use crate::fan_out::BASE;
use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_circuit::{Conditions, Network, NodeId, Solver, corners};
use dryjoint_ids::Id;
use dryjoint_logic::{ClusterId, Extracted, Patch};
use dryjoint_parts::{Looks, Model};
use dryjoint_units::{Ohms, Volts};

/// What an output is judged by.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Seen {
    /// A signal.
    Net(NetId),
    /// A lamp.
    Lamp(PartId, Looks),
}

/// One input of a stage as a circuit.
#[derive(Clone, Debug)]
pub(crate) struct Probe {
    network: Network,
    input: NetId,
    pub(crate) seen: Seen,
    rail: f64,
}

/// What was found of a probe.
#[derive(Clone, Debug)]
pub(crate) struct Traits {
    /// The probe they were found with; others alike have other names.
    probe: Probe,
    /// Typical thresholds.
    pub(crate) low: f64,
    pub(crate) high: f64,
    /// Whether the output falls as the input rises.
    pub(crate) falls: bool,
    /// At each corner of the surroundings: the copy that reads low worst with its low threshold, and the
    /// one that reads high worst with its high threshold.
    pub(crate) worst: Vec<[(Network, f64); 2]>,
}

impl Traits {
    /// The input at which the worst copy of a corner passes `target` at its output; side 0 is the copy
    /// that reads low worst, side 1 the one that reads high worst.
    pub(crate) fn crossing(&self, corner: usize, side: usize, target: f64, solver: &mut Solver) -> f64 {
        let mut network = self.worst[corner][side].0.clone();
        bisect(0.0, self.probe.rail, |volts| {
            let out = self.probe.output(&mut network, solver, volts);
            out.is_some_and(|out| (out <= target) == self.falls)
        })
    }
}

/// The circuits in which an input of a cluster is judged: for each of its outputs, its other inputs all
/// low and each in turn high.
pub(crate) fn probes(extracted: &Extracted, id: ClusterId, input: NetId) -> Vec<Probe> {
    let shape = &extracted.shape;
    let board = shape.board;
    let cluster = &shape.clusters.rows[id];
    let others: Vec<NetId> = cluster.reads.iter().copied().filter(|&net| net != input).collect();
    let mut parts = cluster.parts.clone();
    let mut seen = Vec::new();
    let lamp = |part: PartId| match board.parts[part].kind {
        PartKind::Lamp(model) => match &board.models[model].model {
            Model::Lamp(card) => Some(Seen::Lamp(part, card.looks())),
            _ => None,
        },
        _ => None,
    };
    seen.extend(cluster.lamps.iter().filter_map(|&part| lamp(part)));
    for &net in &cluster.drives {
        let pulls: Vec<ClusterId> = shape.touching[net]
            .iter()
            .copied()
            .filter(|&other| other != id && shape.passive(other))
            .collect();
        let read = shape.touching[net].iter().any(|&other| {
            other != id && !shape.passive(other) && shape.clusters.rows[other].reads.contains(&net)
        });
        let lamps: Vec<Seen> = pulls
            .iter()
            .flat_map(|&pull| shape.clusters.rows[pull].lamps.iter().filter_map(|&part| lamp(part)))
            .collect();
        for &pull in pulls.iter().filter(|&&pull| shape.clusters.rows[pull].reads.len() == 1) {
            parts.extend(&shape.clusters.rows[pull].parts);
        }
        if read || lamps.is_empty() {
            seen.push(Seen::Net(net));
        }
        seen.extend(lamps);
    }
    parts.sort_unstable();
    parts.dedup();
    let open = cluster.drives.iter().filter(|&&net| !shape.nodes.reaches_rail(board, net));
    let lent: Vec<(NetId, Volts)> = open.map(|&net| (net, shape.rail)).collect();
    let rows = std::iter::once(None).chain(others.iter().copied().map(Some));
    let mut found = Vec::new();
    for high in rows {
        let held = others.iter().map(|&net| (net, round(extracted.levels[net].volts(high == Some(net)))));
        let mut held: Vec<(NetId, Volts)> = held.collect();
        held.push((input, Volts(0.0)));
        let network = Patch { parts: parts.clone(), held, lent: lent.clone() }.network(board);
        found.extend(seen.iter().map(|&seen| Probe {
            network: network.clone(),
            input,
            seen,
            rail: shape.rail.0,
        }));
    }
    found
}

/// To 20 mV, so that levels that differ by nothing to speak of make one circuit.
fn round(volts: Volts) -> Volts {
    Volts((volts.0 / 0.02).round() * 0.02)
}

/// Volts between two points of the coarse curve.
const COARSE: f64 = 0.1;

impl Probe {
    /// Equal keys are equal circuits, judged alike.
    pub(crate) fn key(&self) -> Vec<u64> {
        let nameless = self.network.anonymous();
        let mut key = nameless.key.clone();
        let node = |found: Option<NodeId>| {
            found.and_then(|node| nameless.node(node)).map_or(0, |node| node.index() as u64)
        };
        key.push(node(self.network.find(self.input)));
        match self.seen {
            Seen::Net(net) => key.extend([0, node(self.network.find(net))]),
            Seen::Lamp(..) => key.push(1),
        }
        key
    }

    /// The output at an input voltage: volts, or a lamp's amperes.
    fn output(&self, network: &mut Network, solver: &mut Solver, volts: f64) -> Option<f64> {
        network.force(self.input, Volts(volts));
        let solution = solver.solve(network).ok()?;
        match self.seen {
            Seen::Net(net) => solution.at(network, net).map(|volts| volts.0),
            Seen::Lamp(lamp, _) => solution.lamp(network, lamp).map(|(amps, _)| amps.0),
        }
    }

    /// The transfer curve: input volts with output volts; nothing where a lamp is judged.
    pub(crate) fn curve(&self, solver: &mut Solver, step: f64) -> Option<Vec<(f64, f64)>> {
        let Seen::Net(_) = self.seen else { return None };
        let mut network = self.network.clone();
        let points = (self.rail / step).round() as usize;
        (0..=points)
            .map(|k| Some((k as f64 * step, self.output(&mut network, solver, k as f64 * step)?)))
            .collect()
    }

    /// The thresholds, and the copies that are worst at each corner of the surroundings; nothing where the
    /// input does not matter here.
    pub(crate) fn traits(
        &self,
        board: &Board,
        conditions: &Conditions,
        solver: &mut Solver,
    ) -> Option<Traits> {
        let (low, high) = self.thresholds(&self.network, solver)?;
        let falls = self.falls(solver)?;
        let mut worst = Vec::new();
        for corner in corners_of(conditions) {
            let network = corner.around(&self.network, board);
            let tolerances = corner.tolerances(&network, board);
            // Below its low threshold the output has not moved yet: the worst parts move it most.
            let mut copy = |at: f64, moved: bool| {
                let measure = |network: &Network| {
                    let mut network = network.clone();
                    self.output(&mut network, solver, at).map(|volts| vec![volts]).ok_or(())
                };
                let found = corners(&network, &tolerances, measure).ok()?.pop()?;
                let settings = if moved == falls { found.least.settings } else { found.most.settings };
                let copy = network.varied(&settings);
                let (low, high) = self.thresholds(&copy, solver)?;
                Some((copy, if moved { low } else { high }))
            };
            worst.push([copy(low, true)?, copy(high, false)?]);
        }
        Some(Traits { probe: self.clone(), low, high, falls, worst })
    }

    /// The thresholds with typical parts; nothing where the input does not matter here.
    pub(crate) fn typical(&self, solver: &mut Solver) -> Option<(f64, f64)> {
        self.thresholds(&self.network, solver)
    }

    /// The output at its high with so many resistors of `load` into bases that are on.
    pub(crate) fn high_into(&self, solver: &mut Solver, load: Ohms, count: usize) -> Option<Volts> {
        let Seen::Net(net) = self.seen else { return None };
        let mut network = self.network.clone();
        network.force(self.input, if self.falls(solver)? { Volts(0.0) } else { Volts(self.rail) });
        if count > 0 {
            let clamp = network.node();
            network.ideal(clamp, BASE);
            network.bridge(net, clamp, load / count as f64);
        }
        solver.solve(&network).ok()?.at(&network, net)
    }

    /// Whether the output falls as the input rises.
    fn falls(&self, solver: &mut Solver) -> Option<bool> {
        let mut network = self.network.clone();
        Some(self.output(&mut network, solver, self.rail)? < self.output(&mut network, solver, 0.0)?)
    }

    /// The two thresholds of one copy.
    fn thresholds(&self, network: &Network, solver: &mut Solver) -> Option<(f64, f64)> {
        let mut network = network.clone();
        let points = (self.rail / COARSE).round() as usize;
        let mut curve = Vec::with_capacity(points + 1);
        for k in 0..=points {
            curve.push(self.output(&mut network, solver, k as f64 * COARSE)?);
        }
        let mut at = |volts: f64| self.output(&mut network, solver, volts).unwrap_or(f64::NAN);
        match self.seen {
            Seen::Lamp(_, looks) => {
                let crosses =
                    |level: f64| (1..=points).find(|&k| (curve[k - 1] < level) != (curve[k] < level));
                let (dark, lit) = (crosses(looks.dark_below.0)?, crosses(looks.lit_from.0)?);
                let mut cross = |k: usize, level: f64| {
                    let rising = curve[k] > curve[k - 1];
                    bisect((k - 1) as f64 * COARSE, k as f64 * COARSE, |v| (at(v) >= level) == rising)
                };
                let (a, b) = (cross(dark, looks.dark_below.0), cross(lit, looks.lit_from.0));
                Some((a.min(b), a.max(b)))
            }
            Seen::Net(_) => {
                if (curve[points] - curve[0]).abs() < self.rail / 4.0 {
                    return None;
                }
                let steep = |k: &usize| (curve[k + 1] - curve[*k]).abs() > COARSE;
                let first = (0..points).find(steep)? as f64 * COARSE;
                let last = ((0..points).rev().find(steep)? + 1) as f64 * COARSE;
                let mut slope = |v: f64| ((at(v + 2e-3) - at(v - 2e-3)) / 4e-3).abs();
                let low = bisect(first - COARSE, first + COARSE, |v| slope(v) >= 1.0);
                let high = bisect(last - COARSE, last + COARSE, |v| slope(v) < 1.0);
                Some((low, high))
            }
        }
    }
}

/// Where `holds` turns from false to true between `a` and `b`, to two millivolts.
fn bisect(mut a: f64, mut b: f64, mut holds: impl FnMut(f64) -> bool) -> f64 {
    while b - a > 2e-3 {
        let middle = f64::midpoint(a, b);
        if holds(middle) { b = middle } else { a = middle }
    }
    f64::midpoint(a, b)
}
