//! What is said to show never, and what a jumper on a shorted line does, held against the circuit of the whole
//! board: it shares nothing with the tables of the regions that said so.

mod bench;

use dryjoint_faults::region::{Effect, Why};
use dryjoint_faults::{Fault, FaultId, Priors};
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, Study};
use dryjoint_session::{Sight, Unit};

/// Every how many faults of the list one is tried by default.
const ONE_IN: usize = 150;

/// Clear, count twice, load, put it on the bus: every stage of every bit sees both levels.
const WORK: &str = "tie /CLR, pulse /P1, pulse /P2, release /CLR, tie /CNT, pulse /P1, pulse /P2, pulse /P1, \
                    pulse /P2, release /CNT, tie /LD, tie D1, tie D4, pulse /P1, pulse /P2, release /LD, tie /OE";

fn lamps(study: &Study, unit: &Unit) -> Vec<Option<Sight>> {
    study.rig.lamps.iter().map(|&(lamp, _)| unit.lamp(lamp)).collect()
}

fn actions(study: &Study) -> Vec<Action> {
    let board = study.extracted.shape.board;
    let line = |name: &str| board.lines.iter().find(|(_, line)| line.name == name).unwrap().0;
    let action = |words: &str| {
        let (verb, name) = words.trim().split_once(' ').unwrap();
        match verb {
            "tie" => Action::Tie(line(name)),
            "release" => Action::Release(line(name)),
            _ => Action::Pulse(line(name)),
        }
    };
    WORK.split(',').map(action).collect()
}

/// What every lamp shows after every action on one unit, with a fault or good.
fn played(study: &Study, faults: &[Fault], actions: &[Action]) -> Vec<Vec<Option<Sight>>> {
    let mut unit = Unit::new(study.extracted, faults, 1).unwrap();
    let mut after = |&action: &Action| {
        unit.act(action).unwrap();
        lamps(study, &unit)
    };
    actions.iter().map(&mut after).collect()
}

/// Plays the work on a good unit and on one with each fault, and compares every lamp after every action once the
/// good one is cleared.
fn shows_nothing(study: &Study, faults: &[Fault]) {
    let actions = actions(study);
    let good = played(study, &[], &actions);
    let board = study.extracted.shape.board;
    let shown = faults.iter().filter_map(|fault| {
        let bad = played(study, &[*fault], &actions);
        let at = (3..actions.len()).find(|&at| good[at] != bad[at])?;
        Some(format!("{} after {} actions", fault.name(board), at + 1))
    });
    let shown: Vec<String> = shown.collect();
    assert!(shown.is_empty(), "{} of {}: {}", shown.len(), faults.len(), shown.join(", "));
}

fn levels_stay(study: &Study) -> Vec<Fault> {
    let stay = study.effects.iter().filter(|(_, effect)| **effect == Effect::Nothing(Why::LevelsStay));
    stay.map(|(id, _)| study.faults[id]).collect()
}

#[test]
fn what_never_shows_does_not_show_on_the_circuit_of_the_whole_board() {
    let board = bench::board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let mut faults: Vec<Fault> = levels_stay(&study).into_iter().step_by(ONE_IN).collect();
    let named = |name: &str| *study.faults.rows().iter().find(|fault| fault.name(&board) == name).unwrap();
    // Proven by a formula: the states in which it would matter never occur.
    faults.extend(["R25.1-R26.2 bridged", "R37.1-R38.2 bridged"].map(named));
    shows_nothing(&study, &faults);
}

#[test]
#[ignore = "slow: some minutes; cargo test --release -p dryjoint-session --test never -- --ignored"]
fn none_of_all_that_never_shows_does() {
    let board = bench::board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    shows_nothing(&study, &levels_stay(&study));
}

#[test]
fn a_jumper_on_a_line_shorted_to_the_rail_darkens_every_lamp_and_the_supply_gives_its_limit() {
    let board = bench::board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let mut tried = 0;
    for (line, row) in board.lines.iter() {
        let name = format!("{} to VCC", row.name);
        let fault =
            (0..study.faults.len()).map(FaultId::at).find(|&id| study.faults[id].name(&board) == name);
        let Effect::Changes(behaviour) = &study.effects[fault.unwrap()] else { panic!("{name} shows") };
        assert_eq!(behaviour.blackout, extracted.signal_of[row.net]);
        if tried < 2 {
            let mut unit = Unit::new(&extracted, &[study.faults[fault.unwrap()]], 1).unwrap();
            unit.act(Action::Tie(line)).unwrap();
            assert!(lamps(&study, &unit).iter().all(|sight| *sight == Some(Sight::Dark)), "{name}");
            assert!(
                (unit.supply().0 - 0.5).abs() < 0.01,
                "{name}: {} A, the limit is 0.5 A",
                unit.supply().0
            );
        }
        tried += 1;
    }
    assert_eq!(tried, 12, "six control lines and six bus pins");
}
