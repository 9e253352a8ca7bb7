//! A bridge between two pins does what joining their nets does.

use dryjoint_board::{Board, PartKind, Supply};
use dryjoint_faults::Fault;
use dryjoint_faults::region::{Effect, effects};
use dryjoint_logic::extract;

/// A latch, so that every gate is loaded and none is at the edge of the board only.
const BOARD: &str = "board latch \"two NORs\"\nrail VCC 5V limit 100mA\nground GND\n\
    J1 header 1=GND 2=VCC 3=/S 4=/R\nR1 4k7 VCC /S\nR2 4k7 VCC /R\n\
    line /S J1.3 active low \"set\"\nline /R J1.4 active low \"clear\"\n\
    cell nor1 (a y)\n  R1 22k a q\n  R2 22k q GND\n  R3 2k2 VCC y\n  Q1 2N3904 c=y b=q e=GND\nend\n\
    cell nor2 (a b y)\n  R1 22k a q\n  R2 22k b q\n  R3 22k q GND\n  R4 2k2 VCC y\n  \
    Q1 2N3904 c=y b=q e=GND\nend\n\
    A nor1 /S S\nB nor1 /R R\nC nor2 S QN HELD\nD nor2 R HELD QN\n\
    DS1 red a=n k=k\nR90 470 VCC n\nR91 22k QN qb\nQ90 2N3904 c=k b=qb e=GND\nlamps HELD DS1\n";

fn board() -> Board {
    let reading = dryjoint_netlist::read_alone("latch.board", BOARD);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

/// The collector soldered to the emitter is the collector's net soldered to ground; the fault table of
/// one such gate (computed by an independent program) has its collector at 0 V whatever the input.
#[test]
fn collector_to_emitter_is_the_net_to_ground() {
    let board = board();
    let (extracted, _) = extract(&board);
    let ground = board.nets.iter().find(|(_, net)| net.supply == Some(Supply::Ground)).unwrap().0;
    let mut faults = Vec::new();
    for (_, part) in board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Bipolar(_))) {
        let [c, _, e] = part.pins[..] else { panic!("three leads") };
        faults.push(Fault::Bridge(c, e));
        faults.push(Fault::RailShort(board.pins[c].net, ground));
    }
    let effects = effects(&extracted, &faults);
    for (pair, names) in effects.rows().chunks(2).zip(faults.chunks(2)) {
        assert!(matches!(pair[0], Effect::Changes(_)), "{}: {:?}", names[0].name(&board), pair[0]);
        assert_eq!(pair[0], pair[1], "{}", names[0].name(&board));
    }
}
