//! Simulation-guided search: sequences are tried from where the bench stands, the best are crossed and
//! changed, and what shows most is done.
//!
//! Sequences breed as in genetic search, with the machines that carry a difference in a flip-flop as the
//! measure of nearness (the approach of simulation-based generation for sequential circuits published
//! through the 1990s; constants here are our own).

use super::field::{Field, Worth};
use dryjoint_draws::Draws;
use dryjoint_faults::gates::Vector;

/// How many sequences live at a time.
const ALIVE: usize = 32;

/// How a search goes on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Patience {
    /// Rounds without anything new before it ends.
    pub rounds: usize,
    /// Generations in a round.
    pub generations: usize,
}

/// Extends the field's sequence until nothing new has come for long enough.
pub(super) fn search(
    field: &mut Field,
    random: &mut Draws,
    patience: Patience,
    keep_going: &mut dyn FnMut(&Field) -> bool,
) {
    let mut idle = 0;
    while idle < patience.rounds && field.first.iter().any(Option::is_none) {
        if !keep_going(field) {
            return;
        }
        let length = [4, 8, 16, 32, 64][idle % 5];
        let mut alive: Vec<Vec<Vector>> = (0..ALIVE).map(|_| drawn(field, random, length)).collect();
        let mut worth = field.try_all(&alive);
        for _ in 0..patience.generations {
            if worth.iter().any(|w| w.shown > 0) {
                break;
            }
            let children: Vec<Vec<Vector>> = (0..ALIVE).map(|_| child(&alive, &worth, random)).collect();
            let brought = field.try_all(&children);
            let mut both: Vec<(Worth, Vec<Vector>)> =
                worth.into_iter().chain(brought).zip(alive.into_iter().chain(children)).collect();
            both.sort_by_key(|row| std::cmp::Reverse((row.0.shown, row.0.carried)));
            both.truncate(ALIVE);
            (worth, alive) = both.into_iter().unzip();
        }
        // Most shown for each vector spent; among those that show nothing, the most remembered.
        let rate = |w: &Worth| (u64::from(w.shown) << 20) / (w.useful as u64 + 4);
        let best =
            (0..alive.len()).max_by_key(|&k| (rate(&worth[k]), worth[k].carried, std::cmp::Reverse(k)));
        let Some(best) = best else { return };
        if worth[best].shown > 0 {
            for vector in &alive[best][..worth[best].useful] {
                field.advance(vector);
            }
            field.close_ranks();
            idle = 0;
        } else {
            idle += 1;
        }
    }
}

/// A new sequence: drawn evenly, drawn with leanings, held from vector to vector, or a stretch of what
/// was done before with a few changes.
fn drawn(field: &Field, random: &mut Draws, length: usize) -> Vec<Vector> {
    let inputs = field.inputs();
    let kind = random.scaled(4);
    let lean: Vec<usize> = (0..inputs).map(|_| [8, 2, 14, 8][random.scaled(4)]).collect();
    let from = random.scaled(field.vectors.len().max(1));
    let mut sequence: Vec<Vector> = Vec::with_capacity(length);
    for step in 0..length {
        let fresh =
            Vector((0..inputs).map(|k| random.scaled(16) < if kind == 0 { 8 } else { lean[k] }).collect());
        let vector = match (kind, sequence.last(), field.vectors.get(from + step)) {
            (2, Some(last), _) => {
                let held = |k: usize| if random.once_in(4) { fresh.0[k] } else { last.0[k] };
                Vector((0..inputs).map(held).collect())
            }
            (3, _, Some(before)) => {
                let kept = |k: usize| if random.once_in(16) { fresh.0[k] } else { before.0[k] };
                Vector((0..inputs).map(kept).collect())
            }
            _ => fresh,
        };
        sequence.push(vector);
    }
    sequence
}

/// A child of two sequences that each won against another one.
fn child(alive: &[Vec<Vector>], worth: &[Worth], random: &mut Draws) -> Vec<Vector> {
    let mut pick = || {
        let (a, b) = (random.scaled(alive.len()), random.scaled(alive.len()));
        if (worth[a].shown, worth[a].carried) >= (worth[b].shown, worth[b].carried) { a } else { b }
    };
    let (mother, father) = (pick(), pick());
    let cut = random.scaled(alive[mother].len());
    let mut child: Vec<Vector> = alive[mother][..cut].to_vec();
    child.extend_from_slice(&alive[father][cut.min(alive[father].len())..]);
    for vector in &mut child {
        for level in &mut vector.0 {
            if random.once_in(32) {
                *level = !*level;
            }
        }
    }
    child
}
