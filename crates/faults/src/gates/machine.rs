//! Gate netlists with flip-flops, many faulty machines in step.
//!
//! Every lane is one machine with one fault (or none), three-valued in two planes and unknown when power comes
//! on. The lanes stand in spans of equal length; the first lane of each span is the good machine that
//! the others are held against, so that one sweep can try one vector on 511 faults or eight different
//! vectors on 63.

use super::circuit::{Circuit, NodeId, Op};
use super::stuck::{Site, StuckAt};
use crate::lanes::{Planes, Word};
use dryjoint_ids::Id;
use dryjoint_logic::{Function, Gate, Logic, Role};

/// How the lanes are shared out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Span {
    /// One good machine and up to 511 faulty ones.
    Whole,
    /// Eight good machines, each with up to 63 faulty ones.
    Eighth,
}

impl Span {
    /// How many lanes a span has.
    pub fn lanes(self) -> usize {
        match self {
            Self::Whole => 512,
            Self::Eighth => 64,
        }
    }

    /// The bit of each span's first lane in all lanes of the span.
    #[inline(always)]
    fn spread(self, word: Word) -> Word {
        match self {
            Self::Whole => {
                if word.get(0) {
                    Word::ALL
                } else {
                    Word::NONE
                }
            }
            Self::Eighth => Word(word.0.map(|limb| (limb & 1).wrapping_neg())),
        }
    }
}

/// Lanes in which something is held low or high.
#[derive(Clone, Copy, Debug)]
struct Held {
    low: Word,
    high: Word,
}

impl Held {
    const NONE: Self = Self { low: Word::NONE, high: Word::NONE };

    #[inline(always)]
    fn on(&self, planes: Planes) -> Planes {
        Planes { one: planes.one & !self.low | self.high, zero: planes.zero & !self.high | self.low }
    }

    fn add(&mut self, lane: usize, high: bool) {
        if high { self.high.set(lane, true) } else { self.low.set(lane, true) }
    }
}

/// What is held at one node: its net, and branches into it by pin.
#[derive(Clone, Debug)]
struct HeldNode {
    net: Held,
    pins: Vec<(usize, Held)>,
}

/// Which machine has which fault.
#[derive(Clone, Debug)]
pub struct Crew<'c> {
    circuit: &'c Circuit,
    span: Span,
    held: Vec<HeldNode>,
    /// For each node where in `held` it stands.
    at: Vec<Option<u32>>,
    /// Branches into flip-flops, and to outputs.
    flops: Vec<Held>,
    taps: Vec<Held>,
    wide: bool,
}

/// What all machines of a crew remember.
#[derive(Clone, Debug, PartialEq)]
pub struct State(pub Vec<Planes>);

/// What one clock period showed.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// Machines that show a known level other than the known level of their good machine.
    pub differs: Word,
    /// Machines that now remember such a difference.
    pub carries: Word,
}

impl<'c> Crew<'c> {
    /// A crew with the given faults, at most one less than the span has lanes; each span carries all of
    /// them, fault `k` in its lane `k + 1`.
    pub fn new(logic: &Logic, circuit: &'c Circuit, span: Span, faults: &[StuckAt]) -> Self {
        let mut crew = Self {
            circuit,
            span,
            held: Vec::new(),
            at: vec![None; circuit.len()],
            flops: vec![Held::NONE; circuit.flops().len()],
            taps: vec![Held::NONE; circuit.seen().len()],
            wide: super::grader::has_wide_vectors(),
        };
        for start in (0..512).step_by(span.lanes()) {
            for (lane, fault) in (start + 1..start + span.lanes()).zip(faults) {
                crew.hold(logic, lane, *fault);
            }
        }
        crew
    }

    /// A crew in which every machine has the same fault, or none.
    pub fn alike(logic: &Logic, circuit: &'c Circuit, fault: Option<StuckAt>) -> Self {
        let mut crew = Self::new(logic, circuit, Span::Whole, &[]);
        for lane in 0..fault.map_or(0, |_| crew.span.lanes()) {
            fault.into_iter().for_each(|fault| crew.hold(logic, lane, fault));
        }
        crew
    }

    /// What is seen, output by output, after a step that worked in `scratch`.
    pub fn outputs(&self, scratch: &[Planes]) -> impl Iterator<Item = Planes> {
        self.circuit.seen().iter().zip(&self.taps).map(|((_, node), held)| held.on(scratch[node.index()]))
    }

    fn hold(&mut self, logic: &Logic, lane: usize, fault: StuckAt) {
        match fault.site {
            Site::Net(signal) => {
                if let Some(node) = self.circuit.node(signal) {
                    self.entry(node).net.add(lane, fault.high);
                }
            }
            Site::Branch(stage, pin) => {
                let row = &logic.stages[stage];
                let seen = self.circuit.seen().iter().position(|(signal, _)| *signal == row.output);
                if let (Role::Seen, Some(k)) = (logic.signals[row.output].role, seen) {
                    self.taps[k].add(lane, fault.high);
                    return;
                }
                let Some(node) = self.circuit.node(row.output) else { return };
                if row.function == Function::Flop {
                    if let Some(k) = self.circuit.flops().iter().position(|(q, _)| *q == node) {
                        self.flops[k].add(lane, fault.high);
                    }
                    return;
                }
                let pins = &mut self.entry(node).pins;
                let k = pins.iter().position(|(p, _)| *p == pin as usize).unwrap_or_else(|| {
                    pins.push((pin as usize, Held::NONE));
                    pins.len() - 1
                });
                pins[k].1.add(lane, fault.high);
            }
        }
    }

    fn entry(&mut self, node: NodeId) -> &mut HeldNode {
        let next = self.held.len();
        let k = *self.at[node.index()].get_or_insert(next as u32) as usize;
        if k == next {
            self.held.push(HeldNode { net: Held::NONE, pins: Vec::new() });
        }
        &mut self.held[k]
    }

    /// What the machines remember when power comes on: nothing.
    pub fn power_on(&self) -> State {
        State(vec![Planes::UNKNOWN; self.circuit.flops().len()])
    }

    /// One clock period: the inputs settle, what is seen is compared, and the clock comes. `scratch` is
    /// room to work in.
    pub fn step(&self, inputs: &[Word], state: &mut State, scratch: &mut Vec<Planes>) -> Seen {
        scratch.resize(self.circuit.len(), Planes::UNKNOWN);
        #[cfg(target_arch = "x86_64")]
        if self.wide {
            // SAFETY: `wide` says that this machine has the feature.
            return unsafe { self.step_wide(inputs, state, scratch) };
        }
        self.period(inputs, state, scratch)
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx512f")]
    fn step_wide(&self, inputs: &[Word], state: &mut State, levels: &mut [Planes]) -> Seen {
        self.period(inputs, state, levels)
    }

    #[inline(always)]
    fn period(&self, inputs: &[Word], state: &mut State, levels: &mut [Planes]) -> Seen {
        for (node, &word) in self.circuit.inputs().iter().zip(inputs) {
            levels[node.index()] = Planes { one: word, zero: !word };
        }
        for ((node, _), &planes) in self.circuit.flops().iter().zip(&state.0) {
            levels[node.index()] = planes;
        }
        for node in self.circuit.nodes() {
            let k = node.index();
            let held = self.at[k].map(|at| &self.held[at as usize]);
            let mut planes = match (self.circuit.op(node), held) {
                (Op::Source, _) => levels[k],
                (Op::Constant(high), _) => Planes::broadcast(Some(high)),
                (Op::Gate(gate), Some(held)) if !held.pins.is_empty() => {
                    let pin = |(pin, n): (usize, &NodeId)| {
                        let level = levels[n.index()];
                        held.pins.iter().find(|(p, _)| *p == pin).map_or(level, |(_, held)| held.on(level))
                    };
                    output(gate, self.circuit.fan_in(node).iter().enumerate().map(pin))
                }
                (Op::Gate(gate), _) => {
                    output(gate, self.circuit.fan_in(node).iter().map(|n| levels[n.index()]))
                }
            };
            if let Some(held) = held {
                planes = held.net.on(planes);
            }
            levels[k] = planes;
        }
        let mut seen = Seen { differs: Word::NONE, carries: Word::NONE };
        for ((_, node), held) in self.circuit.seen().iter().zip(&self.taps) {
            seen.differs = seen.differs | self.against_good(held.on(levels[node.index()]));
        }
        for (((_, data), held), slot) in self.circuit.flops().iter().zip(&self.flops).zip(&mut state.0) {
            *slot = held.on(levels[data.index()]);
            seen.carries = seen.carries | self.against_good(*slot);
        }
        seen
    }

    /// Lanes whose known level is not the known level of the good machine.
    #[inline(always)]
    fn against_good(&self, planes: Planes) -> Word {
        self.span.spread(planes.one) & planes.zero | self.span.spread(planes.zero) & planes.one
    }
}

#[inline(always)]
fn output(gate: Gate, mut inputs: impl Iterator<Item = Planes>) -> Planes {
    let Some(mut level) = inputs.next() else { return Planes::UNKNOWN };
    match gate {
        Gate::And | Gate::Nand => {
            inputs.for_each(|i| level = Planes { one: level.one & i.one, zero: level.zero | i.zero });
        }
        Gate::Or | Gate::Nor => {
            inputs.for_each(|i| level = Planes { one: level.one | i.one, zero: level.zero & i.zero });
        }
        Gate::Xor | Gate::Xnor => inputs.for_each(|i| {
            let one = level.one & i.zero | level.zero & i.one;
            let zero = level.one & i.one | level.zero & i.zero;
            level = Planes { one, zero };
        }),
        Gate::Buf | Gate::Not => {}
    }
    match gate {
        Gate::Nand | Gate::Nor | Gate::Xnor | Gate::Not => level.inverted(),
        _ => level,
    }
}
