//! How few vectors there can be at all.
//!
//! Of faults that no vector shows two at a time, each needs a vector of its own. Pairs that some vector at
//! hand shows together are out; among what is left a large set of faults is sought that are pairwise apart
//! (a clique, by greedy growth and swaps), and every pair of it is then put to the solver. Each "cannot be"
//! carries a proof that was followed; each vector found instead takes its pairs out. (Independent fault
//! sets: S. B. Akers & B. Krishnamurthy 1987.)

use super::encode::Encoding;
use super::formula::{Answer, Manner, solve};
use super::proof::Refuted;
use super::targets::Targets;
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Grader, GroupId, Vector};
use dryjoint_faults::lanes::{LANES, Word};
use std::collections::BTreeSet;

/// Blocks of 512 random vectors that are looked at first.
const BLOCKS: usize = 24;
/// At most so many faults are looked at, the hardest to show.
const MOST: usize = 1200;

/// Sets in a row that are no larger than the best before the search for a larger one ends.
const PATIENCE: u32 = 24;

/// A proof that no list of vectors is shorter.
#[derive(Clone, Debug)]
pub struct Bound {
    /// Groups no two of which any vector shows together: there are at least as many vectors.
    pub apart: Vec<GroupId>,
    /// The proofs of all pairs together.
    pub proof: Refuted,
}

/// Looks for a proof that a list of vectors that shows all targets cannot be much shorter than this one.
pub(super) fn bound(
    targets: &Targets,
    vectors: &[Vector],
    random: &mut Draws,
    keep_going: &mut dyn FnMut() -> bool,
) -> Bound {
    let mut apart = Apart::new(targets, vectors, random);
    let mut proved: BTreeSet<(usize, usize)> = BTreeSet::new();
    let mut proof = Refuted::NOTHING;
    let mut best: Vec<usize> = Vec::new();
    let mut idle = 0;
    while idle < PATIENCE && best.len() < vectors.len() && keep_going() {
        let clique = apart.clique(random);
        if clique.len() <= best.len() {
            idle += 1;
            continue;
        }
        match settle(&mut apart, &clique, &mut proved) {
            Some(refuted) => {
                proof = proof + refuted;
                best = clique;
                idle = 0;
            }
            None => idle = 0,
        }
    }
    Bound { apart: best.into_iter().map(|k| targets.groups[apart.hardest[k]]).collect(), proof }
}

/// Proves the clique's pairs apart, as far as they are not yet; nothing where a vector shows one together,
/// which is then noted.
fn settle(apart: &mut Apart, clique: &[usize], proved: &mut BTreeSet<(usize, usize)>) -> Option<Refuted> {
    let mut sum = Refuted::NOTHING;
    let mut together = false;
    for (k, &a) in clique.iter().enumerate() {
        for &b in &clique[..k] {
            let pair = (a.min(b), a.max(b));
            if proved.contains(&pair) || !apart.is(a, b) {
                continue;
            }
            let mut encoding = Encoding::new(apart.targets.circuit);
            for target in [a, b] {
                encoding.demand(&apart.targets.exposures[apart.hardest[target]]);
            }
            match solve(&encoding.formula, Manner { random: 0, conflicts: 20_000, prefer: &|_| None }) {
                Answer::Can(values) => {
                    apart.note(&[encoding.vector(&values, |_| false)]);
                    together = true;
                }
                Answer::Cannot(learnt) => {
                    if let Some(refuted) = Refuted::sealed(&encoding.formula, &learnt) {
                        sum = sum + refuted;
                        proved.insert(pair);
                    } else {
                        apart.join(a, b);
                        together = true;
                    }
                }
                Answer::Open => {
                    apart.join(a, b);
                    together = true;
                }
            }
        }
    }
    (!together).then_some(sum)
}

/// Which of the hardest targets no vector at hand shows together.
struct Apart<'t, 'c> {
    targets: &'t Targets<'c>,
    grader: Grader<'c>,
    hardest: Vec<usize>,
    /// For each of the hardest, a bit for each that it is shown together with.
    together: Vec<Vec<u64>>,
}

impl<'t, 'c> Apart<'t, 'c> {
    fn new(targets: &'t Targets<'c>, vectors: &[Vector], random: &mut Draws) -> Self {
        let mut grader = Grader::new(targets.circuit);
        let inputs = targets.circuit.inputs().len();
        let mut blocks: Vec<Vec<Word>> = vectors.chunks(LANES).map(Vector::side_by_side).collect();
        for _ in 0..BLOCKS {
            blocks.push((0..inputs).map(|_| Word(std::array::from_fn(|_| random.bits()))).collect());
        }
        let mut often = vec![0_u32; targets.len()];
        for block in &blocks {
            grader.load(block);
            for (often, exposure) in often.iter_mut().zip(&targets.exposures) {
                *often += grader.shows(exposure).0.iter().map(|limb| limb.count_ones()).sum::<u32>();
            }
        }
        let mut hardest: Vec<usize> = (0..targets.len()).collect();
        hardest.sort_by_key(|&target| (often[target], target));
        hardest.truncate(MOST);
        let words = hardest.len().div_ceil(64);
        let mut apart = Self { targets, grader, together: vec![vec![0; words]; hardest.len()], hardest };
        blocks.iter().for_each(|block| apart.note_block(block));
        apart
    }

    fn note(&mut self, vectors: &[Vector]) {
        self.note_block(&Vector::side_by_side(vectors));
    }

    fn note_block(&mut self, block: &[Word]) {
        self.grader.load(block);
        let words = self.hardest.len().div_ceil(64);
        let mut lanes = vec![vec![0_u64; words]; LANES];
        for (k, &target) in self.hardest.iter().enumerate() {
            for lane in self.grader.shows(&self.targets.exposures[target]).lanes() {
                lanes[lane][k / 64] |= 1 << (k % 64);
            }
        }
        lanes.dedup();
        for shown in lanes {
            for k in bits(&shown) {
                self.together[k].iter_mut().zip(&shown).for_each(|(row, bits)| *row |= bits);
            }
        }
    }

    fn join(&mut self, a: usize, b: usize) {
        self.together[a][b / 64] |= 1 << (b % 64);
        self.together[b][a / 64] |= 1 << (a % 64);
    }

    fn is(&self, a: usize, b: usize) -> bool {
        self.together[a][b / 64] >> (b % 64) & 1 == 0
    }

    /// A large set of targets that are pairwise apart: grown while something fits, then swapped one for one,
    /// the longest unmoved first to leave.
    fn clique(&self, random: &mut Draws) -> Vec<usize> {
        let count = self.hardest.len();
        let mut inside: Vec<usize> = Vec::new();
        // For each target how many of the set it is shown together with.
        let mut against = vec![0_u32; count];
        let mut barred_until = vec![0_u32; count];
        let mut best: Vec<usize> = Vec::new();
        let mut is_in = vec![false; count];
        for round in 1..=4_000_u32 {
            let mut candidates: Vec<usize> =
                (0..count).filter(|&k| !is_in[k] && against[k] == 0 && barred_until[k] < round).collect();
            let grows = !candidates.is_empty();
            if !grows {
                candidates =
                    (0..count).filter(|&k| !is_in[k] && against[k] == 1 && barred_until[k] < round).collect();
            }
            let Some(&pick) = candidates.get(random.scaled(candidates.len().max(1))) else {
                // Nothing fits even by a swap: something leaves.
                if inside.is_empty() {
                    break;
                }
                let out = inside.swap_remove(random.scaled(inside.len()));
                self.count(&mut against, out, false);
                is_in[out] = false;
                barred_until[out] = round + 7;
                continue;
            };
            if !grows && let Some(at) = inside.iter().position(|&k| !self.is(k, pick)) {
                let out = inside.swap_remove(at);
                self.count(&mut against, out, false);
                is_in[out] = false;
                barred_until[out] = round + 7 + random.scaled(8) as u32;
            }
            inside.push(pick);
            is_in[pick] = true;
            self.count(&mut against, pick, true);
            if inside.len() > best.len() {
                best = inside.clone();
            }
        }
        best
    }

    fn count(&self, against: &mut [u32], of: usize, more: bool) {
        for k in bits(&self.together[of]) {
            if k != of {
                against[k] = if more { against[k] + 1 } else { against[k] - 1 };
            }
        }
    }
}

fn bits(words: &[u64]) -> impl Iterator<Item = usize> {
    words.iter().enumerate().flat_map(|(index, &word)| {
        let mut rest = word;
        std::iter::from_fn(move || {
            (rest != 0).then(|| {
                let bit = rest.trailing_zeros() as usize;
                rest &= rest - 1;
                index * 64 + bit
            })
        })
    })
}
