//! A clock that keeps still between two positions of its switch, measured with everything that makes it on the board.

#![allow(missing_docs, reason = "a test program")]

mod bench;

use bench::board;
use dryjoint_board::{Board, LineId, NetId, PartId};
use dryjoint_draws::Draws;
use dryjoint_faults::lanes::{Machine, Program, Shown};
use dryjoint_faults::region::{Effect, effects};
use dryjoint_faults::{Fault, enumerate};
use dryjoint_logic::{SignalId, Simulation, extract};
use dryjoint_procedure::{Action, Move, Rig};
use dryjoint_session::{Sight, Unit, Wiring};
use dryjoint_units::Volts;
use std::collections::BTreeSet;

fn net(board: &Board, name: &str) -> NetId {
    board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).expect("a net of the board")
}

fn part(board: &Board, reference: &str) -> PartId {
    board.parts.iter().find(|(_, part)| part.reference == reference).map(|(id, _)| id).expect("a part")
}

/// The pair of gates keeps the clock at the levels of any other gate: a saturated collector at a tenth of a volt, the other
/// well above half the rail (common practice, no source). What the switch feeds has no supply; a collector there is pulled
/// no higher than what trickles back through the base resistors that hang on it.
#[test]
fn a_standing_clock_reads_like_any_gate_and_its_oscillators_are_without_supply() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let unit = Unit::new(&extracted, &[], 1).expect("a point");
    let volts = |name: &str| unit.volts(net(&board, name)).expect("a node").0;
    let (clock, complement) = (volts("CLK"), volts("CLKN"));
    assert!(clock.min(complement) < 0.2 && clock.max(complement) > 2.5, "{clock} and {complement}");
    for dead in ["FSLOW", "FWALK", "FRUN", "OA1", "OB1", "OA2", "OB2", "OA3", "OB3"] {
        assert!(volts(dead).abs() < 1.0, "{dead} at {}", volts(dead));
    }
}

/// A clock's own collector resistor missing shows on the clock's net like any other gate's: what should be high is not.
#[test]
fn a_fault_in_what_makes_the_clock_is_in_the_standing_circuit() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let (clock, complement) = (net(&board, "CLK"), net(&board, "CLKN"));
    let high = |faults: &[Fault]| {
        let network = Wiring::new(&extracted, faults).standing([]).expect("its clock has a switch");
        let guess = [(clock, Volts(5.0)), (complement, Volts(0.0))];
        let point = dryjoint_circuit::Solver::default().solve_near(&network, &guess).expect("a point");
        point.at(&network, clock).expect("a node").0
    };
    let good = high(&[]);
    let faulty = high(&[Fault::Missing(part(&board, "R44"))]);
    assert!(good > 2.5, "{good}");
    assert!(faulty < 1.0, "{faulty}");
}

/// Solder between the clock's complement and the base of a gate that it feeds holds the complement down at a junction's drop (common
/// practice, no source: about 0.7 V). No oscillator lifts it, and with the complement down the clock stands high by itself
/// as soon as no oscillator says otherwise.
#[test]
fn solder_on_the_clock_wins_against_what_makes_it() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let pins = &board.parts[part(&board, "R101")].pins;
    assert_eq!(board.pins[pins[0]].net, net(&board, "CLKN"));
    let mut unit = Unit::new(&extracted, &[Fault::Bridge(pins[0], pins[1])], 1).expect("a point");
    for _ in 0..2 {
        let volts = |name: &str| unit.volts(net(&board, name)).expect("a node").0;
        let (clock, complement) = (volts("CLK"), volts("CLKN"));
        assert!(clock > 2.5 && complement < 0.9, "{clock} and {complement}");
        unit.act(Action::Wait(1)).expect("a point");
    }
    // All that hangs on the clock sees it: nothing halts the board, so phase 1 stays on.
    assert_eq!(unit.lamp(part(&board, "DS7")), Some(Sight::Lit));
}

/// With its switch between two positions the clock wakes up either way, and where it wakes high the lamp of phase 1 is lit: a
/// good board, so nobody may be told to expect it dark. After a whole period the clock stands low on all.
#[test]
fn how_the_clock_woke_up_is_nothing_to_expect() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let clock = net(&board, "CLK");
    let rig = Rig::new(&extracted);
    let mut expected = Simulation::new(&extracted.logic);
    let mut units = Unit::good_ones(&extracted).expect("points");
    let mut moved = |moves: Vec<Move>, units: &mut [Unit], action: Option<Action>| {
        for step in moves {
            step.into_iter().for_each(|(signal, level)| expected.set(signal, level));
            expected.settle();
        }
        let mut woken = BTreeSet::new();
        for unit in units {
            action.into_iter().for_each(|action| unit.act(action).expect("a point"));
            woken.insert(unit.volts(clock).expect("a node").0 > 2.5);
            for &(lamp, signal) in &rig.lamps {
                let lit = unit.lamp(lamp) == Some(Sight::Lit);
                let told = expected.level(signal).value();
                assert!(
                    told.is_none_or(|told| told == lit),
                    "{} after {action:?}",
                    board.parts[lamp].reference
                );
            }
        }
        woken
    };
    assert_eq!(moved(vec![rig.start()], &mut units, None), BTreeSet::from([false, true]));
    let wait = Action::Wait(1);
    assert_eq!(moved(rig.good_moves(wait), &mut units, Some(wait)), BTreeSet::from([false]));
}

/// With solder for the 22k between an oscillator's collector and a gate of the pair, that collector takes the gate's base along as
/// it goes down: the gate is off first, and the clock, or its complement, ends high after every period, by hand.
#[test]
fn a_clock_that_falls_over_stands_the_other_way_once_its_switch_is_turned_away() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let stands = |name: Option<&str>| {
        let all = dryjoint_faults::enumerate(&board);
        let faults: Vec<Fault> =
            all.into_iter().filter(|fault| name == Some(fault.name(&board).as_str())).collect();
        let mut unit = Unit::new(&extracted, &faults, 1).expect("a point");
        unit.act(Action::Wait(1)).expect("a point");
        unit.volts(net(&board, "CLK")).expect("a node").0 > 2.5
    };
    assert_eq!(
        [None, Some("R47.1-R47.2 bridged"), Some("R41.1-R41.2 bridged")].map(stands),
        [false, false, true]
    );
}

/// Solder from the clock's complement to a base that it feeds, from the clock to a signal that is often low, and from the
/// complement to one: the lanes play the table of each from a state in which nothing is known, the unit the circuit with the
/// gates of the clock in it. Whatever the lanes are sure of is so there.
#[test]
fn lanes_are_sure_of_nothing_about_a_clock_joined_with_something_else_that_is_not_so_in_the_circuit() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let rig = Rig::new(&extracted);
    let program = Program::of(&extracted.logic);
    let nets = ["CLK", "CLKN"].map(|name| net(&board, name));
    let lines: Vec<LineId> = board.lines.ids().collect();
    let names = ["R101.1-R101.2 bridged", "R88.1-R89.1 bridged", "R104.1-R105.1 bridged"];
    let faults = names.map(|name| enumerate(&board).into_iter().find(|fault| fault.name(&board) == name));
    let faults = faults.map(|fault| fault.expect("a fault of the board"));
    for (fault, (_, effect)) in faults.iter().zip(effects(&extracted, &faults).iter()) {
        let Effect::Changes(behaviour) = effect else { panic!("{effect:?}") };
        let mut machine: Machine = Machine::with(&program, &[vec![behaviour]]);
        let mut unit = Unit::new(&extracted, &[*fault], 1).expect("a point");
        let (mut draws, mut tied, mut sure) = (Draws::new(5), None, 0);
        let mut moves = vec![rig.start()];
        for look in 0..24 {
            for step in moves {
                step.into_iter().for_each(|(signal, level)| machine.bench(signal, level));
                machine.settle();
            }
            let high = |net: NetId| Some(unit.volts(net)? > extracted.levels[net].thresholds.middle());
            let mut seen: Vec<(SignalId, Option<bool>)> = rig
                .lamps
                .iter()
                .map(|&(lamp, at)| (at, unit.lamp(lamp).map(|lamp| lamp == Sight::Lit)))
                .collect();
            seen.extend(nets.map(|net| (extracted.signal_of[net].expect("a signal"), high(net))));
            for (signal, is) in seen {
                let told = match machine.value(signal).shown(1) {
                    Shown::One => true,
                    Shown::Zero => false,
                    Shown::Unknown | Shown::Dim => continue,
                };
                sure += 1;
                assert_eq!(is, Some(told), "{} at {look}", extracted.logic.signals[signal].name);
            }
            let action = match tied {
                _ if draws.below(3) == 0 => Action::Wait(1 + draws.below(3) as u32),
                Some(line) => Action::Release(line),
                None => Action::Tie(lines[draws.below(lines.len())]),
            };
            tied = match action {
                Action::Tie(line) => Some(line),
                Action::Release(_) => None,
                _ => tied,
            };
            unit.act(action).expect("a point");
            moves = rig.moves(action);
        }
        assert!(sure > 24, "{sure}");
    }
}
