//! What becomes of a fault that guided search has left: a sequence that shows it, a proof that none does,
//! or a bound.

use super::field::Field;
use super::reach::{Reached, reach};
use super::unroll::Unrolled;
use super::{closure, induct};
use crate::gates::encode::Encoding;
use crate::gates::formula::{Answer, Manner, solve};
use crate::gates::plan::Standing;
use crate::gates::proof::Refuted;
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Circuit, Exposure, StuckAt, Vector};
use dryjoint_logic::Logic;

/// Pairs of memories that are tried before the solver takes over.
const PAIRS: usize = 20_000;

/// What was found out.
pub(super) enum Judged {
    /// These vectors, done next, show it.
    Show(Vec<Vector>),
    /// They never do, or not within a bound, or it is open.
    Stands(Standing),
}

/// A fault to judge, and what of.
pub(super) struct Question<'q> {
    pub logic: &'q Logic,
    pub circuit: &'q Circuit,
    pub fault: StuckAt,
    pub exposure: &'q Exposure,
    /// Its number in the field.
    pub target: u32,
    pub effort: u32,
}

/// Judges one fault where the field stands.
pub(super) fn judge(question: &Question, field: &Field, random: &mut Draws) -> Judged {
    let &Question { logic, circuit, fault, exposure, target, effort } = question;
    let limit = 5_000 * u64::from(effort);
    if let Some(proof) = between_clocks(circuit, exposure) {
        return Judged::Stands(Standing::Never(proof));
    }
    match reach(logic, circuit, fault, PAIRS) {
        Reached::Shown(vectors) => return Judged::Show(vectors),
        Reached::Never(pairs) if closure::closed(logic, fault, &pairs) => {
            return Judged::Stands(Standing::NeverReached { pairs: pairs.len() });
        }
        _ => {}
    }
    let unknown = vec![None; circuit.flops().len()];
    let (good, bad) = field.memory(target).unwrap_or_else(|| (unknown.clone(), unknown.clone()));
    let from_here = || Unrolled::new(logic, circuit, fault, &good, &bad);
    if let Some(vectors) = within(from_here(), &[1, 2, 4], limit) {
        return Judged::Show(vectors);
    }
    if let Some(proof) = induct::prove(logic, circuit, fault, random) {
        return Judged::Stands(Standing::Never(proof));
    }
    if let Some(vectors) = within(from_here(), &[8, 16, 32], limit) {
        return Judged::Show(vectors);
    }
    Judged::Stands(bound(Unrolled::new(logic, circuit, fault, &unknown, &unknown), limit))
}

/// A proof that no difference gets from any memory, the same in both machines, to anything seen or
/// remembered. Since both start alike, a first difference would have to; so none ever shows.
fn between_clocks(circuit: &Circuit, exposure: &Exposure) -> Option<Refuted> {
    let mut encoding = Encoding::new(circuit);
    encoding.demand(exposure);
    match solve(&encoding.formula, Manner { random: 0, conflicts: 0, prefer: &|_| None }) {
        Answer::Cannot(learnt) => Refuted::sealed(&encoding.formula, &learnt),
        _ => None,
    }
}

/// A sequence of at most so many vectors, tried from few to many.
fn within(mut unrolled: Unrolled, lengths: &[usize], conflicts: u64) -> Option<Vec<Vector>> {
    for &length in lengths {
        while unrolled.shows.len() < length {
            unrolled.period();
        }
        let mut formula = unrolled.formula.clone();
        formula.clause(&unrolled.shows);
        match solve(&formula, Manner { random: 0, conflicts, prefer: &|_| None }) {
            Answer::Can(values) => return Some(unrolled.vectors(&values, length)),
            Answer::Cannot(_) => {}
            Answer::Open => return None,
        }
    }
    None
}

/// The longest sequence for which the solver can prove that it does not show the fault.
fn bound(mut unrolled: Unrolled, conflicts: u64) -> Standing {
    let mut standing = Standing::Open;
    for length in [1, 2, 4, 8, 16, 32] {
        while unrolled.shows.len() < length {
            unrolled.period();
        }
        let mut formula = unrolled.formula.clone();
        formula.clause(&unrolled.shows);
        let answer = solve(&formula, Manner { random: 0, conflicts, prefer: &|_| None });
        let Answer::Cannot(learnt) = answer else { break };
        let Some(proof) = Refuted::sealed(&formula, &learnt) else { break };
        standing = Standing::NotWithin { vectors: length, proof };
    }
    standing
}
