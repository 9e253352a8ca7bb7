//! A proof by induction that no sequence shows a fault.
//!
//! *Facts* are pairs of things that the good and the faulty machine never know together: "this flip-flop of the
//! good machine is surely high" and "that one of the faulty machine surely low". At power-on nothing is
//! known, so every fact holds. All facts are supposed first; those that simulation breaks are dropped,
//! then those that one clock period can break although the others hold (C. Flanagan & K. R. M. Leino 2001 call
//! the procedure Houdini). What is left holds for ever. If then no period can show the fault, nothing can.

use super::unroll::Unrolled;
use crate::gates::formula::{Answer, Formula, Literal, Manner, solve};
use crate::gates::proof::Refuted;
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Circuit, Crew, State, StuckAt};
use dryjoint_faults::lanes::Word;
use dryjoint_logic::Logic;

/// More flip-flops than this make too many facts.
const MOST_FLOPS: usize = 128;
/// Periods of simulation, of 512 sequences each.
const PERIODS: usize = 48;
/// The longest run of silent periods that is tried as a hypothesis.
const DEEPEST: usize = 8;
const MANNER: Manner = Manner { random: 0, conflicts: 50_000, prefer: &|_| None };

/// Looks for the proof; every part of it is followed by the checker before it is handed out.
pub(super) fn prove(logic: &Logic, circuit: &Circuit, fault: StuckAt, random: &mut Draws) -> Option<Refuted> {
    if circuit.flops().len() > MOST_FLOPS {
        return None;
    }
    let supposed = unbroken(logic, circuit, fault, random);
    let (facts, lasting) = last(Unrolled::free(logic, circuit, fault), supposed)?;
    (1..=DEEPEST).find_map(|periods| {
        // Where the facts hold and some periods showed nothing, the next one shows nothing either …
        let mut unrolled = Unrolled::free(logic, circuit, fault);
        let memory = unrolled.memory();
        for &(a, b) in &facts {
            unrolled.formula.clause(&[!memory[a], !memory[b]]);
        }
        let step = silent(unrolled, periods)?;
        // … and the first periods after power-on show nothing.
        let unknown = vec![None; circuit.flops().len()];
        let start = (1..periods).try_fold(Refuted::NOTHING, |sum, periods| {
            let unrolled = Unrolled::new(logic, circuit, fault, &unknown, &unknown);
            Some(sum + silent(unrolled, periods)?)
        })?;
        Some(lasting + step + start)
    })
}

/// Proves that the last of so many periods does not show the fault if the others do not.
fn silent(mut unrolled: Unrolled, periods: usize) -> Option<Refuted> {
    (0..periods).for_each(|_| unrolled.period());
    let (last, before) = unrolled.shows.split_last()?;
    for shows in before {
        unrolled.formula.clause(&[!*shows]);
    }
    unrolled.formula.clause(&[*last]);
    match solve(&unrolled.formula, MANNER) {
        Answer::Cannot(learnt) => Refuted::sealed(&unrolled.formula, &learnt),
        _ => None,
    }
}

/// Drops facts until each one left outlasts a period in which all of them held at the start; with the
/// proof that it does.
fn last(mut unrolled: Unrolled, mut facts: Vec<(usize, usize)>) -> Option<(Vec<(usize, usize)>, Refuted)> {
    let now = unrolled.memory();
    unrolled.period();
    let next = unrolled.memory();
    loop {
        let mut question = unrolled.formula.clone();
        let broken: Vec<Literal> =
            facts.iter().map(|&(a, b)| both(&mut question, next[a], next[b])).collect();
        for &(a, b) in &facts {
            question.clause(&[!now[a], !now[b]]);
        }
        question.clause(&broken);
        match solve(&question, MANNER) {
            Answer::Can(values) => {
                let holds = |l: Literal| values[l.variable() as usize] != l.is_complement();
                facts.retain(|&(a, b)| !(holds(next[a]) && holds(next[b])));
            }
            Answer::Cannot(learnt) => return Some((facts, Refuted::sealed(&question, &learnt)?)),
            Answer::Open => return None,
        }
    }
}

/// A literal that holds only if both do.
fn both(formula: &mut Formula, a: Literal, b: Literal) -> Literal {
    let both = formula.variable();
    formula.clause(&[!both, a]);
    formula.clause(&[!both, b]);
    both
}

/// The facts that no simulated sequence breaks. Knowledge counts as in [`Unrolled::memory`].
fn unbroken(logic: &Logic, circuit: &Circuit, fault: StuckAt, random: &mut Draws) -> Vec<(usize, usize)> {
    let crews = [Crew::alike(logic, circuit, None), Crew::alike(logic, circuit, Some(fault))];
    let mut states = [crews[0].power_on(), crews[1].power_on()];
    let known = circuit.flops().len() * 4;
    let mut broken = vec![false; known * known];
    let mut scratch = Vec::new();
    let mut inputs = vec![Word::NONE; circuit.inputs().len()];
    for _ in 0..PERIODS {
        for word in &mut inputs {
            // In a quarter of the lanes the input stays as it was.
            let fresh = Word(std::array::from_fn(|_| random.bits()));
            let held = Word(std::array::from_fn(|_| random.bits() & random.bits()));
            *word = *word & held | fresh & !held;
        }
        for (crew, state) in crews.iter().zip(&mut states) {
            crew.step(&inputs, state, &mut scratch);
        }
        let knowledge = knowledge(&states);
        for a in 0..known {
            for b in a..known {
                broken[a * known + b] = broken[a * known + b] || !(knowledge[a] & knowledge[b]).is_none();
            }
        }
    }
    (0..known)
        .flat_map(|a| (a..known).map(move |b| (a, b)))
        .filter(|&(a, b)| !broken[a * known + b])
        .collect()
}

/// For each flip-flop of the good machine surely high, surely low; then of the faulty one.
fn knowledge(states: &[State; 2]) -> Vec<Word> {
    states.iter().flat_map(|state| &state.0).flat_map(|planes| [planes.one, planes.zero]).collect()
}
