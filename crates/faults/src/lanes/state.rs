//! What the lanes hold: values, contributions, and values forced by faults.

use super::behaviour::Shown;
use super::word::{Planes, Word};
use dryjoint_ids::Side;
use dryjoint_logic::{Level, SignalId, StageId};

/// What a stage puts on its signal: whether it pulls low, whether it drives high.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) struct Contribution {
    pub low: Planes,
    pub high: Planes,
}

impl Contribution {
    /// The lanes in which two are not the same.
    #[inline(always)]
    pub fn differs(&self, other: &Self) -> Word {
        self.low.differs(&other.low) | self.high.differs(&other.high)
    }
}

/// Lanes in which a value is forced, whatever is computed.
#[derive(Clone, Copy)]
pub(super) struct Forced {
    pub lanes: Word,
    pub value: Planes,
}

impl Forced {
    pub const NONE: Self = Self { lanes: Word::NONE, value: Planes::UNKNOWN };

    pub fn add(&mut self, lane: usize, shown: Shown) {
        self.lanes.set(lane, true);
        set_lane(&mut self.value, lane, shown);
    }

    #[inline(always)]
    pub fn apply(&self, planes: Planes) -> Planes {
        Planes {
            one: (planes.one & !self.lanes) | self.value.one,
            zero: (planes.zero & !self.lanes) | self.value.zero,
        }
    }
}

/// What the machines hold between steps; keep a copy to come back to.
#[derive(Clone)]
pub struct State {
    pub(super) values: Side<SignalId, Planes>,
    pub(super) contributions: Side<StageId, Contribution>,
    pub(super) bench: Side<SignalId, Level>,
    /// Where nobody knows what the bench puts somewhere, what is known of it lane by lane all the same.
    pub(super) stands: Vec<(SignalId, Planes)>,
    /// What the tables of the faults say, in a copy only.
    pub(super) said: Vec<Planes>,
}

impl State {
    /// Stands as another does from here on, in the memory it has.
    pub(super) fn follow(&mut self, other: &Self) {
        self.values.clone_from(&other.values);
        self.contributions.clone_from(&other.contributions);
        self.bench.clone_from(&other.bench);
        self.stands.clone_from(&other.stands);
    }

    /// The value of `signal` in all lanes.
    pub fn value(&self, signal: SignalId) -> &Planes {
        &self.values[signal]
    }

    /// What two states agree on, with what the bench puts where in this one.
    #[must_use]
    pub fn common(&self, other: &Self) -> Self {
        let values = self.values.map(|signal, value| value.common(other.values[signal]));
        let contributions = self.contributions.map(|stage, own| {
            let other = other.contributions[stage];
            Contribution { low: own.low.common(other.low), high: own.high.common(other.high) }
        });
        let said = self.said.iter().zip(&other.said).map(|(own, other)| own.common(*other)).collect();
        let stands = self.stands.iter().map(|&(signal, own)| (signal, own.common(other.stands(signal))));
        Self { values, contributions, bench: self.bench.clone(), stands: stands.collect(), said }
    }

    /// Some lanes go on as the same lanes stand in another state of machines with the same faults, in which the hands hold the
    /// same.
    pub fn take(&mut self, other: &Self, lanes: Word) {
        let over = |own: &mut Planes, other: &Planes| {
            own.one = own.one & !lanes | other.one & lanes;
            own.zero = own.zero & !lanes | other.zero & lanes;
        };
        for (signal, value) in other.values.iter() {
            over(&mut self.values[signal], value);
        }
        for (stage, Contribution { low, high }) in other.contributions.iter() {
            over(&mut self.contributions[stage].low, low);
            over(&mut self.contributions[stage].high, high);
        }
        self.said.iter_mut().zip(&other.said).for_each(|(own, other)| over(own, other));
        for signal in other.standing() {
            if self.standing().all(|known| known != signal) {
                self.stands.push((signal, Planes::UNKNOWN));
            }
        }
        self.stands.iter_mut().for_each(|(signal, own)| over(own, &other.stands(*signal)));
    }

    /// Where something is known lane by lane of what the bench puts there.
    pub(super) fn standing(&self) -> impl Iterator<Item = SignalId> {
        self.stands.iter().map(|(signal, _)| *signal)
    }

    /// What is known lane by lane of what the bench puts on `signal`.
    pub(super) fn stands(&self, signal: SignalId) -> Planes {
        let known = self.stands.iter().find(|(known, _)| *known == signal);
        known.map_or(Planes::UNKNOWN, |(_, planes)| *planes)
    }

    /// Whether every signal is the same in both.
    pub fn is_like(&self, other: &Self) -> bool {
        self.values.rows() == other.values.rows()
            && self.contributions.rows().iter().eq(other.contributions.rows())
    }
}

fn set_lane(planes: &mut Planes, lane: usize, shown: Shown) {
    planes.one.set(lane, matches!(shown, Shown::One | Shown::Dim));
    planes.zero.set(lane, matches!(shown, Shown::Zero | Shown::Dim));
}
