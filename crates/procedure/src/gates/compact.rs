//! Fewer and fewer vectors.
//!
//! The number of vectors is held fixed, one below the best found, and what they leave unseen is driven
//! to nothing by changing one vector at a time: 512 changes of it are graded at once for just those
//! targets that no other vector shows. Targets that stay unseen grow in weight (the breakout method: P. Morris
//! 1993), so the search does not rest in one place.

use super::cover::Cover;
use super::encode::Encoding;
use super::formula::{Answer, Manner, solve};
use super::targets::Targets;
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Grader, Vector};
use dryjoint_faults::lanes::{LANES, Word};
use rayon::prelude::*;

/// How many searches run side by side. The number is fixed, so that the answer does not depend on the
/// number of processors.
const RUNNERS: u64 = 4;
/// Changes that each of them tries before it is asked whether to go on.
const SLICE: u64 = 200;

/// Looks for a list with one vector less, with several searches side by side, for about so many changes in
/// all. An error says that `going` ended it.
pub(crate) fn race(
    targets: &Targets,
    best: &[Vector],
    tries: u64,
    random: &mut Draws,
    going: &mut dyn FnMut() -> bool,
) -> Result<Option<Vec<Vector>>, Interrupted> {
    let start = |_| {
        let mut search = Search::new(targets, best.to_vec(), Draws::new(random.bits()));
        search.shrink_anywhere();
        search
    };
    let mut runners: Vec<Search> = (0..RUNNERS).map(start).collect();
    for _ in 0..tries.div_ceil(RUNNERS * SLICE) {
        if !going() {
            return Err(Interrupted);
        }
        let arrived: Vec<bool> = runners.par_iter_mut().map(|runner| runner.run(SLICE)).collect();
        if let Some(first) = arrived.iter().position(|arrived| *arrived) {
            let mut cover = runners.swap_remove(first).cover;
            cover.drop_idle();
            return Ok(Some(cover.vectors));
        }
    }
    Ok(None)
}

/// The search was ended from outside.
pub(crate) struct Interrupted;

/// Changes between two questions to the solver.
const KICK: u64 = 60;
/// Conflicts after which such a question is dropped.
const CONFLICTS: u64 = 300;
/// Lanes in which a vector is crossed with another one.
const CROSSED: usize = 128;

/// A search over lists of a fixed number of vectors.
pub(crate) struct Search<'t, 'c> {
    targets: &'t Targets<'c>,
    grader: Grader<'c>,
    pub cover: Cover,
    weight: Vec<u32>,
    /// For each target that was lost the vector that showed it last.
    lost: Vec<Option<Vector>>,
    /// Changes since the last that was for the better.
    idle: usize,
    random: Draws,
}

impl<'t, 'c> Search<'t, 'c> {
    pub fn new(targets: &'t Targets<'c>, vectors: Vec<Vector>, random: Draws) -> Self {
        let mut grader = Grader::new(targets.circuit);
        let mut cover = Cover::new(targets, &mut grader, vectors);
        cover.drop_idle();
        Self {
            targets,
            grader,
            cover,
            weight: vec![1; targets.len()],
            lost: vec![None; targets.len()],
            idle: 0,
            random,
        }
    }

    /// Takes out any vector.
    fn shrink_anywhere(&mut self) {
        let at = self.random.scaled(self.cover.vectors.len());
        self.remember(at);
        self.cover.remove(at);
    }

    /// Takes out the vector whose loss weighs least.
    pub fn shrink(&mut self) {
        let loss = |at: usize| self.cover.essential(at).count();
        if let Some(at) = (0..self.cover.vectors.len()).min_by_key(|&at| loss(at)) {
            self.remember(at);
            self.cover.remove(at);
        }
        self.weight.fill(1);
    }

    /// Tries about so many changes, unless `going` ends it: whether nothing is missing any more.
    pub fn run_while(&mut self, tries: u64, going: &mut dyn FnMut() -> bool) -> Result<bool, Interrupted> {
        for _ in 0..tries.div_ceil(SLICE) {
            if !going() {
                return Err(Interrupted);
            }
            if self.run(SLICE) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Tries up to `tries` changes: whether nothing is missing any more.
    fn run(&mut self, tries: u64) -> bool {
        let mut missing = self.cover.missing();
        for round in 1..=tries {
            if missing.is_empty() {
                return true;
            }
            let at = self.random.scaled(self.cover.vectors.len());
            let needed: Vec<u32> = missing.iter().copied().chain(self.cover.essential(at)).collect();
            let now: u32 = self.cover.essential(at).map(|t| self.weight[t as usize]).sum();
            let wanted = missing[self.random.scaled(missing.len())];
            let words = self.changes(at, wanted);
            self.grader.load(&words);
            let score = self.score(&needed, |weights, target| weights[target as usize]);
            let best = score.iter().copied().max().unwrap_or(0);
            self.idle += 1;
            if best >= now {
                let lane = self.pick(&score, best, &needed);
                let vector = Vector::of_lane(&words, lane);
                let shows = self.targets.shown(&mut self.grader, &vector);
                self.remember(at);
                self.cover.replace(at, vector, shows);
                missing = self.cover.missing();
                if best > now {
                    self.idle = 0;
                }
            }
            if round.is_multiple_of(KICK) {
                self.kick(&missing);
                missing = self.cover.missing();
            }
            if self.idle > self.cover.vectors.len() {
                for &target in &missing {
                    self.weight[target as usize] += 1;
                }
                self.idle = 0;
            }
        }
        missing.is_empty()
    }

    /// For each lane the sum over those targets that it shows.
    fn score(&mut self, targets: &[u32], weigh: impl Fn(&[u32], u32) -> u32) -> [u32; LANES] {
        let mut score = [0; LANES];
        for &target in targets {
            let weight = weigh(&self.weight, target);
            for lane in self.grader.shows(&self.targets.exposures[target as usize]).lanes() {
                score[lane] += weight;
            }
        }
        score
    }

    /// Of the lanes with the best score one that also shows most of what only one other vector shows (or
    /// almost most), so that the other vectors get free to change.
    fn pick(&mut self, score: &[u32; LANES], best: u32, needed: &[u32]) -> usize {
        let mut lone: Vec<u32> = (0_u32..)
            .zip(&self.cover.count)
            .filter(|(_, count)| **count == 1)
            .map(|(target, _)| target)
            .collect();
        lone.retain(|target| !needed.contains(target));
        let relief = self.score(&lone, |_, _| 1);
        let good = |lane: &usize| score[*lane] == best;
        let most = (0..LANES).filter(good).map(|lane| relief[lane]).max().unwrap_or(0);
        let lanes: Vec<usize> = (0..LANES).filter(good).filter(|lane| relief[*lane] + 1 >= most).collect();
        lanes[self.random.scaled(lanes.len())]
    }

    /// Asks the solver for quite another vector in place of one: it must show what only that one shows, and
    /// if it can something that is missing as well.
    fn kick(&mut self, missing: &[u32]) {
        let Some(&wanted) = missing.get(self.random.scaled(missing.len().max(1))) else { return };
        let at = self.random.scaled(self.cover.vectors.len());
        let mut without = Encoding::new(self.targets.circuit);
        for target in self.cover.essential(at) {
            without.demand(&self.targets.exposures[target as usize]);
        }
        let mut with = without.clone();
        with.demand(&self.targets.exposures[wanted as usize]);
        let toss = self.random.bits();
        for encoding in [with, without] {
            let prefer = |variable: u32| Some(Draws::new(toss ^ u64::from(variable)).once_in(2));
            let manner = Manner { random: toss, conflicts: CONFLICTS, prefer: &prefer };
            if let Answer::Can(values) = solve(&encoding.formula, manner) {
                let vector = encoding.vector(&values, |_| self.random.once_in(2));
                let shows = self.targets.shown(&mut self.grader, &vector);
                self.remember(at);
                self.cover.replace(at, vector, shows);
                return;
            }
        }
    }

    /// Notes what only this vector shows, since it is about to change.
    fn remember(&mut self, at: usize) {
        for target in self.cover.essential(at) {
            self.lost[target as usize] = Some(self.cover.vectors[at].clone());
        }
    }

    /// The vector changed in as many ways as there are lanes: one input turned over, then two to four,
    /// then crossed with a vector that showed the missing target.
    fn changes(&mut self, at: usize, missing: u32) -> Vec<Word> {
        let vector = &self.cover.vectors[at];
        let inputs = vector.0.len();
        let mut words: Vec<Word> =
            vector.0.iter().map(|&high| if high { Word::ALL } else { Word::NONE }).collect();
        let lost = self.lost[missing as usize].as_ref();
        for lane in 0..LANES {
            if lane < inputs.min(LANES / 2) {
                words[lane].set(lane, !vector.0[lane]);
            } else if let (Some(lost), true) = (lost, lane >= LANES - CROSSED) {
                let share = [1, 2, 4, 8, 12, 14][lane % 6];
                for (word, &high) in words.iter_mut().zip(&lost.0) {
                    if self.random.scaled(16) < share {
                        word.set(lane, high);
                    }
                }
            } else {
                let count = 2 + self.random.scaled(3);
                for _ in 0..count {
                    let k = self.random.scaled(inputs);
                    words[k].set(lane, !vector.0[k]);
                }
            }
        }
        words
    }
}
