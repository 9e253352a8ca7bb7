//! What the phase board's clock does with something changed in its oscillators.

use dryjoint_board::{Board, ClockId, PartId};
use dryjoint_circuit::{Network, Solver};
use dryjoint_ids::Id;
use dryjoint_logic::{Extracted, extract};
use dryjoint_survey::{Course, Oscillator, keeps};
use dryjoint_units::{Ohms, Volts};
use std::path::Path;

fn board() -> Board {
    board_with("", "")
}

/// The phase board with one piece of its text changed.
fn board_with(text: &str, other: &str) -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut load = |path: &str| std::fs::read(folder.join(path)).map_err(|error| error.to_string());
    let whole = String::from_utf8(load("phase.board").expect("the board is there")).expect("text");
    assert!(whole.contains(text));
    let text = whole.replacen(text, other, 1).into_bytes();
    let reading = dryjoint_netlist::read("phase.board", text, &mut load);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

fn oscillator<'e, 'b>(extracted: &'e Extracted<'b>) -> Oscillator<'e, 'b> {
    Oscillator::new(extracted, ClockId::at(0)).expect("the good clock runs at every position")
}

fn part(board: &Board, reference: &str) -> PartId {
    board.parts.iter().find(|(_, part)| part.reference == reference).expect("a part of the board").0
}

fn rate(course: &Course) -> f64 {
    match course {
        Course::Runs { rate, .. } => rate.0,
        other => panic!("{other:?}"),
    }
}

/// At every position, and between two, with a change at one part.
fn changed(oscillator: &Oscillator, part: PartId, change: &dyn Fn(&mut Network)) -> Vec<Course> {
    let mut solver = Solver::default();
    (0..oscillator.settings()).map(|setting| oscillator.with(setting, &[part], change, &mut solver)).collect()
}

#[test]
fn the_good_clock_runs_at_its_rates_and_keeps_still_between_two_positions() {
    let board = board();
    let (extracted, _) = extract(&board);
    let oscillator = oscillator(&extracted);
    assert_eq!(oscillator.settings(), 4);
    // boards/README.md, and f = .675-.69/(R C) (docs/outside-values.md): .98, 9.8, 9.8 k.
    for (setting, stated) in [0.98, 9.8, 9.8e3].into_iter().enumerate() {
        let rate = rate(oscillator.good(setting));
        assert!((rate / stated - 1.0).abs() < 0.02, "{rate} Hz, stated {stated}");
    }
    let Course::Stands { halves: [low, high] } = oscillator.good(3) else { panic!("it stands") };
    assert!(low[0] < Volts(0.2) && low[1] > Volts(3.0) && high[0] > Volts(3.0) && high[1] < Volts(0.2));
    assert!(keeps(&extracted, ClockId::at(0)));
}

/// Without the way back from one gate to the other there is nothing to keep the clock: it stands one way.
#[test]
fn a_clock_without_a_pair_does_not_keep_still_as_it_stood() {
    let board = board_with("nor4 OA1 OA2 OA3 CLKN CLK", "nor4 OA1 OA2 OA3 STOPPED CLK");
    let (extracted, _) = extract(&board);
    assert!(!keeps(&extracted, ClockId::at(0)));
}

#[test]
fn a_wrong_timing_resistor_changes_the_rate_of_its_own_position_only() {
    // Half a period is .68 R C (as above): with one of the two 75k at 68k the period is .68 (75k + 68k) C.
    let board = board();
    let (extracted, _) = extract(&board);
    let oscillator = oscillator(&extracted);
    let resistor = part(&board, "R32");
    let courses = changed(&oscillator, resistor, &|network| {
        network.set_ohms(resistor, Ohms(68e3));
    });
    let wanted = 1.0 / (0.68 * (75e3 + 68e3) * 1e-6);
    assert!((rate(&courses[1]) / wanted - 1.0).abs() < 0.03, "{:?}, wanted {wanted} Hz", courses[1]);
    for setting in [0, 2, 3] {
        assert_eq!(&courses[setting], oscillator.good(setting));
    }
}

#[test]
fn without_a_base_the_oscillator_stands_one_way_and_without_power_as_the_pair_stood() {
    let board = board();
    let (extracted, _) = extract(&board);
    let oscillator = oscillator(&extracted);
    // By hand: Q11 never conducts, so its collector is high for good, and the clock's NOR low.
    let transistor = part(&board, "Q11");
    let base = board.parts[transistor].pins[1];
    let courses = changed(&oscillator, transistor, &|network| {
        network.lift(base);
    });
    let Course::Stands { halves: [low, high] } = &courses[0] else { panic!("{:?}", courses[0]) };
    for volts in [low, high] {
        assert!(volts[0] < Volts(0.2) && volts[1] > Volts(3.0), "{volts:?}");
    }
    assert_eq!(&courses[1], oscillator.good(1));
    // By hand: nothing has power but the pair, which keeps what it held.
    let switch = part(&board, "S1");
    let common = board.parts[switch].pins[0];
    let courses = changed(&oscillator, switch, &|network| {
        network.lift(common);
    });
    for course in &courses {
        let Course::Stands { halves: [low, high] } = course else { panic!("{course:?}") };
        assert!(low[0] < Volts(0.2) && high[0] > Volts(3.0), "{course:?}");
    }
}

#[test]
fn two_oscillators_at_once_make_no_even_clock() {
    let board = board();
    let (extracted, _) = extract(&board);
    let oscillator = oscillator(&extracted);
    let switch = part(&board, "S1");
    let [slow, walk] = [1, 2].map(|contact| board.parts[switch].pins[contact]);
    let courses = changed(&oscillator, switch, &|network| {
        network.bridge(slow, walk, Ohms(0.1));
    });
    assert_eq!(courses[0], Course::Uneven);
    assert_eq!(courses[1], Course::Uneven);
    assert!((rate(&courses[2]) / rate(oscillator.good(2)) - 1.0).abs() < 0.01);
}
