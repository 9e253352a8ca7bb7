//! Gates that solder drives round: one gate in a ring stands between the levels, three swing. The gates are the example
//! machine's own cells, and the rings those that solder makes on its phase board.

use dryjoint_board::{Board, NetId};
use dryjoint_circuit::{Network, Pace, Solver, solve};
use dryjoint_units::{Ohms, Seconds, Volts};

fn board(name: &str, gates: &str) -> Board {
    let cells = concat!(env!("CARGO_MANIFEST_DIR"), "/../../boards/dunlin.cells");
    let mut loader = |_: &str| std::fs::read(cells).map_err(|error| error.to_string());
    let text = format!(
        "board {name}\nuse \"dunlin.cells\"\nrail VCC 5V limit 500mA\nground GND\nJ1 header 1=GND 2=VCC 3=NO1 4=NO2 5=DN 6=FIRE\n{gates}"
    );
    let read = dryjoint_netlist::read(name, text, &mut loader);
    read.board.unwrap_or_else(|| panic!("{:?}", read.notices))
}

fn net(board: &Board, name: &str) -> NetId {
    board.nets.iter().find(|(_, net)| net.name == name).unwrap_or_else(|| panic!("{name}")).0
}

/// A solder bridge.
const BRIDGE: Ohms = Ohms(0.1);

/// A phase's line joined with the output of a gate that reads it: the gate feeds itself.
#[test]
fn one_gate_in_a_ring_stands_between_its_levels() {
    let board = board("one", "RINGA buffer FIRE P1N\nMS nor2 DN P1N MSET\nMC nor2 MSET P1N MCLEAR\n");
    let mut network = Network::of_board(&board);
    let [line, own] = ["P1N", "MSET"].map(|name| net(&board, name));
    network.bridge(line, own, BRIDGE);
    for name in ["FIRE", "DN"] {
        network.force(net(&board, name), Volts(0.05));
    }
    let point = solve(&network).expect("it stands");
    let volts = point.at(&network, line).expect("a net").0;
    // Nearer to neither: a low lies below half a volt here, a high above 4 V.
    assert!((2.0..3.0).contains(&volts), "{volts}");
    // From everything at 0 V it comes to the same, and stays there.
    let mut solver = Solver::default();
    let trace =
        solver.transient(&network, None, &[], Seconds(1e-4), &[line.into()], Pace::default()).unwrap();
    for micros in [20.0, 50.0, 100.0] {
        let later = trace.at(0, micros * 1e-6).unwrap();
        assert!((later - volts).abs() < 1e-3, "{later} after {micros} us, {volts}");
    }
}

/// The two phases' lines joined: each gate waits until the other's line is high again, and now stops itself by that.
#[test]
fn three_gates_in_a_ring_swing_and_lamps_on_them_are_lit() {
    let board = board(
        "three",
        "FIREA nor2 NO1 PH2 FIRE1\nFIREB nor2 NO2 PH1 FIRE2\nRINGA buffer FIRE1 P1N\nRINGB buffer FIRE2 P2N\n\
         BACKA buffer FIRE1 /P1\nBACKB buffer FIRE2 /P2\nSEENA nor1 /P1 PH1\nSEENB nor1 /P2 PH2\n\
         LP1 lampdrive PH1\nLP2 lampdrive PH2\nlamps PHASE DS1 DS2\n",
    );
    let mut network = Network::of_board(&board);
    network.bridge(net(&board, "/P1"), net(&board, "/P2"), BRIDGE);
    network.force(net(&board, "NO1"), Volts(0.05));
    network.force(net(&board, "NO2"), Volts(4.5));
    let watch = ["PH1", "LP1.n", "LP2.n", "/P1"].map(|name| net(&board, name).into());
    let until = 100e-6;
    let trace =
        Solver::default().transient(&network, None, &[], Seconds(until), &watch, Pace::default()).unwrap();
    let samples = 4000;
    let times = || (samples / 2..samples).map(|k| until * f64::from(k) / f64::from(samples));
    let phase: Vec<f64> = times().map(|time| trace.at(0, time).unwrap()).collect();
    let rounds = phase.windows(2).filter(|pair| pair[0] < 1.5 && pair[1] >= 1.5).count();
    // More than a million rounds a second, from level to level.
    assert!(rounds > 50, "{rounds}");
    assert!(phase.iter().any(|volts| *volts < 0.3) && phase.iter().any(|volts| *volts > 4.0));
    // Either lamp is on for some two thirds of the time: on the mean as bright as one that is lit at 5 mA.
    for (spot, lamp) in [(1, "LP1"), (2, "LP2")] {
        let amps: Vec<f64> = times().map(|time| (5.0 - trace.at(spot, time).unwrap()) / 470.0).collect();
        let mean = amps.iter().sum::<f64>() / amps.len() as f64;
        let on = amps.iter().filter(|amps| **amps > 3.5e-3).count() as f64 / amps.len() as f64;
        assert!((4e-3..6e-3).contains(&mean) && (0.6..0.8).contains(&on), "{lamp}: {mean} A, on for {on}");
    }
}
