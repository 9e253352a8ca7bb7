//! The bipolar transistor's law.
//!
//! Transport form of Ebers and Moll (1954) with the base charge of Gummel and Poon (1970):
//!
//! - If = IS·(e^(vbe/VT) − 1), Ir = IS·(e^(vbc/VT) − 1)
//! - q1 = 1/(1 − vbc/VAF) (Early), q2 = If/IKF (high level), qb = q1/2·(1 + √(1 + 4·q2))
//! - ic = (If − Ir)/qb − Ir/BR
//! - ib = If/BF + ISE·(e^(vbe/(NE·VT)) − 1) + Ir/BR
//! - charges: base–emitter TF·If/qb and the depletion layer; base–collector TR·Ir and the depletion layer.
//!
//! Base and collector resistances are left to whoever solves the circuit.

use crate::diode::knee;
use crate::thermal::{growth, saturation_growth, thermal_voltage};
use crate::{Bipolar, THERMAL_VOLTAGE, depletion};
use dryjoint_units::Celsius;

/// The law's constants, in NPN sense.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BipolarLaw {
    /// kT/q.
    vt: f64,
    ne: f64,
    gap: f64,
    xtb: f64,
    is: f64,
    over_bf: f64,
    over_br: f64,
    ise: f64,
    over_ne_vt: f64,
    over_ikf: f64,
    over_vaf: f64,
    cje: [f64; 3],
    cjc: [f64; 3],
    tf: f64,
    tr: f64,
}

/// Currents into collector and base, with their derivatives.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BipolarCurrents {
    /// Into the collector, amps.
    pub ic: f64,
    /// Into the base, amps.
    pub ib: f64,
    /// ∂ic/∂vbe, siemens.
    pub ic_vbe: f64,
    /// ∂ic/∂vbc.
    pub ic_vbc: f64,
    /// ∂ib/∂vbe.
    pub ib_vbe: f64,
    /// ∂ib/∂vbc.
    pub ib_vbc: f64,
}

/// Charges of the two junctions, with their derivatives.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BipolarCharges {
    /// Base–emitter, coulombs.
    pub qbe: f64,
    /// Base–collector.
    pub qbc: f64,
    /// ∂qbe/∂vbe, farads.
    pub qbe_vbe: f64,
    /// ∂qbe/∂vbc: the base charge moves with the collector.
    pub qbe_vbc: f64,
    /// ∂qbc/∂vbc.
    pub qbc_vbc: f64,
}

struct Transport {
    forward: f64,
    forward_slope: f64,
    reverse: f64,
    reverse_slope: f64,
    /// 1/qb and its derivatives.
    over_qb: f64,
    over_qb_vbe: f64,
    over_qb_vbc: f64,
}

impl BipolarLaw {
    pub(crate) fn new(card: &Bipolar) -> Self {
        Self {
            vt: THERMAL_VOLTAGE,
            ne: card.ne,
            gap: card.eg.0,
            xtb: card.xtb,
            is: card.is.0,
            over_bf: 1.0 / card.bf,
            over_br: 1.0 / card.br,
            ise: card.ise.0,
            over_ne_vt: 1.0 / (card.ne * THERMAL_VOLTAGE),
            over_ikf: 1.0 / card.ikf.0,
            over_vaf: 1.0 / card.vaf.0,
            cje: [card.cje.0, card.vje.0, card.mje],
            cjc: [card.cjc.0, card.vjc.0, card.mjc],
            tf: card.tf.0,
            tr: card.tr.0,
        }
    }

    /// This law at another temperature: the saturation currents by `saturation_growth`, gains with
    /// the power XTB of the absolute temperature. Built-in potentials are left as they are (0.1 V over
    /// the bench's range moves a capacitance by a few percent).
    pub fn at(self, temperature: Celsius) -> Self {
        let vt = thermal_voltage(temperature);
        let grown = saturation_growth(self.vt, vt, self.gap, 1.0);
        let gain = (vt / self.vt).powf(self.xtb);
        Self {
            vt,
            is: self.is * grown,
            ise: self.ise * grown.powf(1.0 / self.ne) / gain,
            over_ne_vt: 1.0 / (self.ne * vt),
            over_bf: self.over_bf / gain,
            over_br: self.over_br / gain,
            ..self
        }
    }

    /// The law of a copy with `gain` times the current gain (all base current that does not come back
    /// through the collector is divided by it) and another base–emitter voltage (`drop`
    /// volts more at the same current).
    pub fn copy(self, gain: f64, drop: f64) -> Self {
        let less = (-drop / self.vt).exp();
        let leak = (-drop / (self.ne * self.vt)).exp();
        Self { is: self.is * less, ise: self.ise * leak / gain, over_bf: self.over_bf / gain, ..self }
    }

    /// kT/q at the law's temperature.
    #[inline]
    pub fn thermal_voltage(&self) -> f64 {
        self.vt
    }

    #[inline]
    fn transport(&self, vbe: f64, vbc: f64) -> Transport {
        let over_vt = 1.0 / self.vt;
        let (rise, slope) = growth(vbe * over_vt);
        let (forward, forward_slope) = (self.is * rise, self.is * slope * over_vt);
        let (rise, slope) = growth(vbc * over_vt);
        let (reverse, reverse_slope) = (self.is * rise, self.is * slope * over_vt);
        // 1/q1 = 1 − vbc/VAF; it stays above a half, or a wild guess would turn the current round.
        let early = 1.0 - vbc * self.over_vaf;
        let (early, early_slope) = if early < 0.5 {
            (0.25 / (1.0 - early), -self.over_vaf * 0.25 / ((1.0 - early) * (1.0 - early)))
        } else {
            (early, -self.over_vaf)
        };
        let inner = 1.0 + 4.0 * forward * self.over_ikf;
        let root = if inner > 0.0 { inner.sqrt() } else { 0.0 };
        let root_slope = if inner > 0.0 { 2.0 * forward_slope * self.over_ikf / root } else { 0.0 };
        let over = 2.0 / (1.0 + root);
        Transport {
            forward,
            forward_slope,
            reverse,
            reverse_slope,
            over_qb: early * over,
            over_qb_vbe: -early * over * root_slope / (1.0 + root),
            over_qb_vbc: early_slope * over,
        }
    }

    /// Currents at junction voltages `vbe` and `vbc`.
    #[inline]
    pub fn currents(&self, vbe: f64, vbc: f64) -> BipolarCurrents {
        let t = self.transport(vbe, vbc);
        let (leak, leak_slope) = if self.ise == 0.0 { (0.0, 0.0) } else { growth(vbe * self.over_ne_vt) };
        let across = t.forward - t.reverse;
        BipolarCurrents {
            ic: across * t.over_qb - t.reverse * self.over_br,
            ib: t.forward * self.over_bf + self.ise * leak + t.reverse * self.over_br,
            ic_vbe: t.forward_slope * t.over_qb + across * t.over_qb_vbe,
            ic_vbc: -t.reverse_slope * (t.over_qb + self.over_br) + across * t.over_qb_vbc,
            ib_vbe: t.forward_slope * self.over_bf + self.ise * leak_slope * self.over_ne_vt,
            ib_vbc: t.reverse_slope * self.over_br,
        }
    }

    /// Charges at junction voltages `vbe` and `vbc`.
    pub fn charges(&self, vbe: f64, vbc: f64) -> BipolarCharges {
        let t = self.transport(vbe, vbc);
        let [c0, vj, m] = self.cje;
        let (qe, ce) = depletion(c0, vj, m, vbe);
        let [c0, vj, m] = self.cjc;
        let (qc, cc) = depletion(c0, vj, m, vbc);
        BipolarCharges {
            qbe: qe + self.tf * t.forward * t.over_qb,
            qbc: qc + self.tr * t.reverse,
            qbe_vbe: ce + self.tf * (t.forward_slope * t.over_qb + t.forward * t.over_qb_vbe),
            qbe_vbc: self.tf * t.forward * t.over_qb_vbc,
            qbc_vbc: cc + self.tr * t.reverse_slope,
        }
    }

    /// The junction voltage past which Newton's steps are shortened.
    pub fn knee(&self) -> f64 {
        knee(self.is, self.vt)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Model, Polarity, library};
    use proptest::prelude::*;

    fn card(name: &str) -> Bipolar {
        match library(name) {
            Some(Model::Bipolar(card)) => card,
            other => panic!("{name} is no transistor: {other:?}"),
        }
    }

    /// Gain and base–emitter voltage at collector current `ic` with `vce` across, resistances counted.
    fn active(card: &Bipolar, ic: f64, vce: f64) -> (f64, f64) {
        let law = card.law();
        let at = |vbe: f64| {
            // the collector resistance drops its share of vce; the base resistance is added outside
            law.currents(vbe, vbe - (vce - ic * card.rc.0))
        };
        let (mut low, mut high) = (0.2, 1.1);
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if at(middle).ic < ic { low = middle } else { high = middle }
        }
        let found = at(low);
        (found.ic / found.ib, low + found.ib * card.rb.0)
    }

    /// Collector–emitter and base–emitter voltage with `ic` and `ib` forced in.
    fn saturated(card: &Bipolar, ic: f64, ib: f64) -> (f64, f64) {
        let law = card.law();
        // For each vbe the base current fixes vbc; bisect vbe for the collector current.
        let vbc_for = |vbe: f64| {
            let (mut low, mut high) = (-5.0, vbe);
            for _ in 0..80 {
                let middle = 0.5 * (low + high);
                if law.currents(vbe, middle).ib < ib { low = middle } else { high = middle }
            }
            low
        };
        let (mut low, mut high) = (0.5, 1.0);
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if law.currents(middle, middle).ib < ib && vbc_for(middle) >= middle - 1e-9
                || law.currents(middle, vbc_for(middle)).ic < ic
            {
                low = middle;
            } else {
                high = middle;
            }
        }
        (low - vbc_for(low) + ic * card.rc.0, low + ib * card.rb.0)
    }

    #[test]
    fn npn_2n3904_keeps_its_datasheet() {
        // 2N3904 datasheet, 1 V across: hFE ≥ 40/70/100–300/60/30 at .1/1/10/50/100 mA.
        let card = card("2N3904");
        for (ic, least, most) in [
            (1e-4, 40.0, 999.0),
            (1e-3, 70.0, 999.0),
            (1e-2, 100.0, 300.0),
            (5e-2, 60.0, 999.0),
            (0.1, 30.0, 999.0),
        ] {
            let (gain, _) = active(&card, ic, 1.0);
            assert!((least..=most).contains(&gain), "hFE {gain} at {ic} A");
        }
        // VCEsat ≤ .2 V, VBEsat .65–.85 V at 10 mA with 1 mA of base current.
        let (vce, vbe) = saturated(&card, 0.010, 0.001);
        assert!(vce > 0.02 && vce <= 0.2, "VCEsat {vce}");
        assert!((0.65..=0.85).contains(&vbe), "VBEsat {vbe}");
    }

    #[test]
    fn pnp_2n3906_keeps_its_datasheet() {
        // 2N3906 datasheet: hFE 100–300 at 10 mA, 1 V.
        let (gain, _) = active(&card("2N3906"), 0.010, 1.0);
        assert!((100.0..=300.0).contains(&gain), "{gain}");
        assert_eq!(card("2N3906").polarity, Polarity::Pnp);
    }

    #[test]
    fn bc547b_and_bc557b_keep_the_datasheet() {
        // Datasheets: hFE class B 200–450 and VBE 580/660/700 mV at 2 mA, 5 V;
        // VCEsat 90 typ, 250 max mV at 10 mA / .5 mA.
        for name in ["BC547B", "BC557B"] {
            let card = card(name);
            let (gain, vbe) = active(&card, 0.002, 5.0);
            assert!((200.0..=450.0).contains(&gain), "{name} hFE {gain}");
            assert!((0.58..=0.70).contains(&vbe) && (vbe - 0.66).abs() < 0.01, "{name} VBE {vbe}");
            let (vce, _) = saturated(&card, 0.010, 0.0005);
            assert!((vce - 0.090).abs() < 0.02 && vce < 0.25, "{name} VCEsat {vce}");
        }
    }

    #[test]
    fn the_weakest_and_the_strongest_copy_still_keep_the_datasheet() {
        // 2N3904: hFE ≥ 40/70/100/60/30 at .1/1/10/50/100 mA, ≤ 300 at 10 mA, 1 V. 2N3906: 100–300 at
        // 10 mA. BC547B and BC557B: 200–450 at 2 mA, 5 V. Datasheets; some limit is nearly reached each way.
        let at = |name: &str, factor: f64, ic: f64, vce: f64| {
            let whole = card(name);
            active(&Bipolar { bf: whole.bf * factor, ise: whole.ise / factor, ..whole }, ic, vce).0
        };
        let small: &[(f64, f64, f64)] = &[
            (1e-4, 40.0, 999.0),
            (1e-3, 70.0, 999.0),
            (0.01, 100.0, 300.0),
            (0.05, 60.0, 999.0),
            (0.1, 30.0, 999.0),
        ];
        for (name, vce, limits) in [
            ("2N3904", 1.0, small),
            ("2N3906", 1.0, &[(0.01, 100.0, 300.0)]),
            ("BC547B", 5.0, &[(0.002, 200.0, 450.0)]),
            ("BC557B", 5.0, &[(0.002, 200.0, 450.0)]),
        ] {
            let gain = card(name).gain;
            let (mut lowest, mut highest) = (f64::INFINITY, 0.0f64);
            for &(ic, least, most) in limits {
                let (weak, strong) = (at(name, gain.min, ic, vce), at(name, gain.max, ic, vce));
                assert!(weak >= least && strong <= most, "{name} {weak} {strong} at {ic} A");
                lowest = lowest.min(weak / least);
                highest = highest.max(strong / most);
            }
            assert!(lowest < 1.08 && highest > 0.93, "{name}: limits not used: {lowest} {highest}");
        }
    }

    #[test]
    fn base_emitter_voltage_falls_by_two_millivolts_a_kelvin() {
        // −2 mV/K at milliamps, any textbook (Sedra and Smith, Microelectronic Circuits).
        let law = card("2N3904").law();
        let at = |celsius: f64| {
            let law = law.at(Celsius(celsius));
            let (mut low, mut high) = (0.3, 0.9);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if law.currents(middle, middle - 2.0).ic < 1e-3 { low = middle } else { high = middle }
            }
            (low, law.currents(low, low - 2.0))
        };
        let slope = (at(50.0).0 - at(0.0).0) / 50.0;
        assert!((-2.1e-3..=-1.7e-3).contains(&slope), "{slope}");
        // Gain of silicon rises by about half a percent a kelvin (datasheet curves, from memory).
        let gain = |celsius: f64| at(celsius).1.ic / at(celsius).1.ib;
        let rise = (gain(50.0) / gain(0.0)).powf(1.0 / 50.0) - 1.0;
        assert!((0.003..=0.009).contains(&rise), "{rise}");
        assert_eq!(law.at(Celsius(27.0)), law);
    }

    #[test]
    fn a_copy_with_more_drop_needs_that_much_more() {
        let law = card("2N3904").law();
        let (usual, more) = (law.currents(0.6, -1.0), law.copy(0.5, 0.03).currents(0.63, -0.97));
        assert!((more.ic / usual.ic - 1.0).abs() < 1e-3);
        assert!((more.ib / usual.ib - 2.0).abs() < 1e-3);
    }

    proptest! {
        #[test]
        fn derivatives_are_true(vbe in -5.0f64..0.95, vbc in -20.0f64..0.95) {
            let law = card("2N3906").law();
            let h = 1e-7;
            let near = |slope: f64, told: f64, size: f64| (slope - told).abs() <= 1e-4 * told.abs() + 1e-8 * size.abs() / h + 1e-13;
            let (at, be, be2) = (law.currents(vbe, vbc), law.currents(vbe + h, vbc), law.currents(vbe - h, vbc));
            let (bc, bc2) = (law.currents(vbe, vbc + h), law.currents(vbe, vbc - h));
            let half = 0.5 / h;
            prop_assert!(near((be.ic - be2.ic) * half, at.ic_vbe, at.ic));
            prop_assert!(near((be.ib - be2.ib) * half, at.ib_vbe, at.ib));
            prop_assert!(near((bc.ic - bc2.ic) * half, at.ic_vbc, at.ic));
            prop_assert!(near((bc.ib - bc2.ib) * half, at.ib_vbc, at.ib));
            let (at, be, be2) = (law.charges(vbe, vbc), law.charges(vbe + h, vbc), law.charges(vbe - h, vbc));
            let (bc, bc2) = (law.charges(vbe, vbc + h), law.charges(vbe, vbc - h));
            prop_assert!(near((be.qbe - be2.qbe) * half, at.qbe_vbe, at.qbe));
            prop_assert!(near((bc.qbe - bc2.qbe) * half, at.qbe_vbc, at.qbe));
            prop_assert!(near((bc.qbc - bc2.qbc) * half, at.qbc_vbc, at.qbc));
        }

        #[test]
        fn wild_voltages_give_finite_currents(vbe in -1e4f64..1e4, vbc in -1e4f64..1e4) {
            for name in ["2N3904", "2N3906", "BC547B"] {
                let at = card(name).law().currents(vbe, vbc);
                prop_assert!([at.ic, at.ib, at.ic_vbe, at.ic_vbc, at.ib_vbe, at.ib_vbc].iter().all(|x| x.is_finite()));
            }
        }
    }
}
