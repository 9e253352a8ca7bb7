//! Up to where an input reads low, and from where it reads high.
//!
//! For a stage these are the two points of its transfer curve at which the slope is −1 (the usual
//! definition of V_IL and V_IH; e.g. Sedra & Smith, *Microelectronic Circuits*, "The voltage transfer
//! characteristic"). For a lamp they are the points where it stops being plainly lit or dark.

use super::clusters::ClusterId;
use super::respond::Bench;
use dryjoint_board::NetId;
use dryjoint_parts::Glow;
use dryjoint_units::Volts;

/// The thresholds of one signal, over all its receivers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// At or below this every receiver reads low.
    pub low: Volts,
    /// At or above this every receiver reads high.
    pub high: Volts,
}

impl Thresholds {
    /// A voltage read by them.
    pub fn read(&self, volts: Volts) -> Option<bool> {
        if volts <= self.low {
            Some(false)
        } else if volts >= self.high {
            Some(true)
        } else {
            None
        }
    }

    /// Half-way between the two: where an edge is counted from.
    pub fn middle(&self) -> Volts {
        (self.low + self.high) / 2.0
    }

    /// What satisfies both.
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            low: if other.low < self.low { other.low } else { self.low },
            high: if other.high > self.high { other.high } else { self.high },
        }
    }
}

/// Volts between two points of the coarse curve.
const COARSE: f64 = 0.05;

/// The thresholds of `net`, from every receiver and every combination of its other inputs in which
/// the signal matters at all; nothing where no receiver heeds it.
pub fn thresholds(bench: &Bench, net: NetId, low: Volts, high: Volts, rail: Volts) -> Option<Thresholds> {
    let shape = bench.shape;
    let mut found: Option<Thresholds> = None;
    for &id in &shape.touching[net] {
        let cluster = &shape.clusters.rows[id];
        let Some(at) = cluster.reads.iter().position(|&read| read == net) else { continue };
        if cluster.is_source || (shape.passive(id) && cluster.lamps.is_empty()) {
            continue;
        }
        let others = cluster.reads.len() - 1;
        // With many inputs, only "all others low" and "all others high" are swept.
        let rows: Vec<usize> =
            if others <= 3 { (0..1 << others).collect() } else { vec![0, (1 << others) - 1] };
        for row in rows {
            let inputs = |volts: Volts| {
                let mut bits = (0..others).map(|bit| if row >> bit & 1 != 0 { high } else { low });
                (0..=others).map(|k| if k == at { volts } else { bits.next().unwrap_or(low) }).collect()
            };
            for one in sweep(bench, id, &inputs, low, rail) {
                found = Some(found.map_or(one, |all| all.and(one)));
            }
        }
    }
    found
}

fn sweep(
    bench: &Bench,
    id: ClusterId,
    inputs: &dyn Fn(Volts) -> Vec<Volts>,
    low: Volts,
    rail: Volts,
) -> Vec<Thresholds> {
    let edge = |_: NetId| Some(low);
    let answer = |volts: f64| bench.respond(id, &inputs(Volts(volts)), &edge);
    let points = (rail.0 / COARSE).round() as usize;
    let curve: Vec<_> = (0..=points).map(|k| answer(k as f64 * COARSE)).collect();
    let mut found = Vec::new();
    for output in 0..curve[0].volts.len() {
        let volts: Vec<f64> =
            curve.iter().map_while(|point| point.volts[output]).map(|volts| volts.0).collect();
        if volts.len() < curve.len() || (volts[points] - volts[0]).abs() < rail.0 / 4.0 {
            continue;
        }
        let slope = |at: f64| {
            let [a, b] = [at - 0.002, at + 0.002].map(|v| answer(v).volts[output].map_or(0.0, |v| v.0));
            (b - a).abs() / 0.004
        };
        let steep = |k: &usize| (volts[k + 1] - volts[*k]).abs() > COARSE;
        let (Some(first), Some(last)) = ((0..points).find(steep), (0..points).rev().find(steep)) else {
            continue;
        };
        let first = first as f64 * COARSE;
        let last = (last + 1) as f64 * COARSE;
        found.push(Thresholds {
            low: Volts(bisect(first - COARSE, first + COARSE, |v| slope(v) >= 1.0)),
            high: Volts(bisect(last - COARSE, last + COARSE, |v| slope(v) < 1.0)),
        });
    }
    for lamp in 0..curve[0].glow.len() {
        let glow: Vec<Glow> = curve.iter().map_while(|point| point.glow[lamp]).collect();
        let (Some(&start), Some(&end)) = (glow.first(), glow.last()) else { continue };
        if glow.len() < curve.len() || start == end || start == Glow::Dim || end == Glow::Dim {
            continue;
        }
        let leaves = glow.iter().position(|&g| g != start).unwrap_or(points);
        let arrives = points - glow.iter().rev().position(|&g| g != end).unwrap_or(points);
        found.push(Thresholds {
            low: Volts(leaves.saturating_sub(1) as f64 * COARSE),
            high: Volts((arrives + 1).min(points) as f64 * COARSE),
        });
    }
    found
}

/// Where `holds` turns from false to true between `a` and `b`, to a millivolt.
fn bisect(mut a: f64, mut b: f64, holds: impl Fn(f64) -> bool) -> f64 {
    while b - a > 1e-3 {
        let middle = f64::midpoint(a, b);
        if holds(middle) {
            b = middle;
        } else {
            a = middle;
        }
    }
    f64::midpoint(a, b)
}
