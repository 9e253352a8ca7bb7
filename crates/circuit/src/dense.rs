//! LU factors of a small dense matrix, with partial pivoting.
//!
//! Below some fifty unknowns this beats the sparse way: no pattern to follow, no order to find.
//! Algorithm: Doolittle by columns (Golub and Van Loan, Matrix Computations, §3.4).

/// A pivot below this share of its column's greatest source entry is no pivot.
const SINGULAR: f64 = 1e-300;

/// Factors of an n × n matrix, kept in place for the next one.
#[derive(Clone, Debug, Default)]
pub(crate) struct DenseLu {
    n: usize,
    /// Column-major; below the diagonal L without its ones, else U.
    factors: Vec<f64>,
    /// The row that was swapped with row k at step k.
    swaps: Vec<u32>,
}

impl DenseLu {
    /// Factors the n × n column-major matrix at the start of `values`; false where it is singular.
    pub(crate) fn factor(&mut self, n: usize, values: &[f64]) -> bool {
        self.n = n;
        self.factors.clear();
        self.factors.extend_from_slice(&values[..n * n]);
        self.swaps.clear();
        for k in 0..n {
            let (done, rest) = self.factors.split_at_mut((k + 1) * n);
            let column = &mut done[k * n..];
            let mut best = k;
            for row in k + 1..n {
                if column[row].abs() > column[best].abs() {
                    best = row;
                }
            }
            let pivot = column[best];
            if !(pivot.abs() > SINGULAR && pivot.is_finite()) {
                return false;
            }
            self.swaps.push(best as u32);
            column.swap(k, best);
            let over = 1.0 / pivot;
            for value in &mut column[k + 1..] {
                *value *= over;
            }
            let lower = &column[k + 1..];
            for target in rest.chunks_exact_mut(n) {
                target.swap(k, best);
                let factor = target[k];
                if factor != 0.0 {
                    for (value, l) in target[k + 1..].iter_mut().zip(lower) {
                        *value -= factor * l;
                    }
                }
            }
        }
        // Rows swapped late must be swapped in the columns of L already done.
        for k in 0..n {
            for later in k + 1..n {
                let best = self.swaps[later] as usize;
                self.factors.swap(k * n + later, k * n + best);
            }
        }
        true
    }

    /// Solves for the right-hand side in place.
    pub(crate) fn solve(&self, b: &mut [f64]) {
        let n = self.n;
        for k in 0..n {
            b.swap(k, self.swaps[k] as usize);
        }
        for k in 0..n {
            let x = b[k];
            if x != 0.0 {
                let column = &self.factors[k * n + k + 1..(k + 1) * n];
                for (value, l) in b[k + 1..].iter_mut().zip(column) {
                    *value -= x * l;
                }
            }
        }
        for k in (0..n).rev() {
            let column = &self.factors[k * n..(k + 1) * n];
            let x = b[k] / column[k];
            b[k] = x;
            for (value, u) in b[..k].iter_mut().zip(column) {
                *value -= x * u;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::DenseLu;
    use proptest::prelude::*;

    #[test]
    fn a_zero_on_the_diagonal_is_pivoted_away() {
        // columns (0,1) and (2,0): x = (3, 4) gives b = (8, 3)
        let mut lu = DenseLu::default();
        assert!(lu.factor(2, &[0.0, 1.0, 2.0, 0.0]));
        let mut b = [8.0, 3.0];
        lu.solve(&mut b);
        assert_eq!(b, [3.0, 4.0]);
        assert!(!lu.factor(2, &[1.0, 2.0, 2.0, 4.0]));
    }

    proptest! {
        #[test]
        fn solutions_solve(n in 1usize..12, entries in prop::collection::vec(-1.0f64..1.0, 144), x in prop::collection::vec(-5.0f64..5.0, 12)) {
            let mut a: Vec<f64> = entries[..n * n].to_vec();
            for k in 0..n { a[k * n + (k + 1) % n] += 4.0; }
            let mut b: Vec<f64> = (0..n).map(|row| (0..n).map(|col| a[col * n + row] * x[col]).sum()).collect();
            let mut lu = DenseLu::default();
            prop_assert!(lu.factor(n, &a));
            lu.solve(&mut b);
            for k in 0..n { prop_assert!((b[k] - x[k]).abs() < 1e-9); }
        }
    }
}
