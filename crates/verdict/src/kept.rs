//! What pairs of faults do along the looks of one session, kept while the looks stay the same.
//!
//! Where two faults meet hangs on what was done, not on what was read. So does what a pair's lamps show; those
//! are kept only where asked for, since a person at the bench weighs pairs once or twice.

use crate::inquiry::lit;
use crate::standing::LampReading;
use dryjoint_faults::lanes::{Planes, Shown};
use dryjoint_procedure::Action;
use dryjoint_session::Session;
use std::collections::BTreeMap;

/// What belongs to one list of looks.
#[derive(Default)]
pub(crate) struct Kept {
    /// Per look whether power came on, and what was done.
    looks: Vec<(bool, Vec<Action>)>,
    /// The look at which each two groups meet: 1 with 0, 2 with 0 and 1, and so on.
    pub meet: Vec<u8>,
    /// The lamps of pairs that were played.
    pub rows: BTreeMap<[usize; 2], Lamps>,
}

impl Kept {
    /// Forgets everything where the session has other looks than the one before.
    pub fn follow(&mut self, session: &Session) {
        let looks = session.looks().rows().iter();
        let looks: Vec<_> = looks.map(|look| (look.power, look.actions.clone())).collect();
        if self.looks != looks {
            *self = Self { looks, ..Self::default() };
        }
    }

    /// Where two groups stand in [`meet`](Self::meet).
    pub fn place(low: usize, high: usize) -> usize {
        high * (high - 1) / 2 + low
    }
}

/// What every lamp shows at every look, a bit each for whether it may be lit and may be dark.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Lamps {
    one: Vec<u64>,
    zero: Vec<u64>,
    count: usize,
}

impl Lamps {
    /// Adds the next lamp, as it is in one lane.
    pub fn push(&mut self, planes: &Planes, lane: usize) {
        let (word, bit) = (self.count / 64, self.count % 64);
        if bit == 0 {
            self.one.push(0);
            self.zero.push(0);
        }
        self.one[word] |= u64::from(planes.one.get(lane)) << bit;
        self.zero[word] |= u64::from(planes.zero.get(lane)) << bit;
        self.count += 1;
    }

    /// The lamp that was added after so many others.
    pub fn shown(&self, at: usize) -> Shown {
        let of = |words: &[u64]| words[at / 64] >> (at % 64) & 1 != 0;
        match (of(&self.one), of(&self.zero)) {
            (true, false) => Shown::One,
            (false, true) => Shown::Zero,
            (true, true) => Shown::Dim,
            (false, false) => Shown::Unknown,
        }
    }
}

/// What one lamp of which nothing is known costs in the first, rough count. Little: where luck fell once, one latch may answer
/// for all lamps that are open at dozens of looks, and only the close weighing hears that.
pub(crate) const OPEN_COST: f64 = 0.1;

/// What one lamp costs a board that shows this, in the first, rough count.
pub(crate) fn rough(told: Shown, lamp: &LampReading) -> f64 {
    let misread = (lamp.misread / 2.0).ln();
    match (told, lit(lamp.sight)) {
        (Shown::One, Some(true)) | (Shown::Zero, Some(false)) | (Shown::Dim, None) => 0.0,
        (Shown::One | Shown::Zero, _) => misread,
        (Shown::Dim | Shown::Unknown, _) => -OPEN_COST,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_faults::lanes::Word;

    #[test]
    fn every_pair_has_a_place_of_its_own() {
        let places: Vec<usize> =
            (1..5).flat_map(|high| (0..high).map(move |low| Kept::place(low, high))).collect();
        assert_eq!(places, (0..10).collect::<Vec<_>>());
    }

    #[test]
    fn lamps_come_back_as_they_were_added() {
        let lane = |at: usize| {
            let mut word = Word::NONE;
            word.set(at, true);
            word
        };
        let seen = [Shown::One, Shown::Zero, Shown::Dim, Shown::Unknown];
        let mut lamps = Lamps::default();
        for shown in seen.iter().cycle().take(70) {
            let one = if matches!(shown, Shown::One | Shown::Dim) { lane(3) } else { Word::NONE };
            let zero = if matches!(shown, Shown::Zero | Shown::Dim) { lane(3) } else { Word::NONE };
            lamps.push(&Planes { one, zero }, 3);
        }
        assert!((0..70).all(|at| lamps.shown(at) == seen[at % 4]));
    }
}
