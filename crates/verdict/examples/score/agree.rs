//! How far the lanes that a verdict weighs with agree with the circuit: each unit with one fault goes through the procedure and a
//! drawn sequence of actions in both, the lanes from a state in which nothing is known. A lamp of which the lanes are sure
//! and which the circuit has otherwise would be held against the true fault.

use crate::limit::drawn;
use dryjoint_faults::lanes::Shown;
use dryjoint_procedure::{Action, GroupId, Procedure, Study, act};
use dryjoint_session::{Sight, Unit};
use std::collections::BTreeMap;

/// What became of one fault.
pub struct Agreed {
    /// Lamps of which the lanes were sure.
    pub sure: usize,
    /// Lamps that the circuit has otherwise: the lamp's name and how they stand apart, with how often and the first look.
    pub wrong: BTreeMap<(String, &'static str), (usize, usize)>,
    /// Whether no point of the unit was found at some time.
    pub lost: bool,
}

/// The looks that units go through: those of the procedure, then drawn ones.
pub fn looks(study: &Study, procedure: &Procedure, count: usize) -> Vec<Vec<Action>> {
    let mut looks: Vec<Vec<Action>> =
        procedure.steps.rows().iter().map(|step| step.actions.clone()).collect();
    let done = looks.concat();
    looks.extend(drawn(study, &done, 7, count));
    looks
}

/// Holds the lanes of a group against the circuit with its first fault in it.
pub fn agree(study: &Study, group: GroupId, looks: &[Vec<Action>]) -> Agreed {
    let board = study.extracted.shape.board;
    let fault = study.faults[study.groups[group].faults[0]];
    let mut agreed = Agreed { sure: 0, wrong: BTreeMap::new(), lost: false };
    let Ok(mut unit) = Unit::new(study.extracted, &[fault], 1) else {
        agreed.lost = true;
        return agreed;
    };
    let machine = &mut study.machines(&[group], None)[0];
    for (at, actions) in looks.iter().enumerate() {
        act(study, machine, actions);
        if actions.iter().any(|&action| unit.act(action).is_err()) {
            agreed.lost = true;
            return agreed;
        }
        for &(lamp, signal) in &study.rig.lamps {
            let told = machine.value(signal).shown(1);
            let apart = match (told, unit.lamp(lamp)) {
                (Shown::Unknown | Shown::Dim, _) | (_, None) => continue,
                (Shown::One, Some(Sight::Lit)) | (Shown::Zero, Some(Sight::Dark)) => "",
                (Shown::One, Some(Sight::Dark)) => "dark for lit",
                (Shown::Zero, Some(Sight::Lit)) => "lit for dark",
                (Shown::One, Some(_)) => "dim for lit",
                (Shown::Zero, Some(_)) => "dim for dark",
            };
            agreed.sure += 1;
            if !apart.is_empty() {
                let name = board.parts[lamp].reference.clone();
                agreed.wrong.entry((name, apart)).or_insert((0, at)).0 += 1;
            }
        }
    }
    agreed
}
