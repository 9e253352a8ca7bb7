//! The junction diode: its card and its law.
//!
//! Law: i = IS·(e^(v/(N·VT)) − 1), Shockley 1949, and a steep exponential past the reverse
//! breakdown voltage. The series resistance is left to whoever solves the circuit.

use crate::thermal::{SILICON_GAP, growth, saturation_growth, thermal_voltage};
use crate::{THERMAL_VOLTAGE, depletion};
use dryjoint_units::{Amps, Celsius, Farads, Ohms, Seconds, Spread, Volts};

/// A diode's parameters at 27 °C; the names are those that cards print.
#[derive(Clone, Debug, PartialEq)]
pub struct Diode {
    /// IS, saturation current.
    pub is: Amps,
    /// N, emission coefficient.
    pub n: f64,
    /// RS, series resistance.
    pub rs: Ohms,
    /// CJO, junction capacitance at no bias.
    pub cjo: Farads,
    /// VJ, built-in potential.
    pub vj: Volts,
    /// M, grading.
    pub m: f64,
    /// TT, transit time.
    pub tt: Seconds,
    /// BV, reverse breakdown; infinite where the card has none.
    pub bv: Volts,
    /// EG, band gap.
    pub eg: Volts,
    /// How far a copy's forward voltage lies from the card's at the same current.
    pub drop: Spread<Volts>,
    /// Greatest forward current the datasheet allows.
    pub if_max: Amps,
}

/// Current that flows at exactly the breakdown voltage; datasheets rate BV at 5 to 100 µA.
const BREAKDOWN_CURRENT: f64 = 1e-5;

impl Diode {
    /// IS and N such that the junction passes `first` and `second`, each a voltage and a current.
    /// Nothing where the two do not rise together.
    pub fn through(first: (Volts, Amps), second: (Volts, Amps)) -> Option<(Amps, f64)> {
        let ((Volts(v1), Amps(i1)), (Volts(v2), Amps(i2))) = (first, second);
        let n = (v2 - v1) / (THERMAL_VOLTAGE * (i2 / i1).ln());
        let is = i1 / (v1 / (n * THERMAL_VOLTAGE)).exp_m1();
        (n.is_finite() && n > 0.0 && is.is_finite() && is > 0.0).then_some((Amps(is), n))
    }

    /// The constants of the law, ready to evaluate.
    pub fn law(&self) -> DiodeLaw {
        DiodeLaw {
            vt: THERMAL_VOLTAGE,
            gap: self.eg.0,
            is: self.is.0,
            scale: self.n * THERMAL_VOLTAGE,
            bv: self.bv.0,
            cjo: self.cjo.0,
            vj: self.vj.0,
            m: self.m,
            tt: self.tt.0,
        }
    }
}

/// A diode's law without its series resistance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiodeLaw {
    vt: f64,
    gap: f64,
    /// IS.
    pub is: f64,
    /// N·VT.
    pub scale: f64,
    /// BV.
    pub bv: f64,
    cjo: f64,
    vj: f64,
    m: f64,
    tt: f64,
}

impl DiodeLaw {
    /// A junction with nothing but a saturation current.
    pub(crate) fn plain(is: f64) -> Self {
        Self::steep(is, THERMAL_VOLTAGE)
    }

    /// The same, its current growing by e every `scale` volts.
    pub(crate) fn steep(is: f64, scale: f64) -> Self {
        Self {
            vt: THERMAL_VOLTAGE,
            gap: SILICON_GAP,
            is,
            scale,
            bv: f64::INFINITY,
            cjo: 0.0,
            vj: 1.0,
            m: 0.5,
            tt: 0.0,
        }
    }

    /// This law at another temperature.
    pub fn at(self, temperature: Celsius) -> Self {
        let vt = thermal_voltage(temperature);
        let n = self.scale / self.vt;
        Self { vt, is: self.is * saturation_growth(self.vt, vt, self.gap, n), scale: n * vt, ..self }
    }

    /// The law of a copy that drops `drop` volts more at the same current.
    pub fn copy(self, drop: f64) -> Self {
        Self { is: self.is * (-drop / self.scale).exp(), ..self }
    }

    /// Current in amps and its derivative at `v` volts across the junction.
    #[inline]
    pub fn current(&self, v: f64) -> (f64, f64) {
        let (rise, slope) = growth(v / self.scale);
        let (mut i, mut g) = (self.is * rise, self.is * slope / self.scale);
        if v < -self.bv + 30.0 * THERMAL_VOLTAGE {
            let (rise, slope) = growth((-self.bv - v) / THERMAL_VOLTAGE);
            i -= BREAKDOWN_CURRENT * (rise + 1.0);
            g += BREAKDOWN_CURRENT * slope / THERMAL_VOLTAGE;
        }
        (i, g)
    }

    /// Stored charge and capacitance at `v`: depletion layer, and TT times the current.
    pub fn charge(&self, v: f64) -> (f64, f64) {
        let (q, c) = depletion(self.cjo, self.vj, self.m, v);
        let (rise, slope) = growth(v / self.scale);
        (q + self.tt * self.is * rise, c + self.tt * self.is * slope / self.scale)
    }

    /// The voltage past which Newton's steps are shortened: where the current's curvature takes over.
    pub fn knee(&self) -> f64 {
        knee(self.is, self.scale)
    }
}

/// The voltage of greatest curvature of IS·e^(v/scale): scale·ln(scale/(√2·IS)).
pub(crate) fn knee(is: f64, scale: f64) -> f64 {
    scale * (scale / (std::f64::consts::SQRT_2 * is)).ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Model, library};
    use proptest::prelude::*;

    fn card(name: &str) -> Diode {
        match library(name) {
            Some(Model::Diode(diode)) => diode,
            other => panic!("{name} is no diode: {other:?}"),
        }
    }

    #[test]
    fn silicon_diode_drops_at_most_one_volt_at_10_milliamps() {
        // 1N4148 datasheet: VF ≤ 1 V at 10 mA.
        let diode = card("1N4148");
        let (i, _) = diode.law().current(1.0 - 0.01 * diode.rs.0);
        assert!(i >= 0.010, "{i}");
        // and is no better than silicon: above 0.6 V
        assert!(diode.law().current(0.6).0 < 0.010);
    }

    #[test]
    fn two_points_give_back_the_curve() {
        let (is, n) = Diode::through((Volts(1.55), Amps(0.001)), (Volts(1.7), Amps(0.02))).unwrap();
        let law = Diode { is, n, ..card("1N4148") }.law();
        assert!((law.current(1.7).0 / 0.02 - 1.0).abs() < 1e-9);
        assert!((law.current(1.55).0 / 0.001 - 1.0).abs() < 1e-9);
        assert_eq!(Diode::through((Volts(1.7), Amps(0.001)), (Volts(1.5), Amps(0.02))), None);
    }

    proptest! {
        #[test]
        fn derivatives_are_true(v in -8.0f64..1.2) {
            let law = Diode { bv: Volts(5.0), ..card("1N4148") }.law();
            let h = 1e-6;
            for f in [DiodeLaw::current, DiodeLaw::charge] {
                let slope = (f(&law, v + h).0 - f(&law, v - h).0) / (2.0 * h);
                let told = f(&law, v).1;
                prop_assert!((slope - told).abs() <= 1e-3 * told.abs() + 1e-15, "{} {}", slope, told);
            }
        }
    }
}
