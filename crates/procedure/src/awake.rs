//! Proof that a fault shows however the latches woke up.
//!
//! A board whose fault keeps it from ever coming to a known state can still be shown by every state it can be in. Sixteen
//! drawn ways of waking up say which faults are worth asking about; here it is proven. The three-valued machine starts with nothing
//! known; where that is not enough to show the fault, one latch is supposed to hold low, then to hold high, and both
//! cases are gone through in the same way. Every state in which the board can have settled falls under one of the
//! cases: the machine with less known says nothing that a settled state could contradict.
//!
//! Where a fault has stages race each other again and again, what is known at the start is soon lost. Then the
//! cases of one lamp alone are gone through, and parted after every action ([`View`]).
//!
//! Of a fault that leaves a level between the thresholds it is not supposed how the latches woke up: a latch held there is
//! neither high nor low. A view parts only latches that stay on either side.

use crate::drawn::all_show;
use crate::replay::{act, lamps};
use crate::search::Aim;
use crate::view::{Copy, View};
use crate::{Action, GroupId, Study};
use dryjoint_faults::lanes::{Lane, Machine, PAIRS, Planes, Shown};
use dryjoint_logic::{Level, Role, SignalId};

/// Cases played after which it is given up.
const MOST_CASES: usize = 300;

/// A latch, and whether it is supposed to hold high.
type Held = (SignalId, bool);

/// A group on a list of actions with looks in between.
pub(crate) struct Wakes<'a, 's, 'e, 'b> {
    pub study: &'s Study<'e, 'b>,
    pub group: GroupId,
    pub actions: &'a [Action],
    /// The looks that are taken, in order, each after so many of the actions.
    pub looks: &'a [usize],
    /// What a good board shows at every look that could be taken.
    pub expected: &'a [Vec<Option<bool>>],
}

/// What becomes of one case.
enum Case {
    /// This look shows the fault.
    Shown(usize),
    /// None does; these latches are not known.
    Open(Vec<SignalId>),
}

impl Wakes<'_, '_, '_, '_> {
    /// The look by which the group has shown whichever way the latches woke up; nothing where that is not proven.
    pub(crate) fn latest(&self) -> Option<usize> {
        self.woken().or_else(|| self.on_the_way().filter(|_| self.holds())?.last().copied())
    }

    /// The same by cases of how the latches woke up alone.
    pub(crate) fn woken(&self) -> Option<usize> {
        // A level in between is neither of the two cases.
        let between = self.study.groups[self.group].behaviour.table.contains(&Shown::Unknown);
        if between { None } else { self.shown(&[], &mut MOST_CASES.clone()) }
    }

    /// The looks that show the cases of one lamp, parted after every action: by the last of them all have shown. Nothing
    /// where some do not, or there are too many.
    pub(crate) fn on_the_way(&self) -> Option<Vec<usize>> {
        View::all(self.study, self.group).iter().find_map(|view| self.seen_in(view))
    }

    /// Whether boards show it, too, on which luck falls as drawn.
    pub(crate) fn holds(&self) -> bool {
        all_show(self.study, self.group, self.actions, self.looks, self.expected)
    }

    /// The same for what one view sees.
    fn seen_in(&self, view: &View) -> Option<Vec<usize>> {
        let mut machine = view.machine();
        let mut lanes = machine.lanes(2);
        let mut needed = Vec::new();
        for look in 0..=self.actions.len() {
            if look > 0 {
                act(&view.study, &mut machine, &self.actions[look - 1..look]);
                let count = lanes.len();
                lanes = machine.lanes(count);
            }
            let copies =
                lanes.chunks(2).map(|pair| Copy { of: 0, good: pair[0].clone(), faulty: pair[1].clone() });
            let mut cases = view.cases(&mut machine, copies.collect());
            if self.looks.binary_search(&look).is_ok() {
                let before = cases.len();
                cases.retain(|copy| !view.shows(copy));
                if cases.len() < before {
                    needed.push(look);
                }
            }
            if cases.is_empty() {
                return Some(needed);
            }
            if cases.len() > PAIRS {
                return None;
            }
            let hands = machine.hands();
            let pairs: Vec<[&Lane; 2]> = cases.iter().map(|copy| [&copy.good, &copy.faulty]).collect();
            machine.lay(&hands, &pairs);
            lanes = machine.lanes(2 * cases.len());
        }
        None
    }

    /// The same where some latches are supposed to hold what is said.
    fn shown(&self, held: &[Held], left: &mut usize) -> Option<usize> {
        let open = match self.case(held, left)? {
            Case::Shown(look) => return Some(look),
            Case::Open(open) => open,
        };
        let with = |latch: SignalId, high: bool| [held, &[(latch, high)]].concat();
        // A latch both cases of which show ends it; one of which one shows leaves the other to go on with.
        let mut half = None;
        for &latch in &open {
            let low = self.case(&with(latch, false), left)?;
            let high = self.case(&with(latch, true), left)?;
            match (low, high) {
                (Case::Shown(a), Case::Shown(b)) => return Some(a.max(b)),
                (Case::Shown(look), _) => drop(half.get_or_insert((latch, true, look))),
                (_, Case::Shown(look)) => drop(half.get_or_insert((latch, false, look))),
                _ => {}
            }
        }
        match (half, open.first()) {
            (Some((latch, other, look)), _) => Some(look.max(self.shown(&with(latch, other), left)?)),
            (None, Some(&latch)) => {
                let low = self.shown(&with(latch, false), left)?;
                Some(low.max(self.shown(&with(latch, true), left)?))
            }
            (None, None) => None,
        }
    }

    /// Plays the actions with some latches supposed to hold what is said; nothing where too many were played.
    fn case(&self, held: &[Held], left: &mut usize) -> Option<Case> {
        *left = left.checked_sub(1)?;
        let study = self.study;
        let mut machines = study.machines(&[self.group], None);
        let machine = &mut machines[0];
        let luck = self.luck();
        let (stopped, latches): (Vec<Held>, Vec<Held>) =
            held.iter().partition(|(signal, _)| luck.contains(signal));
        for (signal, high) in stopped {
            match study.rig.woken().find(|dial| dial.signal == signal) {
                Some(dial) => {
                    dial.standing(Level::from(high)).for_each(|(signal, level)| machine.bench(signal, level));
                }
                None => machine.bench(signal, Level::from(high)),
            }
        }
        machine.settle();
        let latches: Vec<(SignalId, Planes)> =
            latches.into_iter().map(|(latch, high)| (latch, Planes::broadcast(Some(high)))).collect();
        machine.suppose(&latches);
        let open = self.open_latches(machine, held);
        for look in 0..=self.actions.len() {
            if look > 0 {
                act(study, machine, &self.actions[look - 1..look]);
            }
            let taken = self.looks.binary_search(&look).is_ok();
            if taken && Aim::Sure.sees(&lamps(study, machine), &self.expected[look]).get(1) {
                return Some(Case::Shown(look));
            }
        }
        // How a clock stands comes first: all latches hang on it.
        let first = luck.into_iter().find(|&signal| held.iter().all(|(known, _)| *known != signal));
        Some(Case::Open(first.map_or(open, |first| vec![first])))
    }

    /// What the bench says of a clock that stands as it woke up: of one that a fault has stopped where the fault asks
    /// for it, and of a good one.
    fn luck(&self) -> Vec<SignalId> {
        let reads = &self.study.groups[self.group].behaviour.reads;
        let dials = self.study.rig.dials().iter().flat_map(|dial| [dial.luck, dial.woken]).flatten();
        let stopped = dials.filter(|signal| reads.iter().any(|read| read.signal == *signal));
        stopped.chain(self.study.rig.woken().map(|dial| dial.signal)).collect()
    }

    /// The latches of the faulty board of which nothing is known.
    fn open_latches(&self, machine: &Machine, held: &[Held]) -> Vec<SignalId> {
        let logic = &self.study.extracted.logic;
        let open = self.study.program.loop_signals().into_iter().filter(|&signal| {
            logic.signals[signal].role == Role::Inside
                && machine.unknown(signal).get(1)
                && held.iter().all(|(known, _)| *known != signal)
        });
        open.collect()
    }
}
