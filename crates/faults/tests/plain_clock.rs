//! The second look at a clock, held against what the board's text states and against claims that are wrong.

use dryjoint_board::{Board, ClockId};
use dryjoint_faults::proof::{Objection, Running, Turning, only_times, runs};
use dryjoint_faults::{Fault, enumerate};
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_units::{Hertz, Seconds};
use std::path::Path;

fn board() -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut read = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    let text = read("phase.board").expect("the board is there");
    dryjoint_netlist::read("phase", text, &mut read).board.expect("a sound board")
}

fn fault(board: &Board, name: &str) -> Fault {
    enumerate(board).into_iter().find(|fault| fault.name(board) == name).unwrap_or_else(|| panic!("{name}"))
}

/// That a clock keeps still as it stood, at the rates that `check` prints of the good board.
fn claim(fault: Option<Fault>) -> Running {
    let turning = |rate: f64| Turning {
        rate: Hertz(rate),
        left: [Some(false), Some(true)],
        apart: Some(Seconds(1e-6)),
    };
    Running { fault, clock: ClockId::at(0), positions: [0.99, 9.9, 9.84e3].map(turning).to_vec() }
}

#[test]
fn a_good_clock_runs_as_the_text_states_and_by_hand() {
    let board = board();
    let (extracted, _) = extract(&board);
    let found = runs(&extracted, &claim(None)).expect("it runs");
    let stated = board.clocks.rows()[0].rates.iter().map(|position| position.rate.0);
    for (found, stated) in found.iter().zip(stated) {
        // Within the tenth that the text may be off by.
        assert!((found.0 / stated - 1.0).abs() < 0.1, "{found} {stated}");
    }
    // f = .675 to .69/(R C) for two equal halves (docs/outside-values.md): 75k with 10u, 1u and 1n. The gates behind it load the
    // collectors, which makes it quicker, within a tenth.
    for (found, farads) in found.iter().zip([10e-6, 1e-6, 1e-9]) {
        let by_hand = 0.683 / (75e3 * farads);
        assert!((found.0 / by_hand - 1.0).abs() < 0.1, "{found} {by_hand}");
    }
}

#[test]
fn a_claim_that_is_wrong_in_one_thing_is_refused() {
    let board = board();
    let (extracted, _) = extract(&board);
    let refused = |change: &dyn Fn(&mut Running)| {
        let mut wrong = claim(None);
        change(&mut wrong);
        runs(&extracted, &wrong).expect_err("it is wrong")
    };
    for at in 0..3 {
        for share in [0.9, 1.1] {
            let no = refused(&|wrong| wrong.positions[at].rate.0 *= share);
            assert!(matches!(no, Objection::Rate(place, ..) if place == at), "{no:?}");
        }
        for high in [0, 1] {
            let no = refused(&|wrong| wrong.positions[at].left[high] = Some(high == 0));
            assert_eq!(no, Objection::Left(at, high == 1));
        }
        let no = refused(&|wrong| wrong.positions[at].apart = Some(Seconds(10e-9)));
        assert!(matches!(no, Objection::Alike(place, _) if place == at), "{no:?}");
    }
}

#[test]
fn no_fault_that_stops_or_spoils_a_clock_passes_for_one_that_keeps_it_running() {
    let board = board();
    let (extracted, _) = extract(&board);
    let no = |name: &str| {
        let claim = claim(Some(fault(&board, name)));
        runs(&extracted, &claim).expect_err(name)
    };
    // By hand: without its base, or its capacitor, an oscillator stands, and the clock with it.
    for (name, at) in
        [("Q11.b open", 0), ("Q13.b open", 1), ("C13 missing", 1), ("Q16 missing", 2), ("S1.c open", 0)]
    {
        assert_eq!(no(name), Objection::Stands(at), "{name}");
    }
    // A tenth of one timing resistor: half the period is .73 R C (docs/outside-values.md).
    assert!(matches!(no("R28 7k5"), Objection::Rate(0, ..)));
    // A collector resistor of a tenth takes an oscillator long to switch, and both of its gates are low meanwhile.
    assert!(matches!(no("R27 220R"), Objection::Rate(0, ..) | Objection::Alike(0, _)));
    // Without what ties the pair together nothing keeps the clock once its switch is turned away.
    assert!(matches!(no("R41.1-R41.2 bridged"), Objection::Rate(..) | Objection::Left(..)));
}

#[test]
fn a_capacitor_that_times_the_reset_is_all_that_goes_with_it() {
    let board = board();
    let (extracted, _) = extract(&board);
    for name in ["C1 missing", "C1.+ open", "C1.- open"] {
        let fault = fault(&board, name);
        assert_eq!(only_times(&extracted, &fault, true), Ok(()), "{name}");
        // The pulse is not still there.
        assert!(matches!(only_times(&extracted, &fault, false), Err(Objection::Pulse(_))), "{name}");
    }
    // The wrong way round it holds its net down; and a capacitor of the clock or the supply times no pulse.
    assert!(matches!(only_times(&extracted, &fault(&board, "C1 reversed"), true), Err(Objection::Rest(_))));
    for name in ["C12 missing", "C2 missing"] {
        assert_eq!(only_times(&extracted, &fault(&board, name), true), Err(Objection::NotBuiltIn), "{name}");
    }
}
