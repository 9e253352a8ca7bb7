//! Electrolytics that the supply itself holds the wrong way round: they heat up and burst.

use crate::{Board, Entity, NetId, Notice, PartKind, Supply};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let volts = |net: NetId| match board.nets[net].supply {
        Some(Supply::Ground) => Some(0.0),
        Some(Supply::Rail { volts, .. }) => Some(volts.0),
        None => None,
    };
    for (id, part) in board.parts.iter() {
        if !matches!(part.kind, PartKind::Capacitor { polar: true, .. }) {
            continue;
        }
        let [plus, minus] = [board.pins[part.pins[0]].net, board.pins[part.pins[1]].net];
        // Against a signal net, ground at + is wrong unless there is a rail below ground.
        let below = board
            .nets
            .rows()
            .iter()
            .any(|net| matches!(net.supply, Some(Supply::Rail { volts, .. }) if volts.0 < 0.0));
        let reversed = match (volts(plus), volts(minus)) {
            (Some(plus), Some(minus)) => plus < minus,
            (Some(plus), None) => plus == 0.0 && !below,
            _ => false,
        };
        if reversed {
            let text = format!(
                "`{}` has `{}` at its + and `{}` at its -",
                part.reference, board.nets[plus].name, board.nets[minus].name
            );
            let mend = "turn it round: an electrolytic the wrong way round gets hot and may burst";
            out.push(Notice::error("polar-reversed", Entity::Part(id), text, mend));
        }
    }
}
