//! Why a step shows a fault: the way of the difference from where the fault sits to the lamp.
//!
//! The good and the faulty board are played side by side and every signal is noted after every move of the hands.
//! From the wrong lamp the way is followed back: a signal that differs does so because one of its
//! stage's inputs did when it began to, possibly many steps earlier where a latch kept it since, and at the
//! end because the fault itself sets it.

use crate::awake::Wakes;
use crate::drawn::BOARDS;
use crate::gates::Refuted;
use crate::never::AtRest;
use crate::replay::{Replay, act_seen, known};
use crate::search::Aim;
use crate::study::Wake;
use crate::sure::Sureness;
use crate::{Action, Coverage, GroupId, Procedure, StepId, Study};
use dryjoint_board::PartId;
use dryjoint_faults::FaultId;
use dryjoint_faults::lanes::{Behaviour, Machine, Target};
use dryjoint_faults::proof::{Confirmed, recheck};
use dryjoint_faults::region::{Why, certificate};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::{SignalId, StageId};

/// One place on the way of a difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The step in which it begins to differ.
    pub step: StepId,
    /// What differs.
    pub signal: SignalId,
    /// The stage that makes it so, where there is one.
    pub stage: Option<StageId>,
    /// Its level on the good board; for a lamp, whether it is lit.
    pub good: bool,
    /// Its level on the faulty board; nothing where luck decides.
    pub faulty: Option<bool>,
}

/// A lamp that is wrong, or may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// The lamp.
    pub lamp: PartId,
    /// What a good board shows.
    pub good: bool,
}

/// Why a fault is shown, or why not.
#[derive(Clone, Debug, PartialEq)]
pub enum Explanation {
    /// This step shows it first.
    Shown {
        /// The step.
        step: StepId,
        /// Its wrong lamps.
        lamps: Vec<Wrong>,
        /// The way to the first of them: first what the fault sets, last the lamp.
        way: Vec<Place>,
    },
    /// By this step it has shown in every case of what is not known of its latches, if not in each by the same lamp.
    ByCases {
        /// The step.
        step: StepId,
        /// Where the cases are parted after every action and not by how the latches woke up alone: on how many boards with
        /// stages of unequal delays the procedure was played as well, all of which show it.
        drawn: Option<usize>,
    },
    /// A jumper of this step shorts the supply through the fault: all lamps are dark.
    Blackout(StepId),
    /// This step is the first that may show it.
    Chance {
        /// The step.
        step: StepId,
        /// Why it does not surely show it.
        why: Why,
        /// What is known about ways that surely would.
        sureness: Sureness,
        /// The lamps that may be wrong.
        lamps: Vec<Wrong>,
        /// The way to the first of them.
        way: Vec<Place>,
    },
    /// It cannot be shown, with the proof where one was made for it.
    Never(Why, Option<Refuted>),
    /// It cannot be shown, since with it every level stays on its side; what adding up the currents came to.
    Stays(Confirmed),
    /// Its effect was not computed.
    Undecided(Why),
    /// A lamp could show it for all that is known, and no step does.
    Missed,
}

/// Explains what a procedure does about a fault.
pub fn explain(study: &Study, procedure: &Procedure, fault: FaultId) -> Explanation {
    let group = study.group_of(fault);
    match (procedure.coverage[fault], group) {
        (Coverage::Shown(step), Some(group)) => shown(study, procedure, group, step),
        (Coverage::Chance(step, why, sureness), Some(group)) => {
            let film = Film::of(study, procedure, group, None);
            let (lamps, way) = film.wrong(step, Aim::Chance);
            Explanation::Chance { step, why, sureness, lamps, way }
        }
        (Coverage::Never(why), Some(group)) => {
            Explanation::Never(why, AtRest::new(study).refute(&study.groups[group].behaviour))
        }
        (Coverage::Never(why), None) => {
            let certificate = match why {
                Why::LevelsStay => certificate(study.extracted, &study.faults[fault]),
                _ => None,
            };
            let confirmed = certificate.and_then(|it| recheck(study.extracted, &it).ok());
            confirmed.map_or(Explanation::Never(why, None), Explanation::Stays)
        }
        (Coverage::Undecided(why), _) => Explanation::Undecided(why),
        (Coverage::Missed | Coverage::Shown(_) | Coverage::Chance(..), _) => Explanation::Missed,
    }
}

fn shown(study: &Study, procedure: &Procedure, group: GroupId, step: StepId) -> Explanation {
    let behaviour = &study.groups[group].behaviour;
    let dark = behaviour.blackout.is_some_and(|line| {
        procedure.steps[step]
            .actions
            .iter()
            .any(|action| study.rig.moves(*action)[0].iter().any(|(at, _)| *at == line))
    });
    // Where nothing is known of the board until it has shown, one way of waking up stands for all.
    for wake in [None, Some(Wake { seed: 1, opposite: false })] {
        if let Some(by_cases) = wake.and_then(|_| by_cases(study, procedure, group, step)) {
            return by_cases;
        }
        let film = Film::of(study, procedure, group, wake);
        let (lamps, way) = film.wrong(step, Aim::Sure);
        if !lamps.is_empty() {
            let all_dark = film.at(step).iter().all(|(_, now)| *now == Some(false));
            return if dark && all_dark {
                Explanation::Blackout(step)
            } else {
                Explanation::Shown { step, lamps, way }
            };
        }
    }
    Explanation::Shown { step, lamps: Vec::new(), way: Vec::new() }
}

/// What cases a group was parted into, where it shows by that.
fn by_cases(study: &Study, procedure: &Procedure, group: GroupId, step: StepId) -> Option<Explanation> {
    let mut actions: Vec<Action> = Vec::new();
    let mut looks = Vec::new();
    for row in procedure.steps.rows() {
        // Waits stand one by one where cases are parted.
        actions.extend(row.actions.iter().flat_map(|&action| match action {
            Action::Wait(count) => vec![Action::Wait(1); count as usize],
            other => vec![other],
        }));
        looks.push(actions.len());
    }
    let all = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
    let expected = Replay::of(study, &[], all, None).expected();
    let wakes = Wakes { study, group, actions: &actions, looks: &looks, expected: &expected };
    if wakes.woken().is_some() {
        return Some(Explanation::ByCases { step, drawn: None });
    }
    wakes.on_the_way().map(|_| Explanation::ByCases { step, drawn: Some(BOARDS) })
}

/// Good and faulty level of a signal.
type Pair = (Option<bool>, Option<bool>);

/// Every signal after every move, on the good and on the faulty board.
struct Film<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    behaviour: &'s Behaviour,
    frames: Vec<Side<SignalId, Pair>>,
    /// The step of each frame, and the last frame of each step.
    step_of: Vec<StepId>,
    last: Vec<usize>,
}

impl<'s, 'e, 'b> Film<'s, 'e, 'b> {
    fn of(study: &'s Study<'e, 'b>, procedure: &Procedure, group: GroupId, wake: Option<Wake>) -> Self {
        let mut machines = study.machines(&[group], wake);
        let machine = &mut machines[0];
        let behaviour = &study.groups[group].behaviour;
        let mut film = Self { study, behaviour, frames: Vec::new(), step_of: Vec::new(), last: Vec::new() };
        for (id, step) in procedure.steps.iter() {
            film.take(machine, id);
            // A touch, or a clock's period, is several moves, and any of them may be the one that matters.
            act_seen(study, machine, &step.actions, &mut |machine| film.take(machine, id));
            film.last.push(film.frames.len() - 1);
        }
        film
    }

    fn take(&mut self, machine: &Machine, step: StepId) {
        let level = |signal: SignalId, lane: usize| known(machine.value(signal), lane);
        let signals = &self.study.extracted.logic.signals;
        self.frames.push(Side::new(signals, |signal| (level(signal, 0), level(signal, 1))));
        self.step_of.push(step);
    }

    /// The lamps at the end of a step.
    fn at(&self, step: StepId) -> Vec<Pair> {
        let frame = &self.frames[self.last[step.index()]];
        self.study.rig.lamps.iter().map(|&(_, signal)| frame[signal]).collect()
    }

    /// Whether a signal differs in a frame, or may.
    fn differs(&self, frame: usize, signal: SignalId, aim: Aim) -> bool {
        match (self.frames[frame][signal], aim) {
            ((Some(good), Some(faulty)), _) => good != faulty,
            ((Some(_), None), Aim::Chance) => true,
            _ => false,
        }
    }

    /// The wrong lamps of a step, and the way to the first.
    fn wrong(&self, step: StepId, aim: Aim) -> (Vec<Wrong>, Vec<Place>) {
        let end = self.last[step.index()];
        let lamps: Vec<(PartId, SignalId)> = self
            .study
            .rig
            .lamps
            .iter()
            .copied()
            .filter(|&(_, signal)| self.differs(end, signal, aim))
            .collect();
        let wrong = lamps
            .iter()
            .filter_map(|&(lamp, signal)| Some(Wrong { lamp, good: self.frames[end][signal].0? }));
        let way = lamps.first().map_or(Vec::new(), |&(_, signal)| {
            // Where the fault acts through what is not known, the way leads through that too.
            let sure = self.way(end, signal, aim);
            if self.reaches(&sure) { sure } else { self.way(end, signal, Aim::Chance) }
        });
        (wrong.collect(), way)
    }

    fn reaches(&self, way: &[Place]) -> bool {
        way.first().is_some_and(|place| self.is_set(place.signal))
    }

    /// Whether the fault itself sets a signal, or what a stage on it reads.
    fn is_set(&self, signal: SignalId) -> bool {
        let stages = &self.study.extracted.logic.stages;
        self.behaviour.writes.iter().any(|target| match *target {
            Target::Signal(set) => set == signal,
            Target::Pin(stage, _) => stages[stage].output == signal,
        })
    }

    /// The way to a signal that differs in a frame; as far back as it can be followed.
    fn way(&self, frame: usize, signal: SignalId, aim: Aim) -> Vec<Place> {
        let mut seen = Vec::new();
        let mut longest = Vec::new();
        let mut way = Vec::new();
        self.follow(frame, signal, aim, &mut seen, &mut way, &mut longest);
        longest.reverse();
        longest
    }

    /// Depth first, from the lamp back; true where what the fault sets is reached.
    fn follow(
        &self,
        frame: usize,
        signal: SignalId,
        aim: Aim,
        seen: &mut Vec<(usize, SignalId)>,
        way: &mut Vec<Place>,
        longest: &mut Vec<Place>,
    ) -> bool {
        // Where both turned over at once it began to differ in this way only then.
        let good = self.frames[frame][signal].0;
        let alike = |at: &usize| self.differs(*at, signal, aim) && self.frames[*at][signal].0 == good;
        let since = (0..=frame).rev().take_while(alike).last().unwrap_or(frame);
        if seen.contains(&(since, signal)) {
            return false;
        }
        seen.push((since, signal));
        let (good, faulty) = self.frames[since][signal];
        let stages = self.study.extracted.logic.stages.iter();
        let drivers: Vec<StageId> =
            stages.filter(|(_, s)| s.output == signal && !s.inputs.is_empty()).map(|(id, _)| id).collect();
        let inputs = |stage: StageId| self.study.extracted.logic.stages[stage].inputs.iter().copied();
        let cause = |stage: &StageId| inputs(*stage).any(|input| self.differs(since, input, aim));
        let stage = drivers.iter().copied().find(cause).or(drivers.first().copied());
        way.push(Place { step: self.step_of[since], signal, stage, good: good.unwrap_or(false), faulty });
        let set = self.is_set(signal);
        if set || way.len() > longest.len() {
            longest.clone_from(way);
        }
        let found = set
            || drivers.iter().any(|&driver| {
                inputs(driver).any(|input| {
                    self.differs(since, input, aim) && self.follow(since, input, aim, seen, way, longest)
                })
            });
        way.pop();
        found
    }
}
