//! The gates behind each stem as far as its gateway, ready to be settled with the stem turned over.
//!
//! A region is a list of two-input steps that write one behind the other into a scratch piece behind the
//! nodes' own levels, so nothing has to be put back afterwards, and what is written is near at hand.
//! Wider gates take several steps: for `y = NAND(a, b, c)` in the region of `a`, with the levels of eight
//! nodes in places 0 to 7 and `a` turned over in place 8, place 9 is AND of 8 and `b`, place 10 NAND of 9
//! and `c`, and `y` stands in place 10.

use super::circuit::{Circuit, NodeId, Op};
use dryjoint_ids::Id;
use dryjoint_logic::Gate;

/// Regions with more gates than this are not listed.
const REGION: usize = 512;
/// All regions together are listed only up to so many gates for each node of the circuit.
const REGIONS: usize = 64;

/// An AND with its inputs and its output turned over or not, or an XOR.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    /// The places read.
    pub inputs: [u32; 2],
    /// Whether the inputs are turned over; not for XOR.
    pub before: bool,
    /// Whether the output is turned over.
    pub after: bool,
    /// Whether it is an XOR.
    pub xor: bool,
}

/// What is behind one stem.
#[derive(Clone, Copy, Debug)]
pub(super) struct Region<'r> {
    /// What to settle; the first step's place is the second of the scratch piece.
    pub steps: &'r [Step],
    /// The place of each node at which the difference counts: the gateway, or what is shown.
    pub ends: &'r [(u32, NodeId)],
    /// How many gates the steps settle.
    pub gates: u32,
}

/// The regions of all stems, in one piece of memory.
#[derive(Clone, Debug, Default)]
pub(super) struct Regions {
    /// For each node where its steps and ends begin, and its gates; a node without a region has none.
    starts: Vec<(u32, u32, u32)>,
    steps: Vec<Step>,
    ends: Vec<(u32, NodeId)>,
    longest: usize,
}

impl Regions {
    /// Lists the regions that are not too large.
    pub fn of(circuit: &Circuit) -> Self {
        let mut regions = Self::default();
        let mut met: Vec<Option<NodeId>> = vec![None; circuit.len()];
        // The place of each node while one region is built; its own level's place between two.
        let mut places: Vec<u32> = (0..circuit.len()).map(|k| k as u32).collect();
        let mut room = circuit.len() * REGIONS;
        for stem in circuit.nodes() {
            let mut start = (regions.steps.len() as u32, regions.ends.len() as u32, 0);
            let listed = gates_behind(circuit, stem, REGION.min(room), &mut met);
            if let Some(gates) = listed {
                room -= gates.len();
                start.2 = gates.len() as u32;
                regions.add(circuit, stem, &gates, &mut places);
            }
            regions.starts.push(start);
        }
        regions.starts.push((regions.steps.len() as u32, regions.ends.len() as u32, 0));
        regions
    }

    /// No region for any of so many nodes.
    #[cfg(test)]
    pub fn none(nodes: usize) -> Self {
        Self { starts: vec![(0, 0, 0); nodes + 1], ..Self::default() }
    }

    /// The region of a stem, without steps where it is not listed.
    #[inline(always)]
    pub fn behind(&self, stem: NodeId) -> Region<'_> {
        let (step, end, gates) = self.starts[stem.index()];
        let (next_step, next_end, _) = self.starts[stem.index() + 1];
        Region {
            steps: &self.steps[step as usize..next_step as usize],
            ends: &self.ends[end as usize..next_end as usize],
            gates,
        }
    }

    /// How many places the scratch piece needs.
    pub fn scratch(&self) -> usize {
        self.longest + 1
    }

    fn add(&mut self, circuit: &Circuit, stem: NodeId, gates: &[NodeId], places: &mut [u32]) {
        let first = self.steps.len();
        let scratch = circuit.len() as u32;
        places[stem.index()] = scratch;
        let gateway = circuit.gateway(stem);
        for &node in gates {
            let (fan_in, form) = (circuit.fan_in(node), circuit.op(node));
            let Op::Gate(gate) = form else { continue };
            // A gate of one input passes it on, an XOR too.
            let gate = match (gate, fan_in.len()) {
                (Gate::Xor, 1) => Gate::Buf,
                (Gate::Xnor, 1) => Gate::Not,
                _ => gate,
            };
            let mut here = places[fan_in.first().expect("a gate has an input").index()];
            let others = if fan_in.len() == 1 { fan_in } else { &fan_in[1..] };
            for (k, other) in others.iter().enumerate() {
                let last = k + 1 == others.len();
                self.steps.push(step(gate, [here, places[other.index()]], last));
                here = scratch + (self.steps.len() - first) as u32;
            }
            places[node.index()] = here;
            let counts = gateway.map_or(circuit.is_shown(node), |gateway| gateway == node);
            if counts {
                self.ends.push((here, node));
            }
        }
        for node in gates.iter().chain([&stem]) {
            places[node.index()] = node.index() as u32;
        }
        self.longest = self.longest.max(self.steps.len() - first);
    }
}

/// One step of a gate; only the last turns the output over.
fn step(gate: Gate, inputs: [u32; 2], last: bool) -> Step {
    let turns = last && matches!(gate, Gate::Nand | Gate::Nor | Gate::Xnor | Gate::Not);
    let or = matches!(gate, Gate::Or | Gate::Nor);
    Step { inputs, before: or, after: or != turns, xor: matches!(gate, Gate::Xor | Gate::Xnor) }
}

/// The gates behind a stem up to its gateway, along the flow; nothing where there are more than `most`,
/// or where a difference needs no region.
fn gates_behind(
    circuit: &Circuit,
    stem: NodeId,
    most: usize,
    met: &mut [Option<NodeId>],
) -> Option<Vec<NodeId>> {
    if circuit.only_reader(stem).is_some() || circuit.is_shown(stem) || !circuit.is_live(stem) {
        return None;
    }
    let gateway = circuit.gateway(stem);
    let mut region: Vec<NodeId> = Vec::new();
    let mut next = 0;
    let mut here = stem;
    loop {
        if Some(here) != gateway {
            for &reader in circuit.fan_out(here) {
                if circuit.is_live(reader) && met[reader.index()] != Some(stem) {
                    met[reader.index()] = Some(stem);
                    region.push(reader);
                }
            }
        }
        if region.len() > most {
            return None;
        }
        if next == region.len() {
            break;
        }
        here = region[next];
        next += 1;
    }
    region.sort_unstable();
    Some(region)
}
