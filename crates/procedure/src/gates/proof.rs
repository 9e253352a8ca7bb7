//! The second opinion: a proof that clauses cannot all hold is followed step by step.
//!
//! The solver hands over the clauses it learnt, in order. Each must follow by *reverse unit
//! propagation*: assume all its literals false, and propagating what single-literal clauses force must
//! end in a contradiction. When the empty clause follows, the formula cannot hold (E. Goldberg & Y.
//! Novikov 2003; the check behind the proof format of the yearly solver competitions). Nothing here
//! comes from the solver: the propagation is written anew, from the clauses alone.

use super::formula::{Formula, Literal};

/// Why a proof does not hold.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Flaw {
    /// A learnt clause, counted from 0, does not follow from what stands before it.
    #[error("learnt clause {0} does not follow")]
    DoesNotFollow(usize),
    /// The last clauses do not contradict each other.
    #[error("the clauses do not contradict each other in the end")]
    NoContradiction,
}

/// A proof that was followed to its end: something cannot be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Refuted {
    /// Variables of the question, or of all its parts.
    pub variables: u64,
    /// Clauses of the question.
    pub clauses: u64,
    /// Clauses learnt on the way to the contradiction, each of which follows.
    pub steps: u64,
}

impl Refuted {
    /// The proof of nothing, to which parts are added.
    pub(crate) const NOTHING: Self = Self { variables: 0, clauses: 0, steps: 0 };

    /// Follows the proof; nothing where it has a flaw, which would be the solver's mistake and leaves the
    /// question open.
    pub(crate) fn sealed(formula: &Formula, learnt: &Formula) -> Option<Self> {
        check(formula, learnt).ok()?;
        Some(Self {
            variables: u64::from(formula.variables()),
            clauses: formula.clauses().count() as u64,
            steps: learnt.clauses().count() as u64,
        })
    }
}

impl std::fmt::Display for Refuted {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { variables, clauses, steps } = self;
        write!(f, "proof of {steps} steps from {clauses} clauses over {variables} variables, checked")
    }
}

impl std::ops::Add for Refuted {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            variables: self.variables + other.variables,
            clauses: self.clauses + other.clauses,
            steps: self.steps + other.steps,
        }
    }
}

/// Follows the proof.
pub fn check(formula: &Formula, learnt: &Formula) -> Result<(), Flaw> {
    let mut checker = Checker::new(formula.variables());
    for clause in formula.clauses() {
        checker.add(clause);
    }
    for (k, clause) in learnt.clauses().enumerate() {
        if checker.contradiction {
            return Ok(());
        }
        if clause.iter().any(|l| l.variable() >= formula.variables()) || !checker.follows(clause) {
            return Err(Flaw::DoesNotFollow(k));
        }
        checker.add(clause);
    }
    if checker.contradiction { Ok(()) } else { Err(Flaw::NoContradiction) }
}

struct Checker {
    /// All clauses; the first two literals of each are watched.
    clauses: Vec<Vec<Literal>>,
    /// For each literal the clauses to look at once it is false.
    watching: Vec<Vec<u32>>,
    /// For each literal whether it is true.
    holds: Vec<bool>,
    trail: Vec<Literal>,
    next: usize,
    contradiction: bool,
}

impl Checker {
    fn new(variables: u32) -> Self {
        let literals = variables as usize * 2;
        Self {
            clauses: Vec::new(),
            watching: vec![Vec::new(); literals],
            holds: vec![false; literals],
            trail: Vec::new(),
            next: 0,
            contradiction: false,
        }
    }

    fn holds(&self, literal: Literal) -> bool {
        self.holds[literal.0 as usize]
    }

    /// Takes a clause for true from now on, and what it forces by itself.
    fn add(&mut self, clause: &[Literal]) {
        if self.contradiction {
            return;
        }
        let mut row: Vec<Literal> = clause.to_vec();
        row.sort_unstable();
        row.dedup();
        if row.windows(2).any(|pair| pair[0] == !pair[1]) || row.iter().any(|&l| self.holds(l)) {
            return;
        }
        // What is false now stays false: nothing is ever taken back below this point.
        row.retain(|&l| !self.holds(!l));
        match *row.as_slice() {
            [] => self.contradiction = true,
            [only] => {
                self.assume(only);
                self.contradiction = !self.propagate();
            }
            [first, second, ..] => {
                let id = u32::try_from(self.clauses.len()).expect("a proof fits in memory");
                self.watching[first.0 as usize].push(id);
                self.watching[second.0 as usize].push(id);
                self.clauses.push(row);
            }
        }
    }

    fn assume(&mut self, literal: Literal) {
        self.holds[literal.0 as usize] = true;
        self.trail.push(literal);
    }

    /// Whether assuming all literals of the clause false ends in a contradiction.
    fn follows(&mut self, clause: &[Literal]) -> bool {
        let (length, next) = (self.trail.len(), self.next);
        let mut follows = false;
        for &literal in clause {
            if self.holds(literal) {
                follows = true;
                break;
            }
            if !self.holds(!literal) {
                self.assume(!literal);
            }
        }
        follows = follows || !self.propagate();
        for literal in self.trail.drain(length..) {
            self.holds[literal.0 as usize] = false;
        }
        self.next = next;
        follows
    }

    /// Does what clauses with a single literal left force; false at a contradiction.
    fn propagate(&mut self) -> bool {
        while let Some(&literal) = self.trail.get(self.next) {
            self.next += 1;
            let failed = !literal;
            let mut list = std::mem::take(&mut self.watching[failed.0 as usize]);
            let mut kept = 0;
            let mut sound = true;
            for k in 0..list.len() {
                let id = list[k];
                if sound && self.moves_on(id, failed) {
                    continue;
                }
                list[kept] = id;
                kept += 1;
                if sound {
                    let other = self.clauses[id as usize][0];
                    if self.holds(!other) {
                        sound = false;
                    } else if !self.holds(other) {
                        self.assume(other);
                    }
                }
            }
            list.truncate(kept);
            self.watching[failed.0 as usize] = list;
            if !sound {
                return false;
            }
        }
        true
    }

    /// Lets a clause watch another literal in place of the one that failed. Otherwise the other watched
    /// literal stands first afterwards.
    fn moves_on(&mut self, id: u32, failed: Literal) -> bool {
        let clause = &mut self.clauses[id as usize];
        if clause[0] == failed {
            clause.swap(0, 1);
        }
        if self.holds[clause[0].0 as usize] {
            return false;
        }
        for k in 2..clause.len() {
            if !self.holds[(!clause[k]).0 as usize] {
                clause.swap(1, k);
                let watched = clause[1];
                self.watching[watched.0 as usize].push(id);
                return true;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gates::formula::{Answer, Manner, solve};
    use proptest::prelude::*;

    const PLAIN: Manner = Manner { random: 0, conflicts: 0, prefer: &|_| None };

    fn formula(variables: u32, clauses: &[Vec<(u32, bool)>]) -> Formula {
        let mut formula = Formula::default();
        for _ in 0..variables {
            formula.variable();
        }
        for clause in clauses {
            let row: Vec<Literal> = clause.iter().map(|&(v, high)| Literal(v << 1).is(high)).collect();
            formula.clause(&row);
        }
        formula
    }

    /// n + 1 pigeons do not fit into n holes (W. Cook, S. Buss: the pigeonhole principle).
    #[test]
    fn pigeons_do_not_fit_and_the_proof_says_so() {
        let holes = 4_u32;
        let at = |pigeon: u32, hole: u32| pigeon * holes + hole;
        let mut clauses: Vec<Vec<(u32, bool)>> =
            (0..=holes).map(|p| (0..holes).map(|h| (at(p, h), true)).collect()).collect();
        for hole in 0..holes {
            for p in 0..=holes {
                for q in 0..p {
                    clauses.push(vec![(at(p, hole), false), (at(q, hole), false)]);
                }
            }
        }
        let formula = formula((holes + 1) * holes, &clauses);
        let Answer::Cannot(learnt) = solve(&formula, PLAIN) else { panic!("they do not fit") };
        assert!(learnt.clauses().count() > 0);
        assert_eq!(check(&formula, &learnt), Ok(()));
        // Without the learnt clauses it does not follow at once, so the check cannot pass unread.
        assert_eq!(check(&formula, &Formula::default()), Err(Flaw::NoContradiction));
        let mut invented = Formula::default();
        invented.clause(&[Literal(0)]);
        assert_eq!(check(&formula, &invented), Err(Flaw::DoesNotFollow(0)));
    }

    proptest! {
        /// Solver, checker and trying all values agree.
        #[test]
        fn answers_agree_with_trying_everything(
            clauses in prop::collection::vec(prop::collection::vec((0_u32..8, any::<bool>()), 1..4), 1..60),
        ) {
            let formula = formula(8, &clauses);
            let can = (0..256_u32).any(|values| {
                clauses.iter().all(|c| c.iter().any(|&(v, high)| (values >> v & 1 != 0) == high))
            });
            match solve(&formula, PLAIN) {
                Answer::Can(values) => {
                    prop_assert!(can);
                    prop_assert!(clauses.iter().all(|c| c.iter().any(|&(v, high)| values[v as usize] == high)));
                    prop_assert!(check(&formula, &Formula::default()).is_err());
                }
                Answer::Cannot(learnt) => {
                    prop_assert!(!can);
                    prop_assert_eq!(check(&formula, &learnt), Ok(()));
                }
                Answer::Open => prop_assert!(false, "no limit was set"),
            }
        }
    }
}
