//! How much a look at the lamps tells, in bits.
//!
//! Whoever it really is will show what his lane says; the look then favours him over everyone of whom another lane
//! says otherwise, and a little over those of whom nothing is known. What his share is expected to grow by,
//! weighed by how probable he is, is what the look promises. Where the lanes know everything that is
//! the entropy of its outcomes.

use super::Case;
use crate::chance::OpenRun;
use crate::inquiry::known;
use dryjoint_faults::lanes::Shown;
use dryjoint_session::Sight;
use std::collections::BTreeMap;

/// How well a lamp fits somebody who would show the opposite: it was misread.
const MISREAD: f64 = 0.005;

/// How well a lamp fits somebody who would show it dim where it is plainly lit or dark, and the other way round.
const DIM: f64 = 0.2;

/// What was read of each lamp so far, and how the readings of lamps of which nothing is known went for each lane: what
/// was always as on a good board will be so again, whoever it is.
#[derive(Default)]
pub(super) struct Past {
    /// Per lamp, in reading order.
    before: Vec<Option<Sight>>,
    /// Per lane of the short list and last for the good board; what the crowd has to say left out.
    open: Vec<[f64; 24]>,
    /// How far each of them goes by the crowd.
    trust: Vec<f64>,
}

impl Past {
    pub fn of(before: Vec<Option<Sight>>, runs: &[OpenRun]) -> Self {
        let all = |run: &OpenRun| {
            let mut chances = [1.0; 24];
            for lit in [false, true] {
                for agrees in [None, Some(false), Some(true)] {
                    for before in [None, Some(Sight::Dark), Some(Sight::Lit), Some(Sight::Dim)] {
                        let sight = if lit { Sight::Lit } else { Sight::Dark };
                        chances[place(lit, agrees, before)] = run.next(Shown::Unknown, sight, agrees, before);
                    }
                }
            }
            chances
        };
        Self {
            before,
            open: runs.iter().map(all).collect(),
            trust: runs.iter().map(OpenRun::trust).collect(),
        }
    }

    /// The chance that a lamp is lit, or dark, with somebody of whose lane it is not known.
    fn chance(&self, lane: usize, lamp: usize, lit: bool, good: Option<bool>, crowd: [f64; 2]) -> f64 {
        let agrees = good.map(|good| good == lit);
        let trust = self.trust[lane];
        let alone = self.open[lane][place(lit, agrees, self.before[lamp])];
        (1.0 - trust) * alone + trust * crowd[usize::from(lit)]
    }

    /// The expected gain; `shown` has the lamps of every lane of the short list and last of the good board. Where a look
    /// was taken in the same state, lamps that nobody knows are as they were then, and tell nothing.
    pub fn gain(&self, cases: &[Case], shown: &[Vec<Shown>], is_new: bool) -> f64 {
        let mut shares: BTreeMap<&[Shown], (f64, usize)> = BTreeMap::new();
        for case in cases {
            shares.entry(&shown[case.index]).or_insert((0.0, case.index)).0 += case.probability;
        }
        let good: Vec<Option<bool>> =
            shown.last().map(|good| good.iter().map(|&shown| known(shown)).collect()).unwrap_or_default();
        let crowd: Vec<[f64; 2]> = (0..good.len()).map(|lamp| expected(&shares, lamp)).collect();
        let fit = |(there, who): (&[Shown], usize), (other, whom): (&[Shown], usize)| -> f64 {
            let lamp = |(at, (&there, &other)): (usize, (&Shown, &Shown))| match (there, other) {
                (there, other) if there == other => 1.0,
                (Shown::Unknown, _) | (_, Shown::Unknown) if !is_new => 1.0,
                (Shown::Dim, _) | (_, Shown::Dim) => DIM,
                (Shown::Unknown, other) => self.chance(who, at, other == Shown::One, good[at], crowd[at]),
                (there, Shown::Unknown) => self.chance(whom, at, there == Shown::One, good[at], crowd[at]),
                _ => MISREAD,
            };
            there.iter().zip(other).enumerate().map(lamp).product()
        };
        let of = |(there, &(share, who)): (&&[Shown], &(f64, usize))| -> f64 {
            let left = shares.iter().map(|(other, &(share, whom))| share * fit((there, who), (other, whom)));
            -share * left.sum::<f64>().min(1.0).log2()
        };
        shares.iter().map(of).sum::<f64>().max(0.0)
    }
}

/// How likely a lamp is dark, and lit, with those of whom it is known.
fn expected(shares: &BTreeMap<&[Shown], (f64, usize)>, lamp: usize) -> [f64; 2] {
    let of = |wanted: Shown| -> f64 {
        shares.iter().filter(|(shown, _)| shown[lamp] == wanted).map(|(_, &(share, _))| share).sum()
    };
    let (dark, lit) = (of(Shown::Zero) + 0.01, of(Shown::One) + 0.01);
    [dark / (dark + lit), lit / (dark + lit)]
}

fn place(lit: bool, agrees: Option<bool>, before: Option<Sight>) -> usize {
    let agrees = agrees.map_or(0, |agrees| 1 + usize::from(agrees));
    let before = match before {
        None => 0,
        Some(Sight::Dark) => 1,
        Some(Sight::Lit) => 2,
        Some(_) => 3,
    };
    (usize::from(lit) * 3 + agrees) * 4 + before
}

/// What no look can tell more than: who of all the lanes it is.
pub(super) fn most(cases: &[Case]) -> f64 {
    let mut shares: BTreeMap<usize, f64> = BTreeMap::new();
    cases.iter().for_each(|case| *shares.entry(case.index).or_default() += case.probability);
    super::bits(shares.into_values())
}

#[cfg(test)]
mod tests {
    use super::*;
    use Shown::{Dim, One, Unknown, Zero};

    fn cases(shares: &[f64]) -> Vec<Case> {
        let case = |(index, &probability)| Case { fault: None, lane: None, index, probability };
        shares.iter().enumerate().map(case).collect()
    }

    /// Nothing read yet, so many lamps and lanes.
    fn nothing(lamps: usize, lanes: usize) -> Past {
        Past::of(vec![None; lamps], &vec![OpenRun::default(); lanes])
    }

    /// One of four equals, known after two lamps: two bits (Shannon 1948), but for misreadings.
    #[test]
    fn a_look_that_tells_four_apart_gives_two_bits() {
        let all = [vec![One, One], vec![One, Zero], vec![Zero, One], vec![Zero, Zero]];
        let bits = nothing(2, 4).gain(&cases(&[0.25; 4]), &all, true);
        assert!(bits < 2.0 && bits > 1.95, "{bits}");
    }

    #[test]
    fn what_all_show_alike_and_what_nobody_knows_tells_nothing() {
        let two = cases(&[0.5; 2]);
        let bits = |one: &[Shown], other: &[Shown]| {
            nothing(one.len(), 2).gain(&two, &[one.to_vec(), other.to_vec()], true)
        };
        assert_eq!(bits(&[One, Dim], &[One, Dim]), 0.0);
        assert_eq!(bits(&[Unknown], &[Unknown]), 0.0);
        assert!(bits(&[One], &[Unknown]) > 0.2);
        assert!(bits(&[One; 13], &[Unknown; 13]) > 0.9);
    }

    /// What was lit twelve times is expected to be lit again, and tells little.
    #[test]
    fn a_lamp_that_nobody_knows_tells_less_each_time() {
        let mut run = OpenRun::default();
        for _ in 0..12 {
            run.add(Unknown, Sight::Lit, (Some(true), Some(Sight::Lit)), Some(0.9));
        }
        let past = Past::of(vec![Some(Sight::Lit)], &[OpenRun::default(), run]);
        let two = cases(&[0.5; 2]);
        // On the good board, which comes last, it is lit too.
        let bits = |is_new| past.gain(&two, &[vec![One], vec![Unknown], vec![One]], is_new);
        assert!(bits(true) > 0.0 && bits(true) < 0.1, "{}", bits(true));
        assert_eq!(bits(false), 0.0);
    }
}
