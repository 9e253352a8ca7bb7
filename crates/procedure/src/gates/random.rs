//! Numbers that look random and depend on nothing but the number they start from.
//!
//! SplitMix64 (G. L. Steele, D. Lea & C. H. Flood 2014).

/// A stream of numbers.
#[derive(Clone, Debug)]
pub(crate) struct Random(u64);

impl Random {
    /// The stream that starts from `number`.
    pub fn from(number: u64) -> Self {
        Self(number)
    }

    /// The next 64 bits.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `end`, which is not 0.
    pub fn below(&mut self, end: usize) -> usize {
        ((u128::from(self.next()) * end as u128) >> 64) as usize
    }

    /// True once in `times`.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first outputs for the start 1234567, as the authors' reference program prints them
    /// (from memory).
    #[test]
    fn the_stream_is_the_published_one() {
        let mut random = Random::from(1_234_567);
        let first: Vec<u64> = (0..3).map(|_| random.next()).collect();
        assert_eq!(first, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }
}
