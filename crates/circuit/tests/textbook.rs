//! Solved examples of textbooks, each with its source. "TBC" is the coded solution of a textbook, by
//! its number and example. Texts compute with fixed junction drops; the cards here are made to show
//! that drop at the text's current, and the slack says how far an exponential may stray from it.

use dryjoint_circuit::{GROUND, Network, NodeId, Solution, Solver, solve};
use dryjoint_parts::{Bipolar, Diode, Model, THERMAL_VOLTAGE, library};
use dryjoint_units::{Amps, Ohms, Volts};

fn near(found: f64, stated: f64, share: f64, what: &str) {
    assert!((found - stated).abs() <= share * stated.abs(), "{what}: {found}, stated {stated}");
}

fn silicon() -> Diode {
    match library("1N4148") {
        Some(Model::Diode(card)) => Diode { rs: Ohms(0.0), ..card },
        _ => unreachable!("the card is built in"),
    }
}

/// A diode with a nearly constant drop: `volts` at `amps`, 12 mV a decade.
fn drop(volts: f64, amps: f64) -> Diode {
    let n = 0.2;
    Diode { is: Amps(amps * (-volts / (n * THERMAL_VOLTAGE)).exp()), n, ..silicon() }
}

/// A transistor of gain `gain` with base–emitter voltage `vbe` at collector current `ic`; no Early
/// effect, no leakage, no knee, hardly any reverse gain loss.
fn plain(gain: f64, vbe: f64, ic: f64) -> Bipolar {
    let Some(Model::Bipolar(card)) = library("2N3904") else { unreachable!("the card is built in") };
    Bipolar {
        is: Amps(ic * (-vbe / THERMAL_VOLTAGE).exp()),
        bf: gain,
        br: 1000.0,
        ise: Amps(0.0),
        ikf: Amps(f64::INFINITY),
        vaf: Volts(f64::INFINITY),
        rb: Ohms(0.0),
        rc: Ohms(0.0),
        ..card
    }
}

fn rail(network: &mut Network, volts: f64) -> NodeId {
    let node = network.node();
    network.ideal(node, Volts(volts));
    node
}

fn solved(network: &Network) -> Solution {
    solve(network).unwrap_or_else(|failure| panic!("{failure}"))
}

#[test]
fn diode_and_resistor() {
    // TBC 3905 Ex 2.2: 3 V, 10 kΩ, IS .5e-16, Vt 26 mV → .76 V, .224 mA.
    let mut n = Network::new();
    let (top, middle) = (rail(&mut n, 3.0), n.node());
    n.resistor(top, middle, Ohms(10e3));
    let d = n.diode(middle, GROUND, &Diode { is: Amps(0.5e-16), n: 0.026 / THERMAL_VOLTAGE, ..silicon() });
    let s = solved(&n);
    near(s.node(middle).0, 0.76, 0.01, "VD");
    near(s.element(d)[0].0, 0.224e-3, 0.005, "ID");
}

#[test]
fn rtl_inverter_at_the_edge_of_saturation() {
    // TBC 3905 Ex 3.11: 5 V, RC 1k, RB 10k, β 100, VBE .8, VCE .1 → IB 49 µA, VIN 1.29 V.
    // The junction law puts 2 % of the collector current into saturation at VCE .1 V already.
    let at = |vin: f64| {
        let mut n = Network::new();
        let (vcc, input, base, out) = (rail(&mut n, 5.0), rail(&mut n, vin), n.node(), n.node());
        n.resistor(vcc, out, Ohms(1e3));
        n.resistor(input, base, Ohms(10e3));
        let q = n.bipolar(out, base, GROUND, &plain(100.0, 0.8, 4.9e-3));
        let s = solved(&n);
        (s.node(out).0, s.element(q)[1].0)
    };
    let (mut low, mut high) = (0.5, 3.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if at(middle).0 > 0.1 { low = middle } else { high = middle }
    }
    near(at(low).1, 49e-6, 0.04, "IB");
    near(low, 1.29, 0.02, "VIN");
}

#[test]
fn rtl_inverter_with_five_loads() {
    // TBC 3905 Ex 3.12: the inverter of Ex 3.11 with fan-out 5 → VOH 3.60 V.
    let mut n = Network::new();
    let (vcc, out) = (rail(&mut n, 5.0), n.node());
    n.resistor(vcc, out, Ohms(1e3));
    n.bipolar(out, GROUND, GROUND, &plain(100.0, 0.8, 4.9e-3));
    for _ in 0..5 {
        let (base, load) = (n.node(), n.node());
        n.resistor(out, base, Ohms(10e3));
        n.resistor(vcc, load, Ohms(1e3));
        n.bipolar(load, base, GROUND, &plain(100.0, 0.8, 4.9e-3));
    }
    near(solved(&n).node(out).0, 3.60, 0.005, "VOH");
}

#[test]
fn inverter_between_two_rails() {
    // TBC 506 Ex 6.1: ±12 V, R1 15k, R2 100k to −12 V, RC 2.2k → VB(off) −1.565 V;
    // IC 5.36, IBmin .179 (hFE 30), IB .619 mA; VO .2 V.
    let at = |vin: f64| {
        let mut n = Network::new();
        let (plus, minus, input) = (rail(&mut n, 12.0), rail(&mut n, -12.0), rail(&mut n, vin));
        let (base, out) = (n.node(), n.node());
        n.resistor(input, base, Ohms(15e3));
        n.resistor(base, minus, Ohms(100e3));
        n.resistor(plus, out, Ohms(2.2e3));
        // A collector resistance makes up the text's VCE of .2 V.
        let card = Bipolar { rc: Ohms(36.0), ..plain(30.0, 0.8, 5.36e-3) };
        let q = n.bipolar(out, base, GROUND, &card);
        let s = solved(&n);
        (s.node(base).0, s.node(out).0, s.element(q)[0].0, s.element(q)[1].0)
    };
    near(at(0.0).0, -1.565, 0.001, "VB(off)");
    let (_, out, ic, ib) = at(12.0);
    near(ic, 5.36e-3, 0.005, "IC");
    near(ic / 30.0, 0.179e-3, 0.005, "IBmin");
    near(ib, 0.619e-3, 0.01, "IB");
    near(out, 0.2, 0.1, "VO");
}

/// TBC 506 Ex 6.5: DTL, 5 V, R 5k to P, input diode, two series diodes, base 5k to ground, RC 2.2k.
fn dtl(vin: f64) -> (f64, f64, f64, f64) {
    let mut n = Network::new();
    let (vcc, input) = (rail(&mut n, 5.0), rail(&mut n, vin));
    let (p, middle, base, out) = (n.node(), n.node(), n.node(), n.node());
    n.resistor(vcc, p, Ohms(5e3));
    n.diode(p, input, &drop(0.7, 0.5e-3));
    n.diode(p, middle, &drop(0.7, 0.5e-3));
    n.diode(middle, base, &drop(0.7, 0.5e-3));
    n.resistor(base, GROUND, Ohms(5e3));
    n.resistor(vcc, out, Ohms(2.2e3));
    let q = n.bipolar(out, base, GROUND, &plain(6.0, 0.8, 2.18e-3));
    let s = solved(&n);
    (s.node(p).0, s.node(base).0, s.element(q)[0].0, s.element(q)[1].0)
}

#[test]
fn dtl_gate() {
    // TBC 506 Ex 6.5 → VP 2.2 V, IB .40 mA, hFEmin 5.45; noise margins high 3.4, low .8 V.
    let (p, _, ic, ib) = dtl(5.0);
    near(p, 2.2, 0.01, "VP");
    near(ib, 0.40e-3, 0.02, "IB");
    near(ic / ib, 5.45, 0.05, "hFEmin");
    // The text's margins count from cut-in: .6 V over the input diode, .5 V from base to emitter.
    near(5.0 - (p - 0.6), 3.4, 0.01, "NM high");
    let (mut low, mut high) = (0.0, 2.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if dtl(middle).1 < 0.5 { low = middle } else { high = middle }
    }
    // The text lets the series diodes cut in at .6 V; those here hold .68 V at such currents while
    // the input diode holds .7: both shifts together are within 3 × .1 V.
    assert!((low - 0.2 - 0.8).abs() < 0.3, "NM low {}", low - 0.2);
}

#[test]
fn emitter_resistor_bias() {
    // Kumar & Jain Ex 4.3: VCC 10, VBB 5, RB 100k, RE = RC = 2k, β 100 → VB ≈ 3.6, VC ≈ 7.2 V.
    let mut n = Network::new();
    let (vcc, vbb) = (rail(&mut n, 10.0), rail(&mut n, 5.0));
    let (c, b, e) = (n.node(), n.node(), n.node());
    n.resistor(vcc, c, Ohms(2e3));
    n.resistor(vbb, b, Ohms(100e3));
    n.resistor(e, GROUND, Ohms(2e3));
    n.bipolar(c, b, e, &plain(100.0, 0.7, 1.42e-3));
    let s = solved(&n);
    near(s.node(b).0, 3.6, 0.01, "VB");
    near(s.node(c).0, 7.2, 0.01, "VC");
}

#[test]
fn fixed_bias() {
    // TBC 2150 Ex 4.16: 12 V, 240k, 2.2k, β 50 → 47.08 µA, 2.35 mA, 6.83 V.
    let mut n = Network::new();
    let (vcc, c, b) = (rail(&mut n, 12.0), n.node(), n.node());
    n.resistor(vcc, b, Ohms(240e3));
    n.resistor(vcc, c, Ohms(2.2e3));
    let q = n.bipolar(c, b, GROUND, &plain(50.0, 0.7, 2.35e-3));
    let s = solved(&n);
    near(s.element(q)[1].0, 47.08e-6, 0.001, "IB");
    near(s.element(q)[0].0, 2.35e-3, 0.003, "IC");
    near(s.node(c).0, 6.83, 0.003, "VCE");
}

#[test]
fn lamp_resistor() {
    // Common textbook sum: lamp of 2 V at 20 mA from 5 V → 150 Ω.
    let Some(Model::Lamp(card)) = library("brightred") else { unreachable!("the card is built in") };
    let mut n = Network::new();
    let (vcc, a) = (rail(&mut n, 5.0), n.node());
    n.resistor(vcc, a, Ohms(150.0));
    let d = n.lamp(a, GROUND, &card);
    near(solved(&n).element(d)[0].0, 0.020, 0.005, "IF");
}

#[test]
fn diode_gates() {
    // TBC 3169 Ex 3.7: diode OR, 10 V in, .7 V drop, 1k → 9.3 V, 9.3 mA.
    let mut n = Network::new();
    let (high, low, out) = (rail(&mut n, 10.0), rail(&mut n, 0.0), n.node());
    n.diode(high, out, &drop(0.7, 9.3e-3));
    n.diode(low, out, &drop(0.7, 9.3e-3));
    let r = n.resistor(out, GROUND, Ohms(1e3));
    let s = solved(&n);
    near(s.node(out).0, 9.3, 0.001, "VO");
    near(s.element(r)[0].0, 9.3e-3, 0.001, "I");
    // Neamen P2.62: two diode ANDs one after the other, .6 V each → .6 V, 1.2 V.
    let mut n = Network::new();
    let (vcc, zero) = (rail(&mut n, 5.0), rail(&mut n, 0.0));
    let (first, second) = (n.node(), n.node());
    // the second gate's current flows through the first gate's diode too
    n.resistor(vcc, first, Ohms(10e3));
    n.diode(first, zero, &drop(0.6, 0.82e-3));
    n.resistor(vcc, second, Ohms(10e3));
    n.diode(second, first, &drop(0.6, 0.38e-3));
    let s = solved(&n);
    near(s.node(first).0, 0.6, 0.005, "first AND");
    near(s.node(second).0, 1.2, 0.005, "second AND");
}

#[test]
fn wired_and_pull_up() {
    // Floyd Ex 15-6: IOL 30 mA, four loads of 1.6 mA, VOL .4 V, 5 V → pull-up ≥ 195 Ω.
    let mut n = Network::new();
    let (vcc, out) = (rail(&mut n, 5.0), rail(&mut n, 0.4));
    n.resistor(vcc, out, Ohms(195.0));
    for _ in 0..4 {
        n.current(vcc, out, Amps(1.6e-3));
    }
    let s = solved(&n);
    let sunk = -s.deliveries()[1].amps.0;
    near(sunk, 30e-3, 0.001, "IOL");
}

#[test]
fn mosfet_in_saturation() {
    // University course code: K .138 A/V², VT 2.0 V, λ 1/65, VGS 2.3, VDS 3 → 6.4966 mA.
    let Some(Model::Mosfet(card)) = library("2N7000") else { unreachable!("the card is built in") };
    let mut n = Network::new();
    let (drain, gate) = (rail(&mut n, 3.0), rail(&mut n, 2.3));
    let m = n.mosfet(drain, gate, GROUND, &card);
    near(solved(&n).element(m)[0].0, 6.4966e-3, 1e-4, "ID");
}

#[test]
fn the_supply_turns_from_voltage_to_current_at_its_limit() {
    // 5 V, 100 mA into 10 Ω: 1 V (Ohm's law). Into 100 Ω: 5 V, 50 mA.
    let at = |ohms: f64| {
        let mut n = Network::new();
        let vcc = n.node();
        n.supply(vcc, Volts(5.0), Amps(0.1));
        n.resistor(vcc, GROUND, Ohms(ohms));
        let s = solved(&n);
        (s.node(vcc).0, s.deliveries()[0].amps.0)
    };
    near(at(10.0).0, 1.0, 1e-9, "limited");
    near(at(10.0).1, 0.1, 1e-9, "limit");
    near(at(100.0).1, 0.05, 1e-9, "held");
    // A 12 V rail bridged to a 5 V rail: the 5 V supply takes nothing back.
    let mut n = Network::new();
    let (five, twelve) = (n.node(), n.node());
    n.supply(five, Volts(5.0), Amps(0.5));
    n.supply(twelve, Volts(12.0), Amps(0.5));
    n.resistor(five, GROUND, Ohms(100.0));
    n.resistor(five, twelve, Ohms(0.1));
    let s = Solver::default().solve(&n).unwrap();
    near(s.node(five).0, 12.0 * 100.0 / 100.1, 1e-9, "bridged rail");
    assert_eq!(s.deliveries()[0].amps.0, 0.0);
}
