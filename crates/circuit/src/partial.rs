//! After a change in one place: only what the change touches is solved again.
//!
//! At the point known before, Kirchhoff's law still holds everywhere but where the change was made. The
//! nodes where it does not, with their neighbours a few elements on, make a region; it is solved with all
//! others held. Where the law is then broken at the region's edge, the region grows there and is solved
//! again, from where it stands. In the end the law holds at every node of the whole, to the same residual
//! as anywhere else; a change that reaches too far is left to the usual ways.

use crate::newton::{Engine, Outcome, PLAIN};
use crate::state::{DeviceState, State, hold};
use crate::system::{BipolarSlot, Conductance, DiodeSlot, MosfetSlot, NONE, System};

/// Elements from a node that misses current to the edge of the region, at first and when it grows.
const REACH: usize = 6;
const GROWTH: usize = 4;
/// A region of more than half the nodes may as well be the whole, which then must come right soon.
const HALF: usize = 2;
const FEW: u32 = 12;
/// How often a region may grow.
const ROUNDS: usize = 24;
/// Newton steps for a region.
const STEPS: u32 = 60;

/// Part of a system, everything around it held.
struct Region {
    system: System,
    /// Per local node its node in the whole.
    nodes: Vec<u32>,
    diodes: Vec<u32>,
    bipolars: Vec<u32>,
}

/// The numbers of nodes within a region.
struct Local {
    /// Per node of the whole its local number.
    of: Vec<u32>,
    nodes: Vec<u32>,
}

impl Local {
    fn number(&mut self, node: u32) -> u32 {
        let at = &mut self.of[node as usize];
        if *at == NONE {
            *at = self.nodes.len() as u32;
            self.nodes.push(node);
        }
        *at
    }
}

/// The nodes within so many elements of those marked.
fn reach(system: &System, inside: &mut [bool], elements: usize) {
    let mut next = inside.to_vec();
    for _ in 0..elements {
        let mut join = |nodes: &[u32]| {
            if nodes.iter().any(|node| inside[*node as usize]) {
                nodes.iter().for_each(|node| next[*node as usize] = true);
            }
        };
        system.conductances.iter().for_each(|slot| join(&[slot.a, slot.b]));
        system.diodes.iter().for_each(|slot| join(&[slot.a, slot.k]));
        system.bipolars.iter().for_each(|slot| join(&slot.nodes));
        system.mosfets.iter().for_each(|slot| join(&slot.nodes));
        // A rail touches everything and passes nothing on.
        system.held.iter().for_each(|(node, _)| next[*node as usize] = false);
        inside.copy_from_slice(&next);
    }
}

impl Region {
    fn cut(system: &System, inside: &[bool]) -> Self {
        let mut local = Local { of: vec![NONE; inside.len()], nodes: Vec::new() };
        let own: Vec<u32> = system.node.iter().copied().filter(|node| inside[*node as usize]).collect();
        own.iter().for_each(|node| {
            local.number(*node);
        });
        let touches = |nodes: &[u32]| nodes.iter().any(|node| inside[*node as usize]);
        let mut part = System::empty(system.bounds);
        let (mut diodes, mut bipolars) = (Vec::new(), Vec::new());
        for slot in system.conductances.iter().filter(|slot| touches(&[slot.a, slot.b])) {
            let [a, b] = [slot.a, slot.b].map(|node| local.number(node));
            part.conductances.push(Conductance { a, b, g: slot.g });
        }
        for (number, slot) in system.diodes.iter().enumerate() {
            if touches(&[slot.a, slot.k]) {
                let [a, k] = [slot.a, slot.k].map(|node| local.number(node));
                let law = part.diode_laws.len() as u32;
                part.diodes.push(DiodeSlot { a, k, law, ..*slot });
                part.diode_laws.push(system.diode_laws[slot.law as usize]);
                diodes.push(number as u32);
            }
        }
        for (number, slot) in system.bipolars.iter().enumerate() {
            if touches(&slot.nodes) {
                let nodes = slot.nodes.map(|node| local.number(node));
                let law = part.bipolar_laws.len() as u32;
                part.bipolars.push(BipolarSlot { nodes, law, ..*slot });
                part.bipolar_laws.push(system.bipolar_laws[slot.law as usize]);
                bipolars.push(number as u32);
            }
        }
        for slot in system.mosfets.iter().filter(|slot| touches(&slot.nodes)) {
            let nodes = slot.nodes.map(|node| local.number(node));
            part.mosfets.push(MosfetSlot { nodes, ..*slot });
        }
        let injected = system.injected.iter().filter(|(node, _)| inside[*node as usize]);
        part.injected = injected.map(|(node, amps)| (local.of[*node as usize], *amps)).collect();
        let (count, all) = (own.len() as u32, local.nodes.len() as u32);
        part.n = own.len();
        part.node = (0..count).collect();
        part.unknown = (0..all).map(|k| if k < count { k } else { NONE }).collect();
        part.held = (count..all).map(|k| (k, 0.0)).collect();
        part.place();
        Self { system: part, nodes: local.nodes, diodes, bipolars }
    }

    /// Solves the region with the rest of `state` held, and puts what was found back into it.
    fn solve(&mut self, engine: &mut Engine, state: &mut State, most: u32) -> Outcome {
        for (local, volts) in &mut self.system.held {
            *volts = state.x[self.nodes[*local as usize] as usize];
        }
        let pick = |all: &[DeviceState], some: &[u32]| some.iter().map(|k| all[*k as usize]).collect();
        let mut own = State {
            x: self.nodes.iter().map(|node| state.x[*node as usize]).collect(),
            diodes: pick(&state.diodes, &self.diodes),
            bipolars: pick(&state.bipolars, &self.bipolars),
            fresh: false,
        };
        engine.prepare(&self.system);
        let outcome = engine.newton(&self.system, &mut own, &PLAIN, most);
        if outcome.solved {
            for (node, volts) in self.nodes.iter().zip(&own.x).take(self.system.n) {
                state.x[*node as usize] = *volts;
            }
            for (number, kept) in self.diodes.iter().zip(own.diodes) {
                state.diodes[*number as usize] = kept;
            }
            for (number, kept) in self.bipolars.iter().zip(own.bipolars) {
                state.bipolars[*number as usize] = kept;
            }
        }
        outcome
    }
}

/// Every junction taken as evaluated where it stands.
fn stand(system: &System, state: &mut State) {
    for (slot, kept) in system.diodes.iter().zip(&mut state.diodes) {
        let anode = if slot.gs == 0.0 { state.x[slot.a as usize] } else { kept.inner[0] };
        kept.at[0] = anode - state.x[slot.k as usize];
    }
    for (slot, kept) in system.bipolars.iter().zip(&mut state.bipolars) {
        let [c, b, e] = slot.nodes.map(|node| state.x[node as usize]);
        let [c, b] = if slot.gb == 0.0 { [c, b] } else { kept.inner };
        kept.at = [slot.sign * (b - e), slot.sign * (b - c)];
    }
    state.fresh = false;
}

/// From a point of nearly the same system to the one of this; nothing where the change reaches too far.
pub(crate) fn partial(engine: &mut Engine, system: &System, state: &mut State) -> Option<Outcome> {
    hold(system, &mut state.x, 1.0);
    stand(system, state);
    let mut inside = vec![false; system.unknown.len()];
    let mut iterations = 0;
    for round in 0..ROUNDS {
        let mut outcome = engine.look(system, state);
        outcome.iterations = iterations;
        if outcome.solved && round > 0 {
            return Some(outcome);
        }
        let mut missing = engine.missing(system);
        if !missing.contains(&true) {
            return outcome.solved.then_some(outcome);
        }
        reach(system, &mut missing, if round == 0 { REACH } else { GROWTH });
        inside.iter_mut().zip(&missing).for_each(|(inside, missing)| *inside |= missing);
        let size = inside.iter().filter(|inside| **inside).count();
        let far = HALF * size > system.n;
        if far {
            system.node.iter().for_each(|node| inside[*node as usize] = true);
        }
        let found = Region::cut(system, &inside).solve(engine, state, if far { FEW } else { STEPS });
        iterations += found.iterations;
        if !found.solved {
            return None;
        }
    }
    None
}
