//! The beat of a net: when it crosses the middle of its receivers' thresholds, and whether it does so evenly.
//!
//! A cycle counts as found when it is as long from rise to rise as from fall to fall: one and a half cycles tell.

/// Two cycles count as alike when their lengths differ by no more than this share.
const ALIKE: f64 = 0.02;

/// Which beat to go by: the clock's, else its complement's, else that of an oscillator while the clock has
/// stood through three of its cycles.
pub(super) fn reference(beats: &[Beats], carried: usize) -> Option<usize> {
    let even = |at: &usize| beats[*at].is_even();
    (0..carried).find(even).or_else(|| {
        (carried..beats.len()).find(|&at| {
            let since = beats[at].rises.iter().rev().nth(3);
            let moved = |other: &Beats, since: f64| other.rises.last().is_some_and(|rise| *rise > since);
            even(&at) && since.is_some_and(|&since| beats[..carried].iter().all(|other| !moved(other, since)))
        })
    })
}

/// The crossings of a level.
#[derive(Default)]
pub(super) struct Beats {
    level: f64,
    rises: Vec<f64>,
    falls: Vec<f64>,
}

impl Beats {
    /// The beat about a level.
    pub(super) fn new(level: f64) -> Self {
        Self { level, ..Self::default() }
    }

    /// Nothing was noted yet.
    pub(super) fn forget(&mut self) {
        self.rises.clear();
        self.falls.clear();
    }

    /// One more step of the trace.
    pub(super) fn note(&mut self, times: &[f64], volts: &[f64]) {
        let [a, b] = [volts[0], volts[1]];
        let at = times[0] + (times[1] - times[0]) * (self.level - a) / (b - a);
        if a < self.level && b >= self.level {
            self.rises.push(at);
        } else if a > self.level && b <= self.level {
            self.falls.push(at);
        }
    }

    /// Whether the last cycle is as long from rise to rise as from fall to fall.
    pub(super) fn is_even(&self) -> bool {
        let ([.., a, b], [.., c, d]) = (&self.rises[..], &self.falls[..]) else { return false };
        let (rise, fall) = (b - a, d - c);
        (rise - fall).abs() <= ALIKE * rise.max(fall)
    }

    /// Whether every cycle that began after a time is as long as the last.
    pub(super) fn is_even_since(&self, time: f64) -> bool {
        let period = self.period();
        let cycles = self.rises.windows(2).filter(|pair| pair[0] > time);
        self.is_even() && cycles.into_iter().all(|pair| (pair[1] - pair[0] - period).abs() <= ALIKE * period)
    }

    /// The length of the last cycle, seconds.
    pub(super) fn period(&self) -> f64 {
        let [.., a, b] = self.rises[..] else { return f64::INFINITY };
        b - a
    }

    /// Moments at some shares of the last whole low half, and of the last whole high one.
    pub(super) fn moments<const N: usize>(&self, shares: [f64; N]) -> [[f64; N]; 2] {
        let after = |list: &[f64], time: f64| list.iter().copied().find(|at| *at > time);
        let last = |from: &[f64], to: &[f64]| {
            let mut starts = from.iter().rev();
            let half = starts.find_map(|&start| Some((start, after(to, start)?)));
            let (start, end) = half.unwrap_or_default();
            shares.map(|share| start + share * (end - start))
        };
        [last(&self.falls, &self.rises), last(&self.rises, &self.falls)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square wave about 1 V, high in the given stretches.
    fn beats(high: &[(f64, f64)]) -> Beats {
        let mut beats = Beats::new(1.0);
        for &(rise, fall) in high {
            beats.note(&[rise, rise], &[0.0, 2.0]);
            beats.note(&[fall, fall], &[2.0, 0.0]);
        }
        beats
    }

    #[test]
    fn two_cycles_alike_tell_the_period_and_the_moments_of_either_half() {
        let even = beats(&[(1.0, 2.0), (5.0, 6.0)]);
        assert!(even.is_even());
        assert_eq!((even.period(), even.moments([0.5, 0.75])), (4.0, [[3.5, 4.25], [5.5, 5.75]]));
        assert!(!beats(&[(1.0, 2.0), (5.0, 7.0)]).is_even());
        assert!(!beats(&[(1.0, 2.0)]).is_even());
    }

    #[test]
    fn a_burst_is_even_at_its_end_and_not_as_a_whole() {
        let burst = beats(&[(1.0, 1.5), (2.0, 2.5), (8.0, 8.5), (9.0, 9.5)]);
        assert!(burst.is_even() && !burst.is_even_since(1.5) && burst.is_even_since(7.0));
    }

    #[test]
    fn the_clock_is_gone_by_before_its_oscillator_and_that_only_while_the_clock_stands() {
        let even = || beats(&[(1.0, 2.0), (3.0, 4.0), (5.0, 6.0), (7.0, 8.0)]);
        assert_eq!(reference(&[even(), even()], 1), Some(0));
        assert_eq!(reference(&[Beats::new(1.0), even()], 1), Some(1));
        assert_eq!(reference(&[beats(&[(6.0, 7.5)]), even()], 1), None);
    }
}
