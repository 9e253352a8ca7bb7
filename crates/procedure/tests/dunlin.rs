//! The main job on Dunlin's boards: every stage proven on the whole board's circuit, and a procedure
//! that shows what lamps can show.

use dryjoint_board::{Access, Board, NetId, PartKind};
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_faults::lanes::Target;
use dryjoint_faults::region::Why;
use dryjoint_logic::{Prover, SignalId, Simulation, extract};
use dryjoint_procedure::{
    Action, Costs, Coverage, Effort, Explanation, Procedure, Rig, Study, explain, plan,
};
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
        moves = rig.good_moves(action);
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
    nothing_is_left_open(&study, &procedure);
    let [now, found] = [procedure.bench_seconds(), procedure.found_seconds].map(|seconds| seconds.0);
    assert!(now < 450.0 && now < found / 2.0, "{now} s, {found} s as found");
    // The lamp's bridge to the signal it shows, which neither can tell from a lamp that is driven as it should be.
    let never = procedure.coverage.rows().iter().filter(|c| **c == Coverage::Never(Why::NeverOccurs)).count();
    assert_eq!(never, 7, "one for each pair of neighbouring lamps");
    for_each_way_from_the_fault_to_a_lamp(&study, &procedure);
}

#[test]
fn the_phase_board_shows_all_that_lamps_can_show() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    nothing_is_left_open(&study, &procedure);
    // The list as found is short already: one reset and a few periods show most of it. What a collector without its
    // resistor shows takes half a minute more than where its lamp is believed to be dark, which it is not; some more
    // what luck parts into cases, what latches are not believed to hold that took it from stages in chase, and the cases of
    // levels in between.
    let [now, found] = [procedure.bench_seconds(), procedure.found_seconds].map(|seconds| seconds.0);
    assert!(now < 245.0 && now < found, "{now} s, {found} s as found");
    // Only the lamp of phase 1 shows its own faults, and only while its button is held.
    let lamp = study.faults.iter().find(|(_, fault)| fault.name(&board) == "DS7 dead").map(|(id, _)| id);
    assert!(matches!(procedure.coverage[lamp.unwrap()], Coverage::Shown(_)));
    for_each_way_from_the_fault_to_a_lamp(&study, &procedure);
}

/// Every fault is shown, may be shown, or has a reason; what lamps can surely show is shown, all of it.
fn nothing_is_left_open(study: &Study, procedure: &Procedure) {
    assert_eq!(procedure.coverage.len(), study.faults.len());
    let board = study.extracted.shape.board;
    let missed = study.faults.iter().filter(|(id, _)| procedure.coverage[*id] == Coverage::Missed);
    assert_eq!(missed.map(|(_, fault)| fault.name(board)).collect::<Vec<_>>(), [""; 0]);
    let (shown, can) = procedure.shown();
    assert_eq!(shown, can);
    let share: f64 = procedure.shares(study).iter().sum();
    assert!((share - 1.0).abs() < 1e-9, "{share}");
}

/// The way of a difference begins at what the fault sets, never goes back in time, goes from stage to stage, and ends
/// at a lamp that the step shows wrong.
fn for_each_way_from_the_fault_to_a_lamp(study: &Study, procedure: &Procedure) {
    let logic = &study.extracted.logic;
    let mut followed = 0;
    for (_, group) in study.groups.iter().step_by(29) {
        let Explanation::Shown { step, lamps, way } = explain(study, procedure, group.faults[0]) else {
            continue;
        };
        let (Some(last), Some(first)) = (way.last(), way.first()) else { continue };
        assert_eq!(study.extracted.lamp_of[lamps[0].lamp], Some(last.signal));
        assert_eq!(last.good, lamps[0].good);
        assert!(last.step <= step);
        let sets = group.behaviour.writes.iter().any(|target| match *target {
            Target::Signal(signal) => signal == first.signal,
            Target::Pin(stage, _) => logic.stages[stage].output == first.signal,
        });
        assert!(sets, "{}", study.faults[group.faults[0]].name(study.extracted.shape.board));
        for pair in way.windows(2) {
            assert!(pair[0].step <= pair[1].step);
            let stages = logic.stages.rows().iter().filter(|stage| stage.output == pair[1].signal);
            assert!(stages.flat_map(|stage| &stage.inputs).any(|&input| input == pair[0].signal));
        }
        followed += 1;
    }
    assert!(followed > 10, "{followed}");
}
