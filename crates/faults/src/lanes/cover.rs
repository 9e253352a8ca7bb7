//! Two-level covers: a truth table as a list of cubes, found by the Quine–McCluskey merging of
//! neighbours (W. V. Quine 1952, E. J. McCluskey 1956). Every prime is kept, so that the three-valued
//! evaluation answers whenever the known inputs decide.

/// A product of literals: inputs that must be high and inputs that must be low.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cube {
    /// Inputs that must be high, one bit each.
    pub high: u32,
    /// Inputs that must be low, one bit each.
    pub low: u32,
}

/// All prime cubes of the rows for which `holds` is true, over `inputs` inputs.
pub fn primes(inputs: usize, holds: impl Fn(usize) -> bool) -> Vec<Cube> {
    let all = (1u32 << inputs) - 1;
    let mut cubes: Vec<Cube> = (0..1usize << inputs)
        .filter(|&row| holds(row))
        .map(|row| Cube { high: row as u32, low: all & !(row as u32) })
        .collect();
    let mut primes = Vec::new();
    while !cubes.is_empty() {
        let mut merged = vec![false; cubes.len()];
        let mut next = Vec::new();
        for (i, a) in cubes.iter().enumerate() {
            for bit in 0..inputs {
                let mask = 1 << bit;
                if a.high & mask == 0 {
                    continue;
                }
                let other = Cube { high: a.high & !mask, low: a.low | mask };
                if let Ok(j) = cubes.binary_search(&other) {
                    merged[i] = true;
                    merged[j] = true;
                    next.push(Cube { high: a.high & !mask, low: a.low });
                }
            }
        }
        primes.extend(cubes.iter().zip(&merged).filter(|(_, merged)| !**merged).map(|(cube, _)| *cube));
        next.sort_unstable();
        next.dedup();
        cubes = next;
    }
    primes.sort_unstable();
    primes
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_nor_is_low_by_single_literals_and_high_by_one_cube() {
        assert_eq!(primes(2, |row| row == 0), [Cube { high: 0, low: 3 }]);
        assert_eq!(primes(2, |row| row != 0), [Cube { high: 1, low: 0 }, Cube { high: 2, low: 0 }]);
        assert_eq!(primes(0, |_| true), [Cube { high: 0, low: 0 }]);
    }

    proptest! {
        #[test]
        fn the_cover_says_what_the_table_says(table in any::<u16>()) {
            let cover = primes(4, |row| table >> row & 1 != 0);
            for row in 0..16u32 {
                let covered = cover.iter().any(|cube| row & cube.high == cube.high && row & cube.low == 0);
                prop_assert_eq!(covered, table >> row & 1 != 0);
            }
        }
    }
}
