//! What every group of faults would show: the lanes played along with the session.
//!
//! How latches wake up is chance, so the lanes begin with nothing known. That is too careful where a
//! board comes to the same state whichever way its latches fell, so two drawn ways, one the opposite
//! of the other, are played beside it: where both agree, that is what is expected. A lane in which
//! everything has become known does the same however it woke up, so it is not played twice more from then on.

use dryjoint_board::LineId;
use dryjoint_faults::lanes::{Behaviour, LANES, Machine, Planes, Shown, State};
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

/// Of the machines from a state in which nothing is known, and per wake of the others.
type Played = (Values, Vec<Values>);

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
    foreseen: Vec<(Vec<Action>, Played)>,
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
    fn all(&mut self, what: impl Fn(&mut Machine<'s>) -> Vec<Planes> + Sync + Send) -> Played {
        let machines = self.sure.iter_mut().chain(self.drawn.iter_mut().flatten());
        let mut values: Values = machines.collect::<Vec<_>>().into_par_iter().map(what).collect();
        let mut drawn = values.split_off(self.sure.len()).into_iter();
        let drawn = self.drawn.iter().map(|machines| drawn.by_ref().take(machines.len()).collect());
        let drawn = drawn.collect();
        (values, drawn)
    }

    /// Leaves out lanes in which everything is known by now, where that saves a machine: the rest goes on in fewer.
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
        let places: Vec<(usize, usize)> =
            open.iter().filter_map(|at| self.open.binary_search(at).ok()).map(Study::lane).collect();
        self.open = Arc::new(open);
        let lanes = &self.lanes;
        let some: Vec<_> = self.open.chunks(LANES - 1).zip(places.chunks(LANES - 1)).collect();
        let gathered = |machines: &Vec<Machine<'s>>| -> Vec<Machine<'s>> {
            let one = |&(open, places): &(&[usize], &[_])| {
                let behaviours = open.iter().map(|&at| lanes[at].behaviour.clone()).collect();
                let from: Vec<(&Machine<'s>, usize)> =
                    places.iter().map(|&(machine, lane)| (&machines[machine], lane)).collect();
                Machine::gathered(behaviours, &from)
            };
            some.par_iter().map(one).collect()
        };
        self.drawn = if some.is_empty() { Vec::new() } else { self.drawn.par_iter().map(gathered).collect() };
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
        self.told[look].sure[0][signal.index()].shown(0)
    }

    /// What a signal shows with the lane at `index` of the list; of the good board without one.
    pub fn shown(&self, look: usize, index: usize, signal: SignalId) -> Shown {
        let (machine, lane) = Study::lane(index);
        self.told[look].sure[machine][signal.index()].shown(lane)
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
                let of = |values: &Values| values[machine][signal.index()].shown(lane);
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

/// Where every machine of a teller stands; to come back to.
pub struct Stand(Vec<State>);

impl Teller<'_, '_, '_> {
    /// What some signals would show after some more actions, as far as that is known: of each lane of the
    /// list, and last of the good board. Nothing is done.
    pub fn foresee(&mut self, actions: &[Action], signals: &[SignalId]) -> Vec<Vec<Shown>> {
        let known = self.foreseen.iter().position(|(known, _)| known == actions);
        let at = known.unwrap_or_else(|| {
            let study = self.study;
            let values = self.all(|machine| {
                let before = machine.save();
                let values = play(study, machine, actions);
                machine.restore(&before);
                values
            });
            self.foreseen.push((actions.to_vec(), values));
            self.foreseen.len() - 1
        });
        let (sure, drawn) = &self.foreseen[at].1;
        self.rows(
            signals,
            |machine, signal| sure[machine][signal.index()],
            |wake, machine, signal| drawn[wake][machine][signal.index()],
        )
    }

    /// What some signals show of every lane and last of the good board, from planes by machine.
    fn rows(
        &self,
        signals: &[SignalId],
        sure: impl Fn(usize, SignalId) -> Planes,
        drawn: impl Fn(usize, usize, SignalId) -> Planes,
    ) -> Vec<Vec<Shown>> {
        let row = |(index, (machine, lane)): (Option<usize>, (usize, usize))| -> Vec<Shown> {
            let open = match index {
                _ if self.drawn.is_empty() => None,
                None => Some((0, 0)),
                Some(index) => self.open.binary_search(&index).ok().map(Study::lane),
            };
            let one = |&signal: &SignalId| {
                let known = sure(machine, signal).shown(lane);
                let Some((machine, lane)) = open.filter(|_| known == Shown::Unknown) else { return known };
                let way = |wake: usize| drawn(wake, machine, signal).shown(lane);
                let first = way(0);
                if (1..self.drawn.len()).all(|wake| way(wake) == first) { first } else { Shown::Unknown }
            };
            signals.iter().map(one).collect()
        };
        let lanes = (0..self.lanes.len()).map(|index| (Some(index), Study::lane(index)));
        lanes.chain([(None, (0, 0))]).map(row).collect()
    }

    /// What some signals show of every lane and last of the good board, as the machines stand.
    pub fn now(&self, signals: &[SignalId]) -> Vec<Vec<Shown>> {
        self.rows(
            signals,
            |machine, signal| *self.sure[machine].value(signal),
            |wake, machine, signal| *self.drawn[wake][machine].value(signal),
        )
    }

    /// Where all machines stand.
    pub fn save(&self) -> Stand {
        Stand(self.sure.iter().chain(self.drawn.iter().flatten()).map(Machine::save).collect())
    }

    /// Back to where they stood.
    pub fn restore(&mut self, stand: &Stand) {
        let machines = self.sure.iter_mut().chain(self.drawn.iter_mut().flatten());
        machines.zip(&stand.0).for_each(|(machine, state)| machine.restore(state));
    }

    /// Goes on from where they stand; whoever does that brings them back.
    pub fn go(&mut self, actions: &[Action]) {
        let study = self.study;
        for machine in self.sure.iter_mut().chain(self.drawn.iter_mut().flatten()) {
            actions.iter().for_each(|&action| act(study, machine, action));
        }
    }

    /// A number for what every signal is in every lane, as the machines stand.
    pub fn key(&self) -> u64 {
        key(self.sure.iter().flat_map(Machine::values))
    }

    /// The same for each look that was taken since power last came on.
    pub fn met(&self) -> BTreeSet<u64> {
        let since = self.told.iter().rposition(|told| told.look.power).unwrap_or(0);
        self.told[since..].iter().map(|told| key(told.sure.iter().flatten())).collect()
    }

    /// The same after some more actions, which were foreseen.
    pub fn key_after(&self, actions: &[Action]) -> Option<u64> {
        let known = self.foreseen.iter().find(|(known, _)| known == actions);
        known.map(|(_, (sure, _))| key(sure.iter().flatten()))
    }

    /// The lanes of the list.
    pub fn lanes(&self) -> &[Lane] {
        &self.lanes
    }
}

/// A number for planes (the 64-bit hash of G. Fowler, L. Noll and K.-P. Vo, word by word): two states that share one
/// are taken for the same, and nothing worse.
fn key<'p>(planes: impl Iterator<Item = &'p Planes>) -> u64 {
    let words = planes.flat_map(|planes| planes.one.0.iter().chain(&planes.zero.0));
    words.fold(0xcbf2_9ce4_8422_2325u64, |key, &word| {
        (key ^ word).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(29)
    })
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
