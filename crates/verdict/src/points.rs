//! The points that were solved so far, of whom and at which look.
//!
//! Only the likely suspects are solved, each at the looks where it matters, and each solution is kept. A person
//! waits for it, so the work is counted, in Newton steps times nets, which is the same on every machine: a unit that
//! takes too many steps has no point, and whoever comes after the last one allowed waits for the next verdict.

use crate::point::{Holds, Point, Whose, at_look, good, holds, is_shifted, wiring};
use crate::tell::Teller;
use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_circuit::{Solution, Solver};
use dryjoint_faults::{Fault, FaultId};
use dryjoint_ids::Id;
use dryjoint_procedure::Study;
use dryjoint_session::Dead;
use dryjoint_units::Ohms;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Newton steps after which one unit is given up (judgement: nearly all come right in 30, those with something open in 150).
const PATIENCE: u32 = 240;

/// Units solved side by side before the steps are counted, whatever the count of threads: few, as each may take all its
/// patience after the last step allowed.
const ABREAST: usize = 2;

/// Newton steps for one resistance on a unit without power, which is known (counted on Dunlin's boards: two or three ranges).
const A_RESISTANCE: usize = 6;

/// Units without power that are kept.
const MOST_DEAD: usize = 500;

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
    /// What holds levels of its own on the board.
    holds: Holds,
    /// By fault, the first one that makes the same circuit.
    like: Vec<FaultId>,
    /// How many more Newton steps, times nets, may be taken before someone waits too long.
    budget: usize,
    /// The good board's solution at each look, from which the others start.
    good: BTreeMap<usize, Option<Solution>>,
    /// By look: every reading is held against hundreds.
    at: BTreeMap<usize, BTreeMap<Whose, Option<Point>>>,
    /// By the two nets, red and black.
    ohms: BTreeMap<(NetId, NetId), BTreeMap<Whose, Shows>>,
    /// Units without power, from the good one on; none where no point was found.
    dead: BTreeMap<Whose, Option<Dead>>,
}

impl Points {
    /// No points yet, for the faults of a board.
    pub fn new(study: &Study) -> Self {
        let board = study.extracted.shape.board;
        let mut first: BTreeMap<Circuit, FaultId> = BTreeMap::new();
        let mut same = |(id, fault): (FaultId, &Fault)| match Circuit::of(board, fault) {
            Some(circuit) => *first.entry(circuit).or_insert(id),
            None => id,
        };
        let like = study.faults.iter().map(&mut same).collect();
        Self { holds: holds(study), like, ..Self::default() }
    }

    /// Who stands for all that make the same circuit.
    pub fn stand_in(&self, whose: Whose) -> Whose {
        whose.map(|fault| *self.like.get(fault.index()).unwrap_or(&fault))
    }

    /// Allows so much work from now on: Newton steps times nets.
    pub fn allow(&mut self, work: usize) {
        self.budget = work;
    }

    /// Forgets the points of looks; resistances stay.
    pub fn forget(&mut self, look: usize) {
        self.at.retain(|&at, _| at < look);
        self.good.retain(|&at, _| at < look);
    }

    /// The point of one unit at a look, if it was solved and has one.
    pub fn get(&self, whose: Whose, look: usize) -> Option<&Point> {
        self.at.get(&look)?.get(&self.stand_in(whose))?.as_ref()
    }

    /// All points that were solved at a look.
    pub fn all(&self, look: usize) -> impl Iterator<Item = &Point> {
        self.at.get(&look).into_iter().flatten().filter_map(|(_, point)| point.as_ref())
    }

    /// How many were solved.
    pub fn len(&self) -> usize {
        let ohms = self.ohms.values().map(BTreeMap::len);
        self.at.values().map(BTreeMap::len).chain(ohms).sum()
    }

    /// The resistance between two nets with power off, if it was solved: `Some(None)` shows no reading.
    pub fn ohms(&self, whose: Whose, a: NetId, b: NetId) -> Option<Option<Ohms>> {
        self.ohms.get(&(a, b))?.get(&self.stand_in(whose)).copied().flatten()
    }

    /// Solves what is not known yet. `index` tells where in the teller's list a fault's group stands.
    pub fn solve(&mut self, study: &Study, teller: &Teller, look: usize, who: &[(Whose, Option<usize>)]) {
        let mut fresh = BTreeSet::new();
        let known = self.at.get(&look);
        let wanted: Vec<(Whose, Option<usize>)> = who
            .iter()
            .map(|&(whose, index)| (self.stand_in(whose), index))
            .filter(|&(whose, _)| {
                !known.is_some_and(|known| known.contains_key(&whose)) && fresh.insert(whose)
            })
            .collect();
        let nets = study.extracted.shape.board.nets.len();
        for some in wanted.chunks(ABREAST) {
            if self.budget == 0 {
                return;
            }
            let holds = &self.holds;
            let good = self.good.entry(look).or_insert_with(|| good(study, teller, look, holds)).as_ref();
            let solved: Vec<(Option<Point>, u32)> = some
                .par_iter()
                .map_init(
                    || Solver::impatient(PATIENCE),
                    |solver, &who| at_look((study, holds), who, (teller, look), solver, good),
                )
                .collect();
            for (&(whose, _), (point, steps)) in some.iter().zip(solved) {
                self.budget = self.budget.saturating_sub(steps as usize * nets);
                self.at.entry(look).or_default().insert(whose, point);
            }
        }
    }

    /// Takes a resistance for known: that of the good board, where nothing between the leads is another.
    pub fn presume_ohms(&mut self, whose: Whose, a: NetId, b: NetId, ohms: Option<Ohms>) {
        let whose = self.stand_in(whose);
        self.ohms.entry((a, b)).or_default().entry(whose).or_insert(Some(ohms));
    }

    /// Solves the resistances between pairs of nets, red and black, that are not known yet.
    pub fn solve_ohms(&mut self, study: &Study, pairs: &[(NetId, NetId)], who: &[Whose]) {
        let mut fresh = BTreeSet::new();
        let wanted: Vec<(Whose, Vec<(NetId, NetId)>)> = who
            .iter()
            .map(|&whose| self.stand_in(whose))
            .filter(|&whose| fresh.insert(whose))
            .map(|whose| {
                let known =
                    |pair: &(NetId, NetId)| self.ohms.get(pair).is_some_and(|all| all.contains_key(&whose));
                let unknown = |pair: &&(NetId, NetId)| !known(pair);
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
                for (&pair, ohms) in pairs.iter().zip(found) {
                    self.ohms.entry(pair).or_default().insert(*whose, ohms);
                }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::latch::with_latch;
    use crate::meter::volts_spread;
    use crate::tell::Lane;
    use dryjoint_board::LineId;
    use dryjoint_procedure::Action;
    use dryjoint_session::{LookId, Seen, Session, Unit};
    use dryjoint_units::Volts;

    /// How often a figure came to what was read of the unit with that fault, to either of two, and to neither.
    #[derive(Debug, Default)]
    struct Count {
        right: usize,
        either: usize,
        wrong: usize,
        none: usize,
    }

    /// Reads all lamps of a unit.
    fn look(study: &Study, unit: &Unit, session: &mut Session, at: LookId) {
        for &(lamp, _) in &study.rig.lamps {
            let sight = unit.lamp(lamp).expect("a lamp");
            session.observe(study.extracted.shape.board, at, Seen::Lamp(lamp, sight));
        }
    }

    /// Every so many-th group of a board's faults on virtual units that woke up in several ways, after each of some actions
    /// with its lamps read: what the point of that fault has on every net, held against the unit.
    fn held_against_units(study: &Study, every: usize, actions: &[Action], seeds: &[u64]) -> Count {
        let (board, extracted) = (study.extracted.shape.board, study.extracted);
        let lane =
            |(group, row): (_, &dryjoint_procedure::Group)| Lane { group, behaviour: row.behaviour.clone() };
        let mut teller = Teller::hearing(study, study.groups.iter().map(lane).collect());
        let mut points = Points::new(study);
        let mut count = Count::default();
        for (group, row) in study.groups.iter().step_by(every) {
            for &seed in seeds {
                let fault = row.faults[0];
                let Ok(mut unit) = Unit::new(extracted, &[study.faults[fault]], seed) else { continue };
                let mut session = Session::new("1");
                let mut at = session.act(None, &[]);
                look(study, &unit, &mut session, at);
                for &action in actions {
                    if unit.act(action).is_err() || unit.is_restless() {
                        break;
                    }
                    at = session.act(None, &[action]);
                    look(study, &unit, &mut session, at);
                    if let Some(first) = teller.follow(&session) {
                        points.forget(first);
                    }
                    points.allow(usize::MAX);
                    points.solve(study, &teller, at.index(), &[(Some(fault), Some(group.index()))]);
                    let point = points.get(Some(fault), at.index());
                    for net in board.nets.ids() {
                        let Some(seen) = unit.volts(net) else { continue };
                        match point.and_then(|point| point.both(net)) {
                            None => count.none += 1,
                            Some((low, high)) => {
                                let fits = |volts: Volts| (volts - seen).0.abs() < volts_spread(seen.0);
                                let same = (low - high).0.abs() < volts_spread(low.0);
                                *match (fits(low) || fits(high), same) {
                                    (true, true) => &mut count.right,
                                    (true, false) => &mut count.either,
                                    (false, _) => &mut count.wrong,
                                } += 1;
                            }
                        }
                    }
                }
            }
        }
        count
    }

    #[test]
    fn a_figure_is_what_the_unit_with_that_fault_shows() {
        let [set, reset] = [0, 1].map(LineId::at);
        let actions = [Action::Pulse(set), Action::Pulse(reset), Action::Tie(set), Action::Release(set)];
        let mut count = Count::default();
        with_latch(|study| count = held_against_units(study, 1, &actions, &[1, 2, 3]));
        // A few virtual units stay on the ridge between two sides of a latch, for want of noise.
        assert!(count.right > 9_000 && count.either > 50, "{count:?}");
        assert!(count.wrong < 10 && count.none < 1_000, "{count:?}");
    }
}
