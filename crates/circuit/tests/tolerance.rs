//! Worst cases and random copies, against sums done by hand and figures of an independent program.

mod soldered;

use dryjoint_circuit::{
    Conditions, Detail, Network, NoSolution, Solver, Tolerance, Variable, corners, monte_carlo, solve,
};
use dryjoint_units::{Celsius, Spread, Volts};
use proptest::prelude::*;
use soldered::Soldered;

const GATE: [f64; 3] = [2200.0, 22e3, 22e3];

/// The rail exact, 27 °C.
const STILL: Conditions = Conditions {
    rail: 0.0,
    temperature: Spread { min: Celsius(27.0), typ: Celsius(27.0), max: Celsius(27.0) },
};

#[test]
fn a_divider_at_its_corners() {
    // 5 V over 1k + 1k of 5 %: 5·.95/2 = 2.375 V to 2.625 V, by Ohm's law.
    let mut board = Soldered::five_volts(0.5);
    board.resistor("R1", 1e3, "VCC", "y");
    board.resistor("R2", 1e3, "y", "GND");
    let network = Network::of_board(&board.board);
    let y = board.net("y");
    let tolerances = network.tolerances(&board.board, &STILL);
    assert_eq!(tolerances.len(), 2);
    let found = corners(&network, &tolerances, |network| {
        Ok::<_, NoSolution>(vec![solve(network)?.at(network, y).unwrap().0])
    })
    .unwrap();
    assert!((found[0].typical - 2.5).abs() < 1e-6);
    assert!((found[0].least.value - 2.375).abs() < 1e-6 && (found[0].most.value - 2.625).abs() < 1e-6);
    // R1 alone, 5 % low: 5/1.95 − 2.5 V.
    assert!((found[0].effects[0][0] - (5.0 / 1.95 - 2.5)).abs() < 1e-6);
}

/// A gate that is off with `loads` gates behind it, and one gate more to read its threshold.
fn family(loads: usize) -> Soldered {
    let mut board = Soldered::five_volts(0.5);
    board.nor("D", &["GND"], "y", GATE);
    for k in 0..loads {
        board.nor(&format!("L{k}"), &["y"], &format!("z{k}"), GATE);
    }
    board.nor("T", &["in"], "t", GATE);
    board
}

/// The least input at which the gate's output no longer falls faster than the input rises.
fn vih(network: &Network, board: &mut Soldered, solver: &mut Solver) -> Result<f64, NoSolution> {
    let (input, t) = (board.net("in"), board.net("t"));
    let mut network = network.clone();
    let mut output = |volts: f64| {
        network.force(input, Volts(volts));
        solver.solve(&network).map(|found| found.at(&network, t).unwrap().0)
    };
    let (mut low, mut high) = (1.4, 3.5);
    while high - low > 1e-4 {
        let middle = 0.5 * (low + high);
        let slope = (output(middle + 1e-3)? - output(middle - 1e-3)?) / 2e-3;
        if slope < -1.0 { low = middle } else { high = middle }
    }
    Ok(low)
}

#[test]
fn the_family_at_its_worst() {
    // docs/outside-values.md, computed by an independent program without RB and RC of the card:
    // noise margin high at worst case, ±5 %, of fan-outs 1, 3, 5, 8, 10. The program took hFE 70 at 1 mA and
    // no spread of junction voltages, so the same is varied here. It put the driver's rail low and left the
    // receiver's at 5 V; here both hang on one rail, as on a board, which gives back some .06 V.
    for (loads, stated) in [(1, 2.16), (3, 1.55), (5, 1.12), (8, 0.66), (10, 0.43)] {
        let mut board = family(loads);
        let network = Network::of_board(&board.board);
        let mut tolerances = network.tolerances(&board.board, &Conditions { rail: 0.05, ..STILL });
        tolerances.retain(|tolerance| !matches!(tolerance.of, Variable::Drop(_)));
        for tolerance in &mut tolerances {
            if matches!(tolerance.of, Variable::Gain(_)) {
                tolerance.range.min = 70.0 / 133.3;
            }
        }
        let y = board.net("y");
        let mut solver = Solver::new(Detail { series_resistances: false });
        let found = corners(&network, &tolerances, |network| {
            let high = solver.solve(network)?.at(network, y).unwrap().0;
            Ok::<_, NoSolution>(vec![high - vih(network, &mut board, &mut solver)?])
        })
        .unwrap();
        let gained = found[0].least.value - stated;
        assert!((0.03..0.09).contains(&gained), "{loads} loads: {} V, stated {stated}", gained + stated);
    }
}

#[test]
fn copies_stay_between_the_corners_and_come_out_the_same_again() {
    let mut board = family(5);
    let network = Network::of_board(&board.board);
    let tolerances = network.tolerances(&board.board, &Conditions::default());
    let y = board.net("y");
    let mut solver = Solver::default();
    let mut measure =
        |network: &Network| solver.solve(network).map(|found| vec![found.at(network, y).unwrap().0]);
    let worst = corners(&network, &tolerances, &mut measure).unwrap().remove(0);
    let some = monte_carlo(&network, &tolerances, 7, 200, &mut measure).unwrap();
    let again = monte_carlo(&network, &tolerances, 7, 200, &mut measure).unwrap();
    let other = monte_carlo(&network, &tolerances, 8, 200, &mut measure).unwrap();
    assert_eq!(some, again);
    assert_ne!(some, other);
    let values = some.values(0);
    assert!(values[0] > worst.least.value && values[199] < worst.most.value);
    let median = some.below(0, 0.5).unwrap();
    assert!((median - worst.typical).abs() < 0.05, "{median}, typical {}", worst.typical);
}

#[test]
fn heat_lowers_the_threshold() {
    // A gate's input threshold follows VBE, −2 mV/K (textbook), taken up by its divider of two 22k:
    // twice that, −4 mV/K at the input; the gain, which rises, adds a little more.
    let mut board = family(1);
    let network = Network::of_board(&board.board);
    let mut at = |celsius: f64| {
        let varied = network.varied(&[(Variable::Temperature, celsius)]);
        vih(&varied, &mut board, &mut Solver::default()).unwrap()
    };
    let slope = (at(50.0) - at(0.0)) / 50.0;
    assert!((-6.5e-3..-3.5e-3).contains(&slope), "{slope}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// A voltage among resistors moves one way with each of them, so no vertex lies outside the corners.
    #[test]
    fn no_vertex_of_a_resistor_network_is_worse(ohms in prop::collection::vec(2.0f64..5.0, 6)) {
        let mut board = Soldered::five_volts(5.0);
        let ends = [("VCC", "a"), ("a", "b"), ("b", "GND"), ("VCC", "b"), ("a", "GND"), ("b", "c")];
        for (k, (ohms, (x, y))) in ohms.iter().zip(ends).enumerate() {
            board.resistor(&format!("R{k}"), 10f64.powf(*ohms), x, y);
        }
        board.resistor("R9", 1e4, "c", "GND");
        let network = Network::of_board(&board.board);
        let b = board.net("b");
        let tolerances: Vec<Tolerance> = network.tolerances(&board.board, &STILL);
        let measure = |network: &Network| solve(network).map(|found| vec![found.at(network, b).unwrap().0]);
        let worst = corners(&network, &tolerances, measure).unwrap().remove(0);
        for vertex in 0..1u32 << tolerances.len() {
            let settings: Vec<(Variable, f64)> = tolerances.iter().enumerate().map(|(k, tolerance)| {
                let Spread { min, max, .. } = tolerance.range;
                (tolerance.of, if vertex >> k & 1 == 0 { min } else { max })
            }).collect();
            let found = measure(&network.varied(&settings)).unwrap()[0];
            prop_assert!(found >= worst.least.value - 1e-9 && found <= worst.most.value + 1e-9);
        }
    }
}
