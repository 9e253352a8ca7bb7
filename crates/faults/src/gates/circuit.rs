//! Gates laid out for wide words: nodes in an order that follows the flow, so that one sweep settles
//! them all.

use super::region::Regions;
use dryjoint_ids::{Id, Side, id};
use dryjoint_logic::{Function, Gate, Level, Logic, Role, SignalId, StageId};

id!(
    /// A net of the laid-out circuit; every node stands behind all nodes it depends on.
    NodeId, "node"
);

/// What makes a node's level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Op {
    /// The bench, or a flip-flop.
    Source,
    /// Nothing: it never changes.
    Constant(bool),
    /// A gate.
    Gate(Gate),
}

/// Why logic cannot be laid out as gates.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Obstacle {
    /// A stage that is no gate, constant or flip-flop.
    #[error("stage {0:?} is no gate")]
    NoGate(StageId),
    /// A signal that nothing drives.
    #[error("{0:?} has no driver")]
    Undriven(SignalId),
    /// A signal with several drivers.
    #[error("{0:?} has several drivers")]
    SeveralDrivers(SignalId),
    /// A loop of gates that this stage is in or waits for.
    #[error("stage {0:?} waits for a loop")]
    Loop(StageId),
}

/// The laid-out circuit.
#[derive(Clone, Debug)]
pub struct Circuit {
    ops: Vec<Op>,
    /// For each node how it is settled without asking what it is.
    quick: Vec<Quick>,
    fan_in: Lists,
    fan_out: Lists,
    signals: Vec<SignalId>,
    node_of: Side<SignalId, Option<NodeId>>,
    inputs: Vec<NodeId>,
    /// Output and data input of each flip-flop.
    flops: Vec<(NodeId, NodeId)>,
    /// Each seen signal with the node it shows.
    seen: Vec<(SignalId, NodeId)>,
    /// Whether a difference on the node is seen at once (an output, or a flip-flop's input).
    shown: Vec<bool>,
    /// How many sinks the node has, outputs and flip-flops included.
    sinks: Vec<u32>,
    /// Whether a difference on the node can reach anything that is shown.
    live: Vec<bool>,
    /// The one node through which every way to what is shown leads, if there is one.
    gateway: Vec<Option<NodeId>>,
    regions: Regions,
}

/// A gate of one or two inputs as an AND with its inputs and its output turned over or not, so that one
/// piece of code without branches settles it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Quick {
    /// What is read; a single input stands twice.
    pub inputs: [u32; 2],
    /// All ones where the inputs are turned over.
    pub before: u64,
    /// All ones where the output is turned over.
    pub after: u64,
    /// Whether the gate fits this form; sources, XOR and wider gates do not.
    pub fits: bool,
}

impl Quick {
    fn of(op: Op, fan_in: &[NodeId]) -> Self {
        let (before, after) = match op {
            Op::Gate(Gate::And | Gate::Buf) => (0, 0),
            Op::Gate(Gate::Nand | Gate::Not) => (0, u64::MAX),
            Op::Gate(Gate::Or) => (u64::MAX, u64::MAX),
            Op::Gate(Gate::Nor) => (u64::MAX, 0),
            _ => return Self::default(),
        };
        match *fan_in {
            [one] => Self { inputs: [one.index() as u32; 2], before, after, fits: true },
            [a, b] => Self { inputs: [a, b].map(|n| n.index() as u32), before, after, fits: true },
            _ => Self::default(),
        }
    }
}

/// Lists of nodes, one list to a node, in one piece of memory.
#[derive(Clone, Debug, Default)]
struct Lists {
    start: Vec<u32>,
    items: Vec<NodeId>,
}

impl Lists {
    fn of(&self, node: NodeId) -> &[NodeId] {
        let k = node.index();
        &self.items[self.start[k] as usize..self.start[k + 1] as usize]
    }

    fn build(lists: &[Vec<NodeId>]) -> Self {
        let mut built = Self { start: vec![0], items: Vec::new() };
        for list in lists {
            built.items.extend(list);
            built.start.push(u32::try_from(built.items.len()).expect("fewer than 2^32 pins"));
        }
        built
    }
}

impl Circuit {
    /// Lays out a netlist of gates, constants and flip-flops.
    pub fn compile(logic: &Logic) -> Result<Self, Obstacle> {
        let order = order(logic)?;
        let mut node_of: Side<SignalId, Option<NodeId>> = Side::filled(&logic.signals, None);
        for (k, &(signal, _)) in order.iter().enumerate() {
            node_of[signal] = Some(NodeId::at(k));
        }
        let node = |signal: SignalId| node_of[signal].ok_or(Obstacle::Undriven(signal));
        let mut ops = Vec::with_capacity(order.len());
        let mut fan_in = vec![Vec::new(); order.len()];
        let mut fan_out = vec![Vec::new(); order.len()];
        for (k, &(_, stage)) in order.iter().enumerate() {
            let function = stage.map(|stage| &logic.stages[stage].function);
            ops.push(match function {
                None | Some(Function::Flop) => Op::Source,
                Some(Function::Gate(gate)) => Op::Gate(*gate),
                Some(Function::Found(rows)) => {
                    Op::Constant(rows.first().and_then(|r| r.value()) == Some(true))
                }
            });
            if let (Some(stage), Op::Gate(_)) = (stage, ops[k]) {
                for &input in &logic.stages[stage].inputs {
                    let input = node(input)?;
                    fan_in[k].push(input);
                    fan_out[input.index()].push(NodeId::at(k));
                }
            }
        }
        let mut shown = vec![false; order.len()];
        let mut sinks: Vec<u32> = fan_out.iter().map(|list| list.len() as u32).collect();
        let (mut seen, mut flops) = (Vec::new(), Vec::new());
        for (_, stage) in logic.stages.iter() {
            let tap = logic.signals[stage.output].role == Role::Seen;
            if let (true, Some(&input)) = (tap || stage.function == Function::Flop, stage.inputs.first()) {
                let input = node(input)?;
                shown[input.index()] = true;
                sinks[input.index()] += 1;
                if tap {
                    seen.push((stage.output, input));
                } else {
                    flops.push((node(stage.output)?, input));
                }
            }
        }
        let inputs = logic.inputs().map(node).collect::<Result<_, _>>()?;
        let quick = ops.iter().zip(&fan_in).map(|(op, fan_in)| Quick::of(*op, fan_in)).collect();
        let mut circuit = Self {
            ops,
            quick,
            fan_in: Lists::build(&fan_in),
            fan_out: Lists::build(&fan_out),
            signals: order.iter().map(|(signal, _)| *signal).collect(),
            node_of,
            inputs,
            flops,
            seen,
            live: shown.clone(),
            gateway: vec![None; shown.len()],
            shown,
            sinks,
            regions: Regions::default(),
        };
        circuit.find_gateways();
        circuit.regions = Regions::of(&circuit);
        Ok(circuit)
    }

    /// How many nodes there are.
    pub fn len(&self) -> usize {
        self.ops.len()
    }

    /// How many nodes are gates: not what the bench, a flip-flop or a constant drives.
    pub fn gates(&self) -> usize {
        self.ops.iter().filter(|op| matches!(op, Op::Gate(_))).count()
    }

    /// Whether there is no node.
    pub fn is_empty(&self) -> bool {
        self.ops.is_empty()
    }

    /// All nodes along the flow.
    pub fn nodes(&self) -> impl DoubleEndedIterator<Item = NodeId> + ExactSizeIterator + use<> {
        (0..self.ops.len()).map(NodeId::at)
    }

    /// What makes a node's level.
    pub fn op(&self, node: NodeId) -> Op {
        self.ops[node.index()]
    }

    /// The nodes a gate reads, pin by pin.
    pub fn fan_in(&self, node: NodeId) -> &[NodeId] {
        self.fan_in.of(node)
    }

    /// The gates that read a node, once for each pin.
    pub fn fan_out(&self, node: NodeId) -> &[NodeId] {
        self.fan_out.of(node)
    }

    /// The nodes the bench drives, in order.
    pub fn inputs(&self) -> &[NodeId] {
        &self.inputs
    }

    /// Output and data input of each flip-flop, in order.
    pub fn flops(&self) -> &[(NodeId, NodeId)] {
        &self.flops
    }

    /// Each seen signal with the node it shows, in order.
    pub fn seen(&self) -> &[(SignalId, NodeId)] {
        &self.seen
    }

    /// The node of a signal; a seen signal has none of its own.
    pub fn node(&self, signal: SignalId) -> Option<NodeId> {
        self.node_of[signal]
    }

    /// The signal of a node.
    pub fn signal(&self, node: NodeId) -> SignalId {
        self.signals[node.index()]
    }

    /// Whether a difference on the node is seen at once.
    pub fn is_shown(&self, node: NodeId) -> bool {
        self.shown[node.index()]
    }

    /// Whether a difference on the node can reach anything that is shown.
    pub fn is_live(&self, node: NodeId) -> bool {
        self.live[node.index()]
    }

    /// The nearest node through which every way from here to anything shown leads; nothing where the
    /// node is shown itself or its ways meet only outside.
    pub fn gateway(&self, node: NodeId) -> Option<NodeId> {
        self.gateway[node.index()]
    }

    #[inline(always)]
    pub(super) fn quick(&self, node: NodeId) -> Quick {
        self.quick[node.index()]
    }

    /// The only gate that reads the node, where it has one sink and that is a gate.
    pub(super) fn only_reader(&self, node: NodeId) -> Option<NodeId> {
        match (self.sinks[node.index()], self.fan_out(node)) {
            (1, &[reader]) => Some(reader),
            _ => None,
        }
    }

    /// What is behind each stem.
    pub(super) fn regions(&self) -> &Regions {
        &self.regions
    }

    /// The same circuit with no region listed, so that a grader has to follow the differences.
    #[cfg(test)]
    pub(super) fn without_regions(mut self) -> Self {
        self.regions = Regions::none(self.len());
        self
    }

    /// The immediate post-dominators, found against the flow: a node's gateway is where the ways of all
    /// its readers meet (after Cooper, Harvey & Kennedy 2001, on an acyclic graph).
    fn find_gateways(&mut self) {
        let mut depth = vec![0_u32; self.len()];
        for node in self.nodes().rev() {
            let k = node.index();
            let readers: Vec<NodeId> =
                self.fan_out(node).iter().copied().filter(|&r| self.is_live(r)).collect();
            self.live[k] |= !readers.is_empty();
            if self.shown[k] {
                depth[k] = 1;
                continue;
            }
            let meet = readers.iter().copied().map(Some).reduce(|a, b| {
                let (mut a, mut b) = (a, b);
                while a != b {
                    // Depth counts gateways on the way out; the outside itself is `None`, at depth 0.
                    let deep = |n: Option<NodeId>| n.map_or(0, |n| depth[n.index()]);
                    if deep(a) >= deep(b) {
                        a = a.and_then(|n| self.gateway(n));
                    } else {
                        b = b.and_then(|n| self.gateway(n));
                    }
                }
                a
            });
            self.gateway[k] = meet.flatten();
            depth[k] = 1 + self.gateway[k].map_or(0, |n| depth[n.index()]);
        }
    }
}

/// Every signal that is not merely seen, with its driving stage, each behind what it depends on.
fn order(logic: &Logic) -> Result<Vec<(SignalId, Option<StageId>)>, Obstacle> {
    let mut driver: Side<SignalId, Option<StageId>> = Side::filled(&logic.signals, None);
    for (id, stage) in logic.stages.iter() {
        let one_input = matches!(stage.function, Function::Flop | Function::Gate(Gate::Buf | Gate::Not));
        let fits = match &stage.function {
            Function::Found(rows) => {
                stage.inputs.is_empty() && matches!(rows.as_slice(), [Level::Zero | Level::One])
            }
            _ => !stage.inputs.is_empty() && (!one_input || stage.inputs.len() == 1),
        };
        let tap = logic.signals[stage.output].role == Role::Seen;
        if !fits || (tap && stage.function != Function::Gate(Gate::Buf)) {
            return Err(Obstacle::NoGate(id));
        }
        if driver[stage.output].is_some() || logic.signals[stage.output].role == Role::Input {
            return Err(Obstacle::SeveralDrivers(stage.output));
        }
        driver[stage.output] = Some(id);
    }
    let is_gate = |stage: StageId| matches!(logic.stages[stage].function, Function::Gate(_));
    let mut waits: Side<StageId, usize> = Side::filled(&logic.stages, 0);
    let mut readers: Side<SignalId, Vec<StageId>> = Side::filled(&logic.signals, Vec::new());
    let mut order: Vec<(SignalId, Option<StageId>)> = Vec::new();
    for (signal, row) in logic.signals.iter() {
        match (row.role, driver[signal]) {
            (Role::Input, _) => order.push((signal, None)),
            (_, None) => return Err(Obstacle::Undriven(signal)),
            (Role::Inside, Some(stage)) if !is_gate(stage) => order.push((signal, Some(stage))),
            _ => {}
        }
    }
    for (id, stage) in logic.stages.iter().filter(|(id, _)| is_gate(*id)) {
        waits[id] = stage.inputs.len();
        for &input in &stage.inputs {
            readers[input].push(id);
        }
    }
    let mut next = 0;
    let mut placed = 0;
    while let Some(&(signal, _)) = order.get(next) {
        next += 1;
        for &reader in &readers[signal] {
            waits[reader] -= 1;
            if waits[reader] == 0 {
                placed += 1;
                let output = logic.stages[reader].output;
                if logic.signals[output].role != Role::Seen {
                    order.push((output, Some(reader)));
                }
            }
        }
    }
    if placed < logic.stages.ids().filter(|id| is_gate(*id)).count() {
        let stuck = logic.stages.ids().find(|&id| is_gate(id) && waits[id] > 0);
        return Err(Obstacle::Loop(stuck.unwrap_or(StageId::at(0))));
    }
    Ok(order)
}
