//! Factors of a circuit's matrix: the arithmetic on a known pattern, beside the C library for such matrices.

use crate::best_of;
use crate::klu::Klu;
use dryjoint_circuit::{Pattern, SparseLu};
use dryjoint_draws::Draws;
use std::collections::BTreeSet;

const GATES: usize = 1950;
const SOURCES: usize = 50;
/// Inputs of all gates together.
const INPUTS: usize = 5020;

/// A matrix of 4,000 unknowns with 17,990 entries: gates of two nodes, base and collector, each base fed
/// from near collectors, and sources with a row of their own, whose diagonal is zero.
struct Matrix {
    pattern: Pattern,
    values: Vec<f64>,
}

fn matrix() -> Matrix {
    let mut draw = Draws::new(1);
    // Unknowns: collectors, bases, nodes of sources, currents of sources.
    let (collector, base) = (|gate: usize| gate, |gate: usize| GATES + gate);
    let (node, current) = (|source: usize| 2 * GATES + source, |source: usize| 2 * GATES + SOURCES + source);
    let mut inputs: BTreeSet<(usize, usize)> = BTreeSet::new();
    while inputs.len() < INPUTS {
        let gate = draw.below(GATES);
        let from = match gate.checked_sub(1 + draw.below(40)) {
            Some(near) => collector(near),
            None => node(draw.below(SOURCES)),
        };
        inputs.insert((gate, from));
    }
    let mut entries: Vec<(usize, usize, f64)> = Vec::new();
    for gate in 0..GATES {
        let share = 0.5 + draw.unit();
        // Base, gain, backwards and collector conductance of a transistor that is off, in saturation, or, one
        // in twenty, between.
        let [bb, cb, bc, cc] = match draw.below(20) {
            0 => [1e-5, 1e-3, -1e-9, 1e-6],
            1..10 => [1e-12, 1e-12, -1e-12, 1e-12],
            _ => [8e-3, 5e-2, -6e-3, 4e-2],
        };
        entries.push((base(gate), base(gate), share * bb));
        entries.push((collector(gate), base(gate), share * cb));
        entries.push((base(gate), collector(gate), share * bc));
        entries.push((collector(gate), collector(gate), 5e-4 + share * cc));
        // From base to emitter 22k.
        entries[4 * gate].2 += 4.5e-5;
    }
    let mut on_diagonal = vec![0.0; 2 * GATES + SOURCES];
    for &(gate, from) in &inputs {
        let g = 4.5e-5 * (0.5 + draw.unit());
        entries.push((base(gate), from, -g));
        entries.push((from, base(gate), -g));
        on_diagonal[base(gate)] += g;
        on_diagonal[from] += g;
    }
    for source in 0..SOURCES {
        entries.push((node(source), node(source), 1e-12));
        entries.push((node(source), current(source), 1.0));
        entries.push((current(source), node(source), 1.0));
    }
    for entry in entries.iter_mut().filter(|(row, column, _)| row == column) {
        entry.2 += on_diagonal[entry.0];
    }
    entries.sort_unstable_by_key(|&(row, column, _)| (column, row));
    let n = 2 * GATES + 2 * SOURCES;
    let mut starts = vec![0u32; n + 1];
    for (_, column, _) in &entries {
        starts[column + 1] += 1;
    }
    for column in 0..n {
        starts[column + 1] += starts[column];
    }
    let rows = entries.iter().map(|entry| entry.0 as u32).collect();
    Matrix { pattern: Pattern { starts, rows }, values: entries.iter().map(|entry| entry.2).collect() }
}

impl Matrix {
    /// The greatest share of the right-hand side by which `x` misses it.
    fn miss(&self, x: &[f64], b: &[f64]) -> f64 {
        let mut left = b.to_vec();
        for (column, x) in x.iter().enumerate() {
            let range = self.pattern.starts[column] as usize..self.pattern.starts[column + 1] as usize;
            for entry in range {
                left[self.pattern.rows[entry] as usize] -= self.values[entry] * x;
            }
        }
        left.iter().map(|miss| miss.abs()).fold(0.0, f64::max)
    }
}

/// Prints both times and their ratio.
pub fn print() {
    let matrix = matrix();
    let Matrix { pattern, values } = &matrix;
    let b: Vec<f64> = (0..pattern.n()).map(|k| 1e-3 * ((k % 7) as f64 - 3.0)).collect();
    println!("factors of a circuit matrix, {} unknowns, {} entries", pattern.n(), values.len());
    let mut ours = SparseLu::default();
    assert!(ours.factor(pattern, values), "the matrix is not singular");
    let mut x = b.clone();
    ours.solve(&mut x);
    let miss = matrix.miss(&x, &b);
    let refactor = || assert!(ours.refactor(pattern, values), "its pivots still fit");
    let time = best_of(200, refactor);
    println!(
        "  ours  {time:>10.1?} for the arithmetic on the known pattern, {} entries in the factors; misses by {miss:.0e}",
        ours.fill()
    );
    let whole = best_of(20, || assert!(SparseLu::default().factor(pattern, values)));
    println!("        {whole:>10.1?} with order, pattern and pivots");
    let Some(mut klu) = Klu::new(pattern, values) else {
        println!("  KLU   skipped: no libklu on this machine (Debian: libsuitesparse-dev)");
        return;
    };
    let mut x = b.clone();
    assert!(klu.solve(&mut x), "KLU solves it too");
    let miss = matrix.miss(&x, &b);
    let theirs = best_of(200, || assert!(klu.refactor(values)));
    println!("  KLU   {theirs:>10.1?} for the same; misses by {miss:.0e}");
    println!("  ratio {:>10.2}", time.as_secs_f64() / theirs.as_secs_f64());
}
