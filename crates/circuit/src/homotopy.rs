//! Ways to an operating point when a plain start fails, and the walk that keeps latches in their state.

use crate::newton::{Aid, Engine, LEAK, Outcome, PLAIN};
use crate::state::State;
use crate::system::System;

/// Newton steps of a plain run.
const PLAIN_STEPS: u32 = 80;
/// Newton steps of one stage of a longer way.
const STAGE_STEPS: u32 = 30;
/// Newton steps all the stages of one way may cost.
const BUDGET: u32 = 3000;

/// Counts steps over the stages of one way.
struct Tally {
    spent: u32,
    last: Outcome,
}

impl Tally {
    fn new() -> Self {
        Self { spent: 0, last: Outcome { solved: false, iterations: 0, residual: f64::INFINITY, worst: 0 } }
    }

    fn run(&mut self, engine: &mut Engine, system: &System, state: &mut State, aid: &Aid, most: u32) -> bool {
        self.last = engine.newton(system, state, aid, most);
        self.spent += self.last.iterations;
        self.last.solved
    }

    fn finish(mut self) -> Outcome {
        self.last.iterations = self.spent;
        self.last
    }
}

impl Engine {
    fn within(&self, budget: u32) -> u32 {
        self.patience.map_or(budget, |patience| patience.min(budget))
    }

    /// Newton from the state as it is.
    pub(crate) fn plain(&mut self, system: &System, state: &mut State) -> Outcome {
        self.newton(system, state, &PLAIN, PLAIN_STEPS)
    }

    /// A leak on every node, taken away: with a large one the circuit is nearly linear.
    pub(crate) fn leak_stepping(&mut self, system: &System, state: &mut State) -> Outcome {
        *state = State::cold(system);
        let mut tally = Tally::new();
        let (mut leak, mut factor) = (1e-2f64, 0.1f64);
        let mut kept = state.clone();
        let mut last_leak = 0.1;
        while tally.spent < self.within(BUDGET) {
            if tally.run(self, system, state, &Aid { leak, ..PLAIN }, STAGE_STEPS) {
                if leak <= LEAK {
                    return tally.finish();
                }
                kept.clone_from(state);
                last_leak = leak;
                factor = (factor * factor).max(0.01);
            } else {
                state.clone_from(&kept);
                factor = factor.sqrt();
                if factor > 0.98 {
                    break;
                }
            }
            leak = (last_leak * factor).max(LEAK);
        }
        tally.last.solved = false;
        tally.finish()
    }

    /// All sources raised together from zero, where everything is at 0 V.
    pub(crate) fn source_stepping(&mut self, system: &System, state: &mut State) -> Outcome {
        *state = State::near(system, vec![0.0; system.unknown.len()]);
        let mut tally = Tally::new();
        let (mut reached, mut step) = (0.0f64, 0.05f64);
        let mut kept = state.clone();
        while tally.spent < self.within(BUDGET) {
            let scale = (reached + step).min(1.0);
            if tally.run(self, system, state, &Aid { scale, ..PLAIN }, STAGE_STEPS) {
                if scale >= 1.0 {
                    return tally.finish();
                }
                reached = scale;
                kept.clone_from(state);
                step *= 1.6;
            } else {
                state.clone_from(&kept);
                step *= 0.3;
                if step < 1e-7 {
                    break;
                }
            }
        }
        tally.last.solved = false;
        tally.finish()
    }

    /// Lets go of pinned nodes little by little, so that the circuit slides to the point nearest the
    /// guess instead of jumping.
    pub(crate) fn release(
        &mut self,
        system: &System,
        state: &mut State,
        pins: &[(u32, f64)],
        mut grip: f64,
    ) -> Outcome {
        let mut tally = Tally::new();
        let mut kept = state.clone();
        let mut factor = 0.2f64;
        let mut last = grip;
        while tally.spent < self.within(BUDGET) {
            if tally.run(self, system, state, &Aid { pins, grip, ..PLAIN }, STAGE_STEPS) {
                if grip == 0.0 {
                    return tally.finish();
                }
                kept.clone_from(state);
                last = grip;
            } else {
                state.clone_from(&kept);
                factor = factor.sqrt();
                if factor > 0.97 {
                    break;
                }
            }
            grip = if last < 1e-9 { 0.0 } else { last * factor };
        }
        tally.last.solved = false;
        tally.finish()
    }

    /// Newton with nodes drawn to their guess.
    pub(crate) fn pinned(&mut self, system: &System, state: &mut State, pins: &[(u32, f64)]) -> Outcome {
        self.newton(system, state, &Aid { pins, grip: GRIP, ..PLAIN }, PLAIN_STEPS)
    }

    /// Time passes with a capacitance on every node until nothing moves, then a plain run. Follows
    /// the way the board itself would take, and so keeps every latch that would keep.
    pub(crate) fn walk(&mut self, system: &System, state: &mut State) -> Outcome {
        let mut tally = Tally::new();
        let mut h = FIRST_STEP;
        let mut before = state.clone();
        while tally.spent < self.within(2 * BUDGET) {
            let drag = NODE_CAPACITANCE / h;
            let aid = Aid { drag: Some((drag, &before.x)), ..PLAIN };
            let solved = tally.run(self, system, state, &aid, 12);
            let moved = greatest_move(&state.x, &before.x);
            if !solved || moved > MOST_MOVE {
                state.clone_from(&before);
                h *= if solved { 0.4 } else { 0.2 };
                if h < 1e-18 {
                    break;
                }
                continue;
            }
            before.clone_from(state);
            if h > LONG || (h > 1e-5 && moved < 1e-7) {
                self.newton_after_walk(system, state, &mut tally);
                return tally.finish();
            }
            h *= (WANTED_MOVE / moved.max(1e-12)).clamp(0.5, 2.5);
        }
        tally.last.solved = false;
        tally.finish()
    }

    fn newton_after_walk(&mut self, system: &System, state: &mut State, tally: &mut Tally) {
        tally.run(self, system, state, &PLAIN, PLAIN_STEPS);
    }
}

/// What holds a guessed node: stronger than any stage, so that the guess wins, siemens.
pub(crate) const GRIP: f64 = 0.1;
/// What holds a rail whose supply has reached its limit until it is let down, siemens.
pub(crate) const RAIL_GRIP: f64 = 100.0;
/// Capacitance on every node, farads: about what a collector, two bases and some wire show (judgement).
const NODE_CAPACITANCE: f64 = 20e-12;
/// The first step of a walk, seconds: far below the delay of a gate.
const FIRST_STEP: f64 = 2e-10;
/// A step that moves a node further than this is taken again, shorter; volts.
const MOST_MOVE: f64 = 0.7;
/// The next step is sized to move the fastest node by this, volts.
const WANTED_MOVE: f64 = 0.25;
/// A step this long, seconds, is as good as forever for every node that a part drives.
const LONG: f64 = 1e-2;

fn greatest_move(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}
