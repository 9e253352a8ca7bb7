//! What every group of faults would show: the lanes played along with the session.
//!
//! How latches wake up is chance, so the lanes begin with nothing known. That is too careful where a
//! board comes to the same state whichever way its latches fell, so two drawn ways, one the opposite
//! of the other, are played beside it: where both agree, that is what is expected. A lane in which
//! everything has become known does the same however it woke up, so it is not played twice more from then on.

use dryjoint_board::LineId;
use dryjoint_faults::lanes::{Behaviour, LANES, Machine, Planes, Shown};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, GroupId, Study, Wake};
use dryjoint_session::{Look, Session};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// The two ways in which latches wake up in machines that are played: drawn, and the opposite.
const WAKES: [Wake; 2] = [Wake { seed: 1, opposite: false }, Wake { seed: 1, opposite: true }];

/// Per machine, per signal.
type Values = Vec<Vec<Planes>>;

/// Lanes of the list that are played from drawn ways of waking up, in order.
type Open = Arc<Vec<usize>>;

/// Everything at one look, for every group.
#[derive(Clone, Debug)]
struct Told {
    look: Look,
    sure: Values,
    open: Open,
    /// Per wake, for the open lanes alone.
    drawn: Vec<Values>,
    tied: BTreeSet<LineId>,
}

/// What one lane plays: a group, with what its table leaves open settled in one way or not at all.
#[derive(Clone, Debug, PartialEq)]
pub struct Lane {
    /// The group.
    pub group: GroupId,
    /// What it does.
    pub behaviour: Behaviour,
}

/// The predictions of a list of lanes, look by look.
pub struct Teller<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    lanes: Vec<Lane>,
    wakes: &'static [Wake],
    /// From a state in which nothing is known.
    sure: Vec<Machine<'s>>,
    open: Open,
    /// Per wake, the open lanes.
    drawn: Vec<Vec<Machine<'s>>>,
    told: Vec<Told>,
    /// Actions that were tried from here, with what every signal was then.
    foreseen: Vec<(Vec<Action>, Values)>,
}

impl<'s, 'e, 'b> Teller<'s, 'e, 'b> {
    /// A teller for these lanes that has played nothing yet.
    pub fn new(study: &'s Study<'e, 'b>, lanes: Vec<Lane>) -> Self {
        let (sure, drawn, told, foreseen) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        Self { study, lanes, wakes: &WAKES, sure, open: Open::default(), drawn, told, foreseen }
    }

    /// One that only knows what it knows for sure.
    pub fn sure(study: &'s Study<'e, 'b>, lanes: Vec<Lane>) -> Self {
        Self { wakes: &[], ..Self::new(study, lanes) }
    }

    /// Plays whatever of the session was not played yet. A session that went another way is played
    /// from its start.
    /// True where looks told before are no longer those of the session.
    pub fn follow(&mut self, session: &Session) -> bool {
        let looks = session.looks().rows();
        let same =
            |(told, look): (&Told, &Look)| told.look.power == look.power && told.look.actions == look.actions;
        let other = self.told.len() > looks.len() || !self.told.iter().zip(looks).all(same);
        if other {
            self.told.clear();
        }
        if self.told.len() < looks.len() {
            self.foreseen.clear();
        }
        for look in &looks[self.told.len()..] {
            let mut tied = self.told.last().map(|told| told.tied.clone()).unwrap_or_default();
            if look.power {
                self.switch_on();
                tied.clear();
            }
            look.actions.iter().for_each(|&action| action.leave(&mut tied));
            let study = self.study;
            let (sure, drawn) = self.all(|machine| play(study, machine, &look.actions));
            self.told.push(Told { look: look.clone(), sure, open: self.open.clone(), drawn, tied });
            self.close();
        }
        other
    }

    /// Fresh machines, every lane open.
    fn switch_on(&mut self) {
        let behaviours: Vec<&Behaviour> = self.lanes.iter().map(|lane| &lane.behaviour).collect();
        self.sure = self.study.machines_for(&behaviours, None);
        self.open = Arc::new((0..self.lanes.len()).collect());
        self.drawn = self.woken();
    }

    fn woken(&self) -> Vec<Vec<Machine<'s>>> {
        let behaviours: Vec<&Behaviour> = self.open.iter().map(|&at| &self.lanes[at].behaviour).collect();
        self.wakes.iter().map(|&wake| self.study.machines_for(&behaviours, Some(wake))).collect()
    }

    /// Lets something happen in all machines, side by side.
    fn all(&mut self, what: impl Fn(&mut Machine<'s>) -> Vec<Planes> + Sync + Send) -> (Values, Vec<Values>) {
        let machines = self.sure.iter_mut().chain(self.drawn.iter_mut().flatten());
        let mut values: Values = machines.collect::<Vec<_>>().into_par_iter().map(what).collect();
        let mut drawn = values.split_off(self.sure.len()).into_iter();
        let drawn = self.drawn.iter().map(|machines| drawn.by_ref().take(machines.len()).collect());
        let drawn = drawn.collect();
        (values, drawn)
    }

    /// Leaves out lanes in which everything is known by now, where that saves a machine: the rest is played
    /// once more from the moment power came on.
    fn close(&mut self) {
        let Some(told) = self.told.last().filter(|_| !self.wakes.is_empty()) else { return };
        let unknown = |machine: &Vec<Planes>| {
            machine.iter().fold([false; LANES], |mut all, planes| {
                (!(planes.one | planes.zero)).lanes().for_each(|lane| all[lane] = true);
                all
            })
        };
        let unknown: Vec<[bool; LANES]> = told.sure.iter().map(unknown).collect();
        let is_open = |at: &usize| {
            let (machine, lane) = Study::lane(*at);
            unknown[machine][lane]
        };
        let open: Vec<usize> = self.open.iter().copied().filter(is_open).collect();
        let machines = |lanes: usize| lanes.div_ceil(LANES - 1);
        if machines(open.len()) * 2 > machines(self.open.len()) && !open.is_empty() || self.open.is_empty() {
            return;
        }
        self.open = Arc::new(open);
        self.drawn = if self.open.is_empty() { Vec::new() } else { self.woken() };
        let since = self.told.iter().rposition(|told| told.look.power).unwrap_or(0);
        let actions: Vec<Action> =
            self.told[since..].iter().flat_map(|told| told.look.actions.iter().copied()).collect();
        let study = self.study;
        self.drawn.par_iter_mut().flatten().for_each(|machine| {
            actions.iter().for_each(|&action| act(study, machine, action));
        });
    }

    /// Plays a look that was not made, and returns its number: it is told like any other until it is
    /// forgotten. Nothing is done.
    pub fn imagine(&mut self, actions: &[Action]) -> usize {
        let study = self.study;
        let (sure, drawn) = self.all(|machine| {
            let before = machine.save();
            let values = play(study, machine, actions);
            machine.restore(&before);
            values
        });
        let mut tied = self.told.last().map(|told| told.tied.clone()).unwrap_or_default();
        actions.iter().for_each(|&action| action.leave(&mut tied));
        let look = Look { step: None, power: false, actions: actions.to_vec() };
        self.told.push(Told { look, sure, open: self.open.clone(), drawn, tied });
        self.told.len() - 1
    }

    /// Forgets the looks from this one on.
    pub fn forget(&mut self, look: usize) {
        self.told.truncate(look);
    }

    /// The lines tied after a look.
    pub fn tied(&self, look: usize) -> &BTreeSet<LineId> {
        &self.told[look].tied
    }

    /// What the good board shows on a signal.
    pub fn good(&self, look: usize, signal: SignalId) -> Shown {
        shown(&self.told[look].sure[0][signal.index()], 0)
    }

    /// What a signal shows with the lane at `index` of the list; of the good board without one.
    pub fn shown(&self, look: usize, index: usize, signal: SignalId) -> Shown {
        let (machine, lane) = Study::lane(index);
        shown(&self.told[look].sure[machine][signal.index()], lane)
    }

    /// The same from the two drawn ways of waking up.
    pub fn drawn(&self, look: usize, index: Option<usize>, signal: SignalId) -> (Shown, Shown) {
        let told = &self.told[look];
        let place = match index {
            None => Some((0, 0)),
            Some(index) => told.open.binary_search(&index).ok().map(Study::lane),
        };
        match (place, &told.drawn[..]) {
            (Some((machine, lane)), [one, other]) => {
                let of = |values: &Values| shown(&values[machine][signal.index()], lane);
                (of(one), of(other))
            }
            _ => {
                let sure = index.map_or(self.good(look, signal), |index| self.shown(look, index, signal));
                (sure, sure)
            }
        }
    }

    /// What a signal shows however the latches woke up, as far as the two ways tell.
    pub fn likely(&self, look: usize, index: Option<usize>, signal: SignalId) -> Shown {
        let (one, other) = self.drawn(look, index, signal);
        if one == other { one } else { Shown::Unknown }
    }
}

impl Teller<'_, '_, '_> {
    /// What some signals would show after some more actions, as far as that is sure: of each lane of the
    /// list, and last of the good board. Nothing is done.
    pub fn foresee(&mut self, actions: &[Action], signals: &[SignalId]) -> Vec<Vec<Shown>> {
        let known = self.foreseen.iter().position(|(known, _)| known == actions);
        let at = known.unwrap_or_else(|| {
            let study = self.study;
            let try_out = |machine: &mut Machine| {
                let before = machine.save();
                let values = play(study, machine, actions);
                machine.restore(&before);
                values
            };
            let values = self.sure.iter_mut().map(try_out).collect();
            self.foreseen.push((actions.to_vec(), values));
            self.foreseen.len() - 1
        });
        let values = &self.foreseen[at].1;
        let row = |(machine, lane): (usize, usize)| -> Vec<Shown> {
            signals.iter().map(|&signal| shown(&values[machine][signal.index()], lane)).collect()
        };
        (0..self.lanes.len()).map(Study::lane).chain([(0, 0)]).map(row).collect()
    }

    /// The lanes of the list.
    pub fn lanes(&self) -> &[Lane] {
        &self.lanes
    }
}

/// Lets a machine go through one action.
pub fn act(study: &Study, machine: &mut Machine, action: Action) {
    dryjoint_procedure::act(study, machine, &[action]);
}

/// The same for several, and what every signal is then.
fn play(study: &Study, machine: &mut Machine, actions: &[Action]) -> Vec<Planes> {
    actions.iter().for_each(|&action| act(study, machine, action));
    study.extracted.logic.signals.ids().map(|id| *machine.value(id)).collect()
}

/// One lane of a signal.
pub fn shown(planes: &Planes, lane: usize) -> Shown {
    match (planes.one.get(lane), planes.zero.get(lane)) {
        (true, false) => Shown::One,
        (false, true) => Shown::Zero,
        (true, true) => Shown::Dim,
        (false, false) => Shown::Unknown,
    }
}
