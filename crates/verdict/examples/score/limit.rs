//! What lamps could tell at best: the same unit after the procedure and long drawn sequences of actions, weighed by
//! the same rules; and for two groups that are then still together, whether any sequence of actions at all could part
//! them.
//!
//! The proof goes through every state that hands can bring about with both faults side by side, from the moment
//! power comes on, nothing known of the latches. Where the lamps of the two never plainly differ, no procedure
//! of any length tells them apart.

use crate::unit::{Stuff, Unit};
use dryjoint_board::LineId;
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_faults::lanes::{Lane, Machine, Shown, State};
use dryjoint_procedure::{Action, GroupId, Procedure, Replay, Study};
use dryjoint_session::Session;
use dryjoint_verdict::Inquiry;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Actions of a drawn sequence.
const DRAWN: usize = 300;

/// How many such sequences, each from the end of the procedure.
const SEQUENCES: u64 = 2;

/// States after which a proof is given up.
const MOST_STATES: usize = 4_000;

/// The looks of an unlimited hunt: those of the procedure and, of the drawn sequences, whatever parts groups that
/// nothing before parted.
pub struct Limit<'a, 'e, 'b> {
    study: &'a Study<'e, 'b>,
    looks: Vec<Vec<Action>>,
}

impl<'a, 'e, 'b> Limit<'a, 'e, 'b> {
    pub fn new(study: &'a Study<'e, 'b>, procedure: &Procedure) -> Self {
        let groups = study.all_groups();
        let mut looks: Vec<Vec<Action>> =
            procedure.steps.rows().iter().map(|step| step.actions.clone()).collect();
        let mut class: Vec<usize> = vec![0; groups.len()];
        let mut kept = looks.len();
        for number in 0..SEQUENCES {
            let done = looks.concat();
            looks.extend(drawn(study, &done, number, DRAWN));
            let replay = Replay::of(study, &groups, looks.iter().map(Vec::as_slice), None);
            let mut joined: Vec<Vec<Action>> = looks[..kept].to_vec();
            let mut waiting: Vec<Action> = Vec::new();
            for (at, actions) in looks.iter().enumerate() {
                let parted = part(study, &replay, at, &mut class);
                if at < kept {
                    continue;
                }
                waiting.extend(actions);
                if parted {
                    joined.push(std::mem::take(&mut waiting));
                }
            }
            looks = joined;
            kept = looks.len();
        }
        Self { study, looks }
    }

    pub fn looks(&self) -> usize {
        self.looks.len()
    }

    /// The unit with this fault, read at every look.
    fn session(&self, truth: GroupId) -> Session {
        let mut unit = Unit::new(self.study, &[truth], 0.0, Stuff::Lanes);
        let mut session = Session::new("1");
        for (at, actions) in self.looks.iter().enumerate() {
            actions.iter().for_each(|&action| unit.act(action));
            let look = if at == 0 && actions.is_empty() { session.now() } else { session.act(None, actions) };
            unit.read(&mut session, look);
        }
        session
    }

    /// For each of these the groups that an unlimited hunt does not tell from it.
    pub fn left(&self, truths: &[GroupId]) -> Vec<Vec<GroupId>> {
        let mut inquiry = Inquiry::new(self.study, &Priors::default());
        let sessions: Vec<Session> = truths.par_iter().map(|&truth| self.session(truth)).collect();
        let left = truths.iter().zip(&sessions).map(|(&truth, session)| {
            let verdict = inquiry.weigh(session);
            let own = verdict.suspects.iter().find(|suspect| suspect.groups.contains(&truth));
            own.map_or(vec![truth], |own| own.groups.clone())
        });
        left.collect()
    }
}

/// Parts classes by what the lamps of one look show; whether any came apart.
fn part(study: &Study, replay: &Replay, look: usize, class: &mut [usize]) -> bool {
    let mut fresh: BTreeMap<(usize, Vec<Shown>), usize> = BTreeMap::new();
    let before = class.iter().max().map_or(0, |most| most + 1);
    for (index, class) in class.iter_mut().enumerate() {
        let row = (0..study.rig.lamps.len()).map(|lamp| replay.shown(look, index, lamp)).collect();
        let next = fresh.len();
        *class = *fresh.entry((*class, row)).or_insert(next);
    }
    fresh.len() > before
}

/// Actions drawn by number, a look after each, on a board that stands as some actions left it.
pub fn drawn(study: &Study, before: &[Action], number: u64, count: usize) -> Vec<Vec<Action>> {
    let board = study.extracted.shape.board;
    let mut draws = Draws::new(number);
    let lines: Vec<LineId> = board.lines.ids().collect();
    let mut tied: BTreeSet<LineId> = BTreeSet::new();
    before.iter().for_each(|&action| action.leave(&mut tied));
    let one = || {
        let clock = lines.is_empty() || (!board.clocks.is_empty() && draws.below(3) == 0);
        let action = if clock {
            Action::Wait(1 + draws.below(3) as u32)
        } else {
            let line = lines[draws.below(lines.len())];
            match (tied.contains(&line), draws.below(2)) {
                (true, _) => Action::Release(line),
                (false, 0) => Action::Pulse(line),
                _ => Action::Tie(line),
            }
        };
        action.leave(&mut tied);
        vec![action]
    };
    std::iter::repeat_with(one).take(count).collect()
}

/// Whether two groups can be told apart by lamps.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Parting {
    /// Some state shows it.
    Can,
    /// No state within reach does.
    Never,
    /// There are more states than were tried.
    NotProven,
}

/// Tries every state that hands can bring about with the one fault and the other.
pub fn parting(study: &Study, one: GroupId, other: GroupId) -> Parting {
    let board = study.extracted.shape.board;
    let mut machines = study.machines(&[one, other], None);
    let machine = &mut machines[0];
    let mut seen = BTreeSet::from([key(machine, &BTreeSet::new())]);
    let mut open: Vec<(State, BTreeSet<LineId>)> = vec![(machine.save(), BTreeSet::new())];
    if differ(study, machine) {
        return Parting::Can;
    }
    while let Some((state, tied)) = open.pop() {
        let each = board.lines.ids().flat_map(|line| match tied.contains(&line) {
            true => vec![Action::Release(line)],
            false => vec![Action::Tie(line), Action::Pulse(line)],
        });
        for action in each.chain((!board.clocks.is_empty()).then_some(Action::Wait(1))) {
            machine.restore(&state);
            for step in study.rig.moves(action) {
                step.into_iter().for_each(|(signal, level)| machine.bench(signal, level));
                machine.settle();
            }
            if differ(study, machine) {
                return Parting::Can;
            }
            let mut tied = tied.clone();
            action.leave(&mut tied);
            if seen.insert(key(machine, &tied)) {
                if seen.len() > MOST_STATES {
                    return Parting::NotProven;
                }
                open.push((machine.save(), tied));
            }
        }
    }
    Parting::Never
}

/// Whether some lamp plainly looks otherwise in the second lane than in the first.
fn differ(study: &Study, machine: &Machine) -> bool {
    study.rig.lamps.iter().any(|&(_, signal)| {
        let planes = machine.value(signal);
        let look = |lane| (planes.one.get(lane), planes.zero.get(lane));
        let known = |look: (bool, bool)| look != (false, false);
        known(look(1)) && known(look(2)) && look(1) != look(2)
    })
}

/// All that is known of both boards at rest, what the tables of their faults say with it, and the ties.
fn key(machine: &Machine, tied: &BTreeSet<LineId>) -> (Vec<Lane>, BTreeSet<LineId>) {
    (machine.lanes(3).split_off(1), tied.clone())
}
