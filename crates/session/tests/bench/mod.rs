//! A real board, its faults and a procedure, for the software tests.
#![allow(dead_code, reason = "each test binary uses its part")]

use dryjoint_board::Board;
use dryjoint_ids::Table;
use dryjoint_procedure::{Action, Costs, Procedure, Replay, Step, Study};
use dryjoint_units::Seconds;
use std::path::{Path, PathBuf};

pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// One of the boards under `boards/`.
pub fn board(name: &str) -> Board {
    let path = root().join("boards").join(format!("{name}.board"));
    let text = std::fs::read_to_string(&path).unwrap();
    let mut loader = |name: &str| std::fs::read(name).map_err(|error| error.to_string());
    dryjoint_netlist::read(path.to_str().unwrap(), text, &mut loader).board.expect("a sound board")
}

/// The steps of `cases/verdict/NAME.steps`.
pub fn steps(board: &Board, name: &str) -> Vec<Vec<Action>> {
    let text = std::fs::read_to_string(root().join(format!("cases/verdict/{name}.steps"))).unwrap();
    let lines = text.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty());
    lines
        .map(|line| match line.trim() {
            "power" => Vec::new(),
            line => line.split(';').map(|one| action(board, one.trim())).collect(),
        })
        .collect()
}

pub fn action(board: &Board, text: &str) -> Action {
    let (verb, name) = text.split_once(' ').unwrap();
    let line = || {
        board.lines.iter().find(|(_, line)| line.name == name).map(|(id, _)| id).expect("a line of the board")
    };
    match verb {
        "tie" => Action::Tie(line()),
        "release" => Action::Release(line()),
        "pulse" => Action::Pulse(line()),
        "wait" => Action::Wait(name.parse().unwrap()),
        other => panic!("`{other}` is no action"),
    }
}

/// A procedure of these steps, as far as a verdict needs it.
pub fn procedure(study: &Study, steps: &[Vec<Action>]) -> Procedure {
    let board = study.extracted.shape.board;
    let costs = Costs::default();
    let replay = Replay::of(study, &[], steps.iter().map(Vec::as_slice), None);
    let rows = steps.iter().enumerate().map(|(at, actions)| {
        let acting: f64 = actions.iter().map(|&action| costs.of(board, action).0).sum();
        let lamps = study.rig.lamps.iter().map(|&(lamp, _)| lamp);
        Step {
            heading: String::new(),
            actions: actions.clone(),
            expect: lamps.zip(replay.good(at)).collect(),
            seconds: Seconds(acting + costs.look(study.rig.lamps.len()).0),
        }
    });
    Procedure { steps: rows.collect(), coverage: Table::new(), found_seconds: Seconds(0.0) }
}

/// Faults on which lanes and circuit are known to part: the names in `cases/verdict/NAME.witness`.
pub fn known_to_differ(name: &str) -> Vec<String> {
    let text = std::fs::read_to_string(root().join(format!("cases/verdict/{name}.witness"))).unwrap();
    let lines = text.lines().filter(|line| !line.starts_with('#'));
    lines.filter_map(|line| Some(line.split_once(": ")?.0.to_owned())).collect()
}
