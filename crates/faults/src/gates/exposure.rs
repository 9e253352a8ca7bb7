//! What it takes to show a fault, as the structure gives it.
//!
//! From its site a difference first runs through gates that nothing else reads; there it passes for
//! sure when every other input of each gate is at the level that lets it through. Where the way forks,
//! at the *stem*, the fault is as good as a stem that is turned over. So a fault is shown by exactly
//! those vectors that meet a list of conditions and show the stem turned over (critical path tracing
//! inside fan-out-free regions: Abramovici, Menon & Miller 1984).

use super::circuit::{Circuit, NodeId, Op};
use super::stuck::{GroupId, Site, StuckAt, StuckFaults};
use dryjoint_ids::Side;
use dryjoint_logic::{Function, Gate, Logic, Role, SignalId, StageId};

/// What it takes to show a fault.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Exposure {
    /// Levels that nodes must have, each node once; the first is the one that the fault spoils.
    pub conditions: Vec<(NodeId, bool)>,
    /// The stem that must then be seen turned over; nothing where the difference is seen at once.
    pub stem: Option<NodeId>,
    /// Whether the conditions contradict each other, so that nothing shows the fault.
    pub impossible: bool,
}

impl Exposure {
    /// What it takes to show each group: the way of its first fault, since all are shown alike.
    pub fn all(logic: &Logic, circuit: &Circuit, faults: &StuckFaults) -> Side<GroupId, Self> {
        Side::new(&faults.groups, |group| Self::of(logic, circuit, faults.faults[faults.groups[group][0]]))
    }

    /// What it takes to show one fault.
    pub fn of(logic: &Logic, circuit: &Circuit, fault: StuckAt) -> Self {
        let mut exposure = Self::default();
        let node = |signal: SignalId| circuit.node(signal).expect("only seen signals have no node");
        let at = match fault.site {
            Site::Net(signal) => {
                exposure.require(node(signal), !fault.high);
                node(signal)
            }
            Site::Branch(stage, pin) => {
                exposure.require(node(logic.stages[stage].inputs[pin as usize]), !fault.high);
                if ends(logic, stage) {
                    return exposure;
                }
                let gate = node(logic.stages[stage].output);
                exposure.pass(circuit, gate, pin as usize);
                gate
            }
        };
        let mut stem = at;
        while let Some(reader) = circuit.only_reader(stem) {
            let pin = circuit.fan_in(reader).iter().position(|&n| n == stem).unwrap_or(0);
            exposure.pass(circuit, reader, pin);
            stem = reader;
        }
        exposure.stem = Some(stem);
        exposure
    }

    /// Adds what lets a difference on one pin through a gate.
    fn pass(&mut self, circuit: &Circuit, gate: NodeId, pin: usize) {
        let needed = match circuit.op(gate) {
            Op::Gate(Gate::And | Gate::Nand) => true,
            Op::Gate(Gate::Or | Gate::Nor) => false,
            _ => return,
        };
        for (other, &node) in circuit.fan_in(gate).iter().enumerate() {
            if other != pin {
                self.require(node, needed);
            }
        }
    }

    fn require(&mut self, node: NodeId, high: bool) {
        match self.conditions.iter().find(|(n, _)| *n == node) {
            None => self.conditions.push((node, high)),
            Some(&(_, needed)) => self.impossible |= needed != high,
        }
    }
}

/// Whether a difference at the stage's input is seen at once: at an output or in a flip-flop.
fn ends(logic: &Logic, stage: StageId) -> bool {
    let row = &logic.stages[stage];
    row.function == Function::Flop || logic.signals[row.output].role == Role::Seen
}
