//! One gate of the RTL family with each fault in turn, against the table in
//! `cases/circuit/rtl-faults.case`, which names its source.

use dryjoint_board::{Board, NetId, PartId, PinId};
use dryjoint_circuit::{Detail, Network, Solver};
use dryjoint_parts::library;
use dryjoint_units::{Amps, Ohms, Volts};

const CASE: &str = include_str!("../../../cases/circuit/rtl-faults.case");
/// A solder bridge.
const BRIDGE: Ohms = Ohms(0.1);

fn net(board: &Board, name: &str) -> NetId {
    board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).unwrap()
}

fn part(board: &Board, reference: &str) -> PartId {
    board.parts.iter().find(|(_, part)| part.reference == reference).map(|(id, _)| id).unwrap()
}

fn pin(board: &Board, name: &str) -> PinId {
    let (reference, pin) = name.split_once('.').unwrap();
    let pins = &board.parts[part(board, reference)].pins;
    *pins.iter().find(|id| board.pins[**id].name == pin).unwrap()
}

/// Makes the change; whether there was something to change.
fn change(board: &Board, network: &mut Network, words: &[&str]) -> bool {
    match words {
        ["none"] => true,
        ["lift", at] => network.lift(pin(board, at)).is_some(),
        ["remove", of] => network.remove(part(board, of)),
        ["leads", of, leads @ ..] => {
            let hole = |lead: &&str| ["c", "b", "e"].iter().position(|hole| hole == lead).unwrap();
            network.permute(part(board, of), &leads.iter().map(hole).collect::<Vec<_>>())
        }
        ["fit", of, card] => network.set_model(part(board, of), &library(card).unwrap()),
        ["bridge", a, b] => network.bridge(pin(board, a), pin(board, b), BRIDGE).is_some(),
        ["ohms", of, value] => network.set_ohms(part(board, of), Ohms::parse(value).unwrap()),
        other => panic!("no such change: {other:?}"),
    }
}

#[test]
fn every_row_of_the_fault_table() {
    let (text, table) = CASE.split_once("== ").unwrap();
    let board = dryjoint_netlist::read_alone("rtl-faults.case", text).board.expect("the board reads");
    let mut rows = 0;
    for row in table.lines().skip(1) {
        let cells: Vec<&str> = row.split('|').collect();
        let [name, edit, high, low] = cells[..] else { panic!("four columns: {row}") };
        let edit: Vec<&str> = edit.split_whitespace().collect();
        for (feed, stated) in [(0.0, high), (3.8, low)] {
            let mut network = Network::of_board(&board);
            assert!(network.force(net(&board, "feed"), Volts(feed)));
            assert!(change(&board, &mut network, &edit), "{name}");
            let solution = Solver::new(Detail { series_resistances: false }).solve(&network).unwrap();
            let volts = |name| solution.at(&network, net(&board, name)).unwrap().0;
            let found = [
                volts("x"),
                volts("G.b"),
                volts("y"),
                solution.supply(&network, net(&board, "VCC")).unwrap().amps.0,
            ];
            let stated: Vec<&str> = stated.split_whitespace().collect();
            assert_eq!(stated.len(), 4, "{row}");
            for ((what, found), stated) in
                ["input", "base", "collector", "supply"].into_iter().zip(found).zip(stated)
            {
                if stated == "-" {
                    continue;
                }
                let (wanted, least) = match what {
                    "supply" => (Amps::parse(stated).unwrap().0, 0.0),
                    _ => (Volts::parse(stated).unwrap().0, 0.04),
                };
                let slack = (0.05 * wanted).max(least);
                assert!(
                    (found - wanted).abs() <= slack,
                    "{name}, fed {feed} V: {what} {found}, not {stated}"
                );
            }
        }
        rows += 1;
    }
    assert_eq!(rows, 18);
}
