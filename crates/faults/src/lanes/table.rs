//! The tables of many lanes looked up at once.
//!
//! Faults of one stage mostly look at the same signals, so their tables stand side by side: for each
//! row, the planes say what it shows in each lane. A lane shows what all rows agree on that its drives
//! allow, and nothing known where they do not.

use super::behaviour::{Behaviour, Drive, Read};
use super::state::{Forced, State};
use super::word::{Planes, Word};
use dryjoint_logic::{Level, SignalId};

/// Reads a behaviour may have.
const MOST_READS: usize = 12;

/// One column of the tables of some lanes that all look at the same signals.
pub(super) struct LaneTable {
    reads: Vec<Read>,
    /// What each row shows, lane by lane.
    rows: Vec<Forced>,
    /// What the tables said when last looked up.
    pub said: Forced,
    /// Whether something they look at has moved since.
    pub stale: bool,
    /// Whether the column stands for a stage, which takes a tick: it sets what its tables do not look at. What
    /// joins signals takes none.
    pub delayed: bool,
}

impl LaneTable {
    /// A table without lanes for behaviours that look at what this one looks at.
    pub fn new(behaviour: &Behaviour) -> Self {
        assert!(behaviour.reads.len() <= MOST_READS, "a region reads at most {MOST_READS} signals");
        let rows = vec![Forced::NONE; behaviour.rows()];
        Self { reads: behaviour.reads.clone(), rows, said: Forced::NONE, stale: true, delayed: false }
    }

    /// The same for a column that sets `signal`.
    pub fn setting(signal: SignalId, behaviour: &Behaviour) -> Self {
        let delayed = behaviour.reads.iter().all(|read| read.signal != signal);
        Self { delayed, ..Self::new(behaviour) }
    }

    /// Whether a behaviour looks at the same signals in the same way.
    pub fn fits(&self, behaviour: &Behaviour) -> bool {
        self.reads == behaviour.reads
    }

    /// Adds one column of a behaviour's table as a lane.
    pub fn add(&mut self, lane: usize, behaviour: &Behaviour, column: usize) {
        for (row, planes) in self.rows.iter_mut().enumerate() {
            planes.add(lane, behaviour.table[row * behaviour.writes.len() + column]);
        }
        self.said.lanes.set(lane, true);
    }

    /// Looks up again if something moved.
    #[inline(always)]
    pub fn refresh(&mut self, state: &State) {
        if !std::mem::replace(&mut self.stale, false) {
            return;
        }
        let mut found =
            Found { one_all: Word::ALL, one_any: Word::NONE, zero_all: Word::ALL, zero_any: Word::NONE };
        // Lanes in which each drive of each read can be, once for all rows.
        let mut can = [[Word::NONE; 3]; MOST_READS];
        for (read, can) in self.reads.iter().zip(&mut can) {
            let drives = Drives::of(read, state);
            for (&drive, can) in read.drives.iter().zip(can) {
                *can = drives.can_be(drive);
            }
        }
        for (row, shown) in self.rows.iter().enumerate() {
            let mut allowed = self.said.lanes;
            let mut rest = row;
            for (read, can) in self.reads.iter().zip(&can) {
                allowed = allowed & can[rest % read.drives.len()];
                rest /= read.drives.len();
            }
            found.add(allowed, &shown.value);
        }
        let agree = !(found.one_all ^ found.one_any) & !(found.zero_all ^ found.zero_any);
        self.said.value = Planes {
            one: found.one_all & agree & self.said.lanes,
            zero: found.zero_all & agree & self.said.lanes,
        };
    }
}

/// What the rows seen so far have in common.
struct Found {
    one_all: Word,
    one_any: Word,
    zero_all: Word,
    zero_any: Word,
}

impl Found {
    #[inline(always)]
    fn add(&mut self, allowed: Word, row: &Planes) {
        self.one_all = self.one_all & (row.one | !allowed);
        self.one_any = self.one_any | (row.one & allowed);
        self.zero_all = self.zero_all & (row.zero | !allowed);
        self.zero_any = self.zero_any | (row.zero & allowed);
    }
}

/// How a signal is driven from outside the region, in all lanes.
struct Drives {
    low: Planes,
    high: Planes,
}

impl Drives {
    #[inline(always)]
    fn of(read: &Read, state: &State) -> Self {
        let bench = if read.bench { state.bench[read.signal] } else { Level::Floating };
        let (mut low, mut high) = match bench {
            Level::Floating => (Planes::broadcast(Some(false)), Planes::broadcast(Some(false))),
            level => (Planes::broadcast(level.value().map(|v| !v)), Planes::broadcast(level.value())),
        };
        let either = |a: Planes, b: Planes| Planes { one: a.one | b.one, zero: a.zero & b.zero };
        for &stage in &read.stages {
            let contribution = &state.contributions[stage];
            low = either(low, contribution.low);
            high = either(high, contribution.high);
        }
        Self { low, high }
    }

    #[inline(always)]
    fn can_be(&self, drive: Drive) -> Word {
        match drive {
            Drive::Free => !self.low.one & !self.high.one,
            Drive::Low => !self.low.zero & !self.high.one,
            Drive::High => !self.high.zero & !self.low.one,
        }
    }
}
