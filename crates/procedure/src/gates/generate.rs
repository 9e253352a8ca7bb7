//! The first vectors, and proof of what no vector shows.
//!
//! Random vectors come first, because they are cheap and show most; each fault they leave is put to
//! the solver by itself. What the solver says cannot be is taken only with a proof that holds.

use super::encode::Encoding;
use super::formula::{Answer, Manner, solve};
use super::plan::{Phase, Progress};
use super::proof::Refuted;
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Circuit, Exposure, Grader, GroupId, StuckFaults, Vector};
use dryjoint_ids::Side;

/// How many random vectors in a row may show nothing new before the solver takes over.
const PATIENCE: usize = 8 * 512;

/// What is known about a group after the first round.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum First {
    Shown,
    Refuted(Refuted),
    Open,
}

/// Vectors that show everything that any vector shows, far from the fewest; what is known about each
/// group; and whether it was interrupted.
pub(crate) fn first_vectors(
    circuit: &Circuit,
    faults: &StuckFaults,
    exposures: &Side<GroupId, Exposure>,
    random: &mut Draws,
    keep_going: &dyn Fn(&Progress) -> bool,
) -> (Vec<Vector>, Side<GroupId, First>, bool) {
    let mut grader = Grader::new(circuit);
    let mut vectors = Vec::new();
    let mut known: Side<GroupId, First> = Side::filled(&faults.groups, First::Open);
    let mut open: Vec<GroupId> = faults.groups.ids().collect();
    let total = faults.groups.len();
    let mut since = 0;
    while since < PATIENCE && !open.is_empty() {
        let progress = Progress { phase: Phase::Trying, vectors: vectors.len(), left: open.len(), of: total };
        if !keep_going(&progress) {
            return (vectors, known, true);
        }
        let drawn: Vec<Vector> = (0..512).map(|_| draw(circuit, random)).collect();
        let before = vectors.len();
        take(&mut grader, exposures, &drawn, &mut open, &mut known, &mut vectors);
        since = if vectors.len() > before { 0 } else { since + 512 };
    }
    let questions: Vec<GroupId> = open.clone();
    for group in questions {
        if known[group] != First::Open {
            continue;
        }
        let progress =
            Progress { phase: Phase::Solving, vectors: vectors.len(), left: open.len(), of: total };
        if !keep_going(&progress) {
            return (vectors, known, true);
        }
        let mut encoding = Encoding::new(circuit);
        encoding.demand(&exposures[group]);
        match solve(&encoding.formula, Manner { random: random.bits(), conflicts: 0, prefer: &|_| None }) {
            Answer::Can(values) => {
                let vector = encoding.vector(&values, |_| random.once_in(2));
                take(&mut grader, exposures, &[vector], &mut open, &mut known, &mut vectors);
            }
            Answer::Cannot(learnt) => {
                if let Some(refuted) = Refuted::sealed(&encoding.formula, &learnt) {
                    known[group] = First::Refuted(refuted);
                }
                open.retain(|&g| g != group);
            }
            Answer::Open => {}
        }
    }
    (vectors, known, false)
}

pub(crate) fn draw(circuit: &Circuit, random: &mut Draws) -> Vector {
    Vector((0..circuit.inputs().len()).map(|_| random.once_in(2)).collect())
}

/// Keeps those of the drawn vectors (512 at most) that show something still open.
fn take(
    grader: &mut Grader,
    exposures: &Side<GroupId, Exposure>,
    drawn: &[Vector],
    open: &mut Vec<GroupId>,
    known: &mut Side<GroupId, First>,
    kept: &mut Vec<Vector>,
) {
    grader.load(&Vector::side_by_side(drawn));
    let mut useful = std::collections::BTreeSet::new();
    open.retain(|&group| match grader.shows(&exposures[group]).lanes().next() {
        Some(lane) => {
            useful.insert(lane.min(drawn.len() - 1));
            known[group] = First::Shown;
            false
        }
        None => true,
    });
    kept.extend(useful.into_iter().map(|lane| drawn[lane].clone()));
}
