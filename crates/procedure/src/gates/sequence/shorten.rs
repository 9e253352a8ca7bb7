//! A shorter sequence that still shows everything: stretches of vectors are left out, longest first,
//! wherever all that was shown from there on is shown without them (vector omission: I. Pomeranz &
//! S. M. Reddy 1996).

use dryjoint_faults::gates::{Circuit, Crew, Span, State, StuckAt, Vector};
use dryjoint_faults::lanes::Word;
use dryjoint_logic::Logic;
use rayon::prelude::*;

/// The machines of up to 511 faults, each at the same place of a sequence.
#[derive(Clone)]
struct Squad<'c> {
    crew: Crew<'c>,
    state: State,
    open: Word,
}

/// Leaves out what can be left out. Every fault given is one that the sequence shows.
pub(super) fn shorten(
    logic: &Logic,
    circuit: &Circuit,
    faults: &[StuckAt],
    mut vectors: Vec<Vector>,
    effort: u32,
    keep_going: &mut dyn FnMut(usize) -> bool,
) -> Vec<Vector> {
    for _ in 0..effort {
        let before = vectors.len();
        for stretch in [16, 4, 1] {
            if stretch < vectors.len() {
                match pass(logic, circuit, faults, &vectors, stretch, keep_going) {
                    Ok(shorter) => vectors = shorter,
                    Err(shorter) => return shorter,
                }
            }
        }
        if vectors.len() == before {
            break;
        }
    }
    vectors
}

/// One pass along the sequence; an error carries what an interruption left.
fn pass(
    logic: &Logic,
    circuit: &Circuit,
    faults: &[StuckAt],
    vectors: &[Vector],
    stretch: usize,
    keep_going: &mut dyn FnMut(usize) -> bool,
) -> Result<Vec<Vector>, Vec<Vector>> {
    let words: Vec<Vec<Word>> = vectors.iter().map(broadcast).collect();
    let mut squads = start(logic, circuit, faults);
    let mut scratch = Vec::new();
    let mut kept = Vec::new();
    let mut at = 0;
    while at < vectors.len() {
        if !keep_going(kept.len() + vectors.len() - at) {
            kept.extend_from_slice(&vectors[at..]);
            return Err(kept);
        }
        let after = (at + stretch).min(vectors.len());
        if shows_all(&squads, &words[after..]) {
            at = after;
            continue;
        }
        for squad in &mut squads {
            let seen = squad.crew.step(&words[at], &mut squad.state, &mut scratch);
            squad.open = squad.open & !seen.differs;
        }
        squads.retain(|squad| !squad.open.is_none());
        kept.push(vectors[at].clone());
        at += 1;
        if squads.is_empty() {
            break;
        }
    }
    Ok(kept)
}

fn broadcast(vector: &Vector) -> Vec<Word> {
    vector.0.iter().map(|&high| if high { Word::ALL } else { Word::NONE }).collect()
}

fn start<'c>(logic: &Logic, circuit: &'c Circuit, faults: &[StuckAt]) -> Vec<Squad<'c>> {
    let squad = |faults: &[StuckAt]| {
        let crew = Crew::new(logic, circuit, Span::Whole, faults);
        let mut open = Word::NONE;
        (1..=faults.len()).for_each(|lane| open.set(lane, true));
        Squad { state: crew.power_on(), crew, open }
    };
    faults.chunks(511).map(squad).collect()
}

/// Whether the rest of the sequence shows everything still open.
fn shows_all(squads: &[Squad], rest: &[Vec<Word>]) -> bool {
    squads.par_iter().all(|squad| {
        let (mut state, mut open) = (squad.state.clone(), squad.open);
        let mut scratch = Vec::new();
        for words in rest {
            if open.is_none() {
                return true;
            }
            let seen = squad.crew.step(words, &mut state, &mut scratch);
            open = open & !seen.differs;
        }
        open.is_none()
    })
}
