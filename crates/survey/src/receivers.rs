//! Where each receiver reads low and where high.
//!
//! With typical parts the question is how much noise a level bears: up to the points of unity gain (see
//! `probe.rs`). With the worst parts at a corner of the surroundings it is another: does the stage
//! still put out a level that its own receivers read as they should? So there the input counts as read
//! where the output passes what the strictest of its receivers wants.

use crate::corner::AtCorners;
use crate::probe::{Probe, Seen, Traits, probes};
use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_circuit::{Conditions, Solver};
use dryjoint_logic::{ClusterId, Extracted};
use dryjoint_units::Volts;
use std::collections::HashMap;
use std::rc::Rc;

/// A threshold with typical parts, and with the worst ones at each corner of the surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bound {
    pub(crate) typical: Volts,
    pub(crate) worst: AtCorners,
}

impl Bound {
    fn strictest(self, other: Self, high: bool) -> Self {
        let of = |a: f64, b: f64| if high { a.max(b) } else { a.min(b) };
        let worst = std::array::from_fn(|k| of(self.worst[k], other.worst[k]));
        Self { typical: Volts(of(self.typical.0, other.typical.0)), worst }
    }
}

/// How one input of one stage reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Receiver {
    /// The stage.
    pub(crate) cluster: ClusterId,
    /// A part of it that a person finds: its transistor.
    pub(crate) part: PartId,
    /// At or below this it reads low.
    pub(crate) low: Bound,
    /// At or above this it reads high.
    pub(crate) high: Bound,
}

/// Finds receivers, each distinct circuit once.
pub(crate) struct Receivers<'e, 'b> {
    extracted: &'e Extracted<'b>,
    conditions: Conditions,
    known: HashMap<Vec<u64>, Option<Rc<Traits>>>,
    crossings: HashMap<(Vec<u64>, [i64; 8]), [AtCorners; 2]>,
}

impl<'e, 'b> Receivers<'e, 'b> {
    pub(crate) fn new(extracted: &'e Extracted<'b>, conditions: Conditions) -> Self {
        Self { extracted, conditions, known: HashMap::new(), crossings: HashMap::new() }
    }

    /// Every receiver on a net.
    pub(crate) fn on(&mut self, net: NetId, solver: &mut Solver) -> Vec<Receiver> {
        let at = self.extracted.shape.nodes.first(net);
        let mut found = Vec::new();
        for id in self.readers(at) {
            let bounds = probes(self.extracted, id, at)
                .into_iter()
                .filter_map(|probe| {
                    let traits = self.traits(&probe, solver)?;
                    let [low, high] = self.read_at(&probe, &traits, solver);
                    let low = Bound { typical: Volts(traits.low), worst: low };
                    Some((low, Bound { typical: Volts(traits.high), worst: high }))
                })
                .reduce(|(low, high), (other_low, other_high)| {
                    (low.strictest(other_low, false), high.strictest(other_high, true))
                });
            if let Some((low, high)) = bounds {
                let parts = &self.extracted.shape.clusters.rows[id].parts;
                let part = person_finds(self.extracted.shape.board, parts);
                found.push(Receiver { cluster: id, part, low, high });
            }
        }
        found
    }

    /// The stages that read a node.
    fn readers(&self, at: NetId) -> Vec<ClusterId> {
        let shape = &self.extracted.shape;
        let reads = |&id: &ClusterId| {
            let cluster = &shape.clusters.rows[id];
            !cluster.is_source && !shape.passive(id) && cluster.reads.contains(&at)
        };
        shape.touching[at].iter().copied().filter(reads).collect()
    }

    fn traits(&mut self, probe: &Probe, solver: &mut Solver) -> Option<Rc<Traits>> {
        let board = self.extracted.shape.board;
        let conditions = self.conditions;
        let known = self.known.entry(probe.key());
        known.or_insert_with(|| probe.traits(board, &conditions, solver).map(Rc::new)).clone()
    }

    /// The inputs at which the worst copies' outputs pass what their own receivers want.
    fn read_at(&mut self, probe: &Probe, traits: &Traits, solver: &mut Solver) -> [AtCorners; 2] {
        let own = [0, 1].map(|side| std::array::from_fn(|k| traits.worst[k][side].1));
        let Seen::Net(output) = probe.seen else { return own };
        let Some((lows, highs)) = self.wanted(output, solver) else { return own };
        // While the input is low, a falling output must stay high, a rising one low.
        let targets = if traits.falls { [highs, lows] } else { [lows, highs] };
        let steps = targets.map(|target| target.map(|volts| (volts / 0.02).round() as i64));
        let key = (probe.key(), std::array::from_fn(|k| steps[k / 4][k % 4]));
        if let Some(known) = self.crossings.get(&key) {
            return *known;
        }
        let found = [0, 1].map(|side| {
            std::array::from_fn(|k| traits.crossing(k, side, steps[side][k] as f64 * 0.02, solver))
        });
        self.crossings.insert(key, found);
        found
    }

    /// What the strictest receivers of an output want at each corner: low up to, high from.
    fn wanted(&mut self, output: NetId, solver: &mut Solver) -> Option<(AtCorners, AtCorners)> {
        let mut wanted: Option<(AtCorners, AtCorners)> = None;
        for id in self.readers(output) {
            for probe in probes(self.extracted, id, output) {
                let Some(traits) = self.traits(&probe, solver) else { continue };
                let (mut low, mut high) = wanted.unwrap_or(([f64::INFINITY; 4], [0.0; 4]));
                for k in 0..4 {
                    low[k] = low[k].min(traits.worst[k][0].1);
                    high[k] = high[k].max(traits.worst[k][1].1);
                }
                wanted = Some((low, high));
            }
        }
        wanted
    }
}

/// The first transistor, or the first part.
pub(crate) fn person_finds(board: &Board, parts: &[PartId]) -> PartId {
    let transistor = |part: &&PartId| matches!(board.parts[**part].kind, PartKind::Bipolar(_));
    parts.iter().find(transistor).copied().unwrap_or(parts[0])
}
