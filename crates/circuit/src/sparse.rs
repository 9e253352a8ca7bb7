//! LU factors of a sparse matrix: the symbolic part once, the numbers many times.
//!
//! Left-looking by columns (Gilbert and Peierls 1988: the pattern of each column is the set reached
//! from its entries through the columns of L already done), in an approximate-minimum-degree order
//! (Amestoy, Davis and Duff 1996), with threshold pivoting that prefers the diagonal. [`refactor`]
//! repeats only the arithmetic on the pattern and pivots found before; it watches the growth of L
//! and refuses when a pivot has become too small, whereupon the caller factors afresh.
//!
//! [`refactor`]: SparseLu::refactor

/// A pattern in compressed columns, rows ascending within each.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pattern {
    /// Where each column's rows start; one more than there are columns.
    pub starts: Vec<u32>,
    /// The rows of all columns.
    pub rows: Vec<u32>,
}

impl Pattern {
    /// How many rows and columns there are.
    pub fn n(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    fn column(&self, k: usize) -> std::ops::Range<usize> {
        self.starts[k] as usize..self.starts[k + 1] as usize
    }
}

/// The diagonal is taken as pivot from this share of the column's greatest entry on. A transistor's
/// base column holds its transconductance off the diagonal, some hundred times what is on it (its
/// gain), and must still keep its place, or the factors fill up.
const PREFER_DIAGONAL: f64 = 1e-4;
/// Entries of L above this mean that the old pivots no longer fit.
const GROWTH: f64 = 1e6;
const NONE: u32 = u32::MAX;

/// Factors P·A·Q = L·U.
#[derive(Clone, Debug, Default)]
pub struct SparseLu {
    /// Column k of the factors is column `order[k]` of the matrix.
    order: Vec<u32>,
    /// Row r of the matrix is row `place[r]` of the factors.
    place: Vec<u32>,
    l: Pattern,
    l_values: Vec<f64>,
    /// Without the diagonal, each column in the order in which it must be eliminated.
    u: Pattern,
    u_values: Vec<f64>,
    pivots: Vec<f64>,
    work: Vec<f64>,
}

impl SparseLu {
    /// Orders, finds the pattern, pivots and factors; false where the matrix is singular.
    pub fn factor(&mut self, a: &Pattern, values: &[f64]) -> bool {
        let n = a.n();
        if self.order.len() != n {
            self.order = order(a);
        }
        self.restart(n);
        let mut search = Search::new(n);
        for k in 0..n {
            let column = self.order[k] as usize;
            search.reach(a, column, k as u32, &self.l, &self.place);
            for entry in a.column(column) {
                self.work[a.rows[entry] as usize] = values[entry];
            }
            // The search leaves the column in reverse order of elimination.
            for &row in search.found.iter().rev() {
                let done = self.place[row as usize];
                if done == NONE {
                    continue;
                }
                let x = self.work[row as usize];
                self.u.rows.push(done);
                self.u_values.push(x);
                for entry in self.l.column(done as usize) {
                    self.work[self.l.rows[entry] as usize] -= self.l_values[entry] * x;
                }
            }
            if !self.pivot(k, column as u32, &search.found) {
                self.order.clear();
                return false;
            }
        }
        for row in &mut self.l.rows {
            *row = self.place[*row as usize];
        }
        true
    }

    fn restart(&mut self, n: usize) {
        self.place.clear();
        self.place.resize(n, NONE);
        for pattern in [&mut self.l, &mut self.u] {
            pattern.rows.clear();
            pattern.starts.clear();
            pattern.starts.push(0);
        }
        self.l_values.clear();
        self.u_values.clear();
        self.pivots.clear();
        self.work.clear();
        self.work.resize(n, 0.0);
    }

    fn pivot(&mut self, k: usize, diagonal: u32, found: &[u32]) -> bool {
        let (mut best, mut size) = (NONE, 0.0);
        for &row in found {
            let entry = self.work[row as usize].abs();
            if self.place[row as usize] == NONE && entry > size {
                (best, size) = (row, entry);
            }
        }
        if best == NONE || !size.is_finite() {
            return false;
        }
        if self.place[diagonal as usize] == NONE
            && self.work[diagonal as usize].abs() >= PREFER_DIAGONAL * size
        {
            best = diagonal;
        }
        let pivot = self.work[best as usize];
        self.place[best as usize] = k as u32;
        self.pivots.push(pivot);
        for &row in found {
            if self.place[row as usize] == NONE {
                self.l.rows.push(row);
                self.l_values.push(self.work[row as usize] / pivot);
            }
            self.work[row as usize] = 0.0;
        }
        self.l.starts.push(self.l.rows.len() as u32);
        self.u.starts.push(self.u.rows.len() as u32);
        true
    }

    /// Keeps the order, which only the pattern decides, and drops the pivots.
    pub(crate) fn forget(&mut self) {
        self.pivots.clear();
    }

    /// The arithmetic alone, on the pattern of the last [`factor`](Self::factor); false where it is
    /// no longer safe.
    pub fn refactor(&mut self, a: &Pattern, values: &[f64]) -> bool {
        let n = a.n();
        if self.pivots.len() != n {
            return false;
        }
        let work = &mut self.work[..n];
        for k in 0..n {
            for entry in a.column(self.order[k] as usize) {
                work[self.place[a.rows[entry] as usize] as usize] = values[entry];
            }
            let range = self.u.column(k);
            for (row, value) in self.u.rows[range.clone()].iter().zip(&mut self.u_values[range]) {
                let x = work[*row as usize];
                work[*row as usize] = 0.0;
                *value = x;
                if x != 0.0 {
                    let below = self.l.column(*row as usize);
                    for (row, l) in self.l.rows[below.clone()].iter().zip(&self.l_values[below]) {
                        work[*row as usize] -= l * x;
                    }
                }
            }
            let pivot = work[k];
            work[k] = 0.0;
            let over = 1.0 / pivot;
            let mut growth = 0.0f64;
            let range = self.l.column(k);
            for (row, value) in self.l.rows[range.clone()].iter().zip(&mut self.l_values[range]) {
                *value = work[*row as usize] * over;
                work[*row as usize] = 0.0;
                growth = growth.max(value.abs());
            }
            self.pivots[k] = pivot;
            if !(over.is_finite() && growth < GROWTH) {
                work.fill(0.0);
                return false;
            }
        }
        true
    }

    /// Solves for the right-hand side in place.
    pub fn solve(&mut self, b: &mut [f64]) {
        let n = self.pivots.len();
        let x = &mut self.work[..n];
        for (place, value) in self.place.iter().zip(b.iter()) {
            x[*place as usize] = *value;
        }
        for k in 0..n {
            let value = x[k];
            if value != 0.0 {
                let range = self.l.column(k);
                for (row, l) in self.l.rows[range.clone()].iter().zip(&self.l_values[range]) {
                    x[*row as usize] -= l * value;
                }
            }
        }
        for k in (0..n).rev() {
            let value = x[k] / self.pivots[k];
            x[k] = value;
            if value != 0.0 {
                let range = self.u.column(k);
                for (row, u) in self.u.rows[range.clone()].iter().zip(&self.u_values[range]) {
                    x[*row as usize] -= u * value;
                }
            }
        }
        for k in 0..n {
            b[self.order[k] as usize] = x[k];
            x[k] = 0.0;
        }
    }

    /// Entries of L and U together, the diagonal once.
    pub fn fill(&self) -> usize {
        self.l.rows.len() + self.u.rows.len() + self.pivots.len()
    }
}

/// The elimination order. A pattern the ordering refuses is taken as it comes.
fn order(a: &Pattern) -> Vec<u32> {
    let n = a.n();
    let starts: Vec<i32> = a.starts.iter().map(|s| *s as i32).collect();
    let rows: Vec<i32> = a.rows.iter().map(|r| *r as i32).collect();
    match amd::order(n as i32, &starts, &rows, &amd::Control::default()) {
        Ok((order, ..)) if order.len() == n => order.iter().map(|k| *k as u32).collect(),
        _ => (0..n as u32).collect(),
    }
}

/// Depth-first search through the columns of L.
struct Search {
    found: Vec<u32>,
    stack: Vec<(u32, u32)>,
    /// The last step at which a row was reached.
    mark: Vec<u32>,
}

impl Search {
    fn new(n: usize) -> Self {
        Self { found: Vec::new(), stack: Vec::new(), mark: vec![NONE; n] }
    }

    /// Leaves in `found` every row of the column's pattern, last to eliminate first.
    fn reach(&mut self, a: &Pattern, column: usize, step: u32, l: &Pattern, place: &[u32]) {
        self.found.clear();
        for entry in a.column(column) {
            let start = a.rows[entry];
            if self.mark[start as usize] == step {
                continue;
            }
            self.mark[start as usize] = step;
            self.stack.push((start, first(start, l, place)));
            while let Some((row, next)) = self.stack.last_mut() {
                let end = match place[*row as usize] {
                    NONE => *next,
                    done => l.starts[done as usize + 1],
                };
                if *next < end {
                    let child = l.rows[*next as usize];
                    *next += 1;
                    if self.mark[child as usize] != step {
                        self.mark[child as usize] = step;
                        self.stack.push((child, first(child, l, place)));
                    }
                } else {
                    self.found.push(*row);
                    self.stack.pop();
                }
            }
        }
    }
}

fn first(row: u32, l: &Pattern, place: &[u32]) -> u32 {
    match place[row as usize] {
        NONE => 0,
        done => l.starts[done as usize],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn pattern(n: usize, extra: &[(usize, usize)]) -> Pattern {
        let mut places: Vec<(u32, u32)> =
            extra.iter().map(|(r, c)| ((c % n) as u32, (r % n) as u32)).collect();
        places.extend((0..n as u32).map(|k| (k, k)));
        places.sort_unstable();
        places.dedup();
        let mut starts = vec![0u32; n + 1];
        for (column, _) in &places {
            starts[*column as usize + 1] += 1;
        }
        for k in 0..n {
            starts[k + 1] += starts[k];
        }
        Pattern { starts, rows: places.iter().map(|place| place.1).collect() }
    }

    fn times(a: &Pattern, values: &[f64], x: &[f64]) -> Vec<f64> {
        let mut b = vec![0.0; a.n()];
        for (column, x) in x.iter().enumerate().take(a.n()) {
            for entry in a.column(column) {
                b[a.rows[entry] as usize] += values[entry] * x;
            }
        }
        b
    }

    #[test]
    fn a_zero_on_the_diagonal_is_pivoted_away() {
        let a = pattern(2, &[(0, 1), (1, 0)]);
        let mut lu = SparseLu::default();
        assert!(lu.factor(&a, &[0.0, 1.0, 2.0, 0.0]));
        let mut b = [8.0, 3.0];
        lu.solve(&mut b);
        assert_eq!(b, [3.0, 4.0]);
        assert!(!lu.factor(&a, &[1.0, 2.0, 2.0, 4.0]));
    }

    #[test]
    fn a_pivot_that_fades_is_noticed() {
        let a = pattern(2, &[(0, 1), (1, 0)]);
        let mut lu = SparseLu::default();
        assert!(lu.factor(&a, &[4.0, 1.0, 1.0, 4.0]));
        assert!(!lu.refactor(&a, &[1e-12, 1.0, 1.0, 1e-12]));
        assert!(lu.factor(&a, &[1e-12, 1.0, 1.0, 1e-12]));
    }

    proptest! {
        #[test]
        fn solutions_solve(n in 1usize..60, extra in prop::collection::vec((0usize..60, 0usize..60), 0..240), draws in prop::collection::vec(-1.0f64..1.0, 360)) {
            let a = pattern(n, &extra);
            let weigh = |scale: f64| -> Vec<f64> {
                (0..n).flat_map(|c| a.column(c).map(move |e| (c, e))).map(|(c, e)| {
                    let v = draws[e] * scale;
                    if a.rows[e] as usize == c { v + 8.0 } else { v }
                }).collect()
            };
            let x: Vec<f64> = (0..n).map(|k| 3.0 * draws[359 - k]).collect();
            let mut lu = SparseLu::default();
            for (round, scale) in [1.0, 0.5, -1.0].into_iter().enumerate() {
                let values = weigh(scale);
                let done = if round == 0 { lu.factor(&a, &values) } else { lu.refactor(&a, &values) };
                prop_assert!(done);
                let mut b = times(&a, &values, &x);
                lu.solve(&mut b);
                let again = times(&a, &values, &b);
                let wanted = times(&a, &values, &x);
                for k in 0..n { prop_assert!((again[k] - wanted[k]).abs() < 1e-9); }
            }
        }
    }
}
