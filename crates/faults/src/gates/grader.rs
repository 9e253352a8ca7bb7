//! Which of 512 vectors show a fault.
//!
//! All nodes are settled once for 512 vectors. A fault then costs a few word operations for its
//! conditions (see [`Exposure`]) and, once for all faults that share it, one stem turned over: its
//! difference runs through the gates behind it, only where it still differs, and only as far as the
//! stem's gateway, whose own answer is shared in turn.

use super::circuit::{Circuit, NodeId, Op};
use super::exposure::Exposure;
use super::pending::Pending;
use super::region::Region;
use crate::lanes::Word;
use dryjoint_ids::Id;
use dryjoint_logic::Gate;

/// The widest vectors this machine has, found when the program runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Width {
    Base,
    #[cfg(target_arch = "x86_64")]
    Avx2,
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

impl Width {
    fn here() -> Self {
        #[cfg(target_arch = "x86_64")]
        {
            if is_x86_feature_detected!("avx512f") {
                return Self::Avx512;
            }
            if is_x86_feature_detected!("avx2") {
                return Self::Avx2;
            }
        }
        Self::Base
    }
}

/// Whether this machine has 512-bit vectors.
pub(super) fn has_wide_vectors() -> bool {
    #[cfg(target_arch = "x86_64")]
    return Width::here() == Width::Avx512;
    #[cfg(not(target_arch = "x86_64"))]
    return false;
}

/// A circuit with 512 vectors applied to it.
#[derive(Clone, Debug)]
pub struct Grader<'c> {
    circuit: &'c Circuit,
    width: Width,
    /// The level of each node under each vector, and behind them a scratch piece for one region.
    levels: Vec<Word>,
    /// While the difference of a stem is followed, the levels with it; otherwise the same as `levels`.
    turned: Vec<Word>,
    touched: Vec<NodeId>,
    pending: Pending,
    /// For each stem, in which vectors it is seen turned over, once that is known.
    seen: Vec<Option<Word>>,
    known: Vec<NodeId>,
    /// Gates evaluated so far, each for 512 vectors.
    evaluated: u64,
}

impl<'c> Grader<'c> {
    /// A grader without vectors.
    pub fn new(circuit: &'c Circuit) -> Self {
        let nodes = circuit.len();
        Self {
            circuit,
            width: Width::here(),
            levels: vec![Word::NONE; nodes + circuit.regions().scratch()],
            turned: vec![Word::NONE; nodes],
            touched: Vec::new(),
            pending: Pending::new(nodes),
            seen: vec![None; nodes],
            known: Vec::new(),
            evaluated: 0,
        }
    }

    /// Applies 512 vectors, one word for each input (then, for circuits with flip-flops, one word for
    /// each flip-flop's output), and settles the circuit.
    pub fn load(&mut self, inputs: &[Word]) {
        let sources = self.circuit.inputs().iter().copied().chain(self.circuit.flops().iter().map(|f| f.0));
        for (node, word) in sources.zip(inputs) {
            self.levels[node.index()] = *word;
        }
        for node in self.known.drain(..) {
            self.seen[node.index()] = None;
        }
        match self.width {
            Width::Base => settle(self.circuit, &mut self.levels),
            // SAFETY: the width was chosen because this machine has the feature.
            #[cfg(target_arch = "x86_64")]
            Width::Avx2 => unsafe { settle_avx2(self.circuit, &mut self.levels) },
            // SAFETY: as above.
            #[cfg(target_arch = "x86_64")]
            Width::Avx512 => unsafe { settle_avx512(self.circuit, &mut self.levels) },
        }
        self.turned.copy_from_slice(&self.levels[..self.circuit.len()]);
        self.evaluated += self.circuit.gates() as u64;
    }

    /// The level of a node under each vector.
    pub fn level(&self, node: NodeId) -> Word {
        self.levels[node.index()]
    }

    /// How many gates were evaluated so far, each for 512 vectors.
    pub fn evaluated(&self) -> u64 {
        self.evaluated
    }

    /// The vectors that show a fault.
    pub fn shows(&mut self, exposure: &Exposure) -> Word {
        if exposure.impossible {
            return Word::NONE;
        }
        let met = match self.width {
            Width::Base => met(exposure, &self.levels),
            // SAFETY: the width was chosen because this machine has the feature.
            #[cfg(target_arch = "x86_64")]
            Width::Avx2 => unsafe { met_avx2(exposure, &self.levels) },
            // SAFETY: as above.
            #[cfg(target_arch = "x86_64")]
            Width::Avx512 => unsafe { met_avx512(exposure, &self.levels) },
        };
        match exposure.stem {
            Some(stem) if !met.is_none() => met & self.stem_seen(stem),
            _ => met,
        }
    }

    /// The vectors under which the stem turned over is seen.
    pub fn stem_seen(&mut self, stem: NodeId) -> Word {
        // Down the gateways as far as needed, then back up.
        let mut way = Vec::new();
        let mut here = stem;
        let mut word = loop {
            if let Some(word) = self.seen[here.index()] {
                break word;
            }
            if self.circuit.is_shown(here) {
                break Word::ALL;
            }
            if !self.circuit.is_live(here) {
                break Word::NONE;
            }
            let reach = self.turn(here);
            way.push((here, reach));
            match self.circuit.gateway(here) {
                Some(gateway) if !reach.is_none() => here = gateway,
                _ => break Word::ALL,
            }
        };
        while let Some((node, reach)) = way.pop() {
            word = word & reach;
            self.seen[node.index()] = Some(word);
            self.known.push(node);
        }
        word
    }

    /// Turns a stem over: where its gateway, or without one anything shown, then differs.
    fn turn(&mut self, stem: NodeId) -> Word {
        let reach = match self.width {
            Width::Base => self.run(stem),
            // SAFETY: the width was chosen because this machine has the feature.
            #[cfg(target_arch = "x86_64")]
            Width::Avx2 => unsafe { self.run_avx2(stem) },
            // SAFETY: as above.
            #[cfg(target_arch = "x86_64")]
            Width::Avx512 => unsafe { self.run_avx512(stem) },
        };
        self.pending.clear();
        for node in self.touched.drain(..) {
            self.turned[node.index()] = self.levels[node.index()];
        }
        reach
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2")]
    fn run_avx2(&mut self, stem: NodeId) -> Word {
        self.run(stem)
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx512f")]
    fn run_avx512(&mut self, stem: NodeId) -> Word {
        self.run(stem)
    }

    #[inline(always)]
    fn run(&mut self, stem: NodeId) -> Word {
        let region = self.circuit.regions().behind(stem);
        if region.steps.is_empty() { self.follow(stem) } else { self.sweep(stem, region) }
    }

    /// Settles the whole region: no question is asked on the way, which under many different vectors is
    /// quicker than to follow the differences.
    #[inline(always)]
    fn sweep(&mut self, stem: NodeId, region: Region) -> Word {
        self.evaluated += u64::from(region.gates);
        let scratch = self.circuit.len();
        self.levels[scratch] = !self.levels[stem.index()];
        for (k, step) in region.steps.iter().enumerate() {
            let [a, b] = step.inputs.map(|place| self.levels[place as usize]);
            let all = |turned: bool| 0_u64.wrapping_sub(u64::from(turned));
            let (before, after) = (all(step.before), all(step.after));
            self.levels[scratch + 1 + k] = Word(if step.xor {
                std::array::from_fn(|k| a.0[k] ^ b.0[k] ^ after)
            } else {
                std::array::from_fn(|k| ((a.0[k] ^ before) & (b.0[k] ^ before)) ^ after)
            });
        }
        region.ends.iter().fold(Word::NONE, |reach, &(place, node)| {
            reach | self.levels[place as usize] ^ self.levels[node.index()]
        })
    }

    /// Follows the differences and settles a gate only where one arrives.
    #[inline(always)]
    fn follow(&mut self, stem: NodeId) -> Word {
        let gateway = self.circuit.gateway(stem);
        self.turned[stem.index()] = !self.levels[stem.index()];
        self.touched.push(stem);
        for &reader in self.circuit.fan_out(stem) {
            self.pending.add(reader);
        }
        let mut reach = Word::NONE;
        while let Some(node) = self.pending.take() {
            let level = evaluate(self.circuit, node, &self.turned);
            self.evaluated += 1;
            let difference = level ^ self.levels[node.index()];
            if difference.is_none() {
                continue;
            }
            if Some(node) == gateway {
                return difference;
            }
            self.turned[node.index()] = level;
            self.touched.push(node);
            if self.circuit.is_shown(node) {
                reach = reach | difference;
                if reach == Word::ALL {
                    return reach;
                }
            }
            for &reader in self.circuit.fan_out(node) {
                self.pending.add(reader);
            }
        }
        reach
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn met_avx2(exposure: &Exposure, levels: &[Word]) -> Word {
    met(exposure, levels)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn met_avx512(exposure: &Exposure, levels: &[Word]) -> Word {
    met(exposure, levels)
}

/// The vectors that meet all conditions.
#[inline(always)]
fn met(exposure: &Exposure, levels: &[Word]) -> Word {
    exposure.conditions.iter().fold(Word::ALL, |met, &(node, high)| {
        let flip = if high { 0 } else { u64::MAX };
        let level = &levels[node.index()].0;
        Word(std::array::from_fn(|k| met.0[k] & (level[k] ^ flip)))
    })
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn settle_avx2(circuit: &Circuit, levels: &mut [Word]) {
    settle(circuit, levels);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn settle_avx512(circuit: &Circuit, levels: &mut [Word]) {
    settle(circuit, levels);
}

#[inline(always)]
fn settle(circuit: &Circuit, levels: &mut [Word]) {
    for node in circuit.nodes() {
        match circuit.op(node) {
            Op::Source => {}
            Op::Constant(high) => levels[node.index()] = if high { Word::ALL } else { Word::NONE },
            Op::Gate(_) => levels[node.index()] = evaluate(circuit, node, levels),
        }
    }
}

#[inline(always)]
fn evaluate(circuit: &Circuit, node: NodeId, levels: &[Word]) -> Word {
    let quick = circuit.quick(node);
    if quick.fits {
        let [a, b] = quick.inputs.map(|input| levels[input as usize]);
        return Word(std::array::from_fn(|k| {
            ((a.0[k] ^ quick.before) & (b.0[k] ^ quick.before)) ^ quick.after
        }));
    }
    let Op::Gate(gate) = circuit.op(node) else { return levels[node.index()] };
    let (first, rest) = circuit.fan_in(node).split_first().expect("a gate has an input");
    let mut word = levels[first.index()];
    match gate {
        Gate::And | Gate::Nand => rest.iter().for_each(|n| word = word & levels[n.index()]),
        Gate::Or | Gate::Nor => rest.iter().for_each(|n| word = word | levels[n.index()]),
        Gate::Xor | Gate::Xnor => rest.iter().for_each(|n| word = word ^ levels[n.index()]),
        Gate::Buf | Gate::Not => {}
    }
    match gate {
        Gate::Nand | Gate::Nor | Gate::Xnor | Gate::Not => !word,
        _ => word,
    }
}

#[cfg(test)]
mod tests {
    use super::super::stuck::StuckFaults;
    use super::*;
    use dryjoint_logic::{Function, Logic, Role, Signal, SignalId, Stage};

    /// Gates drawn by a plain linear congruence, each reading among the twenty nets before it.
    fn drawn(gates: usize) -> Logic {
        let mut state = 5_u64;
        let mut draw = |below: usize| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as usize % below
        };
        let mut logic = Logic::default();
        let signal = |name: String, role| Signal { name, net: None, role };
        for k in 0..12 {
            logic.signals.push(signal(format!("i{k}"), Role::Input));
        }
        for k in 0..gates {
            let before = logic.signals.len();
            let gate = [Gate::Nand, Gate::Nor, Gate::Xor, Gate::Or, Gate::And, Gate::Xnor][draw(6)];
            let inputs = (0..2 + draw(3)).map(|_| SignalId::at(before - 1 - draw(before.min(20)))).collect();
            let output = logic.signals.push(signal(format!("g{k}"), Role::Inside));
            logic.stages.push(Stage {
                name: format!("G{k}"),
                inputs,
                output,
                function: Function::Gate(gate),
            });
        }
        for k in [gates / 2, gates - 3, gates - 1] {
            let output = logic.signals.push(signal(format!("o{k}"), Role::Seen));
            let (inputs, function) = (vec![SignalId::at(12 + k)], Function::Gate(Gate::Buf));
            logic.stages.push(Stage { name: format!("o{k}"), inputs, output, function });
        }
        logic
    }

    /// Sweeping a region, following differences, and every width of vectors say the same.
    #[test]
    fn all_ways_of_grading_agree() {
        let logic = drawn(150);
        let sweeping = Circuit::compile(&logic).expect("gates");
        let following = sweeping.clone().without_regions();
        let faults = StuckFaults::of(&logic);
        let exposures = Exposure::all(&logic, &sweeping, &faults);
        let words: Vec<Word> = (0..12_u64)
            .map(|k| Word(std::array::from_fn(|limb| (k + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> limb)))
            .collect();
        let answers = |circuit: &Circuit, width: Width| -> Vec<Word> {
            let mut grader = Grader { width, ..Grader::new(circuit) };
            grader.load(&words);
            exposures.rows().iter().map(|exposure| grader.shows(exposure)).collect()
        };
        let plain = answers(&sweeping, Width::Base);
        assert!(plain.iter().filter(|word| !word.is_none()).count() > 100);
        for width in [Width::Base, Width::here()] {
            assert!(answers(&sweeping, width) == plain && answers(&following, width) == plain, "{width:?}");
        }
    }
}
