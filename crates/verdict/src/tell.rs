//! What every group of faults would show: the lanes played along with the session.
//!
//! How latches wake up is chance, so the lanes begin with nothing known. That is too careful where a
//! board comes to the same state whichever way its latches fell, so two drawn ways, one the opposite
//! of the other, are played beside it: where both agree, that is what is expected.

use dryjoint_board::LineId;
use dryjoint_faults::lanes::{Behaviour, Machine, Planes, Shown};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, GroupId, Study, Wake};
use dryjoint_session::{Look, Session};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// How latches wake up in the machines played: not known, drawn, and the opposite.
const WAKES: [Option<Wake>; 3] =
    [None, Some(Wake { seed: 1, opposite: false }), Some(Wake { seed: 1, opposite: true })];

/// Everything at one look, for every group.
#[derive(Clone, Debug)]
struct Told {
    look: Look,
    /// Per wake, per machine, per signal.
    values: Vec<Vec<Vec<Planes>>>,
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
    wakes: &'static [Option<Wake>],
    /// Per wake.
    machines: Vec<Vec<Machine<'s>>>,
    told: Vec<Told>,
}

impl<'s, 'e, 'b> Teller<'s, 'e, 'b> {
    /// A teller for these lanes that has played nothing yet.
    pub fn new(study: &'s Study<'e, 'b>, lanes: Vec<Lane>) -> Self {
        Self { study, lanes, wakes: &WAKES, machines: Vec::new(), told: Vec::new() }
    }

    /// One that only knows what it knows for sure.
    pub fn sure(study: &'s Study<'e, 'b>, lanes: Vec<Lane>) -> Self {
        Self { wakes: &WAKES[..1], ..Self::new(study, lanes) }
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
        for look in &looks[self.told.len()..] {
            let mut tied = self.told.last().map(|told| told.tied.clone()).unwrap_or_default();
            if look.power {
                let behaviours: Vec<&Behaviour> = self.lanes.iter().map(|lane| &lane.behaviour).collect();
                let machines = |&wake: &Option<Wake>| self.study.machines_for(&behaviours, wake);
                self.machines = self.wakes.iter().map(machines).collect();
                tied.clear();
            }
            look.actions.iter().for_each(|&action| action.leave(&mut tied));
            let study = self.study;
            let play = |machine: &mut Machine| play(study, machine, &look.actions);
            let values =
                self.machines.par_iter_mut().map(|machines| machines.par_iter_mut().map(play).collect());
            self.told.push(Told { look: look.clone(), values: values.collect(), tied });
        }
        other
    }

    /// Plays a look that was not made, and returns its number: it is told like any other until it is
    /// forgotten. Nothing is done.
    pub fn imagine(&mut self, actions: &[Action]) -> usize {
        let study = self.study;
        let try_out = |machine: &mut Machine| -> Vec<Planes> {
            let before = machine.save();
            let values = play(study, machine, actions);
            machine.restore(&before);
            values
        };
        let values =
            self.machines.par_iter_mut().map(|machines| machines.par_iter_mut().map(try_out).collect());
        let values = values.collect();
        let mut tied = self.told.last().map(|told| told.tied.clone()).unwrap_or_default();
        actions.iter().for_each(|&action| action.leave(&mut tied));
        let look = Look { step: None, power: false, actions: actions.to_vec() };
        self.told.push(Told { look, values, tied });
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
        shown(&self.told[look].values[0][0][signal.index()], 0)
    }

    /// What a signal shows with the lane at `index` of the list; of the good board without one.
    pub fn shown(&self, look: usize, index: usize, signal: SignalId) -> Shown {
        let (machine, lane) = Study::lane(index);
        shown(&self.told[look].values[0][machine][signal.index()], lane)
    }

    /// The same from the two drawn ways of waking up.
    pub fn drawn(&self, look: usize, index: Option<usize>, signal: SignalId) -> (Shown, Shown) {
        let (machine, lane) = index.map_or((0, 0), Study::lane);
        let values = &self.told[look].values;
        let last = values.len() - 1;
        let of = |wake: usize| shown(&values[wake.min(last)][machine][signal.index()], lane);
        (of(1), of(2))
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
        let mut seen = vec![Vec::new(); self.lanes.len() + 1];
        for (pass, machine) in self.machines.iter_mut().take(1).flatten().enumerate() {
            let before = machine.save();
            actions.iter().for_each(|&action| act(self.study, machine, action));
            for (index, row) in seen.iter_mut().enumerate() {
                let (at, lane) = if index == self.lanes.len() { (0, 0) } else { Study::lane(index) };
                if at == pass {
                    *row = signals.iter().map(|&signal| shown(machine.value(signal), lane)).collect();
                }
            }
            machine.restore(&before);
        }
        seen
    }

    /// The lanes of the list.
    pub fn lanes(&self) -> &[Lane] {
        &self.lanes
    }
}

/// Lets a machine go through one action.
pub fn act(study: &Study, machine: &mut Machine, action: Action) {
    for step in study.rig.moves(action) {
        for (signal, level) in step {
            machine.bench(signal, level);
        }
        machine.settle();
    }
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
