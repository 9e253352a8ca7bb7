//! How long solves take on this machine: a stage of five gates, boards of 600 and 4,000 transistors.
//!
//! `cargo run --release -p dryjoint-circuit --example figures`

#![allow(clippy::print_stdout, reason = "an example prints its figures")]

use dryjoint_circuit::{GROUND, Network, NodeId, Solution, Solver};
use dryjoint_draws::Draws;
use dryjoint_parts::{Bipolar, Model, library};
use dryjoint_units::{Amps, Ohms, Volts};
use std::time::Instant;

/// RTL NOR stages: collector 2k2, base 22k per input, 22k base to emitter.
struct Family {
    network: Network,
    vcc: NodeId,
    card: Bipolar,
    outs: Vec<NodeId>,
}

impl Family {
    fn new() -> Self {
        let Some(Model::Bipolar(card)) = library("2N3904") else { unreachable!("the card is built in") };
        let mut network = Network::new();
        let vcc = network.node();
        network.supply(vcc, Volts(5.0), Amps(50.0));
        Self { network, vcc, card, outs: Vec::new() }
    }

    fn nor(&mut self, inputs: &[NodeId]) -> NodeId {
        let (base, output) = (self.network.node(), self.network.node());
        for input in inputs {
            self.network.resistor(*input, base, Ohms(22e3));
        }
        self.network.resistor(base, GROUND, Ohms(22e3));
        self.network.resistor(self.vcc, output, Ohms(2.2e3));
        self.network.bipolar(output, base, GROUND, &self.card);
        self.outs.push(output);
        output
    }
}

/// A gate of two inputs with two drivers and two loads: 26 parts.
fn stage() -> Family {
    let mut family = Family::new();
    let low = family.nor(&[family.vcc]);
    let high = family.nor(&[GROUND]);
    let gate = family.nor(&[low, high]);
    family.nor(&[gate]);
    family.nor(&[gate]);
    family
}

/// Stages each fed by one or two of the sixty before it, no output with more than five loads.
fn made_up(gates: usize) -> Family {
    let mut family = Family::new();
    let mut draw = Draws::new(7);
    let mut loads = vec![0usize; gates];
    for gate in 0..gates {
        let mut inputs = Vec::new();
        for _ in 0..1 + draw.below(2) {
            let source = gate.wrapping_sub(1 + draw.below(60));
            match loads.get_mut(source) {
                Some(count) if *count < 5 => {
                    *count += 1;
                    inputs.push(family.outs[source]);
                }
                _ => inputs.push([GROUND, family.vcc][draw.below(2)]),
            }
        }
        family.nor(&inputs);
    }
    family
}

fn timed(what: &str, rounds: u32, mut run: impl FnMut() -> Solution) -> Solution {
    let mut best = f64::INFINITY;
    let mut solution = run();
    for _ in 0..rounds {
        let start = Instant::now();
        solution = run();
        best = best.min(start.elapsed().as_secs_f64());
    }
    let Solution { iterations, method, residual, .. } = &solution;
    println!("{what}: {:.0} us best of {rounds}; {iterations} steps, {method}, {residual} left", best * 1e6);
    solution
}

fn main() {
    let family = stage();
    let mut solver = Solver::default();
    timed("stage of 5 gates, cold", 5000, || solver.solve(&family.network).expect("a solution"));
    timed("  with the network cloned", 5000, || solver.solve(&family.network.clone()).expect("a solution"));
    for gates in [600usize, 4000] {
        let mut family = made_up(gates);
        timed(&format!("{gates} gates, cold"), 5, || {
            Solver::default().solve(&family.network).expect("a solution")
        });
        let mut solver = Solver::default();
        let before = solver.solve(&family.network).expect("a solution");
        let guess: Vec<(NodeId, Volts)> = family
            .outs
            .iter()
            .map(|out| (*out, Volts(if before.node(*out).0 > 1.4 { 4.0 } else { 0.1 })))
            .collect();
        timed("  near a guess of every level", 5, || {
            solver.solve_near(&family.network, &guess).expect("a solution")
        });
        println!("  {} unknowns, {} entries in the factors", family.network.node_count() - 2, solver.fill());
        let (a, b) = (family.outs[gates / 2], family.outs[gates / 2 + 3]);
        family.network.resistor(a, b, Ohms(0.1));
        timed("  two outputs bridged, Newton from the last point", 5, || {
            solver.solve_from(&family.network, &before).expect("a solution")
        });
        timed("  two outputs bridged, walked", 2, || {
            solver.resolve(&family.network, &before).expect("a solution")
        });
    }
}
