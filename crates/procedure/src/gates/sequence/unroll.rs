//! "Some sequence of so many vectors shows this fault" put as clauses, three-valued.
//!
//! Each level is two literals: surely high, surely low; neither means unknown. The circuit and its
//! faulty copy are written period after period from what both remember. Like gates on like literals are
//! written once, so the faulty copy costs only what the fault can reach, and levels that are
//! surely known cost one variable, not two.

use crate::gates::formula::{Formula, Literal};
use dryjoint_faults::gates::{Circuit, NodeId, Op, Site, StuckAt, Vector};
use dryjoint_ids::Id;
use dryjoint_logic::{Function, Gate, Logic, Role};
use std::collections::HashMap;

/// Surely high, surely low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Rails {
    one: Literal,
    zero: Literal,
}

impl Rails {
    fn inverted(self) -> Self {
        Self { one: self.zero, zero: self.one }
    }
}

/// A good and a faulty circuit, period after period.
pub(super) struct Unrolled<'c> {
    circuit: &'c Circuit,
    pub formula: Formula,
    high: Literal,
    /// Gates written so far: inputs of an AND in order, and its output. Only looked up, never listed.
    written: HashMap<Vec<Literal>, Literal>,
    good: Vec<Rails>,
    bad: Vec<Rails>,
    inputs: Vec<Vec<Literal>>,
    /// For each period what holds only if it shows the fault.
    pub shows: Vec<Literal>,
    /// Where the fault sits: a node's net, a gate's pin, a flip-flop's input or an output's tap.
    at: Place,
    stuck: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Net(NodeId),
    Pin(NodeId, usize),
    Flop(usize),
    Tap(usize),
}

impl<'c> Unrolled<'c> {
    /// Both circuits with what they remember before the first period.
    pub fn new(
        logic: &Logic,
        circuit: &'c Circuit,
        fault: StuckAt,
        good: &[Option<bool>],
        bad: &[Option<bool>],
    ) -> Self {
        let mut formula = Formula::default();
        let high = formula.variable();
        formula.clause(&[high]);
        let rails = |level: &Option<bool>| Rails {
            one: high.is(*level == Some(true)),
            zero: high.is(*level == Some(false)),
        };
        Self {
            circuit,
            formula,
            high,
            written: HashMap::new(),
            good: good.iter().map(rails).collect(),
            bad: bad.iter().map(rails).collect(),
            inputs: Vec::new(),
            shows: Vec::new(),
            at: place(logic, circuit, fault),
            stuck: fault.high,
        }
    }

    /// Both circuits, remembering anything that can be remembered at all.
    pub fn free(logic: &Logic, circuit: &'c Circuit, fault: StuckAt) -> Self {
        let unknown = vec![None; circuit.flops().len()];
        let mut free = Self::new(logic, circuit, fault, &unknown, &unknown);
        for rails in free.good.iter_mut().chain(&mut free.bad) {
            *rails = Rails { one: free.formula.variable(), zero: free.formula.variable() };
            free.formula.clause(&[!rails.one, !rails.zero]);
        }
        free
    }

    /// What both remember now: for each flip-flop of the good machine surely high, surely low; then of
    /// the faulty one.
    pub fn memory(&self) -> Vec<Literal> {
        self.good.iter().chain(&self.bad).flat_map(|rails| [rails.one, rails.zero]).collect()
    }

    /// Writes one more period.
    pub fn period(&mut self) {
        let inputs: Vec<Literal> = self.circuit.inputs().iter().map(|_| self.formula.variable()).collect();
        let good = self.settle(&inputs, &self.good.clone(), false);
        let bad = self.settle(&inputs, &self.bad.clone(), true);
        let mut differences = Vec::new();
        for (k, &(_, node)) in self.circuit.seen().iter().enumerate() {
            let g = good[node.index()];
            let b = if self.at == Place::Tap(k) { self.constant(self.stuck) } else { bad[node.index()] };
            let up = self.all(&[g.one, b.zero]);
            let down = self.all(&[g.zero, b.one]);
            differences.extend([!up, !down]);
        }
        let none = self.all(&differences);
        self.shows.push(!none);
        for (k, &(_, data)) in self.circuit.flops().iter().enumerate() {
            self.good[k] = good[data.index()];
            self.bad[k] =
                if self.at == Place::Flop(k) { self.constant(self.stuck) } else { bad[data.index()] };
        }
        self.inputs.push(inputs);
    }

    /// The first vectors, as the solver's values have them.
    pub fn vectors(&self, values: &[bool], periods: usize) -> Vec<Vector> {
        let level = |l: &Literal| values[l.variable() as usize] != l.is_complement();
        self.inputs[..periods].iter().map(|row| Vector(row.iter().map(level).collect())).collect()
    }

    fn constant(&self, level: bool) -> Rails {
        Rails { one: self.high.is(level), zero: self.high.is(!level) }
    }

    fn settle(&mut self, inputs: &[Literal], memory: &[Rails], faulty: bool) -> Vec<Rails> {
        let unknown = Rails { one: !self.high, zero: !self.high };
        let mut levels = vec![unknown; self.circuit.len()];
        for (node, &input) in self.circuit.inputs().iter().zip(inputs) {
            levels[node.index()] = Rails { one: input, zero: !input };
        }
        for ((node, _), &rails) in self.circuit.flops().iter().zip(memory) {
            levels[node.index()] = rails;
        }
        for node in self.circuit.nodes() {
            let k = node.index();
            match self.circuit.op(node) {
                Op::Source => {}
                Op::Constant(level) => levels[k] = self.constant(level),
                Op::Gate(gate) => {
                    let mut read: Vec<Rails> =
                        self.circuit.fan_in(node).iter().map(|n| levels[n.index()]).collect();
                    if let (true, Place::Pin(at, pin)) = (faulty, self.at)
                        && at == node
                    {
                        read[pin] = self.constant(self.stuck);
                    }
                    levels[k] = self.gate(gate, &read);
                }
            }
            if faulty && self.at == Place::Net(node) {
                levels[k] = self.constant(self.stuck);
            }
        }
        levels
    }

    fn gate(&mut self, gate: Gate, read: &[Rails]) -> Rails {
        let inverted = |read: &[Rails]| read.iter().map(|r| r.inverted()).collect::<Vec<_>>();
        match gate {
            Gate::Buf => read[0],
            Gate::Not => read[0].inverted(),
            Gate::And => self.and(read),
            Gate::Nand => self.and(read).inverted(),
            Gate::Or => self.and(&inverted(read)).inverted(),
            Gate::Nor => self.and(&inverted(read)),
            Gate::Xor => read[1..].iter().fold(read[0], |sum, &next| self.xor(sum, next)),
            Gate::Xnor => read[1..].iter().fold(read[0], |sum, &next| self.xor(sum, next)).inverted(),
        }
    }

    fn and(&mut self, read: &[Rails]) -> Rails {
        let ones: Vec<Literal> = read.iter().map(|r| r.one).collect();
        let not_zeros: Vec<Literal> = read.iter().map(|r| !r.zero).collect();
        Rails { one: self.all(&ones), zero: !self.all(&not_zeros) }
    }

    fn xor(&mut self, a: Rails, b: Rails) -> Rails {
        let mut either = |p: [Literal; 2], q: [Literal; 2]| {
            let (p, q) = (self.all(&p), self.all(&q));
            !self.all(&[!p, !q])
        };
        Rails {
            one: either([a.one, b.zero], [a.zero, b.one]),
            zero: either([a.one, b.one], [a.zero, b.zero]),
        }
    }

    /// An AND, folded where literals are constant or repeat, and shared where it was written before.
    fn all(&mut self, inputs: &[Literal]) -> Literal {
        let mut row: Vec<Literal> = inputs.iter().copied().filter(|&l| l != self.high).collect();
        row.sort_unstable();
        row.dedup();
        if row.contains(&!self.high) || row.windows(2).any(|pair| pair[0] == !pair[1]) {
            return !self.high;
        }
        match row.as_slice() {
            [] => return self.high,
            [only] => return *only,
            _ => {}
        }
        if let Some(&output) = self.written.get(&row) {
            return output;
        }
        let output = self.formula.variable();
        let mut wide = vec![output];
        for &literal in &row {
            self.formula.clause(&[!output, literal]);
            wide.push(!literal);
        }
        self.formula.clause(&wide);
        self.written.insert(row, output);
        output
    }
}

fn place(logic: &Logic, circuit: &Circuit, fault: StuckAt) -> Place {
    let node = |signal| circuit.node(signal).expect("only seen signals have no node");
    match fault.site {
        Site::Net(signal) => Place::Net(node(signal)),
        Site::Branch(stage, pin) => {
            let row = &logic.stages[stage];
            if logic.signals[row.output].role == Role::Seen {
                let k = circuit.seen().iter().position(|(signal, _)| *signal == row.output);
                return Place::Tap(k.expect("every tap is seen"));
            }
            let output = node(row.output);
            if row.function == Function::Flop {
                let k = circuit.flops().iter().position(|(q, _)| *q == output);
                return Place::Flop(k.expect("every flip-flop is listed"));
            }
            Place::Pin(output, pin as usize)
        }
    }
}
