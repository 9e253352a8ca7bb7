//! How much a look at the lamps surely tells, in bits.
//!
//! A fault that leaves latches to luck leaves lamps to luck. What nobody can foretell of a suspect parts him from nobody:
//! a look that promises only by that promises again after it was made, and whoever has a meter at hand has something
//! better to do. So what counts is how much the share of whoever it is grows over those of whom a lamp plainly says
//! otherwise. Where the lanes know everything that is the entropy of the outcomes (C. Shannon 1948).

use super::Case;
use dryjoint_faults::lanes::Shown;
use std::collections::BTreeMap;

/// How well a lamp fits somebody who would show the opposite: it was misread.
const MISREAD: f64 = 0.005;

/// How well a lamp fits somebody who would show it dim where it is plainly lit or dark, and the other way round.
const DIM: f64 = 0.2;

/// The expected gain; `shown` has the lamps of each case's lane.
pub(super) fn surely(cases: &[Case], shown: &[Vec<Shown>]) -> f64 {
    let mut shares: BTreeMap<&[Shown], f64> = BTreeMap::new();
    for case in cases {
        *shares.entry(&shown[case.index]).or_default() += case.probability;
    }
    let of = |(there, share): (&&[Shown], &f64)| -> f64 {
        let left: f64 = shares.iter().map(|(other, share)| share * fit(there, other)).sum();
        -share * left.min(1.0).log2()
    };
    shares.iter().map(of).sum::<f64>().max(0.0)
}

/// How well what the one shows fits the other.
fn fit(there: &[Shown], other: &[Shown]) -> f64 {
    let lamp = |(&there, &other): (&Shown, &Shown)| match (there, other) {
        (Shown::Unknown, _) | (_, Shown::Unknown) => 1.0,
        (there, other) if there == other => 1.0,
        (Shown::Dim, _) | (_, Shown::Dim) => DIM,
        _ => MISREAD,
    };
    there.iter().zip(other).map(lamp).product()
}

#[cfg(test)]
mod tests {
    use super::*;
    use Shown::{One, Unknown, Zero};

    fn cases(shares: &[f64]) -> Vec<Case> {
        let case = |(index, &probability)| Case { fault: None, lane: None, index, probability };
        shares.iter().enumerate().map(case).collect()
    }

    /// One of four equals, known after two lamps: two bits, but for misreadings.
    #[test]
    fn a_look_that_tells_four_apart_gives_two_bits() {
        let all = [vec![One, One], vec![One, Zero], vec![Zero, One], vec![Zero, Zero]];
        let bits = surely(&cases(&[0.25; 4]), &all);
        assert!(bits < 2.0 && bits > 1.95, "{bits}");
    }

    #[test]
    fn what_nobody_can_foretell_tells_nothing() {
        let two = cases(&[0.5; 2]);
        assert_eq!(surely(&two, &[vec![One; 9], vec![Unknown; 9]]), 0.0);
        // One in between of whom nothing is known takes nothing from the others.
        let bits = surely(&cases(&[0.5, 0.499, 0.001]), &[vec![One], vec![Zero], vec![Unknown]]);
        assert!(bits > 0.98, "{bits}");
    }
}
