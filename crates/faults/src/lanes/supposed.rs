//! Lanes laid out by what is supposed of them, not by what was done: latches that woke up one way, luck that hides a
//! fault, and states that a walk comes back to.

use super::behaviour::{Behaviour, Shown};
use super::machine::{Machine, mark};
use super::program::Program;
use super::state::{Forced, Lane};
use super::word::{Planes, Word};
use dryjoint_ids::Id;
use dryjoint_logic::{Level, SignalId, StageId};

impl<'p> Machine<'p> {
    /// Machines with a fault to a lane where luck hides the faults: a level in between is read as on the good board, a lamp that is dim
    /// is taken for what it should be, and what nobody can know of a lane at rest stands as on the good board.
    pub fn lucky(program: &'p Program, mut behaviours: Vec<Behaviour>) -> Self {
        // Both planes at once say "as in lane 0".
        for shown in behaviours.iter_mut().flat_map(|behaviour| &mut behaviour.table) {
            if *shown == Shown::Unknown {
                *shown = Shown::Dim;
            }
        }
        Self { lucky: true, ..Self::new(program, behaviours) }
    }

    /// Supposes that signals stand at a value, lane by lane, wherever nothing is known of them, as latches do that woke
    /// up this way. They are held there until all else is at rest, then let go: they stay where the logic holds them.
    /// Settle before.
    pub fn suppose(&mut self, suppositions: &[(SignalId, Planes)]) {
        for &(signal, planes) in suppositions {
            let lanes = self.unknown(signal) & (planes.one | planes.zero);
            let value = Planes { one: planes.one & lanes, zero: planes.zero & lanes };
            self.supposed.push((signal, Forced { lanes, value }));
            mark(&mut self.dirty, self.program, signal);
        }
        self.settle();
        self.supposed.clear();
        self.reconsider();
        self.settle();
    }

    /// Supposes that whatever is not known in a lane stands as on the good board; whether that is anything.
    pub(super) fn favour(&mut self) -> bool {
        let mut more = false;
        for value in self.state.values.values_mut() {
            let open = !(value.one | value.zero);
            let good = value.of_good();
            let new = Planes { one: value.one | (open & good.one), zero: value.zero | (open & good.zero) };
            more |= new != *value;
            *value = new;
        }
        more
    }

    /// The level of every signal in one lane.
    pub fn lane(&self, lane: usize) -> Lane {
        Lane::of(&self.state.values, lane)
    }

    /// What the bench puts on every signal.
    pub fn hands(&self) -> Vec<Level> {
        self.state.bench.rows().to_vec()
    }

    /// Lays out a state at rest: what the bench puts on every signal, then the levels on the good board and in the lanes with
    /// a fault; the last of these stand in for any that are missing. What the stages and the faults say follows
    /// from the levels.
    pub fn lay(&mut self, hands: &[Level], good: &Lane, faulty: &[Lane]) {
        for (level, &hand) in self.state.bench.values_mut().zip(hands) {
            *level = hand;
        }
        let mut carried = Word::NONE;
        (1..=self.carried).for_each(|lane| carried.set(lane, true));
        let last = faulty.last().unwrap_or(good);
        for (at, planes) in self.state.values.values_mut().enumerate() {
            let [sound, rest] = [good.everywhere(at), last.everywhere(at)];
            planes.one = (sound.one & !carried) | (rest.one & carried);
            planes.zero = (sound.zero & !carried) | (rest.zero & carried);
            for (lane, own) in faulty.iter().enumerate() {
                own.put(at, planes, lane + 1);
            }
        }
        // A fault looks at stages outside its region only: once for these, once for those inside.
        for _ in 0..2 {
            for at in 0..self.state.contributions.rows().len() {
                let stage = StageId::at(at);
                self.state.contributions[stage] = self.contribution(stage);
            }
            let Self { spoilt, state, .. } = self;
            let pins = spoilt.pin_tables.values_mut().flatten().map(|(_, table)| table);
            for table in spoilt.tables.values_mut().flatten().chain(pins) {
                table.stale = true;
                table.refresh(state);
            }
        }
        self.supply();
        self.dirty.fill(0);
    }
}
