//! What every group of faults would show: the lanes played along with the session.
//!
//! How latches wake up is chance, so the lanes begin with nothing known. That is too careful where a
//! board comes to the same state whichever way its latches fell, so two drawn ways, one the opposite
//! of the other, are played beside it: where both agree, that is what is expected. A lane in which
//! everything has become known does the same however it woke up, so it is not played twice more from then on.
//! A teller that hears plays all lanes once more, as the lamps that were read tell how luck fell ([`hear`]).

mod early;
mod foresee;

use self::early::Early;
use crate::hear::{Heard, Lamp, Luck, contradicts, hear};
use crate::inquiry::{known, lit};
use dryjoint_board::LineId;
use dryjoint_faults::lanes::{Behaviour, LANES, Machine, Planes, Shown, State, Word};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, GroupId, Study, Wake};
use dryjoint_session::{Look, Seen, Session};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// The two ways in which latches wake up in machines that are played: drawn, and the opposite.
const WAKES: [Wake; 2] = [Wake { seed: 1, opposite: false }, Wake { seed: 1, opposite: true }];

/// Lanes that more lamps surely contradict than any other, by so many, need not hear anything any more.
const FAR: u16 = 3;

/// Per machine, per signal.
type Values = Vec<Vec<Planes>>;

/// Of the machines from a state in which nothing is known, per wake of the drawn ones, and of those that hear.
type Played = (Values, Vec<Values>, Values);

/// Lanes of the list that are played from drawn ways of waking up, in order.
type Open = Arc<Vec<usize>>;

/// Everything at one look, for every group.
struct Told {
    look: Look,
    sure: Values,
    open: Open,
    /// Per wake, for the open lanes alone.
    drawn: Vec<Values>,
    /// Of the machines that hear, after this look; nothing where none did.
    heard: Values,
    ears: Vec<Heard>,
    /// What they heard, how they stood before they heard it, and how those stood that hear nothing.
    lamps: Vec<Lamp>,
    before: Vec<State>,
    unheard: Vec<State>,
    /// Lamps that were surely otherwise up to here, per machine and lane.
    wrong: Vec<Vec<u16>>,
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
    /// Where it hears.
    luck: Option<Luck>,
    /// Told what was read at every look.
    heard: Vec<Machine<'s>>,
    /// Whose hearing is not believed.
    deaf: Vec<bool>,
    told: Vec<Told>,
    /// Actions that were tried from here, with what every signal was then.
    foreseen: Vec<(Vec<Action>, Played)>,
    /// Where everything stood before the last looks were played early.
    early: Option<Early>,
}

impl<'s, 'e, 'b> Teller<'s, 'e, 'b> {
    /// A teller for these lanes that has played nothing yet.
    pub fn new(study: &'s Study<'e, 'b>, lanes: Vec<Lane>) -> Self {
        Self {
            study,
            lanes,
            wakes: &WAKES,
            sure: Vec::new(),
            open: Open::default(),
            drawn: Vec::new(),
            luck: None,
            heard: Vec::new(),
            deaf: Vec::new(),
            told: Vec::new(),
            foreseen: Vec::new(),
            early: None,
        }
    }

    /// One that hears what was read of the lamps.
    pub fn hearing(study: &'s Study<'e, 'b>, lanes: Vec<Lane>) -> Self {
        Self { luck: Some(Luck::of(study)), ..Self::new(study, lanes) }
    }

    /// One that only knows what it knows for sure.
    pub fn sure(study: &'s Study<'e, 'b>, lanes: Vec<Lane>) -> Self {
        Self { wakes: &[], ..Self::new(study, lanes) }
    }

    /// Plays whatever of the session was not played yet. A session that went another way is played from its start; one in
    /// which another lamp was read is heard anew from there.
    /// The first of the looks told before that are told otherwise now.
    pub fn follow(&mut self, session: &Session) -> Option<usize> {
        self.catch_up(session);
        let looks = session.looks().rows();
        if self.luck.is_none() {
            self.heard.clear();
        }
        let other = !self.is_begun_by(session);
        if other {
            self.told.clear();
        }
        if self.told.len() < looks.len() {
            self.foreseen.clear();
        }
        let lamps = if self.luck.is_some() { self.read(session) } else { vec![Vec::new(); looks.len()] };
        let misheard = self.told.iter().zip(&lamps).position(|(told, lamps)| told.lamps != *lamps);
        if let Some(first) = misheard {
            self.hear_anew(first, &lamps);
        }
        for (look, lamps) in looks.iter().zip(lamps).skip(self.told.len()) {
            self.play(look, lamps);
            self.close();
        }
        if other { Some(0) } else { misheard }
    }

    /// Whether a session's looks begin as those that were told.
    fn is_begun_by(&self, session: &Session) -> bool {
        let looks = session.looks().rows();
        let same =
            |(told, look): (&Told, &Look)| told.look.power == look.power && told.look.actions == look.actions;
        self.told.len() <= looks.len() && self.told.iter().zip(looks).all(same)
    }

    /// Plays one more look, with what was read of the lamps then.
    fn play(&mut self, look: &Look, lamps: Vec<Lamp>) {
        let mut tied = self.told.last().map(|told| told.tied.clone()).unwrap_or_default();
        if look.power {
            self.switch_on();
            tied.clear();
        }
        look.actions.iter().for_each(|&action| action.leave(&mut tied));
        let study = self.study;
        let played = self.all(|machine| play(study, machine, &look.actions));
        self.tell(look.clone(), played, tied);
        if self.luck.is_some() {
            let told = self.told.last_mut().expect("just told");
            told.before = self.heard.iter().map(Machine::save).collect();
            told.unheard = self.sure.iter().map(Machine::save).collect();
            told.lamps = lamps;
            self.hear(self.told.len() - 1);
        }
    }

    /// One more look.
    fn tell(&mut self, look: Look, (sure, drawn, heard): Played, tied: BTreeSet<LineId>) {
        self.told.push(Told {
            look,
            sure,
            open: self.open.clone(),
            drawn,
            heard,
            ears: Vec::new(),
            lamps: Vec::new(),
            before: Vec::new(),
            unheard: Vec::new(),
            wrong: Vec::new(),
            tied,
        });
    }

    /// Tells the machines that hear what was read from a look on, which was told before.
    fn hear_anew(&mut self, first: usize, lamps: &[Vec<Lamp>]) {
        let study = self.study;
        for (look, lamps) in lamps.iter().enumerate().take(self.told.len()).skip(first) {
            if look == first {
                self.heard
                    .iter_mut()
                    .zip(&self.told[look].before)
                    .for_each(|(own, before)| own.restore(before));
            } else {
                if self.told[look].look.power {
                    self.heard = self.fresh();
                }
                let actions = self.told[look].look.actions.clone();
                self.heard.par_iter_mut().for_each(|machine| drop(play(study, machine, &actions)));
                self.told[look].before = self.heard.iter().map(Machine::save).collect();
            }
            self.told[look].lamps.clone_from(lamps);
            self.hear(look);
        }
    }

    /// The lamps that were read plainly at each look.
    fn read(&self, session: &Session) -> Vec<Vec<Lamp>> {
        let mut all = vec![Vec::new(); session.looks().len()];
        for (_, reading) in session.readings() {
            let Seen::Lamp(part, sight) = reading.seen else { continue };
            let signal = self.study.extracted.lamp_of[part];
            if let (Some(signal), Some(lit)) = (signal, lit(sight)) {
                all[reading.look.index()].push((signal, lit));
            }
        }
        all
    }

    /// Tells the machines that hear what was read at a look, at which they stand.
    fn hear(&mut self, look: usize) {
        let Some(luck) = &self.luck else { return };
        self.told[look].wrong = self.wrong(look);
        let past = look.checked_sub(1).map(|past| &self.told[past].ears);
        let told = &self.told[look];
        let fresh = Heard::default();
        // As long as nothing was odd all of them are as good as the good board.
        let odd = self.told[..=look].iter().any(|told| self.is_odd(told));
        let lamps: &[Lamp] = if odd { &told.lamps } else { &[] };
        let least = told.wrong.iter().flatten().min().copied().unwrap_or(0);
        let asked = |machine: usize| {
            let mut asked = Word::NONE;
            let near = told.wrong[machine].iter().enumerate().filter(|(_, wrong)| **wrong <= least + FAR);
            near.for_each(|(lane, _)| asked.set(lane, true));
            asked
        };
        let machines = self.heard.par_iter_mut().zip(&told.unheard).enumerate();
        let ears = machines.map(|(at, (machine, sure))| {
            let before = past.map_or(&fresh, |ears| &ears[at]);
            let ear = hear(machine, sure, luck, (lamps, asked(at)), before);
            (ear, machine.values().to_vec())
        });
        let (ears, heard): (Vec<Heard>, Values) = ears.collect::<Vec<_>>().into_iter().unzip();
        let told = &mut self.told[look];
        (told.ears, told.heard) = (ears, heard);
        self.foreseen.clear();
    }

    /// How many lamps were surely otherwise up to a look, per machine and lane.
    fn wrong(&self, look: usize) -> Vec<Vec<u16>> {
        let told = &self.told[look];
        let count = |(at, values): (usize, &Vec<Planes>)| {
            let past = look.checked_sub(1).map(|past| &self.told[past].wrong[at]);
            let mut wrong = past.map_or_else(|| vec![0; LANES], Clone::clone);
            for &(signal, lit) in &told.lamps {
                let lanes = contradicts(&values[signal.index()], lit).lanes();
                lanes.for_each(|lane| wrong[lane] = wrong[lane].saturating_add(1));
            }
            wrong
        };
        told.sure.iter().enumerate().map(count).collect()
    }

    /// From here on this one, which hears nothing itself, knows what another has heard of the same session; `list` tells
    /// where that one has its lanes.
    pub fn hear_as(&mut self, other: &Self, list: &[usize]) {
        let Some(good) = other.heard.first() else { return };
        let good = if other.is_deaf(None) { &other.sure[0] } else { good };
        let from = |&at: &usize| {
            let (machine, lane) = Study::lane(at);
            (if other.is_deaf(Some(at)) { &other.sure[machine] } else { &other.heard[machine] }, lane)
        };
        let from: Vec<(&Machine<'s>, usize)> = list.iter().map(from).collect();
        let behaviours: Vec<&Behaviour> = self.lanes.iter().map(|lane| &lane.behaviour).collect();
        let rows = behaviours.chunks(LANES - 1).zip(from.chunks(LANES - 1));
        self.heard =
            rows.map(|(own, from)| good.gathered(own.iter().copied().cloned().collect(), from)).collect();
        if self.heard.is_empty() {
            self.heard.push(good.gathered(Vec::new(), &[]));
        }
        let values: Values = self.heard.iter().map(|machine| machine.values().to_vec()).collect();
        if let Some(told) = self.told.last_mut().filter(|told| told.heard != values) {
            told.heard = values;
            self.foreseen.clear();
        }
    }

    /// Whether a lamp was not as on a good board.
    fn is_odd(&self, told: &Told) -> bool {
        let good = |signal: SignalId| known(told.sure[0][signal.index()].shown(0));
        told.lamps.iter().any(|&(signal, lit)| good(signal).is_some_and(|good| good != lit))
    }

    /// Says of which lanes of the list, and last of the good board, what was heard is not to be believed.
    pub fn doubt(&mut self, deaf: Vec<bool>) {
        self.deaf = deaf;
    }

    fn is_deaf(&self, index: Option<usize>) -> bool {
        self.deaf.get(index.unwrap_or(self.lanes.len())).is_some_and(|deaf| *deaf)
    }

    /// Fresh machines, every lane open.
    fn switch_on(&mut self) {
        self.sure = self.fresh();
        self.open = Arc::new((0..self.lanes.len()).collect());
        self.drawn = self.woken();
        self.heard = if self.luck.is_some() { self.fresh() } else { Vec::new() };
    }

    /// Machines of all lanes as power comes on.
    fn fresh(&self) -> Vec<Machine<'s>> {
        let behaviours: Vec<&Behaviour> = self.lanes.iter().map(|lane| &lane.behaviour).collect();
        self.study.machines_for(&behaviours, None)
    }

    fn woken(&self) -> Vec<Vec<Machine<'s>>> {
        let behaviours: Vec<&Behaviour> = self.open.iter().map(|&at| &self.lanes[at].behaviour).collect();
        self.wakes.iter().map(|&wake| self.study.machines_for(&behaviours, Some(wake))).collect()
    }

    /// Lets something happen in all machines, side by side.
    fn all(&mut self, what: impl Fn(&mut Machine<'s>) -> Vec<Planes> + Sync + Send) -> Played {
        let machines = self.sure.iter_mut().chain(self.drawn.iter_mut().flatten()).chain(&mut self.heard);
        let mut values: Values = machines.collect::<Vec<_>>().into_par_iter().map(what).collect();
        let mut rest = values.split_off(self.sure.len()).into_iter();
        let drawn = self.drawn.iter().map(|machines| rest.by_ref().take(machines.len()).collect());
        let drawn = drawn.collect();
        (values, drawn, rest.collect())
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
                machines[0].gathered(behaviours, &from)
            };
            some.par_iter().map(one).collect()
        };
        self.drawn = if some.is_empty() { Vec::new() } else { self.drawn.par_iter().map(gathered).collect() };
    }

    /// What some actions would lead to. Nothing is done.
    fn tried(&mut self, actions: &[Action]) -> Played {
        let study = self.study;
        self.all(|machine| {
            let before = machine.save();
            let values = play(study, machine, actions);
            machine.restore(&before);
            values
        })
    }

    /// Plays a look that was not made, and returns its number: it is told like any other until it is
    /// forgotten. Nothing is done.
    pub fn imagine(&mut self, actions: &[Action]) -> usize {
        let played = self.tried(actions);
        let mut tied = self.told.last().map(|told| told.tied.clone()).unwrap_or_default();
        actions.iter().for_each(|&action| action.leave(&mut tied));
        let look = Look { step: None, power: false, actions: actions.to_vec() };
        self.tell(look, played, tied);
        self.told.len() - 1
    }

    /// Forgets the looks from this one on.
    pub fn forget(&mut self, look: usize) {
        self.told.truncate(look);
    }

    /// The lanes of the list.
    pub fn lanes(&self) -> &[Lane] {
        &self.lanes
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

    /// What a signal shows by what was heard of how luck fell, whether that is believed or not.
    pub fn heard(&self, look: usize, index: Option<usize>, signal: SignalId) -> Shown {
        let (machine, lane) = index.map_or((0, 0), Study::lane);
        self.told[look].heard.get(machine).map_or(Shown::Unknown, |values| values[signal.index()].shown(lane))
    }

    /// How luck fell by what was heard up to the last look, and where the lane stands among those told of it.
    pub fn ear(&self, index: Option<usize>) -> Option<(&Heard, usize)> {
        let (machine, lane) = index.map_or((0, 0), Study::lane);
        Some((self.told.last()?.ears.get(machine)?, lane))
    }

    /// What a signal shows for sure, or by what was heard where that is believed.
    pub fn believed(&self, look: usize, index: usize, signal: SignalId) -> Shown {
        match self.shown(look, index, signal) {
            Shown::Unknown if !self.is_deaf(Some(index)) => self.heard(look, Some(index), signal),
            sure => sure,
        }
    }

    /// What was heard of a signal, or the same from the two drawn ways of waking up.
    pub fn drawn(&self, look: usize, index: Option<usize>, signal: SignalId) -> (Shown, Shown) {
        match self.heard(look, index, signal) {
            _ if self.is_deaf(index) => self.woken_up(look, index, signal),
            Shown::Unknown => self.woken_up(look, index, signal),
            heard => (heard, heard),
        }
    }

    /// The same from the two drawn ways of waking up.
    fn woken_up(&self, look: usize, index: Option<usize>, signal: SignalId) -> (Shown, Shown) {
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

    /// What a signal shows however the latches woke up, as far as the two ways tell, nothing heard.
    pub fn unheard(&self, look: usize, index: Option<usize>, signal: SignalId) -> Shown {
        let (one, other) = self.woken_up(look, index, signal);
        if one == other { one } else { Shown::Unknown }
    }

    /// What a signal shows by what was heard, or however the latches woke up, as far as the two ways tell.
    pub fn likely(&self, look: usize, index: Option<usize>, signal: SignalId) -> Shown {
        let (one, other) = self.drawn(look, index, signal);
        if one == other { one } else { Shown::Unknown }
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
