//! Random numbers that are the same each time.

use dryjoint_faults::lanes::Word;

/// A plain linear congruence.
pub struct Random(pub u64);

impl Random {
    /// The next number.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 ^ self.0 >> 29
    }

    /// A level for each of 512 vectors.
    pub fn word(&mut self) -> Word {
        Word(std::array::from_fn(|_| self.next() ^ self.next() << 32))
    }
}
