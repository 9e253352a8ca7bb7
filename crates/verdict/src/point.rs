//! Operating points of the whole board with a fault in it, near what the lanes say of that fault:
//! what a meter would read.
//!
//! Only the likely suspects are solved, each at the looks where it matters, and each solution is kept. A person
//! waits for it, so the work is counted, in Newton steps times nets, which is the same on every machine: a unit that
//! takes too many steps has no point, and whoever comes after the last one allowed waits for the next verdict.

use crate::inquiry::known;
use crate::tell::Teller;
use dryjoint_board::{Board, LineId, NetId, Part, PartId, PartKind, PinId};
use dryjoint_circuit::{Network, Solution, Solver};
use dryjoint_faults::dial::Dial;
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::{Fault, FaultId};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::Study;
use dryjoint_session::{Clocks, Dead, Wiring};
use dryjoint_units::{Amps, Ohms, Volts, Watts};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// What a meter reads on one unit at one look.
///
/// Where it depends on how latches woke up, the board is solved for two ways; what differs then is not
/// known.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Volts of each net, by the net's place in the board's table; nothing where no part holds it.
    volts: Vec<Option<(Volts, Volts)>>,
    supply: (Amps, Amps),
    /// What each part turns into heat, by its place in the board's table.
    heat: Vec<Watts>,
    /// Whether the lanes knew every signal.
    sure: bool,
}

impl Point {
    /// A meter's volts between a net and ground, with what is not known low and high.
    pub fn both(&self, net: NetId) -> Option<(Volts, Volts)> {
        self.volts.get(net.index()).copied().flatten()
    }

    /// A meter's volts between a net and ground, where they are known.
    pub fn volts(&self, net: NetId) -> Option<Volts> {
        let (low, high) = self.both(net)?;
        ((low - high).abs() < SAME).then_some(low)
    }

    /// Whether nothing hangs on how latches woke up.
    pub fn is_sure(&self) -> bool {
        self.sure
    }

    /// What a part turns into heat.
    pub fn heat(&self, part: PartId) -> Watts {
        self.heat.get(part.index()).copied().unwrap_or(Watts(0.0))
    }

    /// What the hottest part turns into heat.
    pub fn hottest(&self) -> Watts {
        Watts(self.heat.iter().fold(0.0, |most, heat| heat.0.max(most)))
    }

    /// What all supplies together give, on the middle of what is not known.
    pub fn supply(&self) -> Amps {
        (self.supply.0 + self.supply.1) / 2.0
    }
}

/// Voltages that lie as close as this are the same to a meter.
const SAME: Volts = Volts(0.05);

/// Newton steps after which one unit is given up (judgement: nearly all come right in 60).
const PATIENCE: u32 = 120;

/// The same for the one unit that is at the bench.
const PATIENT: u32 = 20_000;

/// Units solved side by side before the steps are counted, whatever the count of threads: few, as each may take all its
/// patience after the last step allowed.
const ABREAST: usize = 2;

/// Newton steps for one resistance on a unit without power, which is known (counted on Dunlin's boards: two or three ranges).
const A_RESISTANCE: usize = 6;

/// Units without power that are kept.
const MOST_DEAD: usize = 500;

/// Whose point: a fault's, or the good board's.
pub type Whose = Option<FaultId>;

/// What a meter on ohms shows: no reading inside, and nothing at all where no point was found.
type Shows = Option<Option<Ohms>>;

/// Faults that make the same circuit, as far as a meter is concerned: solved once for all of them.
/// Without it the hundreds of places where one rail can touch another would be solved one by one, and those
/// left over would keep the benefit of the doubt against whoever was solved.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Circuit {
    /// These two nets joined, wherever it is.
    Joined(NetId, NetId),
    /// This part of two leads without effect: missing, dead, or hanging on one of them.
    Gone(PartId),
}

impl Circuit {
    /// Nothing for a fault that no other is like.
    fn of(board: &Board, fault: &Fault) -> Option<Self> {
        match *fault {
            Fault::Bridge(a, b) => Some(Self::joined(board.pins[a].net, board.pins[b].net)),
            Fault::RailShort(net, rail) => Some(Self::joined(net, rail)),
            Fault::Missing(part) | Fault::Dead(part) => Some(Self::Gone(part)),
            Fault::JointOpen(pin) => {
                let part = board.pins[pin].part;
                let carries = matches!(
                    board.parts[part].kind,
                    PartKind::Resistor { .. }
                        | PartKind::Diode(_)
                        | PartKind::Lamp(_)
                        | PartKind::Capacitor { .. }
                );
                carries.then_some(Self::Gone(part))
            }
            Fault::WrongValue(..)
            | Fault::Reversed(_)
            | Fault::Leads(..)
            | Fault::WrongType(_)
            | Fault::Shifted(..) => None,
        }
    }

    fn joined(a: NetId, b: NetId) -> Self {
        Self::Joined(a.min(b), a.max(b))
    }
}

/// The points solved so far.
#[derive(Debug, Default)]
pub struct Points {
    /// The first fault that makes the same circuit, where it is another.
    like: BTreeMap<FaultId, FaultId>,
    /// How many more Newton steps, times nets, may be taken before someone waits too long.
    budget: usize,
    /// The good board's solution at each look, from which the others start.
    good: BTreeMap<usize, Option<Solution>>,
    at: BTreeMap<(Whose, usize), Option<Point>>,
    ohms: BTreeMap<(Whose, NetId, NetId), Shows>,
    /// Units without power, from the good one on; none where no point was found.
    dead: BTreeMap<Whose, Option<Dead>>,
}

impl Points {
    /// No points yet, for the faults of a board.
    pub fn new(study: &Study) -> Self {
        let board = study.extracted.shape.board;
        let mut first: BTreeMap<Circuit, FaultId> = BTreeMap::new();
        let mut like = BTreeMap::new();
        for (id, fault) in study.faults.iter() {
            let Some(circuit) = Circuit::of(board, fault) else { continue };
            let known = *first.entry(circuit).or_insert(id);
            if known != id {
                like.insert(id, known);
            }
        }
        Self { like, ..Self::default() }
    }

    /// Who stands for all that make the same circuit.
    pub fn stand_in(&self, whose: Whose) -> Whose {
        whose.map(|fault| *self.like.get(&fault).unwrap_or(&fault))
    }

    /// Allows so much work from now on: Newton steps times nets.
    pub fn allow(&mut self, work: usize) {
        self.budget = work;
    }

    /// Forgets the points of looks; resistances stay.
    pub fn forget(&mut self, look: usize) {
        self.at.retain(|&(_, at), _| at < look);
        self.good.retain(|&at, _| at < look);
    }

    /// The point of one unit at a look, if it was solved and has one.
    pub fn get(&self, whose: Whose, look: usize) -> Option<&Point> {
        self.at.get(&(self.stand_in(whose), look)).and_then(Option::as_ref)
    }

    /// All points that were solved at a look.
    pub fn all(&self, look: usize) -> impl Iterator<Item = &Point> {
        self.at.iter().filter(move |&(&(_, at), _)| at == look).filter_map(|(_, point)| point.as_ref())
    }

    /// How many were solved.
    pub fn len(&self) -> usize {
        self.at.len() + self.ohms.len()
    }

    /// The resistance between two nets with power off, if it was solved: `Some(None)` shows no reading.
    pub fn ohms(&self, whose: Whose, a: NetId, b: NetId) -> Option<Option<Ohms>> {
        self.ohms.get(&(self.stand_in(whose), a, b)).copied().flatten()
    }

    /// Solves what is not known yet. `index` tells where in the teller's list a fault's group stands.
    pub fn solve(&mut self, study: &Study, teller: &Teller, look: usize, who: &[(Whose, Option<usize>)]) {
        let mut fresh = BTreeSet::new();
        let wanted: Vec<(Whose, Option<usize>)> = who
            .iter()
            .map(|&(whose, index)| (self.stand_in(whose), index))
            .filter(|&(whose, _)| !self.at.contains_key(&(whose, look)) && fresh.insert(whose))
            .collect();
        let nets = study.extracted.shape.board.nets.len();
        for some in wanted.chunks(ABREAST) {
            if self.budget == 0 {
                return;
            }
            let good = self.good.entry(look).or_insert_with(|| good(study, teller, look)).as_ref();
            let solved: Vec<(Option<Point>, u32)> = some
                .par_iter()
                .map_init(
                    || Solver::impatient(PATIENCE),
                    |solver, &(whose, index)| {
                        let told = |signal: SignalId| match index {
                            Some(index) => teller.shown(look, index, signal),
                            None => teller.good(look, signal),
                        };
                        let drawn = |signal: SignalId| teller.drawn(look, index, signal);
                        let stand = Stand { tied: teller.tied(look), told: &told, drawn: &drawn };
                        let mut work = Work { study, stand, solver, good, steps: 0 };
                        (work.point(whose), work.steps)
                    },
                )
                .collect();
            for (&(whose, _), (point, steps)) in some.iter().zip(solved) {
                self.budget = self.budget.saturating_sub(steps as usize * nets);
                self.at.insert((whose, look), point);
            }
        }
    }

    /// Takes a resistance for known: that of the good board, where nothing between the leads is another.
    pub fn presume_ohms(&mut self, whose: Whose, a: NetId, b: NetId, ohms: Option<Ohms>) {
        self.ohms.entry((self.stand_in(whose), a, b)).or_insert(Some(ohms));
    }

    /// Solves the resistances between pairs of nets, red and black, that are not known yet.
    pub fn solve_ohms(&mut self, study: &Study, pairs: &[(NetId, NetId)], who: &[Whose]) {
        let mut fresh = BTreeSet::new();
        let wanted: Vec<(Whose, Vec<(NetId, NetId)>)> = who
            .iter()
            .map(|&whose| self.stand_in(whose))
            .filter(|&whose| fresh.insert(whose))
            .map(|whose| {
                let unknown = |&&(a, b): &&(NetId, NetId)| !self.ohms.contains_key(&(whose, a, b));
                (whose, pairs.iter().filter(unknown).copied().collect::<Vec<_>>())
            })
            .filter(|(_, pairs)| !pairs.is_empty())
            .collect();
        let nets = study.extracted.shape.board.nets.len();
        for some in wanted.chunks(ABREAST) {
            if self.budget == 0 && some.iter().any(|(whose, _)| whose.is_some()) {
                return;
            }
            let good = self.dead.get(&None).and_then(Option::as_ref);
            let solved: Vec<(Option<Dead>, Vec<Shows>)> = some
                .par_iter()
                .map_init(Solver::default, |solver, (whose, pairs)| {
                    let known = self.dead.get(whose);
                    let fresh = if known.is_none() { dead(study, solver, *whose, good) } else { None };
                    let dead = known.map_or(fresh.as_ref(), Option::as_ref);
                    let ohms = pairs.iter().map(|&(a, b)| dead?.ohms(solver, a, b).ok()).collect();
                    (fresh, ohms)
                })
                .collect();
            for ((whose, pairs), (fresh, found)) in some.iter().zip(solved) {
                let steps = fresh.as_ref().map_or(0, Dead::steps) as usize + pairs.len() * A_RESISTANCE;
                self.budget = self.budget.saturating_sub(steps * nets);
                self.dead.entry(*whose).or_insert(fresh);
                self.ohms.extend(pairs.iter().zip(found).map(|(&(a, b), ohms)| ((*whose, a, b), ohms)));
            }
        }
        if self.dead.len() > MOST_DEAD {
            self.dead.retain(|whose, _| whose.is_none());
        }
    }
}

/// A unit without power, found from the good one where that is like it.
fn dead(study: &Study, solver: &mut Solver, whose: Whose, good: Option<&Dead>) -> Option<Dead> {
    let wiring = wiring(study, whose);
    match good.filter(|_| !is_shifted(study, whose)) {
        Some(good) => good.with(solver, &wiring).ok(),
        None => Dead::new(solver, &wiring).ok(),
    }
}

/// A plug one pin off makes another circuit from the start: no other's solution is like it.
fn is_shifted(study: &Study, whose: Whose) -> bool {
    whose.is_some_and(|fault| matches!(study.faults[fault], Fault::Shifted(..)))
}

fn wiring<'b>(study: &Study<'_, 'b>, whose: Whose) -> Wiring<'b> {
    let fault = whose.map(|fault| study.faults[fault]);
    Wiring::new(study.extracted, fault.as_slice())
}

/// The power that goes into a part through all its pins.
fn heat(network: &Network, solution: &Solution, part: &Part) -> f64 {
    let flow = |&pin: &PinId| Some(solution.at(network, pin)?.0 * solution.pin(network, pin)?.0);
    part.pins.iter().filter_map(flow).sum()
}

/// How a unit stands at a look: the lines tied, what the lanes say of each signal for sure, and what they say from two drawn
/// ways of waking up.
#[derive(Clone, Copy)]
struct Stand<'w> {
    tied: &'w BTreeSet<LineId>,
    told: &'w dyn Fn(SignalId) -> Shown,
    drawn: &'w dyn Fn(SignalId) -> (Shown, Shown),
}

impl Stand<'_> {
    /// A unit with its clock source in it, where that stands: what makes a clock is parts like any others then. With a
    /// fault in it of which the lanes do not know how it stands it may run.
    fn standing(&self, study: &Study, whose: Whose) -> Option<Network> {
        let nets = |dial: &Dial| [Some(dial.signal), dial.complement];
        let known = |signal: SignalId| {
            let (one, other) = (self.drawn)(signal);
            one == other && known(one).is_some()
        };
        let board = study.extracted.shape.board;
        // Nothing but a fault in it makes the clock source run with its switch between two positions.
        let touched = whose.is_some_and(|fault| {
            study.faults[fault].parts(board).into_iter().any(|part| is_source(study, part))
        });
        if touched && !study.rig.dials().iter().flat_map(nets).flatten().all(known) {
            return None;
        }
        wiring(study, whose).standing(self.tied.iter().copied())
    }
}

/// Whether a part makes a clock.
fn is_source(study: &Study, part: PartId) -> bool {
    let clusters = &study.extracted.shape.clusters;
    clusters.of_part[part].is_some_and(|id| clusters.rows[id].is_source)
}

/// The good board's solution at a look.
fn good(study: &Study, teller: &Teller, look: usize) -> Option<Solution> {
    let told = |signal: SignalId| teller.good(look, signal);
    let drawn = |signal: SignalId| teller.drawn(look, None, signal);
    let stand = Stand { tied: teller.tied(look), told: &told, drawn: &drawn };
    let network = stand.standing(study, None);
    let network =
        network.unwrap_or_else(|| wiring(study, None).tied(stand.tied.iter().copied(), &Clocks::default()));
    let guess = guess(study, |signal| drawn(signal).0);
    Solver::impatient(PATIENCE).solve_near(&network, &guess).ok()
}

/// What a meter reads on the one unit at the bench, of which it is known what every signal is.
pub fn at_bench(
    study: &Study,
    whose: Whose,
    (teller, look): (&Teller, usize),
    level: &dyn Fn(SignalId) -> Shown,
) -> Option<Point> {
    let drawn = |signal: SignalId| (level(signal), level(signal));
    let stand = Stand { tied: teller.tied(look), told: level, drawn: &drawn };
    let good = good(study, teller, look);
    let solver = &mut Solver::impatient(PATIENT);
    Work { study, stand, solver, good: good.as_ref(), steps: 0 }.point(whose)
}

/// The volts that known levels stand for.
fn guess(study: &Study, level: impl Fn(SignalId) -> Shown) -> Vec<(NetId, Volts)> {
    let extracted = study.extracted;
    let signals = extracted.logic.signals.iter();
    let nets = signals.filter_map(|(id, signal)| Some((signal.net?, known(level(id))?)));
    nets.map(|(net, high)| (net, extracted.levels[net].volts(high))).collect()
}

/// One unit at one look, as the lanes have it.
struct Work<'w, 's, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    stand: Stand<'w>,
    solver: &'w mut Solver,
    /// The good board's solution at this look.
    good: Option<&'w Solution>,
    /// Newton steps taken.
    steps: u32,
}

impl Work<'_, '_, '_, '_> {
    fn point(&mut self, whose: Whose) -> Option<Point> {
        let Self { study, stand, .. } = *self;
        let extracted = study.extracted;
        if is_shifted(study, whose) {
            self.good = None;
        }
        let standing = stand.standing(study, whose);
        let stands = standing.is_some();
        let network = match standing {
            Some(network) => network,
            None => {
                // The good board's point has the clock source in it.
                if !extracted.shape.board.clocks.is_empty() {
                    self.good = None;
                }
                let clock = |signal: SignalId| known((stand.drawn)(signal).0);
                let clocks = Clocks::at_rest(extracted, &clock);
                wiring(study, whose).tied(stand.tied.iter().copied(), &clocks)
            }
        };
        let signals =
            || extracted.logic.signals.iter().filter(|(_, signal)| signal.net.is_some()).map(|(id, _)| id);
        let drawn = |signal: SignalId| (stand.drawn)(signal);
        let low = self.solve(&network, &|signal| drawn(signal).0, false)?;
        let open = signals().any(|id| drawn(id).0 != drawn(id).1 || known(drawn(id).0).is_none());
        let high = if open { self.solve(&network, &|signal| drawn(signal).1, true)? } else { low.clone() };
        // Without the clock source nothing is known of its nets.
        let board = extracted.shape.board;
        let is_held = |net: NetId| {
            !stands
                && board.nets[net].supply.is_none()
                && board.nets[net].pins.iter().any(|&pin| is_source(study, board.pins[pin].part))
        };
        let both = |net: NetId| {
            let node = network.find(net).filter(|_| !is_held(net))?;
            Some((low.node(node), high.node(node)))
        };
        let amps =
            |solution: &Solution| Amps(solution.deliveries().iter().map(|delivery| delivery.amps.0).sum());
        let heat = |part: &Part| heat(&network, &low, part).max(heat(&network, &high, part));
        Some(Point {
            heat: extracted.shape.board.parts.rows().iter().map(|part| Watts(heat(part))).collect(),
            sure: signals().all(|id| known((stand.told)(id)).is_some()),
            volts: extracted.shape.board.nets.ids().map(both).collect(),
            supply: (amps(&low), amps(&high)),
        })
    }

    fn solve(
        &mut self,
        network: &Network,
        level: &dyn Fn(SignalId) -> Shown,
        opposite: bool,
    ) -> Option<Solution> {
        let extracted = self.study.extracted;
        let mut guess = guess(self.study, level);
        let first = self.near(network, &guess)?;
        // A latch of which nothing is known may be found in balance on its ridge, where no board
        // stays. Its two sides are told apart and pushed off.
        let signals = extracted.logic.signals.iter().filter_map(|(id, signal)| Some((id, signal.net?)));
        let open = signals.filter(|&(id, _)| known(level(id)).is_none()).map(|(_, net)| net);
        let between = |net: &NetId| {
            first.at(network, *net).is_some_and(|volts| extracted.levels[*net].read(volts).is_none())
        };
        let ridge: Vec<NetId> = open.filter(between).collect();
        if ridge.len() < 2 {
            return Some(first);
        }
        let volts = |net: NetId, high: bool| (net, extracted.levels[net].volts(high));
        guess.extend(ridge.iter().enumerate().map(|(at, &net)| volts(net, (at % 2 == 0) != opposite)));
        Some(self.near(network, &guess).unwrap_or(first))
    }

    /// The point near a guess, beside the good board's, or any point at all.
    fn near(&mut self, network: &Network, guess: &[(NetId, Volts)]) -> Option<Solution> {
        let near = match self.good {
            Some(good) => self.solver.solve_beside(network, guess, good),
            None => self.solver.solve_near(network, guess),
        };
        let near = near.or_else(|failure| {
            self.steps += failure.iterations;
            self.solver.solve(network)
        });
        self.steps += match &near {
            Ok(solution) => solution.iterations,
            Err(failure) => failure.iterations,
        };
        near.ok()
    }
}
