//! Capacitors across the supply: a reservoir where the supply's leads end, and small ones among the
//! transistors, so that a stage that switches does not pull its neighbours' rail down.
//!
//! How many is common practice, no source: one reservoir of 10 µF or more, and 100 nF for every row of
//! about twenty transistors. What is short of that is a remark, since a slow board works without.

use dryjoint_board::{Board, Entity, NetId, Notice, PartKind, Supply};
use dryjoint_units::Farads;

const RESERVOIR: Farads = Farads(10e-6);
const SMALL: Farads = Farads(10e-9);
/// Transistors for each small one.
const ROW: usize = 20;

/// Remarks on each rail.
pub(crate) fn decoupling(board: &Board, notices: &mut Vec<Notice>) {
    let transistors =
        board.parts.rows().iter().filter(|part| matches!(part.kind, PartKind::Bipolar(_))).count();
    let rails = board.nets.iter().filter(|(_, net)| matches!(net.supply, Some(Supply::Rail { .. })));
    for (net, row) in rails {
        let name = &row.name;
        let across = across(board, net);
        let small = across.iter().filter(|farads| **farads >= SMALL && **farads < RESERVOIR).count();
        let wanted = transistors.div_ceil(ROW).max(1);
        let mut remark = |text: String, mend: String| {
            notices.push(Notice::remark("decoupling", Entity::Net(net), text, mend));
        };
        if !across.iter().any(|farads| *farads >= RESERVOIR) {
            remark(
                format!("no reservoir of 10u or more stands between `{name}` and ground"),
                "fit one where the supply comes in; common practice".to_owned(),
            );
        }
        if 2 * small < wanted {
            remark(
                format!(
                    "{small} small capacitors stand between `{name}` and ground for {transistors} transistors"
                ),
                format!("fit 100n for each row of about {ROW}, {wanted} in all; common practice"),
            );
        }
    }
}

/// The capacitors between a rail and ground.
fn across(board: &Board, rail: NetId) -> Vec<Farads> {
    let mut found = Vec::new();
    for part in board.parts.rows() {
        let PartKind::Capacitor { farads, .. } = part.kind else { continue };
        let nets: Vec<NetId> = part.pins.iter().map(|&pin| board.pins[pin].net).collect();
        let to_ground = |net: &NetId| board.nets[*net].supply == Some(Supply::Ground);
        if nets.contains(&rail) && nets.iter().any(to_ground) {
            found.push(farads);
        }
    }
    found
}
