//! Looks that several moves lead to, for when no single one shows anything.
//!
//! From where the board stands every move is tried, and every move from what that leaves, the quickest at the
//! bench first (E. Dijkstra 1959), on the joint state of all suspects at once: a lane each. A state that was met
//! before is not gone on from. The procedure's steps are ways that are known to lead somewhere, so each is a move
//! too, and the step after it from there. The walk ends when no quicker look can be better, or after so many moves.

use super::lamps::Looks;
use super::{Case, Next, gain};
use crate::tell::{Stand, Teller};
use dryjoint_board::LineId;
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, StepId};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// Moves tried, at most: a person waits for it.
const MOST_MOVES: usize = 1500;

/// More actions than this in a row are too many for a person to get right (judgement).
const MOST_ACTIONS: usize = 16;

/// A state not gone on from yet.
struct Open {
    /// The state that the last moves were made from.
    from: Rc<Stand>,
    /// Those moves.
    last: Vec<Action>,
    /// All moves from the start.
    actions: Vec<Action>,
    tied: BTreeSet<LineId>,
    /// The step that ends here.
    step: Option<StepId>,
}

/// The best look so far.
struct Found {
    /// Bits a second.
    rate: f64,
    step: Option<StepId>,
    actions: Vec<Action>,
}

impl Looks<'_, '_, '_> {
    /// The best look behind several moves that promises so many bits.
    pub(super) fn walk(&self, teller: &mut Teller, cases: &[Case], least: f64) -> Option<Next> {
        let look = self.costs.look(self.study.rig.lamps.len()).0;
        let tied = teller.tied(self.session.now().index()).clone();
        let first = self.candidates(teller);
        let lamps: Vec<SignalId> = self.study.rig.lamps.iter().map(|&(_, signal)| signal).collect();
        let start = Rc::new(teller.save());
        let mut met = BTreeSet::from([(teller.whole_key(), tied.clone())]);
        let mut open: BTreeMap<(u64, usize), Open> = BTreeMap::new();
        let mut best: Option<Found> = None;
        let most = gain::most(cases);
        let mut tried = 0;
        let mut here = Open { from: start.clone(), last: Vec::new(), actions: Vec::new(), tied, step: None };
        let mut moves: Vec<(Option<StepId>, Vec<Action>)> = first;
        loop {
            let state = if here.last.is_empty() {
                start.clone()
            } else {
                teller.restore(&here.from);
                teller.go(&here.last);
                Rc::new(teller.save())
            };
            for (step, last) in moves {
                let actions = [&here.actions[..], &last].concat();
                if tried == MOST_MOVES || actions.len() > MOST_ACTIONS {
                    continue;
                }
                tried += 1;
                teller.restore(&state);
                teller.go(&last);
                let mut tied = here.tied.clone();
                last.iter().for_each(|&action| action.leave(&mut tied));
                if !met.insert((teller.whole_key(), tied.clone())) {
                    continue;
                }
                let seconds = self.seconds(&actions);
                let bits = self.past.gain(cases, &teller.now(&lamps), !self.met.contains(&teller.key()));
                let rate = bits / (seconds + look);
                if bits >= least && best.as_ref().is_none_or(|known| rate > known.rate) {
                    best = Some(Found { rate, step, actions: actions.clone() });
                }
                let place = ((seconds * 1000.0) as u64, tried);
                open.insert(place, Open { from: state.clone(), last, actions, tied, step });
            }
            let Some(((millis, _), next)) = open.pop_first() else { break };
            let beaten = |known: &Found| most / (millis as f64 / 1000.0 + look) < known.rate;
            if tried == MOST_MOVES || best.as_ref().is_some_and(beaten) {
                break;
            }
            here = next;
            moves = self.moves_from(&here);
        }
        teller.restore(&start);
        best.map(|best| self.promise(teller, cases, best.step, best.actions))
    }

    /// Every line moved, a period of the clock, and the step that comes next in the procedure.
    fn moves_from(&self, here: &Open) -> Vec<(Option<StepId>, Vec<Action>)> {
        let board = self.study.extracted.shape.board;
        let lines = board.lines.ids().flat_map(|line| match here.tied.contains(&line) {
            true => vec![Action::Release(line)],
            false => vec![Action::Pulse(line), Action::Tie(line)],
        });
        let wait = (!board.clocks.is_empty()).then_some(Action::Wait(1));
        let alone = lines.chain(wait).map(|action| (None, vec![action]));
        let next = here.step.map(|step| step.index() + 1).filter(|&next| next < self.procedure.steps.len());
        let next = next.map(StepId::at).map(|next| (Some(next), self.procedure.steps[next].actions.clone()));
        alone.chain(next).collect()
    }
}
