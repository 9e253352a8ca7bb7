//! The main job on Dunlin's boards: every stage proven on the whole board's circuit, and a procedure
//! that shows what lamps can show.

use dryjoint_board::{Access, Board, NetId, PartKind};
use dryjoint_faults::Priors;
use dryjoint_logic::{Prover, SignalId, Simulation, extract};
use dryjoint_procedure::{Action, Costs, Coverage, Draws, Effort, Rig, Study, plan};
use std::path::Path;

fn board(name: &str) -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let read = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    let text = read(&format!("{name}.board")).expect("the board file is there");
    dryjoint_netlist::read(name, text, &mut |name: &str| read(name)).board.expect("a sound board")
}

/// Works the lines at random and compares `states` settled states with the circuit.
fn prove(board: &Board, states: usize) {
    let (extracted, notices) = extract(board);
    assert!(notices.is_empty(), "{notices:?}");
    let rig = Rig::new(&extracted);
    let mut simulation = Simulation::new(&extracted.logic);
    let mut prover = Prover::new(&extracted);
    let mut draws = Draws::new(7);
    let mut set: Vec<(NetId, bool)> = Vec::new();
    let lines: Vec<_> = board.lines.ids().collect();
    let mut moves = vec![rig.start()];
    let mut rounds = 0;
    // What only the oscillator behind a clock source reads is nobody's signal.
    let read: Vec<SignalId> =
        extracted.logic.stages.iter().flat_map(|(_, stage)| stage.inputs.iter().copied()).collect();
    while prover.proof.states < states {
        for step in std::mem::take(&mut moves) {
            for (signal, level) in step {
                simulation.set(signal, level);
                let net = extracted.logic.signals[signal].net.expect("lines are nets");
                set.retain(|&(known, _)| known != net);
                set.extend(level.value().map(|high| (net, high)));
            }
            assert!(simulation.settle().is_empty(), "a good board comes to rest");
            let known = read.iter().all(|&id| simulation.level(id).value().is_some());
            if known && prover.proof.states < states {
                prover.compare(&set, &|id| simulation.level(id));
            }
        }
        let line = lines[draws.below(lines.len())];
        // Buttons are pressed one at a time: both hand phases held at a clock's edge is a race.
        let button = match board.lines[line].access {
            Access::Contact(part) => board.parts[part].kind == PartKind::Button,
            _ => false,
        };
        let action = match draws.below(8) {
            0..=1 if !button => Action::Tie(line),
            2..=4 if !button => Action::Release(line),
            5 if !board.clocks.is_empty() => Action::Wait(1),
            _ => Action::Pulse(line),
        };
        rounds += 1;
        assert!(rounds < 20 * states, "the board never comes to a known state");
        moves = rig.moves(action);
    }
    let proof = &prover.proof;
    assert!(proof.unsolved.is_empty(), "{:?}", proof.unsolved);
    assert!(proof.disagreements.is_empty(), "{:?}", proof.disagreements);
    assert_eq!(proof.agreeing(&extracted).len(), extracted.logic.stages.len());
    assert!(proof.compared >= states * (extracted.logic.signals.len() - 15));
}

#[test]
fn every_stage_of_the_address_board_is_proven_on_a_thousand_states() {
    prove(&board("address"), 1000);
}

#[test]
fn every_stage_of_the_phase_board_is_proven_on_a_thousand_states() {
    prove(&board("phase"), 1000);
}

#[test]
fn the_address_board_has_its_hundred_transistors_and_a_procedure_for_them() {
    let board = board("address");
    let transistors = board.parts.iter().filter(|(_, part)| part.reference.starts_with('Q')).count();
    assert!(transistors >= 100, "{transistors}");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let (shown, can) = procedure.shown();
    assert!(shown * 100 >= can * 99, "{shown} of {can}");
    // Whatever is not shown is named with a reason, or named as missed; nothing is passed over.
    let others = procedure.coverage.rows().iter().filter(|c| !matches!(c, Coverage::Shown(_))).count();
    assert_eq!(shown + others, study.faults.len());
    assert!(procedure.bench_seconds().0 < 900.0, "{} s", procedure.bench_seconds().0);
}
