//! A network in time: clocks, resets, gate delays.
//!
//! Integration by TR-BDF2 (Bank, Coughran, Fichtner, Grosse, Rose and Smith 1985): a trapezoidal step
//! to γ = 2 − √2 of the way, then a second-order backward step, of second order and without ringing
//! after an edge. What is integrated is each charge, not a capacitance, so that none is lost between
//! steps. The error of a step is estimated from the charges' currents (Hosea and Shampine 1996) and
//! filtered through the matrix of the step into volts. After every event the first step is a short
//! backward Euler one, since the currents just before the edge say nothing of those after it.
//!
//! Rails hold their voltage here; their current limit is not followed in time.

use crate::Solution;
use crate::devices::{self, Motion};
use crate::failure::{Method, NoSolution};
use crate::network::{Network, Spot};
use crate::newton::{Aid, PLAIN};
use crate::solver::{Solver, failure, note};
use crate::state::State;
use crate::system::{Regulation, System};
use dryjoint_board::PartId;
use dryjoint_ids::Id;
use dryjoint_units::{Amps, Seconds, Volts};

/// Something that happens at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// When.
    pub at: Seconds,
    /// What.
    pub action: Action,
}

/// What can happen while time runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Action {
    /// An ideal source takes a spot to a voltage, in a straight line over some time.
    Drive {
        /// Where.
        spot: Spot,
        /// To which voltage.
        to: Volts,
        /// In which time; zero is a jump.
        over: Seconds,
    },
    /// The source of a spot is taken off.
    LetGo(Spot),
    /// A button is pressed or released, a toggle thrown.
    Press(PartId, bool),
    /// A selector is turned.
    Select(PartId, usize),
}

/// How finely time is cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// The greatest error one step may add to a voltage.
    pub error: Volts,
    /// The longest step; finer where something must be seen, endless where not.
    pub longest: Seconds,
}

impl Default for Pace {
    fn default() -> Self {
        Self { error: Volts(2e-4), longest: Seconds(f64::INFINITY) }
    }
}

/// The voltages of some spots over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// When each row was taken, seconds, rising; the first is the start.
    pub times: Vec<f64>,
    /// Per spot watched its voltages, one per time.
    pub volts: Vec<Vec<f64>>,
    /// Newton steps spent.
    pub iterations: u32,
    /// The greatest sum of currents at any node, at any row, that should be zero.
    pub residual: Amps,
    /// Steps taken again because they erred too far.
    pub refused: u32,
    /// Whether the end was reached; a circuit that never rests may use up all steps before.
    pub complete: bool,
}

impl Trace {
    /// The first time after `after` at which spot `spot` crosses `level` upwards (or downwards), in
    /// seconds, straight between rows.
    pub fn crossing(&self, spot: usize, level: f64, upwards: bool, after: f64) -> Option<f64> {
        let volts = self.volts.get(spot)?;
        (1..self.times.len()).find_map(|k| {
            let (a, b) = (volts[k - 1], volts[k]);
            let crosses = if upwards { a < level && b >= level } else { a > level && b <= level };
            let time = self.times[k - 1] + (self.times[k] - self.times[k - 1]) * (level - a) / (b - a);
            (crosses && time > after).then_some(time)
        })
    }

    /// The voltage of a spot at a time, straight between rows.
    pub fn at(&self, spot: usize, time: f64) -> Option<f64> {
        let volts = self.volts.get(spot)?;
        let k = self.times.partition_point(|t| *t < time);
        match (k, self.times.get(k)) {
            (0, _) => volts.first().copied(),
            (_, None) => volts.last().copied(),
            (_, Some(next)) => {
                let (before, share) = (self.times[k - 1], volts[k] - volts[k - 1]);
                Some(volts[k - 1] + share * (time - before) / (next - before))
            }
        }
    }
}

/// 2 − √2: both stages of a step then have the same matrix.
const GAMMA: f64 = 2.0 - std::f64::consts::SQRT_2;
/// The first step after an event, seconds …
const FIRST: f64 = 1e-12;
/// … or this share of the greatest charge, seconds a coulomb: in a shorter one the rounding of an
/// electrolytic's charge would be a current to speak of.
const FIRST_PER_CHARGE: f64 = 1e-5;
/// Below this a step is none.
const SHORTEST: f64 = 1e-17;
/// Newton steps one stage may take.
const STAGE_STEPS: u32 = 20;
/// Steps one run may take.
const MOST_STEPS: usize = 500_000;

/// A voltage under way.
struct Ramp {
    node: u32,
    from: (f64, f64),
    to: (f64, f64),
}

impl Ramp {
    fn at(&self, time: f64) -> f64 {
        let ((t0, v0), (t1, v1)) = (self.from, self.to);
        if time >= t1 { v1 } else { v0 + (v1 - v0) * (time - t0) / (t1 - t0) }
    }
}

/// A step taken: charges and currents at its end, the error estimated, volts, and Kirchhoff's, amps.
struct Step {
    charges: Vec<f64>,
    flows: Vec<f64>,
    error: f64,
    residual: f64,
}

/// One run through time.
struct Run<'a> {
    solver: &'a mut Solver,
    network: Network,
    system: System,
    state: State,
    ramps: Vec<Ramp>,
    time: f64,
    charges: Vec<f64>,
    /// Current into each charge.
    flows: Vec<f64>,
    spent: u32,
}

impl Solver {
    /// Lets time run from an operating point, or with `None` from everything at 0 V and every
    /// capacitor empty, until `until`. Events are in order of time; `watch` names the spots whose
    /// voltages the trace keeps (a spot that is nowhere reads 0 V).
    pub fn transient(
        &mut self,
        network: &Network,
        from: Option<&Solution>,
        events: &[Event],
        until: Seconds,
        watch: &[Spot],
        pace: Pace,
    ) -> Result<Trace, NoSolution> {
        self.transient_while(network, from, events, until, watch, pace, &mut |_| true)
    }

    /// The same, ended as soon as `go_on` answers no to what the trace holds by then; such a trace is not
    /// complete.
    #[expect(clippy::too_many_arguments, reason = "those of a run through time, and when it may end")]
    pub fn transient_while(
        &mut self,
        network: &Network,
        from: Option<&Solution>,
        events: &[Event],
        until: Seconds,
        watch: &[Spot],
        pace: Pace,
        go_on: &mut dyn FnMut(&Trace) -> bool,
    ) -> Result<Trace, NoSolution> {
        self.engine.forget();
        let network = network.clone();
        let regulation = vec![Regulation::Voltage; network.sources.len()];
        let system = System::new(&network, &regulation, self.detail);
        self.engine.prepare(&system);
        let state = match from {
            Some(solution) => self.state_of(&system, solution),
            None => {
                let mut state = State::near(&system, Vec::new());
                state.x.fill(0.0);
                state
            }
        };
        let charges = devices::charges(&system, &state);
        let flows = vec![0.0; charges.len()];
        let mut run = Run {
            solver: self,
            network,
            system,
            state,
            ramps: Vec::new(),
            time: 0.0,
            charges,
            flows,
            spent: 0,
        };
        let nodes: Vec<Option<usize>> =
            watch.iter().map(|spot| run.network.find(*spot).map(Id::index)).collect();
        let mut trace = Trace {
            times: Vec::new(),
            volts: vec![Vec::new(); watch.len()],
            iterations: 0,
            residual: Amps(0.0),
            refused: 0,
            complete: false,
        };
        run.record(&nodes, &mut trace);
        let mut coming = events.iter().peekable();
        while run.time < until.0 && trace.times.len() < MOST_STEPS && go_on(&trace) {
            while let Some(event) = coming.next_if(|event| event.at.0 <= run.time) {
                run.apply(event.action);
            }
            let mut stop = coming.peek().map_or(until.0, |event| event.at.0.min(until.0));
            for ramp in &run.ramps {
                if ramp.to.0 > run.time {
                    stop = stop.min(ramp.to.0);
                }
            }
            run.stretch(stop, &pace, &nodes, &mut trace, go_on)?;
        }
        trace.iterations = run.spent;
        trace.complete = run.time >= until.0;
        Ok(trace)
    }
}

impl Run<'_> {
    fn record(&self, nodes: &[Option<usize>], trace: &mut Trace) {
        trace.times.push(self.time);
        for (column, node) in trace.volts.iter_mut().zip(nodes) {
            column.push(node.and_then(|node| self.state.x.get(node)).copied().unwrap_or(0.0));
        }
    }

    fn apply(&mut self, action: Action) {
        match action {
            Action::Drive { spot, to, over } => {
                if let Some(node) = self.network.find(spot) {
                    let at = node.index() as u32;
                    let from = (self.time, self.state.x[node.index()]);
                    self.ramps.retain(|ramp| ramp.node != at);
                    self.ramps.push(Ramp { node: at, from, to: (self.time + over.0.max(0.0), to.0) });
                    self.network.ideal(node, to);
                }
            }
            Action::LetGo(spot) => {
                if let Some(node) = self.network.find(spot) {
                    self.ramps.retain(|ramp| ramp.node != node.index() as u32);
                }
                self.network.let_go(spot);
            }
            Action::Press(part, closed) => {
                self.network.press(part, closed);
            }
            Action::Select(part, position) => {
                self.network.select(part, position);
            }
        }
        let regulation = vec![Regulation::Voltage; self.network.sources.len()];
        self.system = System::new(&self.network, &regulation, self.solver.detail);
        self.solver.engine.prepare(&self.system);
    }

    /// Runs from an edge to `stop`, with no event between. Two backward Euler steps come first: one for
    /// the jump, one to forget the spike of current that the jump drove into the charges.
    fn stretch(
        &mut self,
        stop: f64,
        pace: &Pace,
        nodes: &[Option<usize>],
        trace: &mut Trace,
        go_on: &mut dyn FnMut(&Trace) -> bool,
    ) -> Result<(), NoSolution> {
        let greatest = self.charges.iter().fold(0.0f64, |most, charge| most.max(charge.abs()));
        let mut h = FIRST.max(FIRST_PER_CHARGE * greatest);
        let mut jumps = 2;
        while self.time < stop && trace.times.len() < MOST_STEPS && go_on(trace) {
            let left = stop - self.time;
            // no splinter of a step at the end
            let step = if h >= left { left } else { h.min(0.5 * left.max(2.0 * SHORTEST)) };
            let kept = self.state.clone();
            let tried = if jumps > 0 { self.euler(step) } else { self.step(step) };
            let share = tried.as_ref().map_or(f64::INFINITY, |step| step.error / pace.error.0);
            match tried {
                Some(Step { charges, flows, residual, .. }) if share <= 1.0 => {
                    (self.charges, self.flows) = (charges, flows);
                    trace.residual = Amps(trace.residual.0.max(residual));
                    self.time = if step == left { stop } else { self.time + step };
                    self.record(nodes, trace);
                    if jumps > 0 {
                        jumps -= 1;
                        continue;
                    }
                    h = (step * (0.85 * share.powf(-1.0 / 3.0)).clamp(0.3, 4.0)).min(pace.longest.0);
                }
                _ => {
                    self.state = kept;
                    trace.refused += 1;
                    h = step * (0.8 * share.powf(-1.0 / 3.0)).clamp(0.1, 0.7);
                    if h < SHORTEST {
                        return Err(self.give_up());
                    }
                }
            }
        }
        Ok(())
    }

    fn give_up(&mut self) -> NoSolution {
        let outcome = self.solver.engine.plain(&self.system, &mut self.state);
        let mut tried = Vec::new();
        note(&mut tried, Method::PseudoTransient, outcome);
        failure(&self.network, &self.state.x, outcome, tried)
    }

    /// Solves one stage: every charge's current is rate·(Q − before) + history. The residual, if solved.
    fn stage(&mut self, time: f64, motion: Motion) -> Option<f64> {
        for ramp in &self.ramps {
            for (node, volts) in &mut self.system.held {
                if *node == ramp.node {
                    *volts = ramp.at(time);
                }
            }
        }
        let aid = Aid { motion, ..PLAIN };
        let outcome = self.solver.engine.newton(&self.system, &mut self.state, &aid, STAGE_STEPS);
        self.spent += outcome.iterations;
        outcome.solved.then_some(outcome.residual)
    }

    /// A backward Euler step; its error counts as none, for it is as short as steps get.
    fn euler(&mut self, h: f64) -> Option<Step> {
        let rate = 1.0 / h;
        let (before, history) = (self.charges.clone(), vec![0.0; self.charges.len()]);
        let residual = self.stage(self.time + h, Motion { rate, before: &before, history: &history })?;
        let charges = devices::charges(&self.system, &self.state);
        let flows = charges.iter().zip(&before).map(|(q, before)| rate * (q - before)).collect();
        Some(Step { charges, flows, error: 0.0, residual })
    }

    /// A TR-BDF2 step.
    fn step(&mut self, h: f64) -> Option<Step> {
        let rate = 2.0 / (GAMMA * h);
        let before = self.charges.clone();
        let past: Vec<f64> = self.flows.iter().map(|i| -i).collect();
        self.stage(self.time + GAMMA * h, Motion { rate, before: &before, history: &past })?;
        let middle = devices::charges(&self.system, &self.state);
        let flow = |q: &[f64], before: &[f64], past: &[f64]| -> Vec<f64> {
            q.iter().zip(before).zip(past).map(|((q, before), past)| rate * (q - before) + past).collect()
        };
        let middle_flows = flow(&middle, &before, &past);
        // Of the backward step's weights on the three charges the newest is `rate`, the oldest this; they
        // add up to nothing.
        let old = (1.0 - GAMMA) / (GAMMA * h);
        let history: Vec<f64> =
            before.iter().zip(&middle).map(|(q, q_middle)| old * (q - q_middle)).collect();
        let residual = self.stage(self.time + h, Motion { rate, before: &middle, history: &history })?;
        let charges = devices::charges(&self.system, &self.state);
        let flows = flow(&charges, &middle, &history);
        let scale = 2.0 * h * (-3.0 * GAMMA * GAMMA + 4.0 * GAMMA - 2.0) / (12.0 * (2.0 - GAMMA));
        let errors: Vec<f64> = (0..charges.len())
            .map(|k| {
                let bend = self.flows[k] / GAMMA - middle_flows[k] / (GAMMA * (1.0 - GAMMA))
                    + flows[k] / (1.0 - GAMMA);
                rate * scale * bend
            })
            .collect();
        let error = self.solver.engine.filtered(&self.system, &errors);
        Some(Step { charges, flows, error, residual })
    }
}
