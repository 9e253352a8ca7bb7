//! A question put as clauses, and the solver that answers it.
//!
//! The solver is `batsat`, used directly and not through a wrapper, because its callbacks hand over
//! every clause it learns: together they are the proof that [`super::proof`] checks again.

use batsat::{Callbacks, Lit, Solver, SolverInterface, SolverOpts, clause::Kind, lbool};

/// A variable or its complement: twice the variable's number, plus one for the complement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Literal(pub(crate) u32);

impl Literal {
    pub(crate) fn variable(self) -> u32 {
        self.0 >> 1
    }

    pub(crate) fn is_complement(self) -> bool {
        self.0 & 1 != 0
    }

    /// The literal that holds when the variable's value is `high` on this literal's own scale.
    pub(crate) fn is(self, high: bool) -> Self {
        if high { self } else { !self }
    }
}

impl std::ops::Not for Literal {
    type Output = Self;
    fn not(self) -> Self {
        Self(self.0 ^ 1)
    }
}

/// Clauses in conjunctive normal form.
#[derive(Clone, Debug, Default)]
pub struct Formula {
    variables: u32,
    literals: Vec<Literal>,
    ends: Vec<u32>,
}

impl Formula {
    /// A new variable's literal.
    pub(crate) fn variable(&mut self) -> Literal {
        self.variables += 1;
        Literal((self.variables - 1) << 1)
    }

    /// How many variables there are.
    pub fn variables(&self) -> u32 {
        self.variables
    }

    /// Adds a clause.
    pub(crate) fn clause(&mut self, clause: &[Literal]) {
        self.literals.extend_from_slice(clause);
        self.ends.push(u32::try_from(self.literals.len()).expect("a formula fits in memory"));
    }

    /// All clauses.
    pub fn clauses(&self) -> impl Iterator<Item = &[Literal]> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts.zip(&self.ends).map(|(start, end)| &self.literals[start as usize..*end as usize])
    }
}

/// What the solver found.
#[derive(Clone, Debug)]
pub(crate) enum Answer {
    /// It can be: the value of every variable.
    Can(Vec<bool>),
    /// It cannot be: the clauses learnt on the way, which prove it.
    Cannot(Formula),
    /// Not found out within the limit of conflicts.
    Open,
}

/// How the solver goes about it.
#[derive(Clone, Copy)]
pub(crate) struct Manner<'a> {
    /// Where its random numbers start.
    pub random: u64,
    /// After how many conflicts it gives up; 0 for never.
    pub conflicts: u64,
    /// What a free variable is tried at first.
    pub prefer: &'a dyn Fn(u32) -> Option<bool>,
}

/// Asks whether all clauses can hold at once.
pub(crate) fn solve(formula: &Formula, manner: Manner) -> Answer {
    let options = SolverOpts {
        random_seed: (manner.random % 1_000_003) as f64 + 1.0,
        rnd_init_act: manner.random != 0,
        ..SolverOpts::default()
    };
    let mut solver = Solver::new(options, Learnt { limit: manner.conflicts, ..Learnt::default() });
    for variable in 0..formula.variables {
        let prefer = (manner.prefer)(variable).map_or(lbool::UNDEF, lbool::new);
        solver.new_var(prefer, true);
    }
    let mut row = Vec::new();
    for clause in formula.clauses() {
        row.clear();
        row.extend(
            clause.iter().map(|l| Lit::new(batsat::Var::unsafe_from_idx(l.variable()), !l.is_complement())),
        );
        if !solver.add_clause_reuse(&mut row) {
            return Answer::Cannot(std::mem::take(&mut solver.cb_mut().clauses));
        }
    }
    let answer = solver.solve_limited(&[]);
    if answer == lbool::TRUE {
        let model = solver.get_model();
        Answer::Can((0..formula.variables as usize).map(|v| model.get(v) == Some(&lbool::TRUE)).collect())
    } else if answer == lbool::FALSE {
        Answer::Cannot(std::mem::take(&mut solver.cb_mut().clauses))
    } else {
        Answer::Open
    }
}

/// Keeps what the solver learns, and stops it at the limit.
#[derive(Default)]
struct Learnt {
    clauses: Formula,
    conflicts: u64,
    limit: u64,
}

impl Callbacks for Learnt {
    fn on_new_clause(&mut self, clause: &[Lit], kind: Kind) {
        if kind == Kind::Learnt {
            self.conflicts += 1;
            for lit in clause {
                self.clauses.literals.push(Literal(lit.var().idx() << 1 | u32::from(!lit.sign())));
            }
            self.clauses.clause(&[]);
        }
    }

    fn stop(&self) -> bool {
        self.limit != 0 && self.conflicts >= self.limit
    }
}
