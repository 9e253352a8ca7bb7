//! Guided search: short runs of actions tried from where the board stands, the best one kept.
//!
//! A *run* is a handful of actions with a look after each. Candidates are drawn at random and, more
//! and more, by changing runs that were worth it before: the board's own way of working, such as
//! "set the bus, tie the load line, pulse both phases", is learned by trying, not told.

use crate::replay::{act, differing, doubtful, good_lamps, known, lamps};
use crate::rig::is_momentary;
use crate::{Action, Costs, GroupId, Study};
use dryjoint_board::LineId;
use dryjoint_draws::Draws;
use dryjoint_faults::lanes::{LANES, Machine, Planes, State, Word};
use dryjoint_ids::Side;
use dryjoint_logic::SignalId;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// How hard to search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Candidates tried before one is kept.
    pub candidates: usize,
    /// Rounds without a new fault shown after which the search ends.
    pub patience: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// How often a stretch of the list is taken out and rebuilt.
    pub rounds: usize,
    /// States tried, for each group that is not surely shown, to find a sure way or to prove that there is none.
    pub states: usize,
}

impl Default for Effort {
    fn default() -> Self {
        Self { candidates: 64, patience: 60, seed: 1, rounds: 3, states: 100_000 }
    }
}

/// Longest run drawn.
const LONGEST: usize = 7;

/// A run of actions, one look after each.
pub type Run = Vec<Action>;

/// Which lines the hands have tied.
type Ties = Side<LineId, bool>;

/// What a search wants to see of a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Aim {
    /// A lamp that is surely wrong.
    Sure,
    /// A lamp that may be wrong, as luck has it.
    Chance,
}

impl Aim {
    /// The lanes in which that is seen where a good board shows what is expected.
    pub(crate) fn sees(self, lamps: &[Planes], expected: &[Option<bool>]) -> Word {
        match self {
            Self::Sure => differing(lamps, expected),
            Self::Chance => doubtful(lamps, expected),
        }
    }
}

/// A search in progress.
pub struct Search<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    costs: &'s Costs,
    aim: Aim,
    draws: Draws,
    /// Groups not shown yet, in the order of the lanes.
    open: Vec<GroupId>,
    /// The same machines several times over, one crew to a thread.
    crews: Vec<Vec<Machine<'s>>>,
    /// Lanes whose group was shown since the machines were laid out.
    done: Vec<bool>,
    /// Lanes that oscillated: luck decides there, and following them costs as much as all others.
    restless: Vec<bool>,
    ties: Ties,
    runs: Vec<Run>,
    /// Runs that were worth it.
    liked: Vec<Run>,
    controls: Vec<LineId>,
    data: Vec<LineId>,
    /// A signal of every loop: what the latches hold.
    latches: Vec<SignalId>,
    /// What the latches of the good board have held after a run that showed nothing.
    visited: BTreeSet<Vec<Option<bool>>>,
}

impl<'s, 'e, 'b> Search<'s, 'e, 'b> {
    /// A search for these groups that starts after some actions; without any, when power comes on.
    pub fn new(
        study: &'s Study<'e, 'b>,
        costs: &'s Costs,
        seed: u64,
        (aim, open): (Aim, Vec<GroupId>),
        past: &[Action],
    ) -> Self {
        let board = study.extracted.shape.board;
        let (data, controls) = board.lines.ids().partition(|&line| board.lines[line].active_high.is_none());
        let mut search = Self {
            study,
            costs,
            aim,
            draws: Draws::new(seed),
            crews: Vec::new(),
            done: Vec::new(),
            restless: Vec::new(),
            open: Vec::new(),
            ties: Side::filled(&board.lines, false),
            runs: vec![past.to_vec()],
            liked: Vec::new(),
            controls,
            data,
            latches: study.program.loop_signals(),
            visited: BTreeSet::new(),
        };
        search.note(past);
        search.lay_out(open);
        search
    }

    /// Searches until patience is up. `go_on` is told how many groups are still open after each run
    /// kept and ends the search by answering no.
    pub fn run(mut self, effort: &Effort, go_on: &dyn Fn(usize) -> bool) -> Vec<Run> {
        let mut idle = 0;
        let mut useful = self.runs.len();
        let full = self.crews[0].len();
        while idle < effort.patience && !self.open.is_empty() {
            // With fewer machines left to try a candidate on, more candidates cost the same.
            let share = (full / self.crews[0].len()).min(3);
            let Some((run, gain)) = self.best(effort.candidates * share) else { break };
            let gained = gain > 0.0;
            if gained {
                idle = 0;
                self.liked.push(run.clone());
            } else {
                idle += 1;
            }
            self.keep(run);
            if gained {
                useful = self.runs.len();
            }
            let shown = self.done.iter().filter(|done| **done).count();
            if shown * 2 > self.done.len() || (self.aim == Aim::Sure && self.restless.contains(&true)) {
                self.repack();
            }
            if !go_on(self.done.iter().filter(|done| !**done).count()) {
                break;
            }
        }
        // What came after the last group shown is of no use.
        self.runs.truncate(useful);
        self.runs.split_off(1)
    }

    /// The candidate with the most prior shown per second. Without any, one that brings the latches where they
    /// have not been, and of these the one with most signals astray on the faulty boards.
    fn best(&mut self, candidates: usize) -> Option<(Run, f64)> {
        let runs: Vec<Run> = (0..candidates).map(|_| self.draw()).collect();
        let share = runs.len().div_ceil(self.crews.len());
        let Self { study, costs, aim, open, done, crews, latches, .. } = self;
        let trial = Trial { study, costs, aim: *aim, open, done, latches };
        let tried: Vec<Tried> = crews
            .par_iter_mut()
            .zip(runs.par_chunks(share))
            .flat_map_iter(|(crew, runs)| trial.all(crew, runs))
            .collect();
        let mut best: Option<(Run, f64)> = None;
        for (run, tried) in runs.iter().zip(&tried) {
            let rate = tried.gain / tried.seconds;
            if tried.gain > 0.0 && best.as_ref().is_none_or(|(_, known)| rate > *known) {
                best = Some((run[..tried.length].to_vec(), rate));
            }
        }
        best.or_else(|| {
            let promise = |tried: &Tried| (!self.visited.contains(&tried.held), tried.astray);
            let (run, tried) = runs.iter().zip(&tried).rev().max_by_key(|(_, tried)| promise(tried))?;
            self.visited.insert(tried.held.clone());
            Some((run.clone(), 0.0))
        })
    }

    fn keep(&mut self, run: Run) {
        self.note(&run);
        for &action in &run {
            for machine in self.crews[1..].iter_mut().flatten() {
                act(self.study, machine, &[action]);
            }
            for (pass, machine) in self.crews[0].iter_mut().enumerate() {
                for lane in act(self.study, machine, &[action]).lanes().filter(|&lane| lane > 0) {
                    if let Some(slot) = self.restless.get_mut(pass * (LANES - 1) + lane - 1) {
                        *slot = true;
                    }
                }
                let lamps = lamps(self.study, machine);
                for lane in self.aim.sees(&lamps, &good_lamps(&lamps)).lanes().filter(|&lane| lane > 0) {
                    let index = pass * (LANES - 1) + lane - 1;
                    if index < self.done.len() {
                        self.done[index] = true;
                    }
                }
            }
        }
        self.runs.push(run);
    }

    /// Takes down what the hands have tied after some actions.
    fn note(&mut self, actions: &[Action]) {
        for &action in actions {
            match action {
                Action::Tie(line) => self.ties[line] = true,
                Action::Release(line) => self.ties[line] = false,
                Action::Pulse(_) | Action::Wait(_) | Action::Run(..) => {}
            }
        }
    }

    /// Lays the machines out anew for the groups still open, and brings them to the present.
    fn repack(&mut self) {
        let open: Vec<GroupId> = (0..self.open.len())
            .filter(|&k| !self.done[k] && (!self.restless[k] || self.aim == Aim::Chance))
            .map(|k| self.open[k])
            .collect();
        self.lay_out(open);
    }

    fn lay_out(&mut self, open: Vec<GroupId>) {
        self.crews = crews(self.study, &open);
        for machine in self.crews.iter_mut().flatten() {
            for run in &self.runs {
                act(self.study, machine, run);
            }
        }
        self.done = vec![false; open.len()];
        self.restless = vec![false; open.len()];
        self.open = open;
    }

    /// A run to try: a liked one changed a little, or a new one.
    fn draw(&mut self) -> Run {
        let mut ties = self.ties.clone();
        let mut run = Vec::new();
        if self.controls.len() > 1 && self.draws.unit() < 0.5 {
            self.operate(&mut ties, &mut run);
            if self.draws.unit() < 0.6 {
                self.operate(&mut ties, &mut run);
            }
        } else if !self.liked.is_empty() && self.draws.unit() < 0.75 {
            self.like(&mut ties, &mut run);
            // Many faults need two things in a row, such as a load and then a count.
            if self.draws.unit() < 0.5 {
                self.like(&mut ties, &mut run);
            }
        } else {
            let length = 1 + self.draws.below(LONGEST);
            for _ in 0..length {
                self.any(&mut ties, &mut run);
            }
        }
        if run.is_empty() {
            self.any(&mut ties, &mut run);
        }
        run
    }

    /// One operation as boards have them: a few control lines and some data set, all other control
    /// lines let go, then two lines pulsed in turn, once or a few times.
    fn operate(&mut self, ties: &mut Ties, run: &mut Run) {
        let board = self.study.extracted.shape.board;
        let [first, second] = self.pair();
        let wanted = self.draws.below(3);
        let chosen: Vec<LineId> =
            (0..wanted).map(|_| self.controls[self.draws.below(self.controls.len())]).collect();
        if self.draws.unit() < 0.8 {
            self.set_data(ties, run);
        }
        for at in 0..self.controls.len() {
            let line = self.controls[at];
            let tie = chosen.contains(&line) && line != first && line != second && !is_momentary(board, line);
            push(ties, run, if tie { Action::Tie(line) } else { Action::Release(line) });
        }
        for _ in 0..=self.draws.below(2) {
            push(ties, run, Action::Pulse(first));
            push(ties, run, Action::Pulse(second));
        }
    }

    /// Two lines to pulse: a pair that a liked run pulsed one after the other, or any.
    fn pair(&mut self) -> [LineId; 2] {
        if !self.liked.is_empty() && self.draws.unit() < 0.85 {
            let like = &self.liked[self.draws.below(self.liked.len())];
            let pulses: Vec<LineId> = like
                .iter()
                .filter_map(|action| match action {
                    Action::Pulse(line) => Some(*line),
                    _ => None,
                })
                .collect();
            if let Some(pair) = pulses.windows(2).find(|pair| pair[0] != pair[1]) {
                return [pair[0], pair[1]];
            }
        }
        [0, 1].map(|_| self.controls[self.draws.below(self.controls.len())])
    }

    /// A liked run, its data drawn anew and an action here and there changed.
    fn like(&mut self, ties: &mut Ties, run: &mut Run) {
        let like = self.liked[self.draws.below(self.liked.len())].clone();
        if self.draws.unit() < 0.7 {
            self.set_data(ties, run);
        }
        for action in like {
            match self.draws.unit() {
                u if u < 0.1 => {}
                u if u < 0.2 => self.any(ties, run),
                _ => push(ties, run, action),
            }
        }
        if self.draws.unit() < 0.3 {
            self.any(ties, run);
        }
    }

    /// One action at random.
    fn any(&mut self, ties: &mut Ties, run: &mut Run) {
        let board = self.study.extracted.shape.board;
        let draw = self.draws.unit();
        if !board.clocks.is_empty() && draw < 0.3 {
            let runs: Vec<Action> = self.study.rig.runs().collect();
            // A run takes ten times as long to follow, and shows little beside its own faults.
            if !runs.is_empty() && self.draws.unit() < 0.1 {
                run.push(runs[self.draws.below(runs.len())]);
            } else {
                run.push(Action::Wait(1 + self.draws.below(2) as u32));
            }
        } else if !self.data.is_empty() && draw < 0.15 {
            self.set_data(ties, run);
        } else if !self.controls.is_empty() {
            let line = self.controls[self.draws.below(self.controls.len())];
            // A button is mostly pressed; held, it shows what lasts only as long as it is down.
            let often = if is_momentary(board, line) { 0.8 } else { 0.6 };
            let action = match (ties[line], self.draws.unit() < often) {
                (true, _) => Action::Release(line),
                (false, true) => Action::Pulse(line),
                (false, false) => Action::Tie(line),
            };
            push(ties, run, action);
        }
    }

    /// Some of the data pins changed, or all of them made alike.
    fn set_data(&mut self, ties: &mut Ties, run: &mut Run) {
        let share = self.draws.unit();
        let alike = (self.draws.unit() < 0.25).then(|| self.draws.unit() < 0.5);
        for at in 0..self.data.len() {
            let line = self.data[at];
            let change = match alike {
                Some(tied) => ties[line] != tied,
                None => self.draws.unit() < share,
            };
            if change {
                let action = if ties[line] { Action::Release(line) } else { Action::Tie(line) };
                push(ties, run, action);
            }
        }
    }
}

/// What a candidate showed: prior newly shown, seconds, and how many of its actions that takes.
struct Tried {
    gain: f64,
    seconds: f64,
    length: usize,
    /// What the latches of the good board hold in the end.
    held: Vec<Option<bool>>,
    /// How many signals of the boards still looked for differ in the end, all counted together.
    astray: usize,
}

/// What candidates are tried against.
struct Trial<'t, 's, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    costs: &'t Costs,
    aim: Aim,
    open: &'t [GroupId],
    done: &'t [bool],
    latches: &'t [SignalId],
}

impl Trial<'_, '_, '_, '_> {
    /// Tries some runs from where the crew stands, and leaves it there.
    fn all(&self, crew: &mut [Machine], runs: &[Run]) -> Vec<Tried> {
        let before: Vec<State> = crew.iter().map(Machine::save).collect();
        let mut tried = Vec::with_capacity(runs.len());
        for run in runs {
            tried.push(self.one(crew, run));
            for (machine, state) in crew.iter_mut().zip(&before) {
                machine.restore(state);
            }
        }
        tried
    }

    fn one(&self, crew: &mut [Machine], run: &[Action]) -> Tried {
        let board = self.study.extracted.shape.board;
        let look = self.costs.look(self.study.rig.lamps.len()).0;
        let mut fresh = vec![false; self.done.len()];
        let (mut gain, mut seconds) = (0.0, 0.0);
        let mut best = Tried { gain: 0.0, seconds: 1.0, length: 1, held: Vec::new(), astray: 0 };
        for (at, &action) in run.iter().enumerate() {
            seconds += self.costs.of(board, action).0 + look;
            for (pass, machine) in crew.iter_mut().enumerate() {
                act(self.study, machine, &[action]);
                let lamps = lamps(self.study, machine);
                for lane in self.aim.sees(&lamps, &good_lamps(&lamps)).lanes().filter(|&lane| lane > 0) {
                    let index = pass * (LANES - 1) + lane - 1;
                    if index < self.open.len() && !self.done[index] && !fresh[index] {
                        fresh[index] = true;
                        gain += self.study.groups[self.open[index]].prior;
                    }
                }
            }
            if gain / seconds > best.gain / best.seconds {
                best = Tried { gain, seconds, length: at + 1, held: Vec::new(), astray: 0 };
            }
        }
        if best.gain == 0.0 {
            best.held = self.latches.iter().map(|&signal| known(crew[0].value(signal), 0)).collect();
            best.astray = crew.iter().enumerate().map(|(pass, machine)| self.astray(pass, machine)).sum();
        }
        best
    }

    /// How many signals differ on the boards still looked for, or may where that is enough.
    fn astray(&self, pass: usize, machine: &Machine) -> usize {
        let mut wanted = Word::NONE;
        for (at, done) in self.done.iter().skip(pass * (LANES - 1)).take(LANES - 1).enumerate() {
            wanted.set(at + 1, !done);
        }
        let signals = self.study.extracted.logic.signals.ids();
        signals
            .map(|signal| {
                let value = std::slice::from_ref(machine.value(signal));
                let astray = self.aim.sees(value, &good_lamps(value)) & wanted;
                astray.0.iter().map(|limb| limb.count_ones() as usize).sum::<usize>()
            })
            .sum()
    }
}

fn crews<'s>(study: &'s Study, open: &[GroupId]) -> Vec<Vec<Machine<'s>>> {
    (0..rayon::current_num_threads().clamp(1, 8)).map(|_| study.machines(open, None)).collect()
}

/// Adds an action unless it would do nothing.
fn push(ties: &mut Ties, run: &mut Run, action: Action) {
    match action {
        Action::Tie(line) | Action::Pulse(line) if ties[line] => return,
        Action::Release(line) if !ties[line] => return,
        Action::Tie(line) => ties[line] = true,
        Action::Release(line) => ties[line] = false,
        Action::Pulse(_) | Action::Wait(_) | Action::Run(..) => {}
    }
    run.push(action);
}
