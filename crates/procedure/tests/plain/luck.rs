//! Plain boards on which luck decides: as it falls, or as it hides a fault best.

use super::{Bit, Levels, Plain, Rest};
use dryjoint_board::ClockId;
use dryjoint_draws::Draws;
use dryjoint_faults::dial::{BESIDE, THERE};
use dryjoint_faults::lanes::{Behaviour, Target};
use dryjoint_ids::Id;
use dryjoint_logic::{Level, SignalId};
use dryjoint_procedure::{Action, Study};

impl<'l> Plain<'l> {
    /// One that woke up as the draw has it, with the good board beside it, whose every clock and latch woke up alike.
    pub fn woken(study: &'l Study, fault: &'l Behaviour, late: bool, draws: &mut Draws) -> Self {
        let logic = &study.extracted.logic;
        let mut good = Self::new(logic, None);
        good.set(&study.rig.start());
        for dial in study.rig.dials() {
            for signal in [dial.luck, dial.woken, dial.held].into_iter().flatten() {
                good.now.bench[signal.index()] = Level::from(draws.below(2) == 1);
            }
            let level = if dial.keeps { Level::from(draws.below(2) == 1) } else { Level::Zero };
            dial.standing(level).for_each(|(signal, level)| good.now.bench[signal.index()] = level);
        }
        assert!(good.wakes(draws), "a good board comes to rest");
        good.settle();
        let mut lucky = Self { late, ..Self::lucky(logic, fault) };
        lucky.now =
            Rest { said: lucky.now.said.clone(), beside: Some(Box::new(good.now.clone())), ..good.now };
        lucky.put(&[]);
        lucky
    }

    /// A clock left running for so many periods as luck has it, with its switch turned away while it is low, or high.
    pub fn runs_by_luck(&mut self, study: &Study, (clock, position): (ClockId, usize), high: bool) {
        let dial = study.rig.dials().iter().find(|dial| dial.clock == clock).expect("a clock with a switch");
        let here = |(at, &contact): (usize, &SignalId)| {
            (contact, if at == position { THERE } else { Level::Floating })
        };
        let contacts = dial.contacts.iter().enumerate().map(here);
        self.set(&contacts.chain(dial.fed.map(|fed| (fed, THERE))).collect::<Vec<_>>());
        let contact = dial.contacts.get(position).copied().into_iter().chain(dial.fed).map(|it| (it, BESIDE));
        let away: Levels = contact.chain(dial.held.map(|held| (held, Level::from(high)))).collect();
        let mut best: Option<(usize, Rest)> = None;
        for period in 1..=20 {
            self.set(&dial.standing(Level::One).collect::<Vec<_>>());
            self.set(&dial.standing(Level::Zero).collect::<Vec<_>>());
            if period < 8 {
                continue;
            }
            let low = self.now.clone();
            if high {
                self.set(&dial.standing(Level::One).collect::<Vec<_>>());
            }
            self.set(&away);
            let differs = |signal: SignalId| {
                usize::from(self.now.values[signal.index()] != self.good().values[signal.index()])
            };
            let lamps: usize = study.rig.lamps.iter().map(|&(_, lamp)| differs(lamp)).sum();
            let all: usize = self.logic.signals.ids().map(differs).sum();
            let unlike = 1000 * lamps + all;
            if best.as_ref().is_none_or(|(least, _)| unlike < *least) {
                best = Some((unlike, self.now.clone()));
            }
            self.now = low;
        }
        self.now = best.expect("some period is the best").1;
    }
}

impl Plain<'_> {
    /// What luck makes of a column that the table leaves open.
    pub(super) fn luck(&self, column: usize) -> Bit {
        let beside = &self.now.beside.as_ref().filter(|_| !self.open)?.values;
        let before = |tick: usize| self.good_course.get(tick).unwrap_or(beside);
        match self.fault?.writes[column] {
            Target::Signal(signal) => before(self.ticks + 1)[signal.index()],
            Target::Pin(stage, pin) => {
                before(self.ticks)[self.logic.stages[stage].inputs[usize::from(pin)].index()]
            }
        }
    }

    /// Has what is not known at rest fall as on the good board, as far as the logic holds it so.
    pub(super) fn favour(&mut self) {
        let Some(good) = self.now.beside.clone() else { return };
        for (value, good) in self.now.values.iter_mut().zip(&good.values) {
            *value = value.or(*good);
        }
        for column in 0..self.now.said.len() {
            self.now.said[column] = self.now.said[column].or(self.luck(column));
        }
        self.settle();
    }

    /// Whether actions show a fault on a board that wakes up as the draw has it, and on which each stage takes as long as
    /// the draw has it after every move of a hand: so luck decides every race anew. One that goes on for ever is looked at
    /// wherever it is.
    pub fn shows_by_luck(&mut self, study: &Study, actions: &[Action], draws: &mut Draws) -> bool {
        let mut good = Plain::new(&study.extracted.logic, None);
        let start = study.rig.start();
        good.set(&start);
        start.iter().for_each(|(signal, level)| self.now.bench[signal.index()] = *level);
        self.wakes(draws);
        let differs = |own: &Self, good: &Plain| {
            study.rig.lamps.iter().any(|&(_, lamp)| {
                let [good, seen] = [good, own].map(|one| one.now.values[lamp.index()]);
                good.zip(seen).is_some_and(|(good, seen)| good != seen)
            })
        };
        let mut shown = differs(self, &good);
        for &action in actions {
            good.act(&study.rig, action);
            for step in study.rig.moves(action) {
                step.iter().for_each(|(signal, level)| self.now.bench[signal.index()] = *level);
                self.falls(draws);
            }
            shown |= differs(self, &good);
        }
        shown
    }
}
