//! The enhancement MOSFET: its card and its square law.
//!
//! Law (Shichman and Hodges 1968, "level 1"), with K as datasheets of small switching types and
//! textbooks use it, ID = K/2·(vgs − VT)²·(1 + λ·vds) in saturation and
//! K·((vgs − VT) − vds/2)·vds·(1 + λ·vds) below it.

use crate::thermal::thermal_voltage;
use crate::{CARD_TEMPERATURE, DiodeLaw, Polarity, THERMAL_VOLTAGE};
use dryjoint_units::{Amps, Celsius, Farads, Spread, Volts, Watts};

/// A MOSFET's parameters at 27 °C.
#[derive(Clone, Debug, PartialEq)]
pub struct Mosfet {
    /// `Npn` for an n-channel, `Pnp` for a p-channel type: which way it conducts.
    pub polarity: Polarity,
    /// KP, transconductance parameter, A/V².
    pub kp: f64,
    /// VTO, threshold.
    pub vto: Volts,
    /// LAMBDA, channel-length modulation, 1/V.
    pub lambda: f64,
    /// CGS, gate–source capacitance.
    pub cgs: Farads,
    /// CGD, gate–drain capacitance.
    pub cgd: Farads,
    /// IS of the body diode.
    pub is: Amps,
    /// How far a copy's threshold lies from the card's.
    pub threshold: Spread<Volts>,
    /// Greatest drain current the datasheet allows.
    pub id_max: Amps,
    /// Greatest dissipation in free air.
    pub p_max: Watts,
    /// Greatest gate–source voltage.
    pub vgs_max: Volts,
    /// Greatest drain–source voltage.
    pub vds_max: Volts,
}

/// The channel's law, in n-channel sense.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MosfetLaw {
    /// KP.
    pub kp: f64,
    /// VTO.
    pub vto: f64,
    /// LAMBDA.
    pub lambda: f64,
}

impl Mosfet {
    /// The constants of the law, ready to evaluate.
    pub fn law(&self) -> MosfetLaw {
        MosfetLaw { kp: self.kp, vto: self.vto.0, lambda: self.lambda }
    }

    /// The body diode, from source to drain in n-channel sense.
    pub fn body(&self) -> DiodeLaw {
        DiodeLaw::plain(self.is.0)
    }
}

/// How the threshold falls with temperature, volts per kelvin (datasheet curves of small switching
/// types fall by 2 to 4 mV/K; from memory).
const THRESHOLD_FALL: f64 = 2e-3;

impl MosfetLaw {
    /// This law, stated at 27 °C, at another temperature: mobility, and with it KP, as the absolute
    /// temperature to the power −1.5 (Antognetti and Massobrio), the threshold in a straight line.
    pub fn at(self, temperature: Celsius) -> Self {
        let above = temperature.0 - CARD_TEMPERATURE.0;
        let ratio = thermal_voltage(temperature) / THERMAL_VOLTAGE;
        Self { kp: self.kp * ratio.powf(-1.5), vto: self.vto - THRESHOLD_FALL * above, ..self }
    }

    /// The law of a copy whose threshold is `by` volts higher.
    pub fn copy(self, by: f64) -> Self {
        Self { vto: self.vto + by, ..self }
    }

    /// Channel current from drain to source, ∂id/∂vgs and ∂id/∂vds.
    pub fn current(&self, vgs: f64, vds: f64) -> (f64, f64, f64) {
        if vds < 0.0 {
            // drain and source change places
            let (i, by_gate, by_drain) = self.current(vgs - vds, -vds);
            return (-i, -by_gate, by_gate + by_drain);
        }
        let over = vgs - self.vto;
        if over <= 0.0 {
            return (0.0, 0.0, 0.0);
        }
        let stretch = 1.0 + self.lambda * vds;
        if vds >= over {
            let half = 0.5 * self.kp * over * over;
            (half * stretch, self.kp * over * stretch, half * self.lambda)
        } else {
            let core = self.kp * (over - 0.5 * vds) * vds;
            (core * stretch, self.kp * vds * stretch, self.kp * (over - vds) * stretch + core * self.lambda)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Model, library};
    use proptest::prelude::*;

    fn card(name: &str) -> Mosfet {
        match library(name) {
            Some(Model::Mosfet(card)) => card,
            other => panic!("{name} is no MOSFET: {other:?}"),
        }
    }

    #[test]
    fn a_university_course_example() {
        // University course code: K .138 A/V², VT 2.0 V, λ 1/65, VGS 2.3, VDS 3 → 6.4966 mA.
        let (i, ..) = MosfetLaw { kp: 0.138, vto: 2.0, lambda: 1.0 / 65.0 }.current(2.3, 3.0);
        assert!((i - 6.4966e-3).abs() < 1e-7, "{i}");
    }

    #[test]
    fn switches_keep_their_datasheets() {
        // 2N7000 datasheet: VGSth .8/2.1/3.0 V at 1 mA; RDS ≤ 5.3 Ω (4.5 V, 75 mA), ≤ 5 Ω (10 V, 500 mA).
        // BSS138 datasheet: VGSth .8/1.3/1.5 V; RDS 1/6 Ω typ/max at 4.5 V.
        let resistance = |card: &Mosfet, vgs: f64, id: f64| {
            let (mut low, mut high) = (0.0, 10.0);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if card.law().current(vgs, middle).0 < id { low = middle } else { high = middle }
            }
            low / id
        };
        let n = card("2N7000");
        // 2N7000 datasheet: Ciss ≤ 60 pF.
        assert!(n.cgs.0 + n.cgd.0 <= 60e-12);
        assert!(resistance(&n, 4.5, 0.075) <= 5.3 && resistance(&n, 10.0, 0.5) <= 5.0);
        assert!(n.law().current(0.8, 0.8).0 < 1e-3 && n.law().current(3.0, 3.0).0 > 1e-3);
        let b = card("BSS138");
        let r = resistance(&b, 4.5, 0.22);
        assert!((0.5..=6.0).contains(&r), "{r}");
        assert!(b.law().current(0.8, 0.8).0 < 1e-3 && b.law().current(1.5, 1.5).0 > 1e-3);
    }

    proptest! {
        #[test]
        fn derivatives_are_true(vgs in -3.0f64..6.0, vds in -6.0f64..6.0) {
            let law = card("2N7000").law();
            let h = 1e-6;
            let (_, by_gate, by_drain) = law.current(vgs, vds);
            let gate = (law.current(vgs + h, vds).0 - law.current(vgs - h, vds).0) / (2.0 * h);
            let drain = (law.current(vgs, vds + h).0 - law.current(vgs, vds - h).0) / (2.0 * h);
            prop_assert!((gate - by_gate).abs() < 1e-5 && (drain - by_drain).abs() < 1e-5);
        }
    }
}
