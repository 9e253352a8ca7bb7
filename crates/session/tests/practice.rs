//! What every technician knows of a switching transistor, as a meter on a virtual unit shows it. Common
//! practice, no source: a good saturated collector reads about 0.1 V, an off one near the rail, a driven base
//! 0.6 to 0.7 V.
#![allow(missing_docs, reason = "software tests")]

use dryjoint_board::{Board, LineId};
use dryjoint_faults::{Fault, enumerate};
use dryjoint_logic::extract;
use dryjoint_procedure::Action;
use dryjoint_session::Unit;
use std::path::Path;

const BOARD: &str = "board gate\nuse \"dunlin.cells\"\nrail VCC 5V limit 100mA\nground GND\n\
    J1 header 1=GND 2=VCC 3=D0\nR1 4k7 VCC D0\nbus D J1.3 \"data pin\"\nDN nor1 D0 DN\n\
    LA lampdrive DN\nlamps VALUE DS1\n";

fn board() -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut loader = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    dryjoint_netlist::read("gate.board", BOARD, &mut loader).board.expect("a sound board")
}

/// Volts of the gate's collector and base, its input open and then tied low.
fn read(fault: Option<&str>) -> [(f64, f64); 2] {
    let board = board();
    let (extracted, _) = extract(&board);
    let all = enumerate(&board);
    let fault: Option<Fault> =
        fault.map(|name| *all.iter().find(|fault| fault.name(&board) == name).expect("a fault"));
    let mut unit = Unit::new(&extracted, fault.as_slice(), 1).expect("it comes up");
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).unwrap();
    let both = |unit: &Unit| {
        let volts = |name| unit.volts(net(name)).expect("a net").0;
        (volts("DN"), volts("DN.q"))
    };
    let high = both(&unit);
    let line: LineId = board.lines.ids().next().expect("a line");
    unit.act(Action::Tie(line)).expect("a point is found");
    [high, both(&unit)]
}

#[test]
fn a_good_gate_reads_as_every_technician_expects() {
    let [(collector, base), (off, idle)] = read(None);
    assert!((0.03..0.2).contains(&collector), "saturated collector: {collector} V");
    assert!((0.6..0.72).contains(&base), "driven base: {base} V");
    assert!((4.0..=5.0).contains(&off), "collector that is off: {off} V");
    assert!(idle < 0.2, "base that is not driven: {idle} V");
}

/// The same three readings tell three joints apart: a base that is not driven although the input is high, a
/// base that reads far above a junction because no junction pulls it, a collector at the rail though the base
/// is driven.
#[test]
fn the_same_readings_show_an_open_joint() {
    let [(collector, base), _] = read(Some("R2.1 open"));
    assert!(collector > 4.0 && base < 0.1, "base resistor open: {collector} V, {base} V");
    let [(collector, base), _] = read(Some("Q1.e open"));
    assert!(collector > 4.0 && base > 1.5, "emitter open: {collector} V, {base} V");
    let [(collector, base), _] = read(Some("Q1.c open"));
    assert!(collector > 4.0 && (0.55..0.72).contains(&base), "collector open: {collector} V, {base} V");
}
