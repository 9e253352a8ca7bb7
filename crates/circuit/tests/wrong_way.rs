//! Parts the wrong way round: what the meter and the supply then show.

mod soldered;

use dryjoint_board::PartKind;
use dryjoint_circuit::{Action, Event, Network, Pace, Regulation, Solver, kirchhoff, solve};
use dryjoint_parts::Glow;
use dryjoint_units::{Farads, Seconds, Volts};
use soldered::Soldered;

/// An electrolytic behind 22k with a board of its own.
fn charging(farads: f64) -> (Soldered, Network) {
    let mut board = Soldered::five_volts(0.5);
    board.resistor("R1", 22e3, "VCC", "c");
    let kind = PartKind::Capacitor { farads: Farads(farads), polar: true };
    board.fit("C1", kind, &["c", "GND"]);
    let network = Network::of_board(&board.board);
    (board, network)
}

#[test]
fn an_electrolytic_leaks_a_little_the_right_way() {
    // Datasheets: .01·C·V at most, here .5 µA through 22k: 11 mV off the rail.
    let (mut board, network) = charging(10e-6);
    let solution = solve(&network).unwrap();
    let volts = solution.at(&network, board.net("c")).unwrap().0;
    assert!((volts - 4.989).abs() < 1e-3, "{volts}");
    assert!(kirchhoff(&network, &solution).0 < 1e-9);
}

#[test]
fn an_electrolytic_the_wrong_way_holds_its_net_near_a_volt_and_a_half() {
    // Past a volt the wrong way an electrolytic conducts (see the part's law, which is judgement).
    let (mut board, mut network) = charging(10e-6);
    assert!(network.permute(board.part("C1"), &[1, 0]));
    let c = board.net("c");
    let solution = solve(&network).unwrap();
    let volts = solution.at(&network, c).unwrap().0;
    assert!((0.9..1.8).contains(&volts), "{volts}");
    assert!(kirchhoff(&network, &solution).0 < 1e-9);
    // Charging goes as far, and there it stays: a reset made of it never releases.
    let trace =
        Solver::default().transient(&network, None, &[], Seconds(1.0), &[c.into()], Pace::default()).unwrap();
    assert!((trace.at(0, 1.0).unwrap() - volts).abs() < 0.01);
}

#[test]
fn a_reversed_reservoir_drives_the_supply_towards_its_limit() {
    let mut board = Soldered::five_volts(0.2);
    let kind = PartKind::Capacitor { farads: Farads(47e-6), polar: true };
    board.fit("C1", kind, &["GND", "VCC"]);
    let network = Network::of_board(&board.board);
    let solution = solve(&network).unwrap();
    let supply = solution.supply(&network, board.net("VCC")).unwrap();
    assert_eq!(supply.regulation, Regulation::Current);
    assert!(supply.volts < Volts(4.5), "{}", supply.volts);
}

#[test]
fn a_lamp_the_wrong_way_is_dark_and_breaks_down_far_above_its_rating() {
    // Datasheets: 5 V reverse at no more than 10 µA. Beyond the rating it passes current, unlit.
    let mut board = Soldered::five_volts(0.5);
    board.resistor("R1", 470.0, "VCC", "a");
    let model = board.model("red");
    let lamp = board.fit("DS1", PartKind::Lamp(model), &["GND", "a"]);
    let mut network = Network::of_board(&board.board);
    let at = |network: &Network| {
        let solution = solve(network).unwrap();
        let (amps, glow) = solution.lamp(network, lamp).unwrap();
        assert_eq!(glow, Glow::Dark);
        amps.0
    };
    assert!(at(&network).abs() <= 10e-6);
    network.force(board.net("VCC"), Volts(24.0));
    assert!(at(&network) < -5e-3);
}

#[test]
fn a_switch_thrown_in_time_moves_what_it_joins() {
    // A button drains 10 µF through 100 Ω: τ = 1 ms, from 4.99 V to 5·100/22,100 V; let go, 22k charges it.
    let (mut board, _) = charging(10e-6);
    board.resistor("R2", 100.0, "c", "p");
    let button = board.fit("S1", PartKind::Button, &["p", "GND"]);
    let network = Network::of_board(&board.board);
    let c = board.net("c");
    let before = solve(&network).unwrap();
    let events = [(0.1, true), (0.2, false)]
        .map(|(at, down)| Event { at: Seconds(at), action: Action::Press(button, down) });
    let trace = Solver::default()
        .transient(&network, Some(&before), &events, Seconds(0.5), &[c.into()], Pace::default())
        .unwrap();
    let start = trace.at(0, 0.0999).unwrap();
    assert!((start - 4.989).abs() < 1e-3, "it starts at rest");
    let level = start / std::f64::consts::E;
    let tau = trace.crossing(0, level, false, 0.1).unwrap() - 0.1;
    // the resistor to the rail and the contact's own resistance count too
    assert!((tau / 1e-3 - 1.0).abs() < 0.01, "{tau}");
    assert!((trace.at(0, 0.1999).unwrap() - 0.0226).abs() < 1e-3);
    // and back: 1 − e^(−.22/.22) of 5 V after 220 ms
    let back = trace.at(0, 0.42).unwrap();
    assert!((back - (5.0 - 4.977 * (-1.0f64).exp())).abs() < 0.02, "{back}");
}
