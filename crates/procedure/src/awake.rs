//! Proof that a fault shows however the latches woke up.
//!
//! A board whose fault keeps it from ever coming to a known state can still be shown by every state it can be in. Sixteen
//! drawn ways of waking up say which faults are worth asking about; here it is proven. The three-valued machine starts with nothing
//! known; where that is not enough to show the fault, one latch is supposed to hold low, then to hold high, and both
//! cases are gone through in the same way. Every state in which the board can have settled falls under one of the
//! cases: the machine with less known says nothing that a settled state could contradict.
//!
//! What is left out: a latch whose fault holds it between the levels is neither high nor low.

use crate::replay::{act, lamps};
use crate::search::Aim;
use crate::{Action, GroupId, Study};
use dryjoint_faults::lanes::Machine;
use dryjoint_logic::{Level, Role, SignalId};

/// Cases after which it is given up.
const MOST_CASES: usize = 200;

/// The look by which a group has shown whichever way the latches woke up; nothing where that is not proven. `looks` are
/// those that are taken, in order, each after so many of the actions.
pub(crate) fn whichever_way(
    study: &Study,
    group: GroupId,
    actions: &[Action],
    looks: &[usize],
    expected: &[Vec<Option<bool>>],
) -> Option<usize> {
    let mut cases = vec![Vec::new()];
    let mut tried = 0;
    let mut latest = 0;
    while let Some(held) = cases.pop() {
        tried += 1;
        if tried > MOST_CASES {
            return None;
        }
        match case(study, group, &held, actions, looks, expected) {
            Case::Shown(look) => latest = latest.max(look),
            Case::Open(latch) => {
                let latch = latch?;
                cases.extend([false, true].map(|high| [held.as_slice(), &[(latch, high)]].concat()));
            }
        }
    }
    Some(latest)
}

/// What becomes of one case.
enum Case {
    /// This look shows the fault.
    Shown(usize),
    /// None does; this latch is not known, if any is not.
    Open(Option<SignalId>),
}

/// Plays the actions with some latches supposed to hold what is said.
fn case(
    study: &Study,
    group: GroupId,
    held: &[(SignalId, bool)],
    actions: &[Action],
    looks: &[usize],
    expected: &[Vec<Option<bool>>],
) -> Case {
    let mut machines = study.machines(&[group], None);
    let machine = &mut machines[0];
    for &(latch, high) in held {
        machine.bench(latch, Level::from(high));
    }
    machine.settle();
    let luck = luck(study, group);
    for &(latch, _) in held.iter().filter(|(latch, _)| !luck.contains(latch)) {
        machine.bench(latch, Level::Floating);
    }
    machine.settle();
    let at_first = open_latches(study, machine, held);
    for look in 0..=actions.len() {
        if look > 0 {
            act(study, machine, &actions[look - 1..look]);
        }
        let taken = looks.binary_search(&look).is_ok();
        if taken && Aim::Sure.sees(&lamps(study, machine), &expected[look]).get(1) {
            return Case::Shown(look);
        }
    }
    // How a stopped clock stands comes first: all latches hang on it.
    if let Some(&first) = luck.iter().find(|&&signal| held.iter().all(|(known, _)| *known != signal)) {
        return Case::Open(Some(first));
    }
    // What is still open at the end is what keeps it from showing.
    let at_last = open_latches(study, machine, held);
    Case::Open(at_first.iter().find(|latch| at_last.contains(latch)).or(at_first.first()).copied())
}

/// What the bench says of a clock that stands as it woke up, where the fault asks for it.
fn luck(study: &Study, group: GroupId) -> Vec<SignalId> {
    let reads = &study.groups[group].behaviour.reads;
    let dials = study.rig.dials().iter().flat_map(|dial| [dial.luck, dial.woken]).flatten();
    dials.filter(|signal| reads.iter().any(|read| read.signal == *signal)).collect()
}

/// The latches of the faulty board of which nothing is known.
fn open_latches(study: &Study, machine: &Machine, held: &[(SignalId, bool)]) -> Vec<SignalId> {
    let signals = study.program.loop_signals().into_iter();
    let inside = signals.filter(|&signal| study.extracted.logic.signals[signal].role == Role::Inside);
    inside
        .filter(|&signal| machine.unknown(signal).get(1) && held.iter().all(|(known, _)| *known != signal))
        .collect()
}
