//! What must hold whatever the circuit: Kirchhoff's law at every point in time, no charge and no energy
//! lost, and waveforms that do not depend on how finely time is cut.

mod soldered;

use dryjoint_board::{NetId, PartKind};
use dryjoint_circuit::{Action, Event, GROUND, Network, NodeId, Pace, Solution, Solver, Spot, Trace, solve};
use dryjoint_parts::{Bipolar, Diode, Model, library};
use dryjoint_units::{Farads, Ohms, Seconds, Volts};
use soldered::Soldered;

const GATE: [f64; 3] = [2200.0, 22e3, 22e3];

fn diode() -> Diode {
    match library("1N4148") {
        Some(Model::Diode(card)) => card,
        other => panic!("{other:?}"),
    }
}

fn npn() -> Bipolar {
    match library("2N3904") {
        Some(Model::Bipolar(card)) => card,
        other => panic!("{other:?}"),
    }
}

fn drive(at: f64, spot: impl Into<Spot>, to: f64, over: f64) -> Event {
    let (spot, to, over) = (spot.into(), Volts(to), Seconds(over));
    Event { at: Seconds(at), action: Action::Drive { spot, to, over } }
}

/// A circuit with what happens to it and what is looked at.
struct Setup {
    network: Network,
    from: Option<Solution>,
    events: Vec<Event>,
    until: f64,
    watch: Vec<Spot>,
}

impl Setup {
    fn run(&self, error: f64) -> Trace {
        let pace = Pace { error: Volts(error), ..Pace::default() };
        let until = Seconds(self.until);
        Solver::default()
            .transient(&self.network, self.from.as_ref(), &self.events, until, &self.watch, pace)
            .unwrap_or_else(|failure| panic!("{failure}"))
    }
}

/// Two cross-coupled transistors, 50k and `farads`.
fn astable(farads: f64, until: f64) -> Setup {
    let mut network = Network::new();
    let vcc = network.node();
    network.ideal(vcc, Volts(5.0));
    let (outs, bases): ([NodeId; 2], [NodeId; 2]) =
        ([network.node(), network.node()], [network.node(), network.node()]);
    for k in 0..2 {
        network.resistor(vcc, outs[k], Ohms(2.2e3));
        network.resistor(vcc, bases[k], Ohms([50e3, 55e3][k]));
        network.bipolar(outs[k], bases[k], GROUND, &npn());
        network.capacitor(outs[1 - k], bases[k], Farads(farads));
    }
    Setup { network, from: None, events: Vec::new(), until, watch: vec![outs[0].into(), bases[0].into()] }
}

/// Three gates in a row with five loads each, an edge going through.
fn gates() -> Setup {
    let mut board = Soldered::five_volts(0.5);
    for (k, pair) in ["in", "x", "y", "z"].windows(2).enumerate() {
        board.nor(&format!("G{k}"), &[pair[0]], pair[1], GATE);
        for load in 1..5 {
            board.nor(&format!("L{k}{load}"), &[pair[1]], &format!("w{k}{load}"), GATE);
        }
        let kind = PartKind::Capacitor { farads: Farads(50e-12), polar: false };
        board.fit(&format!("C{k}"), kind, &[pair[1], "GND"]);
    }
    let nets: Vec<NetId> = ["in", "x", "y", "z"].map(|net| board.net(net)).to_vec();
    let mut network = Network::of_board(&board.board);
    network.force(nets[0], Volts(0.1));
    let from = Some(solve(&network).unwrap());
    let events = vec![drive(1e-6, nets[0], 4.0, 20e-9), drive(5e-6, nets[0], 0.1, 20e-9)];
    Setup { network, from, events, until: 10e-6, watch: nets[1..].iter().map(|net| (*net).into()).collect() }
}

/// A power-on reset of 22k and 10 µF into a gate.
fn reset() -> Setup {
    let mut network = Network::new();
    let (vcc, c, b, y) = (network.node(), network.node(), network.node(), network.node());
    network.ideal(vcc, Volts(5.0));
    network.resistor(vcc, c, Ohms(22e3));
    network.capacitor(c, GROUND, Farads(10e-6));
    network.resistor(c, b, Ohms(22e3));
    network.resistor(b, GROUND, Ohms(22e3));
    network.resistor(vcc, y, Ohms(2.2e3));
    network.bipolar(y, b, GROUND, &npn());
    Setup { network, from: None, events: Vec::new(), until: 0.3, watch: vec![c.into(), y.into()] }
}

/// Every time at which a trace's spot crosses a level.
fn crossings(trace: &Trace, spot: usize, level: f64) -> Vec<f64> {
    let mut found = Vec::new();
    let mut after = 0.0;
    while let Some(time) = [true, false]
        .into_iter()
        .filter_map(|up| trace.crossing(spot, level, up, after))
        .min_by(f64::total_cmp)
    {
        found.push(time);
        after = time;
    }
    found
}

#[test]
fn kirchhoffs_law_holds_at_every_point_in_time() {
    // Kirchhoff's current law, to 1e-9 A.
    for (name, setup) in [
        ("clock of 1 nF", astable(1e-9, 0.3e-3)),
        ("clock of 10 uF", astable(10e-6, 2.0)),
        ("gates", gates()),
        ("reset", reset()),
    ] {
        let trace = setup.run(Pace::default().error.0);
        assert!(trace.complete && trace.residual.0 < 1e-9, "{name}: {}", trace.residual);
    }
}

#[test]
fn halving_the_tolerance_moves_no_crossing_by_a_thousandth() {
    for (name, setup, level) in
        [("clock", astable(1e-9, 0.5e-3), 2.5), ("gates", gates(), 1.44), ("reset", reset(), 1.44)]
    {
        let (coarse, fine) = (setup.run(Pace::default().error.0), setup.run(0.5 * Pace::default().error.0));
        for spot in 0..setup.watch.len() {
            let (a, b) = (crossings(&coarse, spot, level), crossings(&fine, spot, level));
            assert_eq!(a.len(), b.len(), "{name}");
            for (a, b) in a.iter().zip(&b) {
                // counted from what caused it
                let cause =
                    setup.events.iter().map(|event| event.at.0).filter(|at| at < b).fold(0.0, f64::max);
                let moved = (a - b) / (b - cause);
                assert!(moved.abs() < 1e-3, "{name}, spot {spot}: {a} s, then {b} s");
            }
        }
    }
}

/// The integral of `f(row)` over the trace, by trapezoids.
fn integral(trace: &Trace, f: impl Fn(usize) -> f64) -> f64 {
    (1..trace.times.len()).map(|k| 0.5 * (f(k - 1) + f(k)) * (trace.times[k] - trace.times[k - 1])).sum()
}

#[test]
fn charge_and_energy_balance_in_a_resistor_and_capacitor() {
    // A source of V charges C through R: it gives Q = C·V and W = C·V², half of which R turns to heat,
    // whatever R is. Any textbook.
    let (r, c, v) = (10e3, 1e-6, 5.0);
    let mut network = Network::new();
    let (top, middle) = (network.node(), network.node());
    network.ideal(top, Volts(v));
    network.resistor(top, middle, Ohms(r));
    network.capacitor(middle, GROUND, Farads(c));
    let setup = Setup { network, from: None, events: Vec::new(), until: 0.2, watch: vec![middle.into()] };
    let trace = setup.run(1e-6);
    let amps = |k: usize| (v - trace.volts[0][k]) / r;
    // the first row is before the source is on
    let given = integral(&trace, |k| if k == 0 { v / r } else { amps(k) });
    let heat = integral(&trace, |k| if k == 0 { v * v / r } else { amps(k).powi(2) * r });
    assert!((given / (c * v) - 1.0).abs() < 1e-3, "{given} C");
    assert!((heat / (0.5 * c * v * v) - 1.0).abs() < 1e-3, "{heat} J");
}

#[test]
fn a_junction_gives_back_all_the_charge_it_took() {
    // Down to −4 V and back, then to +0.3 V and back: a capacitance integrated in place of a charge gains
    // or loses some at each turn (Ward and Dutton 1978, on charge conservation). What went through the
    // resistor on the way down is the depletion layer's charge by its law.
    let r = 1e6;
    let mut network = Network::new();
    let (source, anode) = (network.node(), network.node());
    network.ideal(source, Volts(0.0));
    network.resistor(source, anode, Ohms(r));
    let card = Diode { rs: Ohms(0.0), ..diode() };
    network.diode(anode, GROUND, &card);
    let from = solve(&network).ok();
    let turns = [(1e-6, -4.0), (31e-6, 0.0), (61e-6, 0.3), (91e-6, 0.0)];
    let events = turns.map(|(at, to)| drive(at, source, to, 1e-6)).to_vec();
    let watch = vec![source.into(), anode.into()];
    let setup = Setup { network, from, events, until: 130e-6, watch };
    let trace = setup.run(1e-5);
    let law = card.law();
    // what the resistor brings and the junction's own leakage does not take
    let through = |until: f64| {
        integral(&trace, |k| {
            let (source, anode) = (trace.volts[0][k], trace.volts[1][k]);
            if trace.times[k] > until { 0.0 } else { (source - anode) / r - law.current(anode).0 }
        })
    };
    let (down, back) = (through(30.9e-6), through(130e-6));
    let stated = law.charge(trace.at(1, 30.9e-6).unwrap()).0 - law.charge(0.0).0;
    assert!((down / stated - 1.0).abs() < 5e-3, "{down} C, by the law {stated}");
    assert!(back.abs() < 2e-3 * stated.abs(), "{back} C stayed, {stated} went");
}
