//! What looking at the lamps after some actions would tell.

use super::known::surely;
use super::{Case, Deed, Next, Outcome, Sign, gain};
use crate::tell::Teller;
use dryjoint_board::LineId;
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, Costs, Procedure, StepId, Study};
use dryjoint_session::{Reading, Session};
use dryjoint_units::Seconds;
use std::collections::{BTreeMap, BTreeSet};

/// Everything that candidates are made from.
pub(super) struct Looks<'a, 'e, 'b> {
    pub study: &'a Study<'e, 'b>,
    pub procedure: &'a Procedure,
    pub costs: &'a Costs,
    pub session: &'a Session,
    pub past: gain::Past,
    /// The states in which a look was taken.
    pub met: BTreeSet<u64>,
    /// Whether lamps are all there is: then what a lamp hints at counts of which nobody knows what it shows. Where a
    /// meter is at hand only what is surely known counts.
    pub by_lamps: bool,
    /// A measurement that promises fewer bits is not worth a hand.
    pub least: f64,
}

impl Looks<'_, '_, '_> {
    /// The procedure's next step, whatever it promises.
    pub(super) fn carry_on(&self, teller: &mut Teller, cases: &[Case]) -> Option<Next> {
        let step = self.next_step()?;
        let tied = teller.tied(self.session.now().index()).clone();
        Some(self.promise(teller, cases, Some(step), self.reach(step, &tied)))
    }

    /// The best of all looks that promise so many bits, the first of equals.
    ///
    /// No look tells more than who of all the lanes it is, so the quick ones are tried first and those that
    /// could not be better even then are left out.
    pub(super) fn best(&self, teller: &mut Teller, cases: &[Case], least: f64) -> Option<Next> {
        let most = gain::most(cases);
        let reading = self.costs.look(self.study.rig.lamps.len()).0;
        let all = self.candidates(teller).into_iter().enumerate();
        let mut all: Vec<_> = all
            .map(|(place, (step, actions))| (self.seconds(&actions) + reading, place, step, actions))
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut best: Option<(usize, Next)> = None;
        for (seconds, place, step, actions) in all {
            if best.as_ref().is_some_and(|(_, known)| most / seconds.max(0.1) < known.rate()) {
                break;
            }
            let next = self.promise(teller, cases, step, actions);
            let wins = |(before, known): &(usize, Next)| {
                next.rate() > known.rate() || next.rate() == known.rate() && place < *before
            };
            if next.bits >= least && best.as_ref().is_none_or(wins) {
                best = Some((place, next));
            }
        }
        best.map(|(_, next)| next)
    }

    /// What the hands may do from here: the actions of every step, and any one line moved.
    pub(super) fn candidates(&self, teller: &Teller) -> Vec<(Option<StepId>, Vec<Action>)> {
        let tied = teller.tied(self.session.now().index()).clone();
        let mut candidates: Vec<(Option<StepId>, Vec<Action>)> = Vec::new();
        let first = self.next_step();
        let others = self.procedure.steps.ids().filter(|&step| Some(step) != first);
        for step in first.into_iter().chain(others) {
            candidates.push((Some(step), self.reach(step, &tied)));
        }
        candidates.extend(self.moves(&tied).into_iter().map(|action| (None, vec![action])));
        // With power off the look at the board as it comes up is one too.
        candidates.retain(|(_, actions)| !actions.is_empty() || self.session.is_off());
        candidates
    }

    /// The bench seconds of some actions, power on first where it is off.
    pub(super) fn seconds(&self, actions: &[Action]) -> f64 {
        let board = self.study.extracted.shape.board;
        let acting: f64 = actions.iter().map(|&action| self.costs.of(board, action).0).sum();
        if self.session.is_off() { self.costs.power + acting } else { acting }
    }

    /// The step after the last one made in order. One that is only a look at the board as it came up is
    /// made when anything was read since.
    fn next_step(&self) -> Option<StepId> {
        let next = self.session.done().map_or(0, |step| step.index() + 1);
        let up = self.session.looks().iter().rev().find(|(_, look)| look.power).map(|(id, _)| id);
        let since = |reading: &Reading| Some(reading.look) >= up && reading.seen.needs_power();
        let read = self.session.readings().any(|(_, reading)| since(reading));
        let mut steps = self.procedure.steps.iter().skip(next);
        steps.find(|(_, step)| !(read && step.actions.is_empty())).map(|(id, _)| id)
    }

    /// A step's actions, after those that bring the jumpers to where the step has them.
    fn reach(&self, step: StepId, tied: &BTreeSet<LineId>) -> Vec<Action> {
        let mut wanted = BTreeSet::new();
        for earlier in self.procedure.steps.rows().iter().take(step.index()) {
            earlier.actions.iter().for_each(|&action| action.leave(&mut wanted));
        }
        let off = tied.difference(&wanted).map(|&line| Action::Release(line));
        let on = wanted.difference(tied).map(|&line| Action::Tie(line));
        let own = self.procedure.steps[step].actions.iter().copied();
        let all = off.chain(on).chain(own);
        let mut kept: Vec<Action> = Vec::new();
        for action in all {
            // A jumper taken off only to be put back at once.
            let undone = kept.last().is_some_and(|&last| match (last, action) {
                (Action::Tie(a), Action::Release(b)) | (Action::Release(a), Action::Tie(b)) => a == b,
                _ => false,
            });
            if undone {
                kept.pop();
            } else {
                kept.push(action);
            }
        }
        kept
    }

    pub(super) fn promise(
        &self,
        teller: &mut Teller,
        cases: &[Case],
        step: Option<StepId>,
        actions: Vec<Action>,
    ) -> Next {
        let lamps = &self.study.rig.lamps;
        let signals: Vec<SignalId> = lamps.iter().map(|&(_, signal)| signal).collect();
        let seen = teller.foresee(&actions, &signals);
        let is_new = teller.key_after(&actions).is_none_or(|key| !self.met.contains(&key));
        let usual: Vec<Shown> = (0..lamps.len()).map(|lamp| usual(cases, &seen, lamp)).collect();
        let shows = |case: &Case| -> Vec<Shown> {
            let own = seen[case.index].iter().zip(&usual);
            own.map(|(&shown, &usual)| if shown == Shown::Unknown { usual } else { shown }).collect()
        };
        let mut parts: BTreeMap<Vec<Shown>, Vec<Case>> = BTreeMap::new();
        for case in cases {
            parts.entry(shows(case)).or_default().push(*case);
        }
        let share = |cases: &[Case]| cases.iter().map(|case| case.probability).sum::<f64>();
        let differing: Vec<usize> = (0..lamps.len())
            .filter(|&lamp| {
                let mut shown = parts.keys().map(|shown| shown[lamp]);
                let first = shown.next();
                shown.any(|other| Some(other) != first)
            })
            .collect();
        let mut outcomes: Vec<Outcome> = parts
            .iter()
            .map(|(shown, cases)| Outcome {
                sign: Sign::Lamps(differing.iter().map(|&lamp| (lamps[lamp].0, shown[lamp])).collect()),
                faults: cases.iter().filter_map(|case| case.fault).collect(),
                good: cases.iter().any(|case| case.fault.is_none()),
                probability: share(cases),
            })
            .collect();
        outcomes.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        let good = seen[teller.lanes().len()].iter().map(|&shown| crate::inquiry::known(shown));
        let expect = lamps.iter().zip(good).map(|(&(lamp, _), good)| (lamp, good)).collect();
        Next {
            bits: if self.by_lamps { self.past.gain(cases, &seen, is_new) } else { surely(cases, &seen) },
            outcomes,
            seconds: Seconds(self.seconds(&actions) + self.costs.look(lamps.len()).0),
            after: Seconds(0.0),
            off: false,
            deed: Deed::Look { step, actions, expect },
        }
    }
}

/// What the most probable cases show on a lamp, of those that know.
fn usual(cases: &[Case], seen: &[Vec<Shown>], lamp: usize) -> Shown {
    let weight = |wanted: Shown| -> f64 {
        let same = cases.iter().filter(|case| seen[case.index][lamp] == wanted);
        same.map(|case| case.probability).sum()
    };
    if weight(Shown::One) > weight(Shown::Zero) { Shown::One } else { Shown::Zero }
}
