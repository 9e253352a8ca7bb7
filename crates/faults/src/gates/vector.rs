//! One level for each input: what a single step ties or drives.

use crate::lanes::Word;
use std::fmt;

/// The levels of all inputs, in the order of `Logic::inputs`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Vector(pub Vec<bool>);

impl Vector {
    /// The vectors side by side: one word for each input, vector `k` in lane `k`. Lanes beyond the last
    /// vector repeat it. At most 512 vectors, at least one.
    pub fn side_by_side(vectors: &[Self]) -> Vec<Word> {
        let inputs = vectors.first().map_or(0, |v| v.0.len());
        let mut words = vec![Word::NONE; inputs];
        let lanes = 0..Word::ALL.0.len() * 64;
        for (lane, vector) in lanes.zip(vectors.iter().chain(std::iter::repeat(&vectors[vectors.len() - 1])))
        {
            for (word, &high) in words.iter_mut().zip(&vector.0) {
                if high {
                    word.set(lane, true);
                }
            }
        }
        words
    }

    /// The vector in one lane of the words.
    pub fn of_lane(words: &[Word], lane: usize) -> Self {
        Self(words.iter().map(|word| word.get(lane)).collect())
    }
}

impl fmt::Display for Vector {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|&high| f.write_str(if high { "1" } else { "0" }))
    }
}
