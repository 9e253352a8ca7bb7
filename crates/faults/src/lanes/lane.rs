//! One lane out of many, packed: what a single board holds at rest.
//!
//! Planes hold a signal in all lanes, a [`Lane`] all signals of one. From one form to the other goes the transposing of
//! squares of 64 by 64 bits, by halves (H. S. Warren, *Hacker's Delight*, section 7-3).

use super::word::{LANES, Planes};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;

/// Planes to a square: two bits each.
const ROWS: usize = 32;

/// The level of every signal in a single lane, packed, and what the fault's tables say there: where a fault closes a
/// loop of its own, the levels do not tell that.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Lane(Box<[u64]>);

impl Lane {
    /// Whether a signal is known, high or low.
    pub fn knows(&self, signal: SignalId) -> bool {
        self.0[signal.index() / ROWS] >> (signal.index() % ROWS * 2) & 3 != 0
    }

    /// Whether a signal may be seen high, and whether low: both of a lamp that is dim, neither of what is not known.
    pub fn level(&self, signal: SignalId) -> (bool, bool) {
        let bits = self.0[signal.index() / ROWS] >> (signal.index() % ROWS * 2);
        (bits & 1 != 0, bits & 2 != 0)
    }

    /// The first lanes of some planes, so many of them. The signals come first, in order.
    pub(super) fn take(rows: &[&Planes], count: usize) -> Vec<Self> {
        let mut lanes = vec![Self(vec![0; rows.len().div_ceil(ROWS)].into_boxed_slice()); count];
        for (limb, lanes) in lanes.chunks_mut(64).enumerate() {
            for (block, rows) in rows.chunks(ROWS).enumerate() {
                let mut square = [0; 64];
                for (bits, planes) in square.chunks_mut(2).zip(rows) {
                    bits.copy_from_slice(&[planes.one.0[limb], planes.zero.0[limb]]);
                }
                transpose(&mut square);
                lanes.iter_mut().zip(square).for_each(|(lane, bits)| lane.0[block] = bits);
            }
        }
        lanes
    }

    /// Puts lanes into planes: `lane_of` says which one where.
    pub(super) fn put<'a>(rows: &mut [&mut Planes], lane_of: impl Fn(usize) -> &'a Self) {
        let lanes: Vec<&Self> = (0..LANES).map(lane_of).collect();
        for (block, rows) in rows.chunks_mut(ROWS).enumerate() {
            for (limb, lanes) in lanes.chunks(64).enumerate() {
                let mut square = [0; 64];
                square.iter_mut().zip(lanes).for_each(|(bits, lane)| *bits = lane.0[block]);
                transpose(&mut square);
                for (bits, planes) in square.chunks(2).zip(rows.iter_mut()) {
                    (planes.one.0[limb], planes.zero.0[limb]) = (bits[0], bits[1]);
                }
            }
        }
    }
}

/// Bit `j` of row `i` becomes bit `i` of row `j`.
fn transpose(square: &mut [u64; 64]) {
    let (mut width, mut mask) = (32, u64::from(u32::MAX));
    while width != 0 {
        let mut row = 0;
        while row < 64 {
            let swap = (square[row] >> width ^ square[row | width]) & mask;
            square[row | width] ^= swap;
            square[row] ^= swap << width;
            row = ((row | width) + 1) & !width;
        }
        width /= 2;
        mask ^= mask << width;
    }
}

#[cfg(test)]
mod tests {
    use super::super::word::Word;
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_lane_holds_what_the_planes_hold_and_they_come_back(bits in prop::collection::vec(any::<[u64; 16]>(), 1..80)) {
            let half = |row: &[u64]| {
                let mut word = Word::NONE;
                word.0.copy_from_slice(row);
                word
            };
            let planes: Vec<Planes> =
                bits.iter().map(|row| Planes { one: half(&row[..8]), zero: half(&row[8..]) }).collect();
            let lanes = Lane::take(&planes.iter().collect::<Vec<_>>(), LANES);
            for (lane, packed) in lanes.iter().enumerate() {
                for (at, planes) in planes.iter().enumerate() {
                    prop_assert_eq!(packed.knows(SignalId::at(at)), planes.one.get(lane) || planes.zero.get(lane));
                }
            }
            let mut back = vec![Planes::UNKNOWN; planes.len()];
            Lane::put(&mut back.iter_mut().collect::<Vec<_>>(), |lane| &lanes[lane]);
            prop_assert_eq!(&back, &planes);
            Lane::put(&mut back.iter_mut().collect::<Vec<_>>(), |_| &lanes[77]);
            for (back, planes) in back.iter().zip(&planes) {
                prop_assert_eq!(back.lane(300), planes.lane(77));
            }
        }
    }
}
