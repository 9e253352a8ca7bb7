//! Why a step shows a fault: the way of the difference from its site to what is seen.
//!
//! The good and the faulty circuit are settled plainly, gate by gate by the IEEE 1364 tables, and the
//! way is followed back from an output that differs: a gate's output can differ only where an input does.

use super::plan::{Standing, VectorPlan};
use dryjoint_faults::gates::{Circuit, NodeId, Op, Site, StuckAt, StuckId, Vector};
use dryjoint_ids::Id;
use dryjoint_logic::{Level, Logic, SignalId};

/// One place on the way of a difference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// In which step (from 0). With flip-flops the way can lead through several.
    pub step: usize,
    /// Which signal.
    pub signal: SignalId,
    /// Its level on the good circuit.
    pub good: bool,
}

/// Why a fault is shown, or why not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Explanation {
    /// The step that shows it first, and the way of the difference from its site to what is seen: the
    /// last place is a seen signal.
    Shown {
        /// The step, from 0.
        step: usize,
        /// The places, first the net that the fault spoils.
        way: Vec<Place>,
    },
    /// It is not shown: what is known.
    NotShown(Standing),
}

/// Explains what a plan does about a fault.
pub fn explain(logic: &Logic, plan: &VectorPlan, fault: StuckId) -> Explanation {
    let standing = plan.standings[plan.faults.group_of[fault]];
    let (Standing::Shown(step), Ok(circuit)) = (standing, Circuit::compile(logic)) else {
        return Explanation::NotShown(standing);
    };
    let spoilt = Spoilt::of(logic, &circuit, plan.faults.faults[fault]);
    // Without flip-flops nothing is carried over from earlier steps.
    let from = if plan.clocked { 0 } else { step };
    let good = run(&circuit, &plan.vectors[from..=step], None);
    let bad = run(&circuit, &plan.vectors[from..=step], Some(&spoilt));
    let mut way = way(&circuit, &spoilt, plan.faults.net(logic, fault), step - from, &good, &bad);
    way.iter_mut().for_each(|place| place.step += from);
    Explanation::Shown { step, way }
}

/// What the good circuit shows at each step, from unknown flip-flops.
pub(super) fn expected(circuit: &Circuit, vectors: &[Vector]) -> Vec<Vec<Option<bool>>> {
    let shown = |levels: Vec<Level>| circuit.seen().iter().map(|(_, n)| levels[n.index()].value()).collect();
    run(circuit, vectors, None).into_iter().map(shown).collect()
}

/// Where a fault sits in the laid-out circuit, and the level it holds there.
pub(super) struct Spoilt {
    pub at: At,
    pub level: Level,
}

#[derive(PartialEq)]
pub(super) enum At {
    Net(NodeId),
    Pin(NodeId, usize),
    /// The data input of a flip-flop, by the node of its output.
    Flop(NodeId),
    Tap(SignalId),
}

impl Spoilt {
    pub fn of(logic: &Logic, circuit: &Circuit, fault: StuckAt) -> Self {
        let at = match fault.site {
            Site::Net(signal) => circuit.node(signal).map(At::Net),
            Site::Branch(stage, pin) => {
                let output = logic.stages[stage].output;
                circuit.node(output).map(|node| match circuit.op(node) {
                    Op::Gate(_) => At::Pin(node, pin as usize),
                    _ => At::Flop(node),
                })
            }
        };
        let tap = || match fault.site {
            Site::Net(signal) => signal,
            Site::Branch(stage, _) => logic.stages[stage].output,
        };
        Self { at: at.unwrap_or_else(|| At::Tap(tap())), level: Level::from(fault.high) }
    }
}

/// All levels of each step.
fn run(circuit: &Circuit, vectors: &[Vector], spoilt: Option<&Spoilt>) -> Vec<Vec<Level>> {
    let stuck = |at: At| spoilt.filter(|s| s.at == at).map(|s| s.level);
    let mut memory = vec![Level::Unknown; circuit.flops().len()];
    let mut steps = Vec::with_capacity(vectors.len());
    for vector in vectors {
        let mut levels = vec![Level::Unknown; circuit.len()];
        for (node, &high) in circuit.inputs().iter().zip(&vector.0) {
            levels[node.index()] = Level::from(high);
        }
        for ((node, _), level) in circuit.flops().iter().zip(&memory) {
            levels[node.index()] = *level;
        }
        for node in circuit.nodes() {
            match circuit.op(node) {
                Op::Source => {}
                Op::Constant(high) => levels[node.index()] = Level::from(high),
                Op::Gate(gate) => {
                    let pin =
                        |(pin, n): (usize, &NodeId)| stuck(At::Pin(node, pin)).unwrap_or(levels[n.index()]);
                    let read: Vec<Level> = circuit.fan_in(node).iter().enumerate().map(pin).collect();
                    levels[node.index()] = gate.output(&read);
                }
            }
            if let Some(level) = stuck(At::Net(node)) {
                levels[node.index()] = level;
            }
        }
        for ((output, data), slot) in circuit.flops().iter().zip(&mut memory) {
            *slot = stuck(At::Flop(*output)).unwrap_or(levels[data.index()]);
        }
        steps.push(levels);
    }
    steps
}

/// Follows the difference back from what is seen in the last step.
fn way(
    circuit: &Circuit,
    spoilt: &Spoilt,
    net: SignalId,
    last: usize,
    good: &[Vec<Level>],
    bad: &[Vec<Level>],
) -> Vec<Place> {
    let differs = |step: usize, node: NodeId| {
        let (g, b) = (good[step][node.index()].value(), bad[step][node.index()].value());
        g.is_some() && b.is_some() && g != b
    };
    let is_good = |step: usize, node: NodeId| good[step][node.index()].value() == Some(true);
    let mut way = Vec::new();
    let tap = |&&(signal, node): &&(SignalId, NodeId)| match &spoilt.at {
        At::Tap(at) => *at == signal,
        _ => differs(last, node),
    };
    let Some(&(signal, node)) = circuit.seen().iter().find(tap) else { return way };
    way.push(Place { step: last, signal, good: is_good(last, node) });
    let mut here = (!matches!(spoilt.at, At::Tap(_))).then_some((last, node));
    while let Some((step, node)) = here {
        way.push(Place { step, signal: circuit.signal(node), good: is_good(step, node) });
        here = match (circuit.op(node), &spoilt.at) {
            (_, At::Net(at)) if *at == node => None,
            (Op::Gate(_), _) => circuit.fan_in(node).iter().find(|n| differs(step, **n)).map(|n| (step, *n)),
            _ => circuit
                .flops()
                .iter()
                .find(|(output, _)| *output == node)
                .filter(|(_, data)| step > 0 && differs(step - 1, *data))
                .map(|(_, data)| (step - 1, *data)),
        };
    }
    // A spoilt branch shows behind its gate; the way begins at the net it branches from.
    if !matches!(spoilt.at, At::Net(_)) {
        let step = way.last().map_or(last, |place| place.step);
        let step = if matches!(spoilt.at, At::Flop(_)) { step.saturating_sub(1) } else { step };
        if let Some(node) = circuit.node(net) {
            way.push(Place { step, signal: net, good: is_good(step, node) });
        }
    }
    way.reverse();
    way
}
