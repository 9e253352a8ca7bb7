//! After a change in one place a board solved again around it stands where one solved afresh stands.

mod soldered;

use dryjoint_circuit::{Method, Network, Solver, kirchhoff};
use dryjoint_parts::library;
use dryjoint_units::Ohms;
use soldered::Soldered;

/// NORs of one to three inputs, each from outputs before it.
fn grown(count: usize) -> Soldered {
    let mut board = Soldered::five_volts(5.0);
    for gate in 0..count {
        let inputs: Vec<String> = (0..1 + gate % 3)
            .map(|k| match gate.checked_sub(1 + (gate * 7 + k * 5) % 23) {
                Some(from) => format!("y{from}"),
                None => ["VCC", "GND"][(gate + k) % 2].to_owned(),
            })
            .collect();
        let inputs: Vec<&str> = inputs.iter().map(String::as_str).collect();
        board.nor(&format!("G{gate}"), &inputs, &format!("y{gate}"), [2200.0, 22e3, 22e3]);
    }
    board
}

#[test]
fn a_change_solved_around_it_is_the_change_solved_afresh() {
    let board = grown(300);
    let network = Network::of_board(&board.board);
    let mut solver = Solver::default();
    let start = solver.solve(&network).unwrap();
    let mut partly = 0;
    for gate in (0..300).step_by(13) {
        let part = |name: &str| board.part(&format!("G{gate}{name}"));
        let edits: [fn(&mut Network, [dryjoint_board::PartId; 3]); 4] = [
            |network, [rc, ..]| assert!(network.set_ohms(rc, Ohms(220e3))),
            |network, [_, re, _]| assert!(network.remove(re)),
            |network, [.., q]| assert!(network.permute(q, &[2, 1, 0])),
            |network, [.., q]| assert!(network.set_model(q, &library("2N3906").unwrap())),
        ];
        for edit in edits {
            let mut changed = network.clone();
            edit(&mut changed, [part("RC"), part("RE"), part("Q")]);
            let again = solver.solve_from(&changed, &start).unwrap();
            let afresh = solver.solve(&changed).unwrap();
            assert!(kirchhoff(&changed, &again).0 < 1e-9);
            for (a, b) in again.volts().iter().zip(afresh.volts()) {
                assert!((a - b).abs() < 1e-5, "gate {gate}: {a} or {b}");
            }
            partly += u32::from(again.method == Method::Partial);
        }
    }
    // A change that turns half the board over is left to the usual ways.
    assert!(partly > 48, "only {partly} of 96 were solved in part");
}

#[test]
fn the_same_change_gives_the_same_bytes_whatever_was_solved_before() {
    let board = grown(200);
    let network = Network::of_board(&board.board);
    let mut changed = network.clone();
    changed.set_ohms(board.part("G90RC"), Ohms(22e3));
    let start = Solver::default().solve(&network).unwrap();
    let alone = Solver::default().solve_from(&changed, &start).unwrap();
    let mut busy = Solver::default();
    busy.solve(&Network::of_board(&grown(120).board)).unwrap();
    busy.solve_from(&network, &start).unwrap();
    let again = busy.solve_from(&changed, &start).unwrap();
    // As text, since elements without inner voltages hold "not a number" there.
    assert!(format!("{again:?}") == format!("{alone:?}"));
}
