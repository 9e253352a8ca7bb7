//! "Some vector shows these faults" put as clauses.
//!
//! The good circuit is written once, as far as anything asks for it. A fault is a list of conditions
//! and a stem turned over ([`Exposure`]): each stem's copy of the gates between it and its gateway is
//! written once too and shared by all faults that need it. A difference must reach its goal along
//! nodes that each pass it on, which prunes most of the search (the idea of the D-chain: P. Stephan,
//! R. Brayton & A. Sangiovanni-Vincentelli 1996).

use super::formula::{Formula, Literal};
use dryjoint_faults::gates::{Circuit, Exposure, NodeId, Op, Vector};
use dryjoint_ids::Id;
use dryjoint_logic::Gate;
use std::collections::BTreeMap;

/// A formula about one vector on one circuit.
#[derive(Clone, Debug)]
pub(crate) struct Encoding<'c> {
    circuit: &'c Circuit,
    pub formula: Formula,
    good: Vec<Option<Literal>>,
    /// For each stem written so far, what holds only if it is seen turned over.
    seen: BTreeMap<NodeId, Literal>,
    high: Literal,
}

impl<'c> Encoding<'c> {
    pub fn new(circuit: &'c Circuit) -> Self {
        let mut formula = Formula::default();
        let high = formula.variable();
        formula.clause(&[high]);
        Self { circuit, formula, good: vec![None; circuit.len()], seen: BTreeMap::new(), high }
    }

    /// A literal that is always so.
    pub fn constant(&self, high: bool) -> Literal {
        self.high.is(high)
    }

    /// The node's level in the good circuit.
    pub fn good(&mut self, node: NodeId) -> Literal {
        if let Some(literal) = self.good[node.index()] {
            return literal;
        }
        let mut wanted = vec![node];
        let mut cone = Vec::new();
        while let Some(node) = wanted.pop() {
            if self.good[node.index()].is_none() {
                // Any value marks it as met; the real one follows below.
                self.good[node.index()] = Some(self.high);
                cone.push(node);
                wanted.extend_from_slice(self.circuit.fan_in(node));
            }
        }
        cone.sort_unstable();
        for node in cone {
            let literal = match self.circuit.op(node) {
                Op::Source => self.formula.variable(),
                Op::Constant(high) => self.high.is(high),
                Op::Gate(gate) => {
                    let inputs: Vec<Literal> =
                        self.circuit.fan_in(node).iter().filter_map(|n| self.good[n.index()]).collect();
                    write(&mut self.formula, gate, &inputs)
                }
            };
            self.good[node.index()] = Some(literal);
        }
        self.good[node.index()].unwrap_or(self.high)
    }

    /// A literal that holds only in vectors that show the fault.
    pub fn shows(&mut self, exposure: &Exposure) -> Literal {
        let shows = self.formula.variable();
        for &(node, high) in &exposure.conditions {
            let level = self.good(node);
            self.formula.clause(&[!shows, level.is(high)]);
        }
        if exposure.impossible {
            self.formula.clause(&[!shows]);
        }
        if let Some(stem) = exposure.stem {
            let seen = self.stem_seen(stem);
            self.formula.clause(&[!shows, seen]);
        }
        shows
    }

    /// Demands that the fault is shown.
    pub fn demand(&mut self, exposure: &Exposure) {
        let shows = self.shows(exposure);
        self.formula.clause(&[shows]);
    }

    fn stem_seen(&mut self, stem: NodeId) -> Literal {
        let mut way = Vec::new();
        let mut here = stem;
        // Down the gateways to one that is written already, or to the last.
        let mut beyond = loop {
            if let Some(&seen) = self.seen.get(&here) {
                break seen;
            }
            if self.circuit.is_shown(here) {
                break self.high;
            }
            if !self.circuit.is_live(here) {
                break !self.high;
            }
            way.push(here);
            match self.circuit.gateway(here) {
                Some(gateway) => here = gateway,
                None => break self.high,
            }
        };
        while let Some(node) = way.pop() {
            let reach = self.turn(node);
            self.formula.clause(&[!reach, beyond]);
            self.seen.insert(node, reach);
            beyond = reach;
        }
        beyond
    }

    /// Writes the gates from a stem turned over to its gateway, or to everything shown; what holds only
    /// if the difference arrives.
    fn turn(&mut self, stem: NodeId) -> Literal {
        let gateway = self.circuit.gateway(stem);
        let region = self.region(stem, gateway);
        let mut turned: BTreeMap<NodeId, Literal> = BTreeMap::new();
        // What holds only if the node differs and passes its difference on.
        let mut passes: BTreeMap<NodeId, Literal> = BTreeMap::new();
        let level = self.good(stem);
        turned.insert(stem, !level);
        let start = self.formula.variable();
        passes.insert(stem, start);
        for &node in &region {
            let Op::Gate(gate) = self.circuit.op(node) else { continue };
            let good = self.good(node);
            let inputs: Vec<Literal> = self
                .circuit
                .fan_in(node)
                .iter()
                .map(|n| turned.get(n).copied().unwrap_or_else(|| self.good(*n)))
                .collect();
            let bad = write(&mut self.formula, gate, &inputs);
            turned.insert(node, bad);
            let differs = self.formula.variable();
            self.formula.clause(&[!differs, good, bad]);
            self.formula.clause(&[!differs, !good, !bad]);
            passes.insert(node, differs);
        }
        for (&node, &differs) in &passes {
            if Some(node) == gateway || self.circuit.is_shown(node) {
                continue;
            }
            let mut clause = vec![!differs];
            for reader in self.circuit.fan_out(node) {
                if let Some(&next) = passes.get(reader)
                    && !clause.contains(&next)
                {
                    clause.push(next);
                }
            }
            self.formula.clause(&clause);
        }
        if let Some(&differs) = gateway.and_then(|g| passes.get(&g)) {
            self.formula.clause(&[!start, differs]);
        }
        start
    }

    /// The live nodes behind the stem up to its gateway, along the flow.
    fn region(&self, stem: NodeId, gateway: Option<NodeId>) -> Vec<NodeId> {
        let mut met = std::collections::BTreeSet::new();
        let mut wanted = vec![stem];
        while let Some(node) = wanted.pop() {
            if Some(node) == gateway {
                continue;
            }
            for &reader in self.circuit.fan_out(node) {
                if self.circuit.is_live(reader) && met.insert(reader) {
                    wanted.push(reader);
                }
            }
        }
        met.into_iter().collect()
    }

    /// The vector that the solver's values stand for; where the formula leaves an input open it is what
    /// `open` says.
    pub fn vector(&self, values: &[bool], mut open: impl FnMut(usize) -> bool) -> Vector {
        let level = |(k, &node): (usize, &NodeId)| match self.good[node.index()] {
            Some(l) => values[l.variable() as usize] != l.is_complement(),
            None => open(k),
        };
        Vector(self.circuit.inputs().iter().enumerate().map(level).collect())
    }
}

/// Writes a gate's clauses (G. S. Tseitin 1968); its output.
pub(crate) fn write(formula: &mut Formula, gate: Gate, inputs: &[Literal]) -> Literal {
    match gate {
        Gate::Buf => inputs[0],
        Gate::Not => !inputs[0],
        Gate::And => all(formula, inputs),
        Gate::Nand => !all(formula, inputs),
        Gate::Or => !none(formula, inputs),
        Gate::Nor => none(formula, inputs),
        Gate::Xor => odd(formula, inputs),
        Gate::Xnor => !odd(formula, inputs),
    }
}

fn all(formula: &mut Formula, inputs: &[Literal]) -> Literal {
    if let &[only] = inputs {
        return only;
    }
    let output = formula.variable();
    let mut wide: Vec<Literal> = vec![output];
    for &input in inputs {
        formula.clause(&[!output, input]);
        wide.push(!input);
    }
    formula.clause(&wide);
    output
}

fn none(formula: &mut Formula, inputs: &[Literal]) -> Literal {
    let opposite: Vec<Literal> = inputs.iter().map(|&l| !l).collect();
    all(formula, &opposite)
}

fn odd(formula: &mut Formula, inputs: &[Literal]) -> Literal {
    let pair = |formula: &mut Formula, a: Literal, b: Literal| {
        let output = formula.variable();
        formula.clause(&[!output, a, b]);
        formula.clause(&[!output, !a, !b]);
        formula.clause(&[output, !a, b]);
        formula.clause(&[output, a, !b]);
        output
    };
    inputs[1..].iter().fold(inputs[0], |sum, &next| pair(formula, sum, next))
}
