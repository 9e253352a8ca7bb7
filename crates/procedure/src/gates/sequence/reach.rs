//! Everything that a good and a faulty machine can ever remember at the same time.
//!
//! From power-on, where both remember nothing, every vector is tried on every pair of memories met so
//! far. If one shows the fault, that is a shortest sequence; if no new pair turns up, the fault can never
//! be shown, and the pairs are the proof: [`super::closure`] checks that no vector leads out of them.
//! A pair that knows less than another met before is left out, since whatever it could show the other shows too.

use dryjoint_faults::gates::{Circuit, Crew, State, StuckAt, Vector};
use dryjoint_faults::lanes::{LANES, Planes, Word};
use dryjoint_logic::Logic;
use std::collections::HashSet;

/// What a good and a faulty machine remember: for each flip-flop surely high and surely low, of the
/// good machine in the low half of the bits, of the faulty one in the high half.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Pair {
    pub one: u64,
    pub zero: u64,
}

impl Pair {
    pub const UNKNOWN: Self = Self { one: 0, zero: 0 };

    /// Whether everything this pair knows the other knows too.
    pub fn knows_no_more_than(self, other: Self) -> bool {
        self.one & !other.one == 0 && self.zero & !other.zero == 0
    }
}

/// What came of it.
pub(super) enum Reached {
    /// A shortest sequence that shows the fault.
    Shown(Vec<Vector>),
    /// All pairs there are; none shows it.
    Never(Vec<Pair>),
    /// More pairs than were allowed, or more flip-flops or inputs than fit.
    TooMany,
}

/// Tries everything, up to `limit` pairs.
pub(super) fn reach(logic: &Logic, circuit: &Circuit, fault: StuckAt, limit: usize) -> Reached {
    let (inputs, flops) = (circuit.inputs().len(), circuit.flops().len());
    if inputs > 9 || flops > 32 {
        return Reached::TooMany;
    }
    let crews = [Crew::alike(logic, circuit, None), Crew::alike(logic, circuit, Some(fault))];
    let vectors = 1 << inputs;
    let side_by_side = LANES / vectors;
    let words = input_words(inputs);
    let mut met: HashSet<Pair> = HashSet::from([Pair::UNKNOWN]);
    // Pairs in the order met, each with the one it came from and the vector in between.
    let mut pairs = vec![(Pair::UNKNOWN, 0_usize, 0_usize)];
    let mut next = 0;
    let mut scratch = [Vec::new(), Vec::new()];
    while next < pairs.len() {
        if pairs.len() > limit {
            return Reached::TooMany;
        }
        let now: Vec<Pair> = pairs[next..].iter().take(side_by_side).map(|row| row.0).collect();
        let mut states = [0, 32].map(|shift| spread(&now, shift, flops, vectors));
        for k in 0..2 {
            crews[k].step(&words, &mut states[k], &mut scratch[k]);
        }
        let differs = crews[0]
            .outputs(&scratch[0])
            .zip(crews[1].outputs(&scratch[1]))
            .fold(Word::NONE, |all, (g, b)| all | (g.one & b.zero) | (g.zero & b.one));
        if let Some(lane) = differs.lanes().find(|lane| lane / vectors < now.len()) {
            return Reached::Shown(way_back(&pairs, next + lane / vectors, lane % vectors, inputs));
        }
        for (lane, pair) in gather(&states, flops).into_iter().enumerate().take(now.len() * vectors) {
            if met.insert(pair) {
                pairs.push((pair, next + lane / vectors, lane % vectors));
            }
        }
        next += now.len();
    }
    Reached::Never(known_most(pairs.into_iter().map(|row| row.0).collect()))
}

/// The pairs less those that know no more than another one.
fn known_most(mut pairs: Vec<Pair>) -> Vec<Pair> {
    pairs.sort_by_key(|p| std::cmp::Reverse((p.one.count_ones() + p.zero.count_ones(), *p)));
    let mut most: Vec<Pair> = Vec::new();
    for pair in pairs {
        if !most.iter().any(|&other| pair.knows_no_more_than(other)) {
            most.push(pair);
        }
    }
    most
}

/// Every vector, repeated over the lanes: input `k` is bit `k` of the lane's number.
fn input_words(inputs: usize) -> Vec<Word> {
    (0..inputs)
        .map(|k| {
            let mut word = Word::NONE;
            (0..LANES).filter(|lane| lane >> k & 1 != 0).for_each(|lane| word.set(lane, true));
            word
        })
        .collect()
}

/// One machine's half of the pairs, each in as many lanes as there are vectors.
fn spread(pairs: &[Pair], shift: usize, flops: usize, vectors: usize) -> State {
    let plane = |bits: &dyn Fn(&Pair) -> u64, flop: usize| {
        let mut word = Word::NONE;
        for (k, pair) in pairs.iter().enumerate() {
            if bits(pair) >> (shift + flop) & 1 != 0 {
                (k * vectors..(k + 1) * vectors).for_each(|lane| word.set(lane, true));
            }
        }
        word
    };
    let of = |flop| Planes { one: plane(&|p| p.one, flop), zero: plane(&|p| p.zero, flop) };
    State((0..flops).map(of).collect())
}

/// The pair in each lane.
fn gather(states: &[State; 2], flops: usize) -> Vec<Pair> {
    let mut pairs = vec![Pair::UNKNOWN; LANES];
    for (state, shift) in states.iter().zip([0, 32]) {
        for flop in 0..flops {
            let bit = 1_u64 << (shift + flop);
            for (limb, (one, zero)) in state.0[flop].one.0.into_iter().zip(state.0[flop].zero.0).enumerate() {
                for (k, pair) in pairs[limb * 64..(limb + 1) * 64].iter_mut().enumerate() {
                    pair.one |= if one >> k & 1 != 0 { bit } else { 0 };
                    pair.zero |= if zero >> k & 1 != 0 { bit } else { 0 };
                }
            }
        }
    }
    pairs
}

fn way_back(pairs: &[(Pair, usize, usize)], mut at: usize, last: usize, inputs: usize) -> Vec<Vector> {
    let vector = |number: usize| Vector((0..inputs).map(|k| number >> k & 1 != 0).collect());
    let mut way = vec![vector(last)];
    while at != 0 {
        let (_, before, number) = pairs[at];
        way.push(vector(number));
        at = before;
    }
    way.reverse();
    way
}
