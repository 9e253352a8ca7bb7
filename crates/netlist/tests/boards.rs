//! The boards of the project read without a notice, and hold what their text says.

use dryjoint_board::{Access, PartKind, Supply};
use dryjoint_netlist::{Reading, read};
use std::path::Path;

fn board(name: &str) -> Reading {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut loader = |path: &str| std::fs::read(folder.join(path)).map_err(|error| error.to_string());
    let text = std::fs::read(folder.join(name)).expect("the board is there");
    read(name, text, &mut loader)
}

#[test]
fn the_address_board_is_laid_out_as_its_text_says() {
    let reading = board("address.board");
    assert_eq!(reading.notices, [], "{:#?}", reading.notices);
    let board = reading.board.unwrap();
    assert_eq!(board.name, "address");
    let count = |wanted: fn(&PartKind) -> bool| board.parts.rows().iter().filter(|p| wanted(&p.kind)).count();
    assert_eq!(count(|kind| matches!(kind, PartKind::Lamp(_))), 13);
    // Per bit 1+1+1+1+1+1+8+1+1+1+1+1 transistors, in the control 15, in the lamp drivers 13.
    assert_eq!(count(|kind| matches!(kind, PartKind::Bipolar(_))), 6 * 19 + 15 + 13);
    let line = board.lines.rows().iter().find(|line| line.name == "/LD").unwrap();
    assert_eq!((line.access, line.active_high), (Access::TieLow, Some(false)));
    assert_eq!(line.purpose, "load from the bus");
    let d3 = board.lines.rows().iter().find(|line| line.name == "D3").unwrap();
    assert_eq!((board.nets[d3.net].name.as_str(), d3.active_high), ("D3", None));
    assert_eq!(board.lamps.rows()[0].lamps.len(), 6);
    let vcc = board.nets.rows().iter().find(|net| net.name == "VCC").unwrap();
    assert!(matches!(vcc.supply, Some(Supply::Rail { .. })));
    // The master latch of bit 3: 25 resistors of the bit stand before it, counted from 100 + 3 · 100.
    let part = board.parts.rows().iter().find(|part| part.section == "BIT3/FF/MA/GS").unwrap();
    assert_eq!(part.reference, "R425");
    let place = part.place.unwrap();
    assert_eq!((place.x.0, place.y.0), (10.16 + 76.2, 38.1 + 3.0 * 20.32 + 10.16));
}

#[test]
fn the_phase_board_has_its_clock_and_switches() {
    let mut reading = board("phase.board");
    reading.check();
    assert_eq!(reading.notices, [], "{:#?}", reading.notices);
    let board = reading.board.unwrap();
    let clock = &board.clocks.rows()[0];
    assert_eq!(board.nets[clock.net].name, "CLK");
    let rates: Vec<_> = clock.rates.iter().map(|rate| (rate.position.as_str(), rate.rate.0)).collect();
    assert_eq!(rates, [("slow", 1.0), ("walk", 10.0), ("run", 10e3)]);
    let reset = board.lines.rows().iter().find(|line| line.name == "RESET").unwrap();
    assert!(matches!(reset.access, Access::Contact(part) if board.parts[part].reference == "S5"));
    assert_eq!((board.nets[reset.net].name.as_str(), reset.active_high), ("POKE", Some(false)));
}
