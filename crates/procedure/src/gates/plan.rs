//! The whole plan for a netlist of gates.

use super::bound::{Bound, bound};
use super::compact::{Interrupted, Search, race};
use super::generate::{First, first_vectors};
use super::proof::Refuted;
use super::sequence;
use super::targets::Targets;
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Circuit, Exposure, GroupId, Obstacle, StuckFaults, Vector, grade};
use dryjoint_ids::Side;
use dryjoint_logic::Logic;

/// Changes tried for one vector less, before it is asked whether that can be at all.
const FEW: u64 = 2_000;
/// Changes tried after that, for each unit of effort.
const MANY: u64 = 15_000;

/// How to plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// Where the random numbers start. The same number gives the same plan.
    pub random: u64,
    /// How hard to look for fewer vectors: the work grows in proportion. A caller that counts time sets
    /// this high and ends the search through `keep_going`; the best plan so far is then kept.
    pub effort: u32,
}

impl Default for Options {
    fn default() -> Self {
        Self { random: 1, effort: 3 }
    }
}

/// How far a plan has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// What is being done.
    pub phase: Phase,
    /// Vectors of the best list so far.
    pub vectors: usize,
    /// Fault groups not yet shown nor proven never to show.
    pub left: usize,
    /// Fault groups in all.
    pub of: usize,
}

/// What a planner is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Trying vectors.
    Trying,
    /// Asking the solver fault by fault.
    Solving,
    /// Looking for fewer vectors.
    Compacting,
    /// Looking for a proof that there cannot be fewer.
    Bounding,
}

/// What is known about a fault group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// A vector shows it; this is the first that does.
    Shown(usize),
    /// Nothing shows it: the solver's proof was followed by the checker.
    Never(Refuted),
    /// Nothing shows it: the good and the faulty machine can only ever remember this many pairs of things,
    /// no vector leads out of them, and none of them shows it. The checker tried all of it again.
    NeverReached {
        /// How many pairs.
        pairs: usize,
    },
    /// No sequence of so many vectors from power-on shows it, with proof; a longer one may.
    NotWithin {
        /// How many vectors.
        vectors: usize,
        /// The proof.
        proof: Refuted,
    },
    /// Nothing is known.
    Open,
}

impl std::fmt::Display for Standing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Shown(first) => write!(f, "shown by step {}", first + 1),
            Self::Never(proof) => write!(f, "nothing shows it ({proof})"),
            Self::NeverReached { pairs } => write!(
                f,
                "nothing shows it: all that the good and the faulty circuit can come to remember, {pairs} pairs, \
                 was tried and checked again"
            ),
            Self::NotWithin { vectors, proof } => {
                write!(f, "not within {vectors} steps from power-on ({proof}); a longer sequence may show it")
            }
            Self::Open => f.write_str("not decided"),
        }
    }
}

/// Vectors for a netlist of gates, and what is known about each of its faults.
#[derive(Clone, Debug)]
pub struct VectorPlan {
    /// The steps in order. With flip-flops each step ends with a clock, and the order matters.
    pub vectors: Vec<Vector>,
    /// What must then be seen, in the order of `Logic::seen`; nothing where the good circuit itself does
    /// not know.
    pub expected: Vec<Vec<Option<bool>>>,
    /// Whether each step ends with a clock.
    pub clocked: bool,
    /// All faults with their groups.
    pub faults: StuckFaults,
    /// What is known about each group.
    pub standings: Side<GroupId, Standing>,
    /// How many vectors there were before compaction.
    pub before: usize,
    /// A proof of how few vectors there can be, where compaction came to look for one. Never for circuits with
    /// flip-flops.
    pub bound: Option<Bound>,
    /// Whether it was interrupted.
    pub interrupted: bool,
}

impl VectorPlan {
    /// How many groups the plan shows.
    pub fn shown(&self) -> usize {
        self.standings.rows().iter().filter(|s| matches!(s, Standing::Shown(_))).count()
    }

    /// How many groups are proven never to show.
    pub fn never(&self) -> usize {
        let never = |s: &&Standing| matches!(s, Standing::Never(_) | Standing::NeverReached { .. });
        self.standings.rows().iter().filter(never).count()
    }

    /// The curve of the plan: for each step how many faults (not groups) have been shown once it is done.
    pub fn curve(&self) -> Vec<usize> {
        let mut fresh = vec![0; self.vectors.len()];
        for (group, standing) in self.standings.iter() {
            if let Standing::Shown(first) = *standing {
                fresh[first] += self.faults.groups[group].len();
            }
        }
        let mut sum = 0;
        fresh
            .into_iter()
            .map(|count| {
                sum += count;
                sum
            })
            .collect()
    }
}

/// Plans a netlist of gates. `keep_going` is told how far the plan has come, and ends it by answering false.
pub fn plan(
    logic: &Logic,
    options: &Options,
    keep_going: &dyn Fn(&Progress) -> bool,
) -> Result<VectorPlan, Obstacle> {
    let circuit = Circuit::compile(logic)?;
    let faults = StuckFaults::of(logic);
    if !circuit.flops().is_empty() {
        return Ok(sequence::plan(logic, &circuit, faults, options, keep_going));
    }
    let exposures = Exposure::all(logic, &circuit, &faults);
    let mut random = Draws::new(options.random);
    let (first, known, mut interrupted) =
        first_vectors(&circuit, &faults, &exposures, &mut random, keep_going);
    let before = first.len();
    let targets = Targets::new(&circuit, &faults, &exposures, |group| known[group] == First::Shown);
    let open = known.rows().iter().filter(|k| **k == First::Open).count();
    let mut going = |phase: Phase, vectors: usize| {
        keep_going(&Progress { phase, vectors, left: open, of: faults.groups.len() })
    };
    let (best, bound) = if interrupted {
        (first, None)
    } else {
        compacted(&targets, first, options.effort, random, &mut interrupted, &mut going)
    };
    let vectors = most_first(&targets, best);
    let graded = grade(&circuit, &faults, &exposures, &vectors);
    let standings = Side::new(&faults.groups, |group| match (graded.first[group], &known[group]) {
        (Some(first), _) => Standing::Shown(first),
        (None, First::Refuted(proof)) => Standing::Never(*proof),
        (None, _) => Standing::Open,
    });
    let expected = super::explain::expected(&circuit, &vectors);
    Ok(VectorPlan { vectors, expected, clocked: false, faults, standings, before, bound, interrupted })
}

/// The shortest list found, with a proof of how short it can be at all where one was looked for.
fn compacted(
    targets: &Targets,
    first: Vec<Vector>,
    effort: u32,
    mut random: Draws,
    interrupted: &mut bool,
    going: &mut dyn FnMut(Phase, usize) -> bool,
) -> (Vec<Vector>, Option<Bound>) {
    let mut search = Search::new(targets, first, Draws::new(random.bits()));
    let mut best = search.cover.vectors.clone();
    let mut limit: Option<Bound> = None;
    while best.len() > limit.as_ref().map_or(1, |bound| bound.apart.len()) {
        let mut compacting = || going(Phase::Compacting, best.len());
        let found = if limit.is_none() {
            search.shrink();
            search.run_while(FEW, &mut compacting).map(|arrived| {
                search.cover.drop_idle();
                arrived.then(|| search.cover.vectors.clone())
            })
        } else {
            race(targets, &best, MANY * u64::from(effort), &mut random, &mut compacting)
        };
        match (found, &limit) {
            (Ok(Some(shorter)), _) => best = shorter,
            (Ok(None), None) => {
                let mut bounding = || going(Phase::Bounding, best.len());
                limit = Some(bound(targets, &best, &mut random, &mut bounding));
            }
            (Ok(None), Some(_)) => break,
            (Err(Interrupted), _) => {
                *interrupted = true;
                break;
            }
        }
    }
    (best, limit)
}

/// The vectors in another order: next always the one that shows most of what is left.
fn most_first(targets: &Targets, vectors: Vec<Vector>) -> Vec<Vector> {
    let mut grader = dryjoint_faults::gates::Grader::new(targets.circuit);
    let mut left: Vec<(Vector, Vec<u32>)> = vectors
        .into_iter()
        .map(|vector| {
            let shows = targets.shown(&mut grader, &vector);
            (vector, shows)
        })
        .collect();
    let mut shown = vec![false; targets.len()];
    let mut ordered = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let fresh = |row: &(Vector, Vec<u32>)| row.1.iter().filter(|t| !shown[**t as usize]).count();
        // Of equals the earliest.
        let next = (0..left.len()).rev().max_by_key(|&k| fresh(&left[k])).unwrap_or(0);
        let (vector, shows) = left.remove(next);
        shows.iter().for_each(|&target| shown[target as usize] = true);
        ordered.push(vector);
    }
    ordered
}
