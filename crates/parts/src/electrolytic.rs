//! The aluminium electrolytic: what leaks through it, and what it does the wrong way round.
//!
//! The right way round it leaks at most .01·C·V, the rule datasheets give. The wrong way round its oxide
//! is no barrier: makers allow about one volt, past that the current rises steeply, the can heats and may
//! burst. That part is judgement: an exponential that passes 1 µA a microfarad at one volt and ten
//! times as much every quarter of a volt, behind 5·10⁻⁴ Ω·F of electrolyte (50 Ω for 10 µF).

use crate::DiodeLaw;
use dryjoint_units::{Farads, Ohms};

/// Leakage the right way round, amps for a farad and a volt (datasheets: .01·C·V after two minutes).
const LEAKAGE: f64 = 0.01;
/// Current the wrong way round at one volt, amps for a farad.
const WRONG_AT_ONE_VOLT: f64 = 1.0;
/// Voltage that multiplies it by e.
const WRONG_SCALE: f64 = 0.25 / std::f64::consts::LN_10;
/// Resistance of the electrolyte times capacitance, ohms times farads.
const ELECTROLYTE: f64 = 5e-4;

/// What an electrolytic conducts, besides being a capacitor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leakage {
    /// From plus to minus.
    pub leak: Ohms,
    /// From minus to plus.
    pub wrong_way: DiodeLaw,
    /// In series with that.
    pub electrolyte: Ohms,
}

impl Leakage {
    /// Of an electrolytic of that value.
    pub fn of(value: Farads) -> Self {
        let farads = value.0.max(1e-12);
        let is = WRONG_AT_ONE_VOLT * farads / (1.0 / WRONG_SCALE).exp_m1();
        Self {
            leak: Ohms(1.0 / (LEAKAGE * farads)),
            wrong_way: DiodeLaw::steep(is, WRONG_SCALE),
            electrolyte: Ohms(ELECTROLYTE / farads),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_right_way_it_leaks_as_datasheets_allow() {
        // .01·C·V: 10 µF at 5 V, .5 µA.
        let Leakage { leak, wrong_way, electrolyte } = Leakage::of(Farads(10e-6));
        let amps = 5.0 / leak.0 - wrong_way.current(-5.0).0;
        assert!((amps - 0.5e-6).abs() < 1e-8, "{amps}");
        assert_eq!(electrolyte, Ohms(50.0));
    }

    #[test]
    fn the_wrong_way_it_bears_a_volt_and_no_more() {
        // Makers allow about a volt (common practice, no one source).
        let law = Leakage::of(Farads(10e-6)).wrong_way;
        assert!((law.current(1.0).0 - 10e-6).abs() < 1e-8);
        assert!(law.current(2.0).0 > 50e-3);
    }
}
