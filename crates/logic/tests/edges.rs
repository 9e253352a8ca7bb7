//! Stages that heed edges: the logic against the whole small board in the transient circuit.

use dryjoint_board::{Board, NetId};
use dryjoint_circuit::{Action, Event, Network, Pace, Solver, Spot};
use dryjoint_logic::{Extracted, Level, Simulation, extract};
use dryjoint_netlist::read;
use dryjoint_units::{Seconds, Volts};
use std::fs;
use std::path::Path;

/// The board that `cases/commands/edges.md` shows, one piece of it replaced by another.
fn board(from: &str, to: &str) -> Board {
    let repository = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let case = fs::read_to_string(repository.join("cases/commands/edges.md")).expect("the case is there");
    let (_, text) = case.split_once("```file edges.board\n").expect("the case has a board");
    let (text, _) = text.split_once("```").expect("the board ends");
    assert!(text.contains(from), "{from}");
    let mut loader =
        |name: &str| fs::read(repository.join("boards").join(name)).map_err(|error| error.to_string());
    let reading = read("edges.board", text.replace(from, to), &mut loader);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

fn net(board: &Board, name: &str) -> NetId {
    let found = board.nets.iter().find(|(_, net)| net.name == name);
    found.map(|(id, _)| id).unwrap_or_else(|| panic!("no net {name}"))
}

/// What the hand does: a line tied low (`true`) or released.
fn hand(simulation: &mut Simulation, extracted: &Extracted, line: NetId, tied: bool) {
    let signal = extracted.signal_of[line].expect("a line is a signal");
    simulation.set(signal, if tied { Level::Zero } else { Level::Floating });
    assert!(simulation.settle().is_empty());
}

/// Sixty edges of both lines by a fixed rule, a millisecond apart: after each, every net of the circuit
/// reads what the logic says.
#[test]
fn the_toggle_and_the_pulse_are_right_over_sixty_edges() {
    let board = board("", "");
    let (extracted, notices) = extract(&board);
    assert!(notices.is_empty(), "{notices:?}");
    let lines = ["/T", "/CLR"].map(|name| net(&board, name));
    // Clear first, so that both latches are known; then mostly the trigger, tied and released in turn.
    let mut tied = [false, false];
    let edges: Vec<(usize, bool)> = (0..60)
        .map(|k| {
            let line = usize::from(k < 2 || k * k % 11 == 3 || (tied[1] && k % 3 == 0));
            tied[line] = !tied[line];
            (line, tied[line])
        })
        .collect();
    assert!(edges.iter().filter(|(line, _)| *line == 0).count() > 35, "{edges:?}");

    // The circuit, from the state after the first two edges.
    let mut simulation = Simulation::new(&extracted.logic);
    simulation.settle();
    for &(line, tied) in &edges[..2] {
        hand(&mut simulation, &extracted, lines[line], tied);
    }
    let signals: Vec<(NetId, _)> =
        extracted.logic.signals.iter().filter_map(|(id, signal)| Some((signal.net?, id))).collect();
    let guess: Vec<(NetId, Volts)> = signals
        .iter()
        .filter_map(|&(net, id)| Some((net, extracted.levels[net].volts(simulation.level(id).value()?))))
        .collect();
    let network = Network::of_board(&board);
    let mut solver = Solver::default();
    let before = solver.solve_near(&network, &guess).unwrap();
    let at = |k: usize| (k - 1) as f64 * 1e-3;
    let events: Vec<Event> = edges[2..]
        .iter()
        .enumerate()
        .map(|(k, &(line, tied))| {
            let spot = Spot::from(lines[line]);
            let down = Action::Drive { spot, to: Volts(0.0), over: Seconds(1e-7) };
            Event { at: Seconds(at(k + 2)), action: if tied { down } else { Action::LetGo(spot) } }
        })
        .collect();
    let spots: Vec<Spot> = signals.iter().map(|&(net, _)| net.into()).collect();
    let until = Seconds(at(edges.len()));
    let trace = solver.transient(&network, Some(&before), &events, until, &spots, Pace::default()).unwrap();
    assert!(trace.complete);

    let (mut turns, mut last) = (0, None);
    for (k, &(line, tied)) in edges.iter().enumerate().skip(2) {
        hand(&mut simulation, &extracted, lines[line], tied);
        for (spot, &(net, id)) in signals.iter().enumerate() {
            let volts = Volts(trace.at(spot, at(k) + 0.9e-3).unwrap());
            let said = simulation.level(id).value();
            assert!(said.is_some(), "{} after {k}", board.nets[net].name);
            let name = &board.nets[net].name;
            assert_eq!(extracted.levels[net].read(volts), said, "`{name}` after edge {k}: {volts}");
        }
        let q = simulation.level(extracted.signal_of[net(&board, "Q")].unwrap()).value();
        turns += usize::from(last.is_some() && q != last);
        last = q;
    }
    assert!(turns > 12, "Q turned over {turns} times");
}

/// The kind and the words of what is refused.
fn refusal(from: &str, to: &str) -> String {
    let board = board(from, to);
    let (_, notices) = extract(&board);
    let refused = notices.iter().filter(|notice| notice.code == "coupling-capacitor");
    refused.map(|notice| notice.text.as_str()).collect::<Vec<_>>().join("; ")
}

#[test]
fn what_is_not_followed_is_refused_by_name() {
    // A tenth of a microsecond of pulse turns nothing over.
    let short = refusal("C3 1n Q p", "C3 22p Q p");
    assert!(short.contains("C3 couples `Q` to `p`") && short.contains("too short"), "{short}");
    let signals = refusal("C3 1n Q p", "C3 1n Q p\nC9 1n W T");
    assert!(signals.contains("C9 couples `W` to `T`") && signals.contains("both are signals"), "{signals}");
    // Across a tenth of an ohm the base never hears of it.
    let deaf = refusal("R20 22k p GND", "R20 0R1 p GND");
    assert!(deaf.contains("no edge of it brings anything about"), "{deaf}");
}

/// An unknown latch stays unknown over an edge, and an edge from an unknown level may or may not be one.
#[test]
fn what_is_unknown_stays_unknown() {
    let board = board("", "");
    let (extracted, _) = extract(&board);
    let signal = |name: &str| extracted.signal_of[net(&board, name)].unwrap();
    let mut simulation = Simulation::new(&extracted.logic);
    simulation.settle();
    assert_eq!(simulation.level(signal("Q")).value(), None);
    hand(&mut simulation, &extracted, net(&board, "/T"), true);
    hand(&mut simulation, &extracted, net(&board, "/T"), false);
    assert_eq!(simulation.level(signal("Q")).value(), None);
    hand(&mut simulation, &extracted, net(&board, "/CLR"), true);
    hand(&mut simulation, &extracted, net(&board, "/CLR"), false);
    assert_eq!(simulation.level(signal("Q")).value(), Some(false));
    assert_eq!(simulation.level(signal("KEPT")).value(), Some(false));
    simulation.set(signal("T"), Level::Unknown);
    simulation.settle();
    assert_eq!(simulation.level(signal("Q")).value(), None, "it may have fallen or not");
}
