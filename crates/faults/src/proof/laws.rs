//! The parts' laws once more, written down from the published equations and not from the code that the solver
//! runs: no derivatives, no shortened steps, no tangents. What they say of a board's voltages is meant to be
//! an opinion of its own.

use dryjoint_parts::{Bipolar, Diode, Polarity};

/// kT/q at the 27 °C at which all cards are stated: k and q exact, CODATA 2018.
fn thermal_voltage() -> f64 {
    1.380_649e-23 * (273.15 + 27.0) / 1.602_176_634e-19
}

/// e^x − 1, going on in a straight line where no junction ever gets to.
fn growth(x: f64) -> f64 {
    if x > 60.0 { 60f64.exp() * (x - 59.0) } else { x.exp() - 1.0 }
}

/// Ohm: amps from `a` to `b`.
pub(super) fn resistor(ohms: f64, a: f64, b: f64) -> f64 {
    (a - b) / ohms
}

/// Shockley 1949: i = IS·(e^(v/(N·VT)) − 1). Past the reverse breakdown 10 µA flow, and e times as much every VT
/// further on; `v` is across the junction alone.
pub(super) fn junction(card: &Diode, v: f64) -> f64 {
    let vt = thermal_voltage();
    let broken = if card.bv.0.is_finite() && v < 0.0 { 1e-5 * ((-card.bv.0 - v) / vt).exp() } else { 0.0 };
    card.is.0 * growth(v / (card.n * vt)) - broken
}

/// Ebers and Moll 1954 in the transport form, with the base charge of Gummel and Poon 1970: currents into the
/// inner collector and the inner base.
///
/// - If = IS·(e^(vbe/VT) − 1), Ir = IS·(e^(vbc/VT) − 1)
/// - q1 = 1/(1 − vbc/VAF), q2 = If/IKF, qb = q1/2·(1 + √(1 + 4·q2))
/// - ic = (If − Ir)/qb − Ir/BR, ib = If/BF + ISE·(e^(vbe/(NE·VT)) − 1) + Ir/BR
pub(super) fn transistor(card: &Bipolar, collector: f64, base: f64, emitter: f64) -> [f64; 2] {
    transistor_in_time(card, collector, base, emitter).0
}

/// The same, and the charges that are held between base and emitter, and base and collector, in coulombs: what either
/// current keeps in the base (TF·If, TR·Ir), and the junctions' capacitances at no bias (CJE, CJC).
pub(super) fn transistor_in_time(
    card: &Bipolar,
    collector: f64,
    base: f64,
    emitter: f64,
) -> ([f64; 2], [f64; 2]) {
    let sign = match card.polarity {
        Polarity::Npn => 1.0,
        Polarity::Pnp => -1.0,
    };
    let (vbe, vbc) = (sign * (base - emitter), sign * (base - collector));
    let vt = thermal_voltage();
    let forward = card.is.0 * growth(vbe / vt);
    let reverse = card.is.0 * growth(vbc / vt);
    let q1 = 1.0 / (1.0 - vbc / card.vaf.0);
    let q2 = forward / card.ikf.0;
    let qb = q1 / 2.0 * (1.0 + (1.0 + 4.0 * q2).max(0.0).sqrt());
    let ic = (forward - reverse) / qb - reverse / card.br;
    let ib = forward / card.bf + card.ise.0 * growth(vbe / (card.ne * vt)) + reverse / card.br;
    let held = [card.cje.0 * vbe + card.tf.0 * forward, card.cjc.0 * vbc + card.tr.0 * reverse];
    ([sign * ic, sign * ib], held.map(|charge| sign * charge))
}

/// What flows through an electrolytic from its minus to its plus, `v` across its oxide (judgement, as its card has it: 1 µA a
/// microfarad at one volt, ten times as much every quarter of a volt).
pub(super) fn wrong_way(farads: f64, v: f64) -> f64 {
    let scale = 0.25 / std::f64::consts::LN_10;
    farads * growth(v / scale) / growth(1.0 / scale)
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_parts::{Model, library};

    #[test]
    fn a_transistor_hand_computed() {
        // IS 1 fA, BF 100, BR 1, nothing else; VBE 0.7 V, VBC −4.3 V: If = 1e-15·e^(0.7/0.025865) = .567 mA,
        // Ir = −1 fA; by hand from the equations above.
        let Some(Model::Bipolar(card)) = library("2N3904") else { panic!("a transistor") };
        let bare = dryjoint_parts::Bipolar {
            is: dryjoint_units::Amps(1e-15),
            bf: 100.0,
            br: 1.0,
            ise: dryjoint_units::Amps(0.0),
            ikf: dryjoint_units::Amps(f64::INFINITY),
            vaf: dryjoint_units::Volts(f64::INFINITY),
            ..card
        };
        let [ic, ib] = transistor(&bare, 5.0, 0.7, 0.0);
        assert!((ic / 0.567e-3 - 1.0).abs() < 0.01, "{ic}");
        assert!((ic / ib - 100.0).abs() < 1e-6, "{ic} {ib}");
    }

    #[test]
    fn a_diode_of_the_textbook() {
        // TBC 3905 Ex 2.2: 3 V, 10 kΩ, IS .5e-16, Vt 26 mV → .76 V, .224 mA; within the difference of Vt.
        let Some(Model::Diode(card)) = library("1N4148") else { panic!("a diode") };
        let card =
            dryjoint_parts::Diode { is: dryjoint_units::Amps(0.5e-16), n: 0.026 / thermal_voltage(), ..card };
        let i = junction(&card, 0.757);
        assert!((i - resistor(10e3, 3.0, 0.757)).abs() < 5e-6, "{i}");
    }
}
