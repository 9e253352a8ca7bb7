//! What the ties of a pin do comes out of the parts: the same bus with other resistors has another verdict.
#![allow(missing_docs, reason = "software tests")]

use dryjoint_board::Board;
use dryjoint_logic::extract;
use dryjoint_netlist::read_alone;
use dryjoint_survey::{Judgement, PinTies, Reason, ties};

/// A bus pin D with its pull-up, read by a gate, pulled low by a bus driver with `base` in its base; a line
/// /A that turns the driver on, and the gate's output on the connector.
fn bus(base: &str, lines: &str) -> Board {
    let text = format!(
        "board bus \"Bus\"\nrail VCC 5V limit 200mA\nground GND\n\
         J1 header 1=GND 2=VCC 3=D 4=/A 5=Y\nR1 2k2 VCC D\nR2 4k7 VCC /A\n{lines}\
         line /A J1.4 active low \"drive the bus\"\n\
         R3 22k /A q1\nR4 22k q1 GND\nR5 2k2 VCC a\nQ1 2N3904 c=a b=q1 e=GND\n\
         R6 {base} a q2\nR7 {base} q2 GND\nQ2 2N3904 c=D b=q2 e=GND\n\
         R8 22k D q3\nR9 22k q3 GND\nR10 2k2 VCC Y\nQ3 2N3904 c=Y b=q3 e=GND\n"
    );
    let reading = read_alone("bus.board", &text);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

fn of(board: &Board) -> (Vec<PinTies>, Vec<&'static str>) {
    let (extracted, notices) = extract(board);
    assert!(dryjoint_logic::is_sound(&notices), "{notices:?}");
    let (ties, notices) = ties(&extracted, None);
    (ties, notices.iter().map(|notice| notice.code).collect())
}

const BUS_LINE: &str = "bus D J1.3 \"data\"\n";

#[test]
fn a_bus_input_is_left_open_and_never_tied_straight_to_the_rail() {
    let board = bus("10k", BUS_LINE);
    let (ties, warnings) = of(&board);
    let [bus, line, output] = &ties[..] else { panic!("{ties:?}") };
    // Open it reads high by its own pull-up.
    assert_eq!((bus.open_judgement.0, bus.reads), (Judgement::Safe, Some(true)));
    // To ground: the pull-up's 5 V / 2k2, and what the driver's base gets when it is on, which finds its way
    // out through the collector: at most (5 V − 0.6 V) / 12k2.
    assert_eq!(bus.ground.judgement, Judgement::Safe);
    let (pull_up, base) = (5.0 / 2200.0, 4.4 / 12.2e3);
    assert!((pull_up..pull_up + base).contains(&bus.ground.amps.0), "{}", bus.ground.amps);
    // To the rail: the driver's base current times a gain of 100 to 300 (2N3904 datasheet, hFE at 10 mA),
    // base current (VOH − VBE)/10k − VBE/10k with VOH near 4.2 V and VBE 0.75 V.
    assert_eq!((bus.rail.judgement, bus.rail.reason), (Judgement::Unsafe, Reason::Limit));
    let base = (4.2 - 0.75) / 10e3 - 0.75 / 10e3;
    assert!((100.0 * base..300.0 * base).contains(&bus.rail.amps.0), "{}", bus.rail.amps);
    let own = bus.rail.own.unwrap();
    assert_eq!(board.parts[own.part].reference, "Q2");
    assert!(own.junction.is_some_and(|junction| junction.0 > 110.0), "{own:?}");
    // Nothing on the board drives the line, but another board's driver like Q2 may.
    assert_eq!((line.rail.judgement, line.rail.reason), (Judgement::Unsafe, Reason::OthersLimit));
    assert_eq!(line.rail.other.map(|other| other.part), Some(own.part));
    assert_eq!((line.ground.judgement, line.ground.reason), (Judgement::Safe, Reason::Moves));
    // The gate's own output: nothing to learn from a jumper there.
    assert_eq!((output.ground.judgement, output.ground.reason), (Judgement::Pointless, Reason::OwnOutput));
    assert!(warnings.is_empty(), "{warnings:?}");
}

#[test]
fn with_weak_drivers_the_rail_does_no_harm() {
    // A twentieth of the base current: a few milliamperes at most, 20 mW. The gates around have 22k, so
    // theirs is then the strongest driver that another board may hold.
    let (ties, _) = of(&bus("220k", BUS_LINE));
    let bus = &ties[0];
    assert!(bus.rail.own.and_then(|own| own.junction).is_some_and(|junction| junction.0 < 80.0), "{bus:?}");
    assert!(bus.rail.amps.0 < 5e-3, "{}", bus.rail.amps);
    assert_ne!(bus.rail.reason, Reason::Limit);
}

#[test]
fn a_line_that_must_be_tied_the_harmful_way_is_told_of() {
    let board = bus("10k", "line D J1.3 active high tie high \"what the bus holds\"\n");
    let (_, warnings) = of(&board);
    assert_eq!(warnings, ["tie-unsafe"]);
}
