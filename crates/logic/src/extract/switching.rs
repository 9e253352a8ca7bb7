//! Where each input of a stage really switches.
//!
//! The thresholds of a signal promise a clean level to every stage that reads it. A fault may leave a
//! signal between them, and most stages still read it plainly: their own output is then clean, and
//! that is what counts. So for every input there is a lower and a higher point between which the
//! stage's output would not be a clean level.

use super::characters::SignalLevels;
use super::clusters::ClusterId;
use super::patch::Shape;
use super::respond::Bench;
use super::thresholds::Thresholds;
use dryjoint_board::NetId;
use dryjoint_ids::Side;
use dryjoint_parts::Glow;
use dryjoint_units::Volts;

/// The switching points of each input of each cluster, in the order of `reads`; nothing where the
/// input never decides the output.
pub type Switching = Side<ClusterId, Vec<Option<Thresholds>>>;

/// Finds the switching points of every input.
pub(super) fn switching(bench: &Bench, levels: &Side<NetId, SignalLevels>) -> Switching {
    let shape = bench.shape;
    Side::new(&shape.clusters.rows, |id| {
        let cluster = &shape.clusters.rows[id];
        let idle = cluster.is_source || (shape.passive(id) && cluster.lamps.is_empty());
        let inputs = 0..if idle { 0 } else { cluster.reads.len() };
        inputs.map(|input| of_input(bench, levels, id, input)).collect()
    })
}

fn of_input(
    bench: &Bench,
    levels: &Side<NetId, SignalLevels>,
    id: ClusterId,
    input: usize,
) -> Option<Thresholds> {
    let cluster = &bench.shape.clusters.rows[id];
    let others = cluster.reads.len() - 1;
    let rows: Vec<usize> = if others <= 3 { (0..1 << others).collect() } else { vec![0, (1 << others) - 1] };
    let mut found: Option<Thresholds> = None;
    for row in rows {
        let at = |volts: f64| {
            let mut bits = 0..;
            let inputs: Vec<Volts> = cluster
                .reads
                .iter()
                .enumerate()
                .map(|(k, &net)| {
                    if k == input {
                        return Volts(volts);
                    }
                    let bit = bits.next().unwrap_or(0);
                    levels[net].volts(row >> bit & 1 != 0)
                })
                .collect();
            outputs(bench, levels, id, &inputs)
        };
        let rail = bench.shape.rail.0;
        let (low, high) = (at(0.0), at(rail));
        for (output, (&low, &high)) in low.iter().zip(&high).enumerate() {
            if low.is_none() || high.is_none() || low == high {
                continue;
            }
            let one = Thresholds {
                low: Volts(last_while(0.0, rail, |v| at(v)[output] == low)),
                high: Volts(rail - last_while(0.0, rail, |v| at(rail - v)[output] == high)),
            };
            found = Some(found.map_or(one, |all| all.and(one)));
        }
    }
    found
}

/// The cluster's outputs as values, its signals by their receivers, its lamps by eye.
fn outputs(
    bench: &Bench,
    levels: &Side<NetId, SignalLevels>,
    id: ClusterId,
    inputs: &[Volts],
) -> Vec<Option<bool>> {
    let cluster = &bench.shape.clusters.rows[id];
    let answer = bench.respond(id, inputs, &|net| Some(levels[net].low));
    let signals = cluster.drives.iter().zip(&answer.volts).map(|(&net, volts)| levels[net].read((*volts)?));
    let lamps = answer.glow.iter().map(|glow| match glow {
        Some(Glow::Lit) => Some(true),
        Some(Glow::Dark) => Some(false),
        _ => None,
    });
    signals.chain(lamps).collect()
}

/// The last point from `a` towards `b` up to which `holds` stays true, to two millivolts. The curve
/// is taken to switch once.
fn last_while(mut a: f64, mut b: f64, holds: impl Fn(f64) -> bool) -> f64 {
    while b - a > 2e-3 {
        let middle = f64::midpoint(a, b);
        if holds(middle) {
            a = middle;
        } else {
            b = middle;
        }
    }
    a
}

impl Shape<'_> {
    /// Which input of a cluster a signal is.
    pub fn input_of(&self, id: ClusterId, net: NetId) -> Option<usize> {
        let at = self.nodes.first(net);
        self.clusters.rows[id].reads.iter().position(|&read| read == at)
    }
}
