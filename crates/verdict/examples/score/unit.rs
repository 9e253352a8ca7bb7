//! A unit at the bench. One lives in the lanes: the first faulty lane carries its faults. What the lanes do not know of a board
//! luck decides once and for all: a latch falls one way as soon as it is open, a clock that was left running stands after so
//! many periods as are drawn, and a level in between is read one way. The other lives in the circuit, which is slow, but
//! shares nothing with what the verdict expects of it by lamps.

use dryjoint_board::PartId;
use dryjoint_draws::Draws;
use dryjoint_faults::Fault;
use dryjoint_faults::lanes::{Machine, Planes, Shown};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, GroupId, Study};
use dryjoint_session::{LookId, Seen, Session, Sight};
use dryjoint_verdict::{Deed, Inquiry};
use std::collections::BTreeMap;

/// What a unit is made of.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Stuff {
    /// Lanes.
    Lanes,
    /// The circuit solved.
    Circuit,
}

/// How it shows its lamps.
enum Body<'s> {
    Lanes(Box<Machine<'s>>),
    Circuit(Box<dryjoint_session::Unit<'s>>),
    /// No operating point was found for the circuit as it stands.
    Lost,
}

/// A unit with faults in it.
pub struct Unit<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    truth: Vec<GroupId>,
    stuff: Stuff,
    body: Body<'s>,
    /// Beside a unit in the lanes, the same without luck: what that is sure of is no matter of luck, even where a lane
    /// in which more is known leaves more open, since stages chase each other in it.
    sure: Option<Machine<'s>>,
    misread: f64,
    /// For misreads.
    draws: Draws,
    /// For what the lanes do not know.
    luck: Draws,
    /// How levels in between are read.
    between: BTreeMap<SignalId, bool>,
    /// What luck may decide.
    latches: Vec<SignalId>,
    clocks: Vec<Vec<(SignalId, bool)>>,
}

/// Periods of a run that is not counted: so many, and as many more as are drawn.
const RUN: (u32, usize) = (8, 60);

/// How often latches are gone through; one that is in between two thresholds stays open.
const ROUNDS: usize = 4;

/// The lane of the unit.
const OWN: usize = 1;

/// The first fault of each group.
fn faults(study: &Study, truth: &[GroupId]) -> Vec<Fault> {
    truth.iter().map(|&group| study.faults[study.groups[group].faults[0]]).collect()
}

/// The unit as power comes on.
fn awake<'s>(study: &'s Study, truth: &[GroupId], stuff: Stuff) -> Body<'s> {
    match stuff {
        Stuff::Lanes => {
            let behaviours = truth.iter().map(|&group| &study.groups[group].behaviour).collect();
            Body::Lanes(Box::new(study.at_power_on(Machine::with(&study.program, &[behaviours]))))
        }
        Stuff::Circuit => {
            let unit = dryjoint_session::Unit::new(study.extracted, &faults(study, truth), 1);
            unit.map_or(Body::Lost, |unit| Body::Circuit(Box::new(unit)))
        }
    }
}

impl<'s, 'e, 'b> Unit<'s, 'e, 'b> {
    pub fn new(study: &'s Study<'e, 'b>, truth: &[GroupId], misread: f64, stuff: Stuff) -> Self {
        let seed = truth.iter().fold(1, |seed, group| seed * 10_007 + group.index() as u64);
        let (draws, luck) = (Draws::new(seed), Draws::new(seed + 1));
        let body = awake(study, truth, stuff);
        let (latches, clocks) = (study.latches(), study.lucky_clocks());
        let (truth, between) = (truth.to_vec(), BTreeMap::new());
        let sure = None;
        let mut unit =
            Self { study, truth, stuff, body, sure, misread, draws, luck, between, latches, clocks };
        unit.begin();
        unit
    }

    /// Power comes on again, nothing tied.
    pub fn wake(&mut self) {
        self.body = awake(self.study, &self.truth, self.stuff);
        self.begin();
    }

    fn begin(&mut self) {
        self.sure = match awake(self.study, &self.truth, self.stuff) {
            Body::Lanes(machine) => Some(*machine),
            Body::Circuit(_) | Body::Lost => None,
        };
        self.fall();
    }

    /// Luck decides what is open.
    fn fall(&mut self) {
        let (Body::Lanes(machine), Some(sure)) = (&mut self.body, &self.sure) else { return };
        let all = |high: bool| Planes::broadcast(Some(high));
        for clock in &self.clocks {
            let &[(first, _), ..] = &clock[..] else { continue };
            if machine.is_doubted(first) && machine.stood(first).lane(OWN) == (false, false) {
                let high = self.luck.below(2) == 0;
                let standing: Vec<_> =
                    clock.iter().map(|&(signal, same)| (signal, all(high == same))).collect();
                machine.stand(&standing);
            }
        }
        for _ in 0..ROUNDS {
            let mut any = false;
            for &latch in &self.latches {
                if machine.unknown(latch).get(OWN) {
                    let high = known(sure.value(latch).shown(OWN));
                    machine.suppose(&[(latch, all(high.unwrap_or_else(|| self.luck.below(2) == 0)))]);
                    any |= !machine.unknown(latch).get(OWN);
                }
            }
            if !any {
                break;
            }
        }
    }

    pub fn act(&mut self, action: Action) {
        let lost = match &mut self.body {
            Body::Lanes(_) => return self.act_in_lanes(action),
            Body::Circuit(unit) => unit.act(action).is_err(),
            Body::Lost => true,
        };
        if lost {
            self.body = Body::Lost;
        }
    }

    /// Move by move, luck deciding after each.
    fn act_in_lanes(&mut self, action: Action) {
        let moves = match action {
            Action::Run(clock, position) => {
                let periods = RUN.0 + self.luck.below(RUN.1) as u32;
                self.study.rig.run((clock, position), periods, self.luck.below(2) == 0)
            }
            action => self.study.rig.moves(action),
        };
        for step in moves {
            let (Body::Lanes(machine), Some(sure)) = (&mut self.body, &mut self.sure) else { return };
            for machine in [&mut **machine, sure] {
                step.iter().for_each(|&(signal, level)| machine.bench(signal, level));
                machine.settle();
            }
            self.fall();
        }
    }

    /// Whether no point of it was found: nothing can be read of it any more.
    pub fn is_lost(&self) -> bool {
        matches!(self.body, Body::Lost)
    }

    /// What a meter or the supply's display shows; nothing where that is not known, or not steady.
    pub fn measure(&mut self, inquiry: &Inquiry, session: &Session, deed: &Deed) -> Option<Seen> {
        let fault = self.study.groups[self.truth[0]].faults[0];
        match (&mut self.body, deed) {
            (Body::Lanes(machine), _) => {
                inquiry.foretell(session, Some(fault), &|signal| machine.value(signal).shown(1), deed)
            }
            (Body::Circuit(_), Deed::Look { .. }) | (Body::Lost, _) => None,
            (Body::Circuit(unit), &Deed::Volts { net, .. }) => {
                unit.volts(net).filter(|_| !unit.is_restless()).map(|volts| Seen::Volts(net, volts))
            }
            (Body::Circuit(unit), Deed::Supply { .. }) => {
                (!unit.is_restless()).then(|| Seen::Supply(unit.supply()))
            }
            (Body::Circuit(unit), Deed::Ohms { red, black, .. }) => {
                let ohms = unit.ohms(red.net, black.net).ok()?;
                Some(Seen::Ohms(red.net, black.net, ohms.unwrap_or(dryjoint_units::Ohms(f64::INFINITY))))
            }
        }
    }

    /// How a lamp looks to an eye that errs in nothing.
    fn sight(&mut self, lamp: PartId, signal: SignalId) -> Sight {
        match &self.body {
            Body::Lanes(machine) => match self.shown(machine, signal) {
                Shown::One => Sight::Lit,
                Shown::Zero => Sight::Dark,
                Shown::Dim => Sight::Dim,
                Shown::Unknown => {
                    let luck = &mut self.luck;
                    let lit = *self.between.entry(signal).or_insert_with(|| luck.below(2) == 0);
                    if lit { Sight::Lit } else { Sight::Dark }
                }
            },
            Body::Circuit(unit) => unit.lamp(lamp).unwrap_or(Sight::NotLooked),
            Body::Lost => Sight::NotLooked,
        }
    }

    /// What a signal shows; where luck left it open, what is sure of it.
    fn shown(&self, machine: &Machine, signal: SignalId) -> Shown {
        let open = |shown: &Shown| *shown == Shown::Unknown;
        let sure = || self.sure.as_ref().map_or(Shown::Unknown, |sure| sure.value(signal).shown(OWN));
        Some(machine.value(signal).shown(OWN)).filter(|shown| !open(shown)).unwrap_or_else(sure)
    }

    /// Reads every lamp; lit, dark, or neither, as read.
    pub fn read(&mut self, session: &mut Session, look: LookId) -> Vec<Option<bool>> {
        let board = self.study.extracted.shape.board;
        let mut seen = Vec::new();
        for &(lamp, signal) in &self.study.rig.lamps {
            let sight = self.sight(lamp, signal);
            let wrong = self.draws.unit() < self.misread;
            let sight = match sight {
                Sight::Lit if wrong => Sight::Dark,
                Sight::Dark if wrong => Sight::Lit,
                sight => sight,
            };
            seen.push(match sight {
                Sight::Lit => Some(true),
                Sight::Dark => Some(false),
                _ => None,
            });
            session.observe(board, look, Seen::Lamp(lamp, sight));
        }
        seen
    }
}

/// Plainly high or plainly low.
fn known(shown: Shown) -> Option<bool> {
    match shown {
        Shown::One => Some(true),
        Shown::Zero => Some(false),
        Shown::Dim | Shown::Unknown => None,
    }
}
