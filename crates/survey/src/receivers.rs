//! Where each receiver reads low and where high, with typical parts and at the worst corner.
//!
//! A stage reads low up to the first and high from the second point of its transfer curve at which the
//! slope is −1 (the usual definition of V_IL and V_IH; e.g. Sedra & Smith, *Microelectronic
//! Circuits*, "The voltage transfer characteristic"). Its other inputs stand at the level that makes
//! this one hardest to read. A lamp driver reads low while its lamp is plainly dark, and high from
//! where it is plainly lit.
//!
//! The corner is sought on the output at the typical threshold, for all tolerances at once; the
//! threshold is then taken anew at that corner.

use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_circuit::{Conditions, Network, Solver, Variable, corners};
use dryjoint_logic::{ClusterId, Extracted, Patch};
use dryjoint_parts::{Looks, Model};
use dryjoint_units::Volts;
use std::collections::HashMap;

/// A threshold with typical parts and at its worst corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// With typical parts.
    pub typical: Volts,
    /// At the worst corner.
    pub worst: Volts,
}

/// How one input of one stage reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Receiver {
    /// The stage.
    pub cluster: ClusterId,
    /// A part of it that a person finds: its transistor.
    pub part: PartId,
    /// At or below this it reads low.
    pub low: Bound,
    /// At or above this it reads high.
    pub high: Bound,
}

/// What an output is judged by.
#[derive(Clone, Copy, Debug)]
enum Seen {
    Net(NetId),
    Lamp(PartId, Looks),
}

/// One input of a stage as a circuit: everything held but the input.
#[derive(Clone, Debug)]
pub(crate) struct Probe {
    network: Network,
    input: NetId,
    seen: Seen,
    rail: f64,
}

/// Finds receivers, each distinct circuit once.
pub(crate) struct Receivers<'e, 'b> {
    extracted: &'e Extracted<'b>,
    conditions: Conditions,
    known: HashMap<Vec<u64>, Option<(Bound, Bound)>>,
}

impl<'e, 'b> Receivers<'e, 'b> {
    pub(crate) fn new(extracted: &'e Extracted<'b>, conditions: Conditions) -> Self {
        Self { extracted, conditions, known: HashMap::new() }
    }

    /// Every receiver on a net.
    pub(crate) fn on(&mut self, net: NetId, solver: &mut Solver) -> Vec<Receiver> {
        let shape = &self.extracted.shape;
        let at = shape.nodes.first(net);
        let mut found = Vec::new();
        for &id in &shape.touching[at] {
            let cluster = &shape.clusters.rows[id];
            if cluster.is_source || shape.passive(id) || !cluster.reads.contains(&at) {
                continue;
            }
            let bounds = probes(self.extracted, id, at).into_iter().filter_map(|probe| {
                let key = probe.key();
                if let Some(known) = self.known.get(&key) {
                    return *known;
                }
                let bounds = probe.bounds(shape.board, &self.conditions, solver);
                self.known.insert(key, bounds);
                bounds
            });
            let strictest = bounds.reduce(|(low, high), (other_low, other_high)| {
                let low = if other_low.worst < low.worst { other_low } else { low };
                let high = if other_high.worst > high.worst { other_high } else { high };
                (low, high)
            });
            if let Some((low, high)) = strictest {
                found.push(Receiver { cluster: id, part: person_finds(shape.board, &cluster.parts), low, high });
            }
        }
        found
    }
}

/// The first transistor, or the first part.
pub(crate) fn person_finds(board: &Board, parts: &[PartId]) -> PartId {
    let transistor = |part: &&PartId| matches!(board.parts[**part].kind, PartKind::Bipolar(_));
    parts.iter().find(transistor).copied().unwrap_or(parts[0])
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
        let pulls: Vec<ClusterId> =
            shape.touching[net].iter().copied().filter(|&other| other != id && shape.passive(other)).collect();
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
        found.extend(seen.iter().map(|&seen| Probe { network: network.clone(), input, seen, rail: shape.rail.0 }));
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
    fn key(&self) -> Vec<u64> {
        let nameless = self.network.anonymous();
        let mut key = nameless.key.clone();
        let node = |found: Option<dryjoint_circuit::NodeId>| {
            use dryjoint_ids::Id;
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
        (0..=points).map(|k| Some((k as f64 * step, self.output(&mut network, solver, k as f64 * step)?))).collect()
    }

    /// Both thresholds, typical and at the corner that makes them stricter; nothing where the input does
    /// not matter here.
    fn bounds(&self, board: &Board, conditions: &Conditions, solver: &mut Solver) -> Option<(Bound, Bound)> {
        let (low, high) = self.thresholds(&self.network, solver)?;
        let falls = self.falls(solver)?;
        let tolerances = self.network.tolerances(board, conditions);
        // Below its low threshold the output has not moved yet: the worst corner moves it most.
        let mut corner = |at: f64, moved: bool| {
            let measure = |network: &Network| {
                let mut network = network.clone();
                self.output(&mut network, solver, at).map(|volts| vec![volts]).ok_or(())
            };
            let found = corners(&self.network, &tolerances, measure).ok()?.pop()?;
            let settings: Vec<(Variable, f64)> =
                if moved == falls { found.least.settings } else { found.most.settings };
            self.thresholds(&self.network.varied(&settings), solver)
        };
        let worst_low = corner(low, true).map_or(low, |(worst, _)| worst.min(low));
        let worst_high = corner(high, false).map_or(high, |(_, worst)| worst.max(high));
        let bound = |typical, worst| Bound { typical: Volts(typical), worst: Volts(worst) };
        Some((bound(low, worst_low), bound(high, worst_high)))
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
                let crosses = |level: f64| (1..=points).find(|&k| (curve[k - 1] < level) != (curve[k] < level));
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
