//! Clocks, resets and delays of the project's boards, against the figures that their text states.

use dryjoint_board::{Board, NetId, PartKind};
use dryjoint_circuit::{Action, Event, GROUND, Network, Pace, Solver};
use dryjoint_logic::{Level, Prover, Simulation, extract};
use dryjoint_netlist::read;
use dryjoint_survey::{Edge, Timing, Watch, timing};
use dryjoint_units::{Farads, Seconds, Volts};
use std::path::Path;

fn board(name: &str, change: &dyn Fn(&str) -> String) -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut loader = |path: &str| std::fs::read(folder.join(path)).map_err(|error| error.to_string());
    let text = std::fs::read_to_string(folder.join(name)).expect("the board is there");
    let reading = read(name, change(&text), &mut loader);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

/// Without any state seen: clocks, resets and delays need none.
fn timed(board: &Board) -> (Timing, Vec<String>) {
    let (extracted, _) = extract(board);
    let (timing, notices) = timing(&Watch::new(&extracted));
    (timing, notices.iter().map(|notice| format!("{}: {}", notice.code, notice.text)).collect())
}

#[test]
fn the_phase_boards_clock_runs_at_each_of_its_rates() {
    // boards/README.md: .98 Hz, 9.8 Hz and 9.7 kHz with exact parts, half high, half low; by hand from
    // f = .675-.69/(R C) (docs/outside-values.md: real junctions at 5 V): .98, 9.8, 9.8 k.
    let board = board("phase.board", &|text| text.to_owned());
    let (timing, notices) = timed(&board);
    let found: Vec<(f64, f64)> = timing
        .clocks
        .iter()
        .map(|beat| beat.found.as_ref().map_or((0.0, 0.0), |f| (f.rate.0, f.duty)))
        .collect();
    for ((rate, duty), stated) in found.iter().zip([0.98, 9.8, 9.7e3]) {
        assert!((rate / stated - 1.0).abs() < 0.01, "{rate} Hz, stated {stated}");
        assert!((duty - 0.5).abs() < 0.01, "{duty}");
    }
    let clock: Vec<&String> = notices.iter().filter(|notice| notice.starts_with("clock")).collect();
    assert!(clock.is_empty(), "{clock:?}");
}

/// Whether some notice of this kind says all of these.
fn says(notices: &[String], code: &str, words: &[&str]) -> bool {
    let fits = |notice: &&String| notice.starts_with(code) && words.iter().all(|word| notice.contains(word));
    notices.iter().any(|notice| fits(&notice))
}

#[test]
fn a_stated_rate_that_is_off_by_a_tenth_is_told_of() {
    let wrong = |text: &str| text.replace("walk=10Hz", "walk=12Hz");
    let (_, notices) = timed(&board("phase.board", &wrong));
    assert!(
        says(&notices, "clock-stated", &["`CLK` runs at 9.789Hz with S1 at walk", "12Hz"]),
        "{notices:?}"
    );
    assert_eq!(notices.iter().filter(|notice| notice.starts_with("clock-")).count(), 1, "{notices:?}");
}

#[test]
fn a_clock_whose_oscillator_lacks_a_part_stands() {
    let without = |text: &str| text.replace("  C1 CT  a bb               at 5.08  17.78\n", "");
    let (timing, notices) = timed(&board("phase.board", &without));
    assert!(says(&notices, "clock-stands", &["`CLK`", "S1 at walk"]), "{notices:?}");
    assert!(timing.clocks[0].found.is_some(), "the slow one has capacitors of its own");
    assert!(timing.clocks[1].found.is_none());
}

#[test]
fn the_reset_is_as_wide_as_published_and_ends_in_one_edge() {
    // docs/outside-values.md: power-on reset 22k/10 µF into 22k + 22k releases 75-99 ms after power.
    let (timing, notices) = timed(&board("phase.board", &str::to_owned));
    let [reset] = &timing.resets[..] else { panic!("{:?}", timing.resets.len()) };
    let width = reset.width.expect("it is released").0;
    assert!((75e-3..=99e-3).contains(&width), "{width}");
    assert!(reset.high && reset.edges == 1, "{reset:?}");
    // A fifth and a twentieth off, together and either way.
    let (short, long) = reset.range.expect("copies are released too");
    assert!(
        (0.72..0.80).contains(&(short.0 / width)) && (1.22..1.32).contains(&(long.0 / width)),
        "{short} {long}"
    );
    assert!(!notices.iter().any(|notice| notice.starts_with("reset")), "{notices:?}");
    // Through 220k it does not come up to what the gate behind it wants.
    let drained = |text: &str| text.replace("R6 22k VCC POR", "R6 220k VCC POR");
    let (_, notices) = timed(&board("phase.board", &drained));
    assert!(says(&notices, "reset", &["never released", "C1"]), "{notices:?}");
}

#[test]
fn gates_are_as_fast_as_published() {
    // docs/outside-values.md: fall/rise 183/203 ns with five loads and 50 pF, which is a loaded gate's
    // worst; fewer loads make a slower rise (nobody drains the base) and a faster fall. So the whole
    // family, buffers left out, lies around those figures.
    let board = board("phase.board", &str::to_owned);
    let (timing, _) = timed(&board);
    let (extracted, _) = extract(&board);
    let mut count = 0;
    for (id, stage) in extracted.logic.stages.iter() {
        let net = extracted.logic.signals[stage.output].net;
        let pulled = |part: &dryjoint_board::Part| matches!(part.kind, dryjoint_board::PartKind::Resistor { ohms, .. } if ohms.0 == 2200.0);
        let gate = net.is_some_and(|net| {
            board.nets[net].pins.iter().any(|pin| pulled(&board.parts[board.pins[*pin].part]))
        });
        for delay in timing.delays.of(id).iter().filter(|_| gate) {
            for (found, least, most) in [(delay.rise, 120e-9, 270e-9), (delay.fall, 80e-9, 220e-9)] {
                let Some(found) = found else { continue };
                assert!((least..=most).contains(&found.0), "{}: {found}", stage.name);
                count += 1;
            }
        }
    }
    assert!(count > 150, "{count}");
}

/// The longest path of the address board, gate by gate, against the whole board in the transient circuit: the
/// carry through all six bits, from /CNT let go to the CARRY pin.
#[test]
fn a_path_takes_as_long_as_the_whole_board_says() {
    let board = board("address.board", &str::to_owned);
    let (extracted, _) = extract(&board);
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).expect("a net").0;
    let signal = |name: &str| extracted.signal_of[net(name)].expect("a signal");
    // Nothing tied on the bus reads 63: load it, then count.
    let mut simulation = Simulation::new(&extracted.logic);
    for (line, level) in [
        ("/LD", Level::Zero),
        ("/P1", Level::Zero),
        ("/P1", Level::Floating),
        ("/P2", Level::Zero),
        ("/P2", Level::Floating),
        ("/LD", Level::Floating),
        ("/CNT", Level::Zero),
    ] {
        simulation.set(signal(line), level);
        assert!(simulation.settle().is_empty());
    }
    assert_eq!(simulation.level(signal("CARRY")).value(), Some(true));
    let mut watch = Watch::new(&extracted);
    let ties = [(net("/CNT"), false)];
    let level = |signal| simulation.level(signal);
    let (network, solution) = Prover::new(&extracted).compare(&ties, &level).expect("it is solved");
    watch.see(&ties, &network, &solution, &level);
    let (timing, _) = timing(&watch);
    let (line, _) = board.lines.iter().find(|(_, line)| line.name == "/CNT").expect("a line");
    let path = &timing.paths.after[&Edge::Line(line, false)];
    assert_eq!(path.hops.last().map(|hop| hop.net), Some(net("CARRY")), "{path:?}");
    assert!(path.hops.len() > 14, "{path:?}");

    // The whole board, with the same wiring: 20 pF a signal, 50 pF where it leaves the board.
    let mut whole = Network::of_board(&board);
    for (id, row) in board.nets.iter().filter(|(id, _)| extracted.is_signal(*id)) {
        let leaves = row.pins.iter().any(|pin| board.parts[board.pins[*pin].part].kind == PartKind::Header);
        if let Some(node) = whole.find(id) {
            whole.capacitor(node, GROUND, Farads(if leaves { 50e-12 } else { 20e-12 }));
        }
    }
    let volts = |id: NetId| {
        let value = extracted.signal_of[id].and_then(|signal| simulation.level(signal).value());
        value.map(|value| (id, extracted.levels[id].volts(value)))
    };
    let guess: Vec<(NetId, Volts)> = board.nets.ids().filter_map(volts).collect();
    whole.force(net("/CNT"), Volts(0.0));
    let mut solver = Solver::default();
    let before = solver.solve_near(&whole, &guess).unwrap();
    let start = 0.5e-6;
    let action = Action::Drive { spot: net("/CNT").into(), to: Volts(4.2), over: Seconds(50e-9) };
    let events = [Event { at: Seconds(start), action }];
    let spots = [net("/CNT").into(), net("CARRY").into()];
    let pace = Pace { error: Volts(1e-3), ..Pace::default() };
    let trace = solver.transient(&whole, Some(&before), &events, Seconds(6e-6), &spots, pace).unwrap();
    let middle = |name: &str| extracted.levels[net(name)].thresholds.middle().0;
    let from = trace.crossing(0, middle("/CNT"), true, 0.0).unwrap();
    let to = trace.crossing(1, middle("CARRY"), false, from).unwrap();
    let share = path.takes().0 / (to - from);
    assert!((0.97..1.03).contains(&share), "gate by gate {}, the whole board {}", path.takes(), to - from);
}
