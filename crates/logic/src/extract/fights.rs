//! Fights: two stages that can drive one signal against each other.

use super::characters::{Character, Output};
use super::patch::Shape;
use crate::Level;
use dryjoint_board::{Entity, NetId, Notice, Severity};

/// A notice for each pair of stages on one signal of which one can pull low while the other drives
/// high. Inputs that both read are taken to be the same in both; all others may be anything.
pub(super) fn fights(shape: &Shape, found: &[Character]) -> Vec<Notice> {
    let mut notices = Vec::new();
    for (at, a) in found.iter().enumerate() {
        let Output::Signal(net) = a.output else { continue };
        for b in found[at + 1..].iter().filter(|b| b.output == a.output) {
            let opposed =
                clash(a, b, Level::Zero, Level::One).or_else(|| clash(a, b, Level::One, Level::Zero));
            if let Some(inputs) = opposed {
                notices.push(notice(shape, net, a, b, &inputs));
            }
        }
    }
    notices
}

/// Inputs that make `a` put `one` on the signal and `b` the `other`.
fn clash(a: &Character, b: &Character, one: Level, other: Level) -> Option<Vec<(NetId, bool)>> {
    let rows = |c: &Character, level: Level| -> Vec<Vec<(NetId, bool)>> {
        let rows = (0..c.rows.len()).filter(|&row| c.rows[row] == level);
        rows.map(|row| c.inputs.iter().enumerate().map(|(k, &net)| (net, row >> k & 1 != 0)).collect())
            .collect()
    };
    let theirs = rows(b, other);
    for mine in rows(a, one) {
        for their in &theirs {
            let agree = mine.iter().all(|(net, value)| their.iter().all(|(n, v)| n != net || v == value));
            if agree {
                let mut inputs = mine;
                inputs.extend(their.iter().filter(|(net, _)| !a.inputs.contains(net)));
                return Some(inputs);
            }
        }
    }
    None
}

fn notice(shape: &Shape, net: NetId, a: &Character, b: &Character, inputs: &[(NetId, bool)]) -> Notice {
    let board = shape.board;
    let reference = |c: &Character| {
        let part = shape
            .output_transistors(c.cluster, net)
            .next()
            .unwrap_or(shape.clusters.rows[c.cluster].parts[0]);
        board.parts[part].reference.clone()
    };
    let when: Vec<String> = inputs
        .iter()
        .map(|&(net, high)| format!("`{}` {}", board.nets[net].name, if high { "high" } else { "low" }))
        .collect();
    Notice {
        severity: Severity::Warning,
        code: "drivers-fight",
        about: Entity::Net(net),
        text: format!(
            "{} and {} drive `{}` against each other with {}",
            reference(a),
            reference(b),
            board.nets[net].name,
            when.join(", ")
        ),
        mend: "see that these can never be so at once, or let one of the two only pull".to_owned(),
    }
}
