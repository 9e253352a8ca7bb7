//! Numbers that look random and depend on nothing but the number they start from.
//!
//! SplitMix64 (G. L. Steele, D. Lea & C. H. Flood, Fast splittable pseudorandom number generators, 2014). Fifteen
//! lines of our own, so that a number means the same draws on every machine and after every update:
//! hidden faults, searches and sampled boards are named by it.

/// A stream of numbers.
#[derive(Clone, Debug)]
pub struct Draws(u64);

impl Draws {
    /// The stream of a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `bound`; 0 when the bound is.
    pub fn below(&mut self, bound: usize) -> usize {
        if bound == 0 { 0 } else { (self.bits() % bound as u64) as usize }
    }

    /// A number below `end`, which is not 0, by scaling: no division, for inner loops. Not the number that
    /// [`below`](Self::below) would draw.
    pub fn scaled(&mut self, end: usize) -> usize {
        ((u128::from(self.bits()) * end as u128) >> 64) as usize
    }

    /// True once in `times`.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.scaled(times) == 0
    }

    /// A number from 0 up to 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first outputs from 1234567 as the published reference code gives them (figures from memory).
    #[test]
    fn the_stream_is_the_published_one() {
        let mut draws = Draws::new(1_234_567);
        let first: Vec<u64> = (0..3).map(|_| draws.bits()).collect();
        assert_eq!(first, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }

    #[test]
    fn a_number_lies_below_its_bound() {
        let mut draws = Draws::new(3);
        assert!(
            (0..100).all(|_| draws.below(7) < 7 && draws.scaled(7) < 7 && (0.0..1.0).contains(&draws.unit()))
        );
        assert_eq!(draws.below(0), 0);
    }
}
