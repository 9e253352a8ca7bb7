//! Newton's method on the node voltages, with help where a plain start fails.

use crate::dense::DenseLu;
use crate::devices::{self, Motion, STILL};
use crate::sparse::{Pattern, SparseLu};
use crate::state::{State, hold};
use crate::system::{Shape, System};

/// A point counts as solved when no node's currents miss zero by more than this, amps …
const RESIDUAL: f64 = 1e-10;
/// or by this share of the greatest current anywhere, below which sums of rounded numbers say nothing;
const ROUNDING: f64 = 1e-12;
/// a node that misses more than this has perhaps not been reached yet;
const MISSING: f64 = 2e-11;
/// … and the last step moved no node by more than this, volts (and the same share of its voltage).
const STEP: f64 = 1e-6;
/// How far past the sources' voltages a step may go, volts.
const MARGIN: f64 = 1.0;
/// Every node leaks to ground by this much, siemens, so that a floating one has a voltage.
pub(crate) const LEAK: f64 = 1e-12;

/// Conductances added to help: each is gone at the end.
#[derive(Clone, Copy)]
pub(crate) struct Aid<'a> {
    /// From every unknown to ground, siemens.
    pub(crate) leak: f64,
    /// Share of every source.
    pub(crate) scale: f64,
    /// Nodes drawn to a voltage: node, volts, siemens.
    pub(crate) pins: &'a [(u32, f64)],
    /// Siemens of all pins.
    pub(crate) grip: f64,
    /// From every unknown to where it was: siemens, voltages per node.
    pub(crate) drag: Option<(f64, &'a [f64])>,
    /// Time.
    pub(crate) motion: Motion<'a>,
}

/// No help.
pub(crate) const PLAIN: Aid = Aid { leak: LEAK, scale: 1.0, pins: &[], grip: 0.0, drag: None, motion: STILL };

/// How a run of Newton's method ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Outcome {
    pub(crate) solved: bool,
    pub(crate) iterations: u32,
    /// Greatest missing current, amps, and the node where it is missing.
    pub(crate) residual: f64,
    pub(crate) worst: u32,
}

/// The factors and scratch space, kept from run to run.
#[derive(Debug, Default)]
pub(crate) struct Engine {
    /// Newton steps after which a longer way is given up early, where someone waits.
    pub(crate) patience: Option<u32>,
    dense: DenseLu,
    sparse: SparseLu,
    pattern: Pattern,
    values: Vec<f64>,
    f: Vec<f64>,
    dx: Vec<f64>,
}

impl Engine {
    /// Drops the pivots found for earlier matrices: what is solved next comes out the same to the last
    /// bit, whatever was solved before.
    pub(crate) fn forget(&mut self) {
        self.sparse.forget();
    }

    /// Makes the engine ready for a system; factors of the same pattern stay useful.
    pub(crate) fn prepare(&mut self, system: &System) {
        if let Shape::Sparse(pattern) = &system.shape
            && *pattern != self.pattern
        {
            self.sparse = SparseLu::default();
            self.pattern = pattern.clone();
        }
    }

    /// Entries in the sparse factors.
    pub(crate) fn fill(&self) -> usize {
        self.sparse.fill()
    }

    fn factor(&mut self, system: &System) -> bool {
        match &system.shape {
            Shape::Dense => self.dense.factor(system.n, &self.values),
            Shape::Sparse(pattern) => {
                self.sparse.refactor(pattern, &self.values) || self.sparse.factor(pattern, &self.values)
            }
        }
    }

    fn solve(&mut self, system: &System) {
        match &system.shape {
            Shape::Dense => self.dense.solve(&mut self.dx),
            Shape::Sparse(_) => self.sparse.solve(&mut self.dx),
        }
    }

    /// Matrix and residual at the state; what junction limiting found.
    fn assemble(&mut self, system: &System, state: &mut State, aid: &Aid) -> devices::Found {
        self.values.clear();
        self.values.extend_from_slice(&system.base);
        self.f.clear();
        self.f.resize(system.unknown.len(), 0.0);
        let mut found = devices::stamp(system, state, aid.motion, &mut self.values, &mut self.f);
        let (f, x) = (&mut self.f, &state.x);
        for slot in &system.conductances {
            let i = slot.g * (x[slot.a as usize] - x[slot.b as usize]);
            f[slot.a as usize] += i;
            f[slot.b as usize] -= i;
            found.greatest = found.greatest.max(i.abs());
        }
        for (node, amps) in &system.injected {
            f[*node as usize] -= amps * aid.scale;
        }
        for (node, diagonal) in system.node.iter().zip(&system.diagonal) {
            let node = *node as usize;
            f[node] += aid.leak * x[node];
            self.values[*diagonal as usize] += aid.leak;
            if let Some((g, before)) = aid.drag {
                f[node] += g * (x[node] - before[node]);
                self.values[*diagonal as usize] += g;
            }
        }
        for (node, volts) in aid.pins {
            let unknown = system.unknown[*node as usize];
            if let Some(diagonal) = system.diagonal.get(unknown as usize) {
                f[*node as usize] += aid.grip * (x[*node as usize] - volts);
                self.values[*diagonal as usize] += aid.grip;
            }
        }
        found
    }

    /// Where most current is missing.
    fn worst(&self, system: &System, found: &devices::Found, outcome: &mut Outcome) {
        outcome.residual = found.inner;
        for node in &system.node {
            let amps = self.f[*node as usize].abs();
            if amps > outcome.residual || amps.is_nan() {
                outcome.residual = amps;
                outcome.worst = *node;
            }
        }
    }

    /// Whether Kirchhoff's law holds at a state as it is: no step is taken.
    pub(crate) fn look(&mut self, system: &System, state: &mut State) -> Outcome {
        let found = self.assemble(system, state, &PLAIN);
        let mut outcome = Outcome { solved: false, iterations: 0, residual: f64::INFINITY, worst: 0 };
        self.worst(system, &found, &mut outcome);
        outcome.solved = !found.limited && outcome.residual <= RESIDUAL.max(ROUNDING * found.greatest);
        outcome
    }

    /// The nodes that missed current when last looked at, far less than would stop a run.
    pub(crate) fn missing(&self, system: &System) -> Vec<bool> {
        let mut missing = vec![false; system.unknown.len()];
        for node in &system.node {
            missing[*node as usize] = self.f[*node as usize].abs() > MISSING;
        }
        missing
    }

    /// Runs until solved, or `most` steps.
    pub(crate) fn newton(&mut self, system: &System, state: &mut State, aid: &Aid, most: u32) -> Outcome {
        hold(system, &mut state.x, aid.scale);
        let mut outcome = Outcome { solved: false, iterations: 0, residual: f64::INFINITY, worst: 0 };
        let mut settled = system.n == 0;
        loop {
            let found = self.assemble(system, state, aid);
            self.worst(system, &found, &mut outcome);
            if !found.limited && settled && outcome.residual <= RESIDUAL.max(ROUNDING * found.greatest) {
                outcome.solved = true;
                return outcome;
            }
            if !outcome.residual.is_finite() || outcome.iterations == most || !self.factor(system) {
                return outcome;
            }
            outcome.iterations += 1;
            self.dx.clear();
            self.dx.extend(system.node.iter().map(|node| -self.f[*node as usize]));
            self.solve(system);
            // A chain of stages all in their active region multiplies its gains: a step may ask for
            // 1e30 V. Kept within what sources can do, it settles stage by stage.
            // In time a capacitor may well push a node past its supplies.
            let margin = if aid.motion.rate == 0.0 { MARGIN } else { f64::INFINITY };
            let (low, high) = (system.bounds.0 - margin, system.bounds.1 + margin);
            for (node, dx) in system.node.iter().zip(&mut self.dx) {
                let x = state.x[*node as usize];
                *dx = (x + *dx).clamp(low, high) - x;
            }
            devices::advance(system, state, &self.dx);
            settled = system
                .node
                .iter()
                .zip(&self.dx)
                .all(|(node, dx)| dx.abs() <= STEP * (1.0 + state.x[*node as usize].abs()));
        }
    }

    /// Currents per charge turned into volts through the last matrix: the greatest at any node.
    pub(crate) fn filtered(&mut self, system: &System, currents: &[f64]) -> f64 {
        self.f.fill(0.0);
        devices::spread(system, currents, &mut self.f);
        self.dx.clear();
        self.dx.extend(system.node.iter().map(|node| self.f[*node as usize]));
        self.solve(system);
        self.dx.iter().map(|dx| dx.abs()).fold(0.0, f64::max)
    }

    /// The current each node gets from outside, once the state is solved: what a source there delivers.
    pub(crate) fn delivered(&self, node: u32) -> f64 {
        self.f[node as usize]
    }
}
