//! "The clock keeps its levels" and "only counting tells", said again by a plain circuit in time that shares no code with
//! the solver.
//!
//! Held of each fault and each position of the clock's switch: the clock and its complement go low and high by turns as
//! every gate of this family reads them, one the other way round than the other; the rate is within a tenth of the good
//! one's where that is said, and where another is said it is that; and where the switch is turned away, in the middle of
//! either half, both stay as they stood. A plain clock that stands, that is off the rate, that shows a level in between, or
//! that falls over as the switch leaves it, would refute it.

mod plain;

use dryjoint_board::Board;
use dryjoint_faults::region::{Effect, Off, Why, effects};
use dryjoint_faults::{Fault, enumerate};
use dryjoint_ids::Table;
use dryjoint_logic::extract;
use plain::{Clockwork, READS, Ran};
use std::path::Path;

fn board() -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut read = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    let text = read("phase.board").expect("the board is there");
    dryjoint_netlist::read("phase", text, &mut read).board.expect("a sound board")
}

/// The plain clock at a position, and in either half how it stands and what it holds once the switch is turned away.
fn ran(board: &Board, position: usize, fault: Option<&Fault>) -> Option<(Ran, [[[f64; 2]; 2]; 2])> {
    let clock = &board.clocks.rows()[0];
    let contact = board.pins[board.parts[clock.selector?].pins[position + 1]].net;
    let mut fed = Clockwork::new(board, Some(position), fault);
    fed.kick(board, contact);
    let found = fed.run(board)?;
    let mut turned = |after: f64| {
        let stood = fed.go_on(after, board)?;
        let kept = Clockwork::new(board, None, fault).let_go(&fed, 2.0 * found.period, board)?;
        Some([stood, kept])
    };
    // It has just risen.
    let halves = [turned(found.high / 2.0)?, turned(found.period / 2.0)?];
    Some((found, halves))
}

/// How a clock and its complement are read; nothing where either is not, or both are alike.
fn is_high([clock, complement]: [f64; 2]) -> Option<bool> {
    let read = |volts: f64| if volts < READS.0 { Some(false) } else { (volts > READS.1).then_some(true) };
    read(clock).filter(|high| read(complement) == Some(!high))
}

/// Holds what is said of some faults against the plain clock: how many keep it running, and how many have it fall over.
fn hold(board: &Board, faults: &[Fault]) -> [usize; 2] {
    let (extracted, _) = extract(board);
    let found: Table<_, Effect> = effects(&extracted, faults);
    let positions = board.clocks.rows()[0].rates.len();
    let good: Vec<f64> = (0..positions)
        .map(|position| {
            let (ran, _) = ran(board, position, None).expect("a good clock runs");
            // What the text states, within the tenth that it may be off by.
            let stated = board.clocks.rows()[0].rates[position].rate.0;
            assert!((ran.period * stated - 1.0).abs() < 0.1, "{position}: {ran:?}");
            ran.period
        })
        .collect();
    let [mut held, mut fell] = [0; 2];
    for (fault, effect) in faults.iter().zip(found.rows()) {
        let off: Option<Off> = match effect {
            Effect::Nothing(Why::KeepsRate) => None,
            Effect::Undecided(Why::FallsOver) => {
                assert!(falls(board, fault, positions), "{}", fault.name(board));
                fell += 1;
                continue;
            }
            Effect::Nothing(Why::Rate(off)) => Some(*off),
            _ => continue,
        };
        let name = fault.name(board);
        let mut stays = true;
        for (position, good) in good.iter().enumerate() {
            let (ran, turned) =
                ran(board, position, Some(fault)).unwrap_or_else(|| panic!("{name} stands at {position}"));
            let read = ran.halves.map(is_high);
            assert_eq!(read, [Some(false), Some(true)], "{name} at {position}: {ran:?}");
            let keeps = |high: usize| turned[1 - high].map(is_high) == [Some(high == 1); 2];
            stays &= keeps(0) && keeps(1);
            match off {
                None => assert!(
                    (good / ran.period - 1.0).abs() < 0.12,
                    "{name} at {position}: {ran:?}, good {good}"
                ),
                // Two digits are said, of the first position that is off.
                Some(off) if usize::from(off.position) == position => {
                    let said = off.is().0 * ran.period;
                    assert!((said - 1.0).abs() < 0.06, "{name} at {position}: {ran:?}, said {}", off.is());
                }
                Some(_) => {}
            }
        }
        assert!(stays, "{name} falls over");
        held += 1;
    }
    [held, fell]
}

/// Whether the clock falls over as its switch leaves some position.
fn falls(board: &Board, fault: &Fault, positions: usize) -> bool {
    (0..positions).any(|position| {
        let (_, turned) = ran(board, position, Some(fault)).expect("it runs");
        turned.into_iter().any(|both| is_high(both[0]) != is_high(both[1]))
    })
}

#[test]
fn a_plain_clock_agrees_on_one_fault_of_each_kind() {
    let board = board();
    let names = ["R49 missing", "R28 750k", "C10 reversed", "R45 2k2"];
    let faults: Vec<Fault> =
        enumerate(&board).into_iter().filter(|fault| names.contains(&fault.name(&board).as_str())).collect();
    assert_eq!(hold(&board, &faults), [3, 1]);
}

#[test]
#[ignore = "slow: cargo test --release -p dryjoint-faults --test plain_clock -- --ignored"]
fn a_plain_clock_agrees_on_every_fault_that_is_said_to_keep_it_running() {
    let board = board();
    let faults: Vec<Fault> = enumerate(&board);
    let [held, fell] = hold(&board, &faults);
    assert!(held > 45 && fell > 4, "{held} stay, {fell} fall over");
}
