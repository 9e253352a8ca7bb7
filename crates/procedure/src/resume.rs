//! Where to go on after a repair.
//!
//! A repair can have changed only what its parts can show: the earliest step at which any fault at those
//! parts makes a lamp differ, or leaves it open, is the first to be looked at again. Power was off meanwhile
//! and latches hold nothing, so something has to be done first: the jumpers as they stand before some
//! step, and the steps from there on. The latest step is taken from which a good board comes to the same
//! lamps from power-on.

use crate::{Action, GroupId, Procedure, Replay, StepId, Study};
use dryjoint_board::PartId;
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use std::collections::BTreeSet;

/// Starts that are tried, back from the step itself.
const NEAR: usize = 8;

/// Where to go on.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Resume {
    /// The first step to look at again; nothing for the very first one.
    pub step: Option<StepId>,
    /// What to do after power-on and before that step's own actions, without looking.
    pub lead: Vec<Action>,
}

/// Where to go on after these parts were repaired or exchanged.
pub fn resume(study: &Study, procedure: &Procedure, repaired: &[PartId]) -> Resume {
    let first = first_changed(study, procedure, repaired);
    let Some(first) = first.filter(|first| *first > 0) else { return Resume::default() };
    let steps: Vec<&[Action]> = procedure.steps.rows().iter().map(|step| &step.actions[..]).collect();
    let wanted = Replay::of(study, &[], steps.iter().copied(), None).expected();
    // Far back a start saves little over the very first step.
    let starts = (0..=first).rev().take(NEAR).chain([0]);
    let lead = starts.map(|from| lead(&steps, from, first)).find(|lead| {
        let own = [&lead[..], steps[first]].concat();
        let looks = std::iter::once(&own[..]).chain(steps[first + 1..].iter().copied());
        Replay::of(study, &[], looks, None).expected() == wanted[first..]
    });
    match lead {
        Some(lead) => Resume { step: Some(StepId::at(first)), lead },
        None => Resume::default(),
    }
}

/// The earliest step at which a fault at these parts can be seen; nothing where lamps never show one.
fn first_changed(study: &Study, procedure: &Procedure, repaired: &[PartId]) -> Option<usize> {
    let board = study.extracted.shape.board;
    let at_them = |group: &GroupId| {
        let mut faults = study.groups[*group].faults.iter();
        faults.any(|&fault| study.faults[fault].parts(board).iter().any(|part| repaired.contains(part)))
    };
    let groups: Vec<GroupId> = study.all_groups().into_iter().filter(at_them).collect();
    let replay = Replay::of(study, &groups, procedure.steps.rows().iter().map(|s| &s.actions[..]), None);
    let changes = |look: &usize| {
        let good = replay.good(*look);
        (0..groups.len()).any(|index| {
            good.iter().enumerate().any(|(lamp, good)| {
                let told = replay.shown(*look, index, lamp);
                match good {
                    Some(true) => told != Shown::One,
                    Some(false) => told != Shown::Zero,
                    None => false,
                }
            })
        })
    };
    (0..replay.len()).find(changes)
}

/// The jumpers as they stand before a step, then the steps up to another.
fn lead(steps: &[&[Action]], from: usize, to: usize) -> Vec<Action> {
    let mut tied = BTreeSet::new();
    steps[..from].iter().copied().flatten().for_each(|action| action.leave(&mut tied));
    tied.into_iter().map(Action::Tie).chain(steps[from..to].iter().copied().flatten().copied()).collect()
}
