//! Lanes in pairs: a good board in each lane of an even number, the same fault in the lane after it.
//!
//! A walk through the states of a board has thousands of pairs to take one action further. Pairs at which the hands hold
//! the same go side by side; each has a good board of its own, since it is in a state of its own.

use super::behaviour::{Behaviour, Shown};
use super::lane::Lane;
use super::machine::{Luck, Machine};
use super::program::Program;
use super::word::{LANES, Planes, Word};
use dryjoint_ids::Id;
use dryjoint_logic::{Level, SignalId, StageId};

/// How many pairs stand side by side.
pub const PAIRS: usize = LANES / 2;

impl<'p> Machine<'p> {
    /// Pairs of a good board and one with a fault, at the moment power comes on.
    pub fn pairs(program: &'p Program, behaviour: &Behaviour) -> Self {
        Self::of(program, (0..PAIRS).map(|pair| (2 * pair + 1, behaviour)))
    }

    /// The same where luck hides the fault: a level in between is read as on the good board of the pair, a lamp that is dim
    /// is taken for what it should be, and what nobody can know of a board at rest stands as on the good board.
    pub fn lucky_pairs(program: &'p Program, mut behaviour: Behaviour, luck: Luck) -> Self {
        // Both planes at once say "as in the first of the pair".
        for shown in &mut behaviour.table {
            if *shown == Shown::Unknown {
                *shown = Shown::Dim;
            }
        }
        Self { luck: Some(luck), ..Self::pairs(program, &behaviour) }
    }

    /// Supposes that whatever is not known of a board stands as on the good one of its pair; whether that is anything.
    pub(super) fn favour(&mut self) -> bool {
        let mut more = false;
        for value in self.state.values.values_mut() {
            let open = !(value.one | value.zero);
            let good = value.of_first();
            let new = Planes { one: value.one | (open & good.one), zero: value.zero | (open & good.zero) };
            more |= new != *value;
            *value = new;
        }
        more
    }

    /// What the first lanes hold, so many of them.
    pub fn lanes(&self, count: usize) -> Vec<Lane> {
        let said = self.spoilt.all_tables().map(|table| &table.said.value);
        let rows: Vec<&Planes> = self.state.values.rows().iter().chain(said).collect();
        Lane::take(&rows, count)
    }

    /// What the bench puts on every signal.
    pub fn hands(&self) -> Vec<Level> {
        self.state.bench.rows().to_vec()
    }

    /// Lays out states at rest: what the bench puts on every signal, then what both boards of each pair hold; the
    /// last of these stands in for any that are missing. What the stages put out follows from that.
    pub fn lay(&mut self, hands: &[Level], pairs: &[[&Lane; 2]]) {
        for (level, &hand) in self.state.bench.values_mut().zip(hands) {
            *level = hand;
        }
        self.hands.clear();
        let Self { spoilt, state, .. } = self;
        let said = spoilt.all_tables_mut().map(|table| {
            table.stale = false;
            &mut table.said.value
        });
        let mut rows: Vec<&mut Planes> = state.values.values_mut().chain(said).collect();
        Lane::put(&mut rows, |lane| pairs[(lane / 2).min(pairs.len() - 1)][lane % 2]);
        self.say();
        self.supply();
        self.dirty.fill(0);
    }

    /// What the stages make of the levels as they stand.
    fn say(&mut self) {
        #[cfg(target_arch = "x86_64")]
        if std::arch::is_x86_feature_detected!("avx512f") {
            // SAFETY: the processor has the feature, as just asked.
            return unsafe { self.say_avx512() };
        }
        self.say_all();
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx512f")]
    fn say_avx512(&mut self) {
        self.say_all();
    }

    #[inline(always)]
    fn say_all(&mut self) {
        for at in 0..self.state.contributions.rows().len() {
            let stage = StageId::at(at);
            self.state.contributions[stage] = self.contribution(stage);
        }
    }

    /// The pairs of which the faulty board plainly differs from the good one at a signal of which something is known
    /// there, each as its second lane.
    pub fn differ(&self, signal: SignalId) -> Word {
        let (own, good) = (self.value(signal), self.value(signal).of_first());
        let dim = own.one & own.zero;
        Word::SECOND & !dim & ((good.one & !good.zero & own.zero) | (good.zero & !good.one & own.one))
    }

    /// The same where the faulty board does not plainly show what the good one does.
    pub fn may_differ(&self, signal: SignalId) -> Word {
        let (own, good) = (self.value(signal), self.value(signal).of_first());
        let not = |own: Word, other: Word| !(own & !other);
        Word::SECOND
            & ((good.one & !good.zero & not(own.one, own.zero))
                | (good.zero & !good.one & not(own.zero, own.one)))
    }
}
