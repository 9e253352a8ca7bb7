//! The solver: from a network to its operating point.

use crate::devices;
use crate::failure::{Attempt, Method, NoSolution};
use crate::homotopy::{GRIP, RAIL_GRIP};
use crate::network::{Network, Spot};
use crate::newton::{Engine, LEAK, Outcome};
use crate::partial::partial;
use crate::relax::relax;
use crate::solution::{Delivery, Solution};
use crate::state::State;
use crate::system::{Detail, NONE, Regulation, System};
use dryjoint_ids::Id;
use dryjoint_units::{Amps, Volts};

/// A delivered current this much below zero or above the limit changes a supply's regulation, amps.
const REGULATION_SLACK: f64 = 1e-9;
/// No point is accepted that misses more current than this at any node, amps.
const ACCEPTED: f64 = 5e-10;
/// Above this many unknowns Newton starts from a node-by-node guess.
const RELAX_FROM: usize = 40;
/// A guessed node that Newton moves further than this has perhaps left the state guessed; volts.
const STRAYED: f64 = 1.4;
/// A spot that moves by less than this once nothing holds it stays where it was held, volts: far less than lies between the sides
/// of a latch and the ridge (judgement).
const STAYED: f64 = 0.5;

/// Solves networks one after the other, keeping factors and scratch space between them. One per thread.
#[derive(Debug, Default)]
pub struct Solver {
    pub(crate) detail: Detail,
    pub(crate) engine: Engine,
}

/// Where to start.
enum Start<'a> {
    Cold,
    Near(&'a [(Spot, Volts)], Option<&'a Solution>),
    From(&'a Solution),
    Walk(&'a Solution),
    LetGo(&'a [(Spot, Volts)], &'a [(Spot, Volts)]),
}

/// Solves one network from a cold start; see [`Solver::solve`].
pub fn solve(network: &Network) -> Result<Solution, NoSolution> {
    Solver::default().solve(network)
}

impl Solver {
    /// A solver that leaves out what `detail` says.
    pub fn new(detail: Detail) -> Self {
        Self { detail, engine: Engine::default() }
    }

    /// A solver for someone who waits: a network that takes much more than this many Newton steps is given up.
    pub fn impatient(steps: u32) -> Self {
        let mut solver = Self::default();
        solver.engine.patience = Some(steps);
        solver
    }

    /// The operating point reached from nothing. Where the network holds latches there are several
    /// points, and this may be one that no board would stay at: use [`solve_near`](Self::solve_near).
    pub fn solve(&mut self, network: &Network) -> Result<Solution, NoSolution> {
        self.run(network, &Start::Cold)
    }

    /// The operating point nearest to guessed voltages of some nets (or pins, or nodes), such as those
    /// a logic state suggests. Spots the network does not reach are passed over.
    pub fn solve_near<S: Into<Spot> + Copy>(
        &mut self,
        network: &Network,
        guess: &[(S, Volts)],
    ) -> Result<Solution, NoSolution> {
        self.run(network, &Start::Near(&spots(guess), None))
    }

    /// The same beside a point of the same network before edits, such as a good board's: where the guess does
    /// not lead to a point that keeps it, the voltages of that point stand for what was not guessed, and only
    /// what the edits and the guess move is solved again.
    pub fn solve_beside<S: Into<Spot> + Copy>(
        &mut self,
        network: &Network,
        guess: &[(S, Volts)],
        from: &Solution,
    ) -> Result<Solution, NoSolution> {
        self.run(network, &Start::Near(&spots(guess), Some(from)))
    }

    /// The point that a board settles to which was held at some spots, and is let go of; `guess` is where the rest is
    /// looked for. A latch held on one side stays there or falls as the board's would, and never stands on the ridge
    /// between its sides: where what was held does not stay, the way is followed on which voltages move.
    pub fn let_go<S: Into<Spot> + Copy>(
        &mut self,
        network: &Network,
        guess: &[(S, Volts)],
        held: &[(S, Volts)],
    ) -> Result<Solution, NoSolution> {
        self.run(network, &Start::LetGo(&spots(guess), &spots(held)))
    }

    /// The point that a board at `from` settles to when the network has become `network`: a jumper
    /// set, a button pressed, a part changed. Follows the way voltages move, so that latches keep or
    /// change their state as the board's would. `network` must be the one of `from` with edits.
    pub fn resolve(&mut self, network: &Network, from: &Solution) -> Result<Solution, NoSolution> {
        self.run(network, &Start::Walk(from))
    }

    /// Newton from another point of the same network before edits, in a large one only where the change
    /// reaches: the quickest way after a small change, but where there are latches it may jump to another of their states.
    pub fn solve_from(&mut self, network: &Network, from: &Solution) -> Result<Solution, NoSolution> {
        self.run(network, &Start::From(from))
    }

    /// Entries in the factors of the last sparse matrix.
    pub fn fill(&self) -> usize {
        self.engine.fill()
    }

    fn run(&mut self, network: &Network, start: &Start) -> Result<Solution, NoSolution> {
        self.engine.forget();
        let mut regulation = vec![Regulation::Voltage; network.sources.len()];
        let mut tried = Vec::new();
        let mut before: Option<State> = None;
        // Each change of regulation is one more solve from the last point; cycles end by count.
        for _ in 0..4 * network.sources.len() + 4 {
            let system = System::new(network, &regulation, self.detail);
            self.engine.prepare(&system);
            let (state, method, outcome) = match before.take() {
                None => self.start(network, &system, start, &mut tried)?,
                Some(state) => self.carry_on(network, &system, state, start, &mut tried)?,
            };
            if !self.regulate(network, &state, &mut regulation) {
                if outcome.residual > ACCEPTED {
                    return Err(failure(network, &state.x, outcome, tried));
                }
                return Ok(self.solution(network, &system, &state, &regulation, method, outcome, &tried));
            }
            before = Some(state);
        }
        let worst = network.sources.first().map_or(0, |source| source.node.index() as u32);
        let last = Outcome { solved: false, iterations: 0, residual: 0.0, worst };
        Err(failure(network, &[], last, tried))
    }

    fn start(
        &mut self,
        network: &Network,
        system: &System,
        start: &Start,
        tried: &mut Vec<Attempt>,
    ) -> Result<(State, Method, Outcome), NoSolution> {
        match start {
            Start::Cold => self.cold(network, system, tried),
            Start::Near(guess, from) => self.near(network, system, guess, *from, tried),
            Start::From(solution) => self.from(network, system, solution, tried),
            Start::Walk(solution) => {
                let mut state = self.state_of(system, solution);
                let outcome = self.engine.walk(system, &mut state);
                note(tried, Method::PseudoTransient, outcome);
                if outcome.solved {
                    return Ok((state, Method::PseudoTransient, outcome));
                }
                let state = self.state_of(system, solution);
                self.climb(network, system, state, tried)
            }
            Start::LetGo(guess, held) => self.released(network, system, guess, held, tried),
        }
    }

    fn cold(
        &mut self,
        network: &Network,
        system: &System,
        tried: &mut Vec<Attempt>,
    ) -> Result<(State, Method, Outcome), NoSolution> {
        if system.n > RELAX_FROM
            && let Some(x) = relax(&mut self.engine, system, Vec::new())
        {
            self.engine.prepare(system);
            let mut state = State::near(system, x);
            let outcome = self.engine.plain(system, &mut state);
            note(tried, Method::Relaxation, outcome);
            if outcome.solved {
                return Ok((state, Method::Relaxation, outcome));
            }
        }
        self.climb(network, system, State::cold(system), tried)
    }

    fn from(
        &mut self,
        network: &Network,
        system: &System,
        solution: &Solution,
        tried: &mut Vec<Attempt>,
    ) -> Result<(State, Method, Outcome), NoSolution> {
        if system.n > RELAX_FROM {
            let mut state = self.state_of(system, solution);
            if let Some(outcome) = partial(&mut self.engine, system, &mut state) {
                note(tried, Method::Partial, outcome);
                return Ok((state, Method::Partial, outcome));
            }
            self.engine.prepare(system);
        }
        if system.n > RELAX_FROM
            && let Some(x) = relax(&mut self.engine, system, solution.volts.clone())
        {
            self.engine.prepare(system);
            let mut state = State::near(system, x);
            let outcome = self.engine.plain(system, &mut state);
            note(tried, Method::Relaxation, outcome);
            if outcome.solved {
                return Ok((state, Method::Relaxation, outcome));
            }
        }
        let state = self.state_of(system, solution);
        self.climb(network, system, state, tried)
    }

    /// After a supply changed its regulation: on from the point just found.
    fn carry_on(
        &mut self,
        network: &Network,
        system: &System,
        before: State,
        start: &Start,
        tried: &mut Vec<Attempt>,
    ) -> Result<(State, Method, Outcome), NoSolution> {
        let kept = State::near(system, before.x);
        let mut state = kept.clone();
        let (method, outcome) = if matches!(start, Start::Walk(_) | Start::LetGo(..)) {
            (Method::PseudoTransient, self.engine.walk(system, &mut state))
        } else {
            (Method::Newton, self.engine.plain(system, &mut state))
        };
        note(tried, method, outcome);
        if outcome.solved {
            return Ok((state, method, outcome));
        }
        // A rail let down slowly from its voltage finds the way that a jump misses.
        let rails = network.sources.iter().filter(|source| system.unknown[source.node.index()] != NONE);
        let pins: Vec<(u32, f64)> = rails.map(|source| (source.node.index() as u32, source.volts)).collect();
        state.clone_from(&kept);
        let outcome = self.engine.release(system, &mut state, &pins, RAIL_GRIP);
        note(tried, Method::Release, outcome);
        if outcome.solved {
            return Ok((state, Method::Release, outcome));
        }
        self.climb(network, system, kept, tried)
    }

    /// Plain Newton, then every other way in turn.
    fn climb(
        &mut self,
        network: &Network,
        system: &System,
        mut state: State,
        tried: &mut Vec<Attempt>,
    ) -> Result<(State, Method, Outcome), NoSolution> {
        type Way = fn(&mut Engine, &System, &mut State) -> Outcome;
        let from_nothing: Way = |engine, system, state| {
            *state = State::near(system, vec![0.0; system.unknown.len()]);
            engine.walk(system, state)
        };
        let ways: [(Method, Way); 4] = [
            (Method::Newton, Engine::plain),
            (Method::LeakStepping, Engine::leak_stepping),
            (Method::SourceStepping, Engine::source_stepping),
            (Method::PseudoTransient, from_nothing),
        ];
        let mut last = Outcome { solved: false, iterations: 0, residual: f64::INFINITY, worst: 0 };
        for (method, way) in ways {
            let spent: u32 = tried.iter().map(|attempt| attempt.iterations).sum();
            if self.engine.patience.is_some_and(|patience| spent > patience) {
                break;
            }
            last = way(&mut self.engine, system, &mut state);
            note(tried, method, last);
            if last.solved && state.is_finite() {
                return Ok((state, method, last));
            }
        }
        Err(failure(network, &state.x, last, std::mem::take(tried)))
    }

    fn near(
        &mut self,
        network: &Network,
        system: &System,
        guess: &[(Spot, Volts)],
        from: Option<&Solution>,
        tried: &mut Vec<Attempt>,
    ) -> Result<(State, Method, Outcome), NoSolution> {
        let (mut state, pins) = self.held(network, system, guess, tried);
        let kept = state.clone();
        let outcome = self.engine.plain(system, &mut state);
        note(tried, Method::Newton, outcome);
        let strayed = |state: &State| {
            pins.iter().any(|(node, volts)| (state.x[*node as usize] - volts).abs() > STRAYED)
        };
        if outcome.solved && !strayed(&state) {
            return Ok((state, Method::Newton, outcome));
        }
        if let Some(from) = from {
            let mut beside = self.state_of(system, from);
            for (node, volts) in &pins {
                let x = &mut beside.x[*node as usize];
                if (*x - volts).abs() > STRAYED {
                    *x = *volts;
                }
            }
            let found = partial(&mut self.engine, system, &mut beside);
            self.engine.prepare(system);
            if let Some(outcome) = found.filter(|_| !strayed(&beside)) {
                note(tried, Method::Partial, outcome);
                return Ok((beside, Method::Partial, outcome));
            }
        }
        // The guess does not fit everywhere, or Newton jumped: let go slowly instead.
        let mut slow = kept;
        let outcome_slow = self.engine.release(system, &mut slow, &pins, GRIP);
        note(tried, Method::Release, outcome_slow);
        if outcome_slow.solved {
            return Ok((slow, Method::Release, outcome_slow));
        }
        if outcome.solved {
            // once more, so that the engine's currents are those of this point
            let outcome = self.engine.plain(system, &mut state);
            return Ok((state, Method::Newton, outcome));
        }
        self.climb(network, system, State::cold(system), tried)
    }

    /// The rest comes to where it stands with some spots held, and those are let go of.
    fn released(
        &mut self,
        network: &Network,
        system: &System,
        guess: &[(Spot, Volts)],
        held: &[(Spot, Volts)],
        tried: &mut Vec<Attempt>,
    ) -> Result<(State, Method, Outcome), NoSolution> {
        let (mut state, _) = self.held(network, system, &[guess, held].concat(), tried);
        let pins = pins(network, held);
        if !pins.is_empty() {
            let mut settled = state.clone();
            let outcome = self.engine.pinned(system, &mut settled, &pins);
            note(tried, Method::Release, outcome);
            if outcome.solved {
                state.clone_from(&settled);
                let outcome = self.engine.plain(system, &mut settled);
                note(tried, Method::Release, outcome);
                let stays = |&(node, volts): &(u32, f64)| (settled.x[node as usize] - volts).abs() < STAYED;
                if outcome.solved && pins.iter().all(stays) {
                    return Ok((settled, Method::Release, outcome));
                }
            }
        }
        let outcome = self.engine.walk(system, &mut state);
        note(tried, Method::PseudoTransient, outcome);
        if outcome.solved {
            return Ok((state, Method::PseudoTransient, outcome));
        }
        Err(failure(network, &state.x, outcome, std::mem::take(tried)))
    }

    /// The state in which spots are held at guessed voltages, and the nodes that are.
    fn held(
        &mut self,
        network: &Network,
        system: &System,
        guess: &[(Spot, Volts)],
        tried: &mut Vec<Attempt>,
    ) -> (State, Vec<(u32, f64)>) {
        let mut x = vec![0.0; system.unknown.len()];
        let pins = pins(network, guess);
        pins.iter().for_each(|&(node, volts)| x[node as usize] = volts);
        let mut state = State::near(system, x);
        let held = self.engine.pinned(system, &mut state, &pins);
        note(tried, Method::Release, held);
        if !held.solved {
            state = State::cold(system);
            let held = self.engine.pinned(system, &mut state, &pins);
            note(tried, Method::Release, held);
        }
        (state, pins)
    }

    pub(crate) fn state_of(&self, system: &System, solution: &Solution) -> State {
        let mut state = State::near(system, solution.volts.clone());
        for (element, kept) in system
            .diodes
            .iter()
            .map(|slot| slot.element)
            .zip(&mut state.diodes)
            .chain(system.bipolars.iter().map(|slot| slot.element).zip(&mut state.bipolars))
        {
            if let Some(inner) = solution.inner.get(element as usize)
                && !inner[0].is_nan()
            {
                kept.inner = *inner;
            }
        }
        state
    }

    /// Changes the regulation of one supply that cannot do what was asked; false where all can. One
    /// at a time, those that are fed from elsewhere first: once such a rail is let go, the supply that
    /// fed it may be within its limit after all.
    fn regulate(&self, network: &Network, state: &State, regulation: &mut [Regulation]) -> bool {
        let delivered = |node: usize| self.engine.delivered(node as u32);
        let mut wanted = None;
        for (number, (source, now)) in network.sources.iter().zip(regulation.iter()).enumerate() {
            let (Some(limit), node) = (source.limit, source.node.index()) else { continue };
            let next = match now {
                Regulation::Voltage if delivered(node) < -REGULATION_SLACK => Regulation::Idle,
                Regulation::Voltage if delivered(node) > limit + REGULATION_SLACK => Regulation::Current,
                Regulation::Current if state.x[node] > source.volts + 1e-9 => Regulation::Voltage,
                Regulation::Idle if state.x[node] < source.volts - 1e-9 => Regulation::Voltage,
                same => *same,
            };
            if next != *now && (wanted.is_none() || next == Regulation::Idle) {
                wanted = Some((number, next));
            }
        }
        match wanted {
            Some((number, next)) => {
                regulation[number] = next;
                true
            }
            None => false,
        }
    }

    #[allow(clippy::too_many_arguments, reason = "gathers everything a solution holds")]
    fn solution(
        &self,
        network: &Network,
        system: &System,
        state: &State,
        regulation: &[Regulation],
        method: Method,
        outcome: Outcome,
        tried: &[Attempt],
    ) -> Solution {
        let currents = devices::currents(system, state, network);
        let deliveries = network
            .sources
            .iter()
            .zip(regulation)
            .map(|(source, regulation)| {
                let node = source.node.index();
                let amps = match regulation {
                    Regulation::Voltage => self.engine.delivered(node as u32),
                    Regulation::Current => source.limit.unwrap_or(0.0),
                    Regulation::Idle => 0.0,
                };
                let regulation = *regulation;
                Delivery { node: source.node, volts: Volts(state.x[node]), amps: Amps(amps), regulation }
            })
            .collect();
        let mut inner = vec![[f64::NAN; 2]; network.elements.len()];
        for (slot, kept) in system.diodes.iter().zip(&state.diodes) {
            inner[slot.element as usize] = kept.inner;
        }
        for (slot, kept) in system.bipolars.iter().zip(&state.bipolars) {
            inner[slot.element as usize] = kept.inner;
        }
        Solution {
            volts: state.x.clone(),
            currents,
            inner,
            deliveries,
            residual: Amps(outcome.residual),
            iterations: tried.iter().map(|attempt| attempt.iterations).sum(),
            method,
        }
    }
}

/// Voltages at whatever names a spot.
fn spots<S: Into<Spot> + Copy>(volts: &[(S, Volts)]) -> Vec<(Spot, Volts)> {
    volts.iter().map(|&(spot, volts)| (spot.into(), volts)).collect()
}

/// The nodes of spots that the network reaches, with their volts.
fn pins(network: &Network, spots: &[(Spot, Volts)]) -> Vec<(u32, f64)> {
    let reached = spots.iter().filter(|(_, volts)| volts.0.is_finite());
    reached.filter_map(|&(spot, volts)| Some((network.find(spot)?.index() as u32, volts.0))).collect()
}

pub(crate) fn note(tried: &mut Vec<Attempt>, method: Method, outcome: Outcome) {
    tried.push(Attempt { method, iterations: outcome.iterations, residual: Amps(outcome.residual) });
}

pub(crate) fn failure(network: &Network, x: &[f64], last: Outcome, tried: Vec<Attempt>) -> NoSolution {
    let node = last.worst as usize;
    let volts = x.get(node).copied().filter(|volts| volts.is_finite()).unwrap_or(0.0);
    NoSolution {
        node: network.nodes[node],
        volts: Volts(volts),
        residual: Amps(last.residual),
        iterations: tried.iter().map(|attempt| attempt.iterations).sum(),
        tried,
    }
}

/// Kirchhoff's current law counted from a solution: the greatest sum of element and source currents
/// at any node, the leak to ground included.
pub fn kirchhoff(network: &Network, solution: &Solution) -> Amps {
    let mut sums = vec![0.0; network.nodes.len()];
    for (element, currents) in network.elements.iter().zip(&solution.currents) {
        for end in 0..if element.ends[2] == element.ends[1] { 2 } else { 3 } {
            sums[network.end(element, end).index()] += currents[end];
        }
    }
    for delivery in &solution.deliveries {
        sums[delivery.node.index()] -= delivery.amps.0;
    }
    let leaks = sums.iter().zip(&solution.volts).skip(1).map(|(sum, x)| (sum + LEAK * x).abs());
    Amps(leaks.fold(0.0, f64::max))
}
