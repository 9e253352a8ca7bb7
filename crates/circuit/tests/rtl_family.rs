//! The RTL family of the example machine, one NOR being RC 2k2, RB 22k per input, 22k base to
//! emitter, 2N3904, 5 V. Figures: computed by an independent program (docs/outside-values.md),
//! without RB and RC of the card; agreement is 2 % of what the last digit stated leaves open.

mod soldered;

use dryjoint_board::{NamedModel, NetId};
use dryjoint_circuit::{Detail, Network, Solution, Solver, kirchhoff};
use dryjoint_parts::{Bipolar, Model, library};
use dryjoint_units::Volts;
use soldered::Soldered;

const GATE: [f64; 3] = [2200.0, 22e3, 22e3];
const FEW: Detail = Detail { series_resistances: false };

fn at(solution: &Solution, network: &Network, net: NetId) -> f64 {
    solution.at(network, net).unwrap().0
}

/// Within two percent of what the last digit stated leaves open.
fn close(what: &str, found: f64, stated: f64, half_digit: f64) {
    let slack = 0.02 * stated.abs() + half_digit;
    assert!((found - stated).abs() <= slack, "{what}: {found}, stated {stated}");
}

/// Output voltage and the loads' forced gain of a gate that is off, with loads of the family's kind.
fn off(gate: [f64; 3], load: [f64; 3], rail: f64, loads: usize) -> (f64, f64) {
    let mut board = Soldered::five_volts(0.5);
    board.nor("D", &["GND"], "y", gate);
    for k in 0..loads {
        board.nor(&format!("L{k}"), &["y"], &format!("z{k}"), load);
    }
    let mut network = Network::of_board(&board.board);
    network.force(board.net("VCC"), Volts(rail));
    let solution = Solver::new(FEW).solve(&network).unwrap();
    let collector = solution.pin(&network, board.pin("L0Q", 0)).unwrap();
    let base = solution.pin(&network, board.pin("L0Q", 1)).unwrap();
    (at(&solution, &network, board.net("y")), collector / base)
}

/// VIL and VIH: the inputs between which the output falls faster than the input rises.
fn thresholds(gate: [f64; 3], card: Bipolar) -> (f64, f64) {
    let mut board = Soldered::five_volts(0.5);
    board.board.models.push(NamedModel { name: "2N3904".to_owned(), model: Model::Bipolar(card) });
    board.nor("D", &["in"], "y", gate);
    let (input, y) = (board.net("in"), board.net("y"));
    let mut network = Network::of_board(&board.board);
    let mut solver = Solver::new(FEW);
    let mut output = |volts: f64| {
        network.force(input, Volts(volts));
        at(&solver.solve(&network).unwrap(), &network, y)
    };
    let h = 1e-4;
    let steep: Vec<f64> = (0..3500)
        .map(|k| f64::from(k) * 0.001)
        .filter(|v| (output(v + h) - output(v - h)) / (2.0 * h) < -1.0)
        .collect();
    (steep[0], steep[steep.len() - 1])
}

fn card() -> Bipolar {
    match library("2N3904") {
        Some(Model::Bipolar(card)) => card,
        other => panic!("{other:?}"),
    }
}

/// The card with its gain lowered to the least the datasheet allows: hFE 70 at 1 mA, 1 V.
fn weakest() -> Bipolar {
    let gain = |bf: f64| {
        let law = Bipolar { bf, ..card() }.law();
        let (mut low, mut high) = (0.4, 0.9);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if law.currents(middle, middle - 1.0).ic < 1e-3 { low = middle } else { high = middle }
        }
        let found = law.currents(low, low - 1.0);
        found.ic / found.ib
    };
    let (mut low, mut high) = (10.0, 416.4);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if gain(middle) < 70.0 { low = middle } else { high = middle }
    }
    Bipolar { bf: low, ..card() }
}

/// Fan-out, VOH, noise margin high, the same at worst, forced gain.
const FAN_OUT: [(usize, f64, f64, f64, f64); 5] = [
    (1, 4.61, 2.89, 2.16, 15.0),
    (3, 4.01, 2.29, 1.55, 19.0),
    (5, 3.56, 1.84, 1.12, 23.0),
    (8, 3.08, 1.36, 0.66, 29.0),
    (10, 2.84, 1.12, 0.43, 34.0),
];

#[test]
fn fan_out_lowers_the_high_level() {
    let (_, vih) = thresholds(GATE, card());
    for (loads, high, margin, _, forced) in FAN_OUT {
        let (found, gain) = off(GATE, GATE, 5.0, loads);
        close("VOH", found, high, 0.005);
        close("noise margin high", found - vih, margin, 0.01);
        close("forced gain", gain, forced, 0.5);
    }
}

#[test]
fn the_worst_case_keeps_a_margin() {
    // ±5 %: rail and the loads' base resistors low, the collector resistor high; against the gate that
    // needs most: least gain, base resistor high, base-to-emitter and collector resistors low.
    let (_, vih) = thresholds([0.95 * GATE[0], 1.05 * GATE[1], 0.95 * GATE[2]], weakest());
    close("worst VIH", vih, 2.18, 0.005);
    let gate = [1.05 * GATE[0], GATE[1], GATE[2]];
    let load = [GATE[0], 0.95 * GATE[1], GATE[2]];
    for (loads, _, _, margin, _) in FAN_OUT {
        // the margin is a small difference of two levels; 2 % is of the level
        close("worst level", off(gate, load, 4.75, loads).0, margin + 2.18, 0.01);
    }
}

#[test]
fn input_levels_and_the_low_level() {
    let (vil, vih) = thresholds(GATE, card());
    close("VIL", vil, 1.16, 0.005);
    close("VIH", vih, 1.72, 0.005);
    let mut board = Soldered::five_volts(0.5);
    board.nor("D", &["in"], "y", GATE);
    let mut network = Network::of_board(&board.board);
    for (input, lowest, highest) in [(4.61, 0.08, 0.10), (3.56, 0.08, 0.10)] {
        network.force(board.net("in"), Volts(input));
        let solution = Solver::new(FEW).solve(&network).unwrap();
        let vol = at(&solution, &network, board.net("y"));
        assert!((lowest - 0.005..=highest + 0.005).contains(&vol), "VOL {vol}");
        close("noise margin low", vil - vol, 1.06, 0.01);
    }
}

#[test]
fn a_buffer_drives_twelve_loads() {
    // Buffer 1k/10k/10k → 3.48 V.
    close("buffer", off([1e3, 10e3, 10e3], GATE, 5.0, 12).0, 3.48, 0.005);
}

#[test]
fn two_hundred_gates_draw_what_they_should() {
    // 200 gates, half on, three loads each: 268 mA. Two rings of a hundred, each gate reading three of
    // the other ring: one ring high keeps the other low, and the guess says which.
    let mut board = Soldered::five_volts(0.5);
    let ring = |letter: &str, k: usize| format!("{letter}{}", k % 100);
    for k in 0..100 {
        for (own, other) in [("a", "b"), ("b", "a")] {
            let inputs: Vec<String> = (k..k + 3).map(|k| ring(other, k)).collect();
            let inputs: Vec<&str> = inputs.iter().map(String::as_str).collect();
            board.nor(&format!("{own}{k}G"), &inputs, &ring(own, k), GATE);
        }
    }
    let mut guess = Vec::new();
    for k in 0..100 {
        guess.push((board.net(&ring("a", k)), Volts(4.0)));
        guess.push((board.net(&ring("b", k)), Volts(0.1)));
    }
    let network = Network::of_board(&board.board);
    let solution = Solver::new(FEW).solve_near(&network, &guess).unwrap();
    assert!(kirchhoff(&network, &solution).0 < 1e-9);
    let high = at(&solution, &network, board.net("a7"));
    close("VOH", high, 4.01, 0.005);
    let amps = solution.supply(&network, board.net("VCC")).unwrap().amps.0;
    close("supply", amps, 0.268, 0.0005);
}

#[test]
fn a_memory_chip_at_its_limits_drives_five_gates() {
    // Parallel EEPROM 28C64A (vendor datasheet): VOL ≤ .45 V at 2.1 mA, VOH ≥ 2.4 V at
    // −.4 mA. At both limits five gates of the family still read it, and so does a bus pulled up with 2k4.
    let at = |volts: f64| {
        let mut board = Soldered::five_volts(0.5);
        for k in 0..5 {
            board.nor(&format!("L{k}"), &["d"], &format!("z{k}"), GATE);
        }
        board.resistor("RP", 2400.0, "VCC", "pull");
        let mut network = Network::of_board(&board.board);
        let (d, pull) = (board.net("d"), board.net("pull"));
        network.force(d, Volts(volts));
        network.force(pull, Volts(volts));
        let solution = Solver::default().solve(&network).unwrap();
        let amps = |net| -solution.supply(&network, net).unwrap().amps.0;
        (amps(d), amps(pull), at(&solution, &network, board.net("z0")))
    };
    let (into, _, out) = at(2.4);
    assert!(-into <= 0.4e-3 && out < 1.16, "{into} A from the chip, {out} V behind the gate");
    let (into, pulled, out) = at(0.45);
    assert!(
        into + pulled <= 2.1e-3 && out > 4.9,
        "{} A into the chip, {out} V behind the gate",
        into + pulled
    );
}
