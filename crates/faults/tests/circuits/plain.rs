//! A deliberately plain simulator: one vector, one fault, one gate at a time, three-valued. It shares
//! nothing with the fast one but the netlist and the name of a fault.

use dryjoint_faults::gates::{Site, StuckAt};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::{Function, Gate, Logic, Role, SignalId, StageId};

/// The simulator, with an order in which every gate stands behind those it reads.
pub struct Plain<'l> {
    logic: &'l Logic,
    order: Vec<StageId>,
}

type Levels = Side<SignalId, Option<bool>>;

impl<'l> Plain<'l> {
    pub fn new(logic: &'l Logic) -> Self {
        let mut known: Side<SignalId, bool> = Side::filled(&logic.signals, false);
        for (signal, row) in logic.signals.iter() {
            known[signal] = row.role == Role::Input;
        }
        for (_, stage) in logic.stages.iter().filter(|(_, s)| s.function == Function::Flop) {
            known[stage.output] = true;
        }
        let mut order = Vec::new();
        let mut left: Vec<StageId> =
            logic.stages.ids().filter(|&s| logic.stages[s].function != Function::Flop).collect();
        while !left.is_empty() {
            let before = left.len();
            left.retain(|&id| {
                let stage = &logic.stages[id];
                let ready = stage.inputs.iter().all(|&input| known[input]);
                if ready {
                    known[stage.output] = true;
                    order.push(id);
                }
                !ready
            });
            assert!(left.len() < before, "a loop");
        }
        Self { logic, order }
    }

    /// What is seen at each vector, from unknown flip-flops.
    pub fn run(&self, vectors: &[Vec<bool>], fault: Option<StuckAt>) -> Vec<Vec<Option<bool>>> {
        let mut levels: Levels = Side::filled(&self.logic.signals, None);
        vectors.iter().map(|vector| self.step(&mut levels, vector, fault)).collect()
    }

    /// What one vector shows; `levels` carries over what flip-flops remember.
    fn step(&self, levels: &mut Levels, vector: &[bool], fault: Option<StuckAt>) -> Vec<Option<bool>> {
        let logic = self.logic;
        for (signal, &high) in logic.inputs().zip(vector) {
            levels[signal] = Some(high);
        }
        for signal in logic.signals.ids() {
            stick(levels, signal, fault);
        }
        for &id in &self.order {
            let stage = &logic.stages[id];
            let read = self.reads(levels, id, fault);
            levels[stage.output] = match &stage.function {
                Function::Gate(gate) => output(*gate, &read),
                Function::Found(rows) => rows[0].value(),
                Function::Flop => unreachable!("not in the order"),
            };
            stick(levels, stage.output, fault);
        }
        let seen = logic.seen().map(|signal| levels[signal]).collect();
        let next: Vec<(SignalId, Option<bool>)> = logic
            .stages
            .iter()
            .filter(|(_, stage)| stage.function == Function::Flop)
            .map(|(id, stage)| (stage.output, self.reads(levels, id, fault)[0]))
            .collect();
        for (signal, level) in next {
            levels[signal] = level;
        }
        seen
    }

    fn reads(&self, levels: &Levels, stage: StageId, fault: Option<StuckAt>) -> Vec<Option<bool>> {
        let inputs = &self.logic.stages[stage].inputs;
        let mut read: Vec<Option<bool>> = inputs.iter().map(|&input| levels[input]).collect();
        if let Some(StuckAt { site: Site::Branch(at, pin), high }) = fault
            && at == stage
        {
            read[pin as usize] = Some(high);
        }
        read
    }

    /// The first vector under which `fault` shows: something seen has two known levels that differ.
    pub fn first(&self, vectors: &[Vec<bool>], good: &[Vec<Option<bool>>], fault: StuckAt) -> Option<usize> {
        let mut levels: Levels = Side::filled(&self.logic.signals, None);
        vectors.iter().zip(good).position(|(vector, good)| {
            let bad = self.step(&mut levels, vector, Some(fault));
            good.iter().zip(&bad).any(|(g, b)| matches!((g, b), (Some(x), Some(y)) if x != y))
        })
    }
}

fn stick(levels: &mut Levels, signal: SignalId, fault: Option<StuckAt>) {
    if let Some(StuckAt { site: Site::Net(at), high }) = fault
        && at == signal
    {
        levels[signal] = Some(high);
    }
}

fn output(gate: Gate, read: &[Option<bool>]) -> Option<bool> {
    let mut level = read[0];
    for &next in &read[1..] {
        level = match gate {
            Gate::And | Gate::Nand => match (level, next) {
                (Some(false), _) | (_, Some(false)) => Some(false),
                (Some(true), Some(true)) => Some(true),
                _ => None,
            },
            Gate::Or | Gate::Nor => match (level, next) {
                (Some(true), _) | (_, Some(true)) => Some(true),
                (Some(false), Some(false)) => Some(false),
                _ => None,
            },
            _ => match (level, next) {
                (Some(a), Some(b)) => Some(a != b),
                _ => None,
            },
        };
    }
    if matches!(gate, Gate::Nand | Gate::Nor | Gate::Xnor | Gate::Not) {
        level.map(|high| !high)
    } else {
        level
    }
}

/// A netlist of gates drawn from numbers: each row is a gate with what it reads among all nets before it.
pub fn drawn(inputs: usize, rows: &[(u8, Vec<u32>)], outputs: usize) -> Logic {
    use dryjoint_logic::{Signal, Stage};
    let mut logic = Logic::default();
    let signal = |name: String, role| Signal { name, net: None, role };
    for k in 0..inputs {
        logic.signals.push(signal(format!("i{k}"), Role::Input));
    }
    for (k, (kind, reads)) in rows.iter().enumerate() {
        let before = logic.signals.len();
        let gate = [Gate::And, Gate::Nand, Gate::Or, Gate::Nor, Gate::Xor, Gate::Xnor, Gate::Buf, Gate::Not]
            [usize::from(*kind) % 8];
        let one = matches!(gate, Gate::Buf | Gate::Not);
        let reads = if one { &reads[..1] } else { &reads[..] };
        let inputs = reads.iter().map(|r| SignalId::at(*r as usize % before)).collect();
        let output = logic.signals.push(signal(format!("g{k}"), Role::Inside));
        logic.stages.push(Stage { name: format!("G{k}"), inputs, output, function: Function::Gate(gate) });
    }
    let nets = logic.signals.len();
    for k in 0..outputs.min(nets) {
        let source = SignalId::at(nets - 1 - k);
        let output = logic.signals.push(signal(format!("o{k}"), Role::Seen));
        let function = Function::Gate(Gate::Buf);
        logic.stages.push(Stage { name: format!("o{k}"), inputs: vec![source], output, function });
    }
    logic
}
