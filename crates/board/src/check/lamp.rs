//! Lamps the wrong way round, and lamps with nothing to limit their current.

use crate::{Board, Entity, Notice, PartKind, Supply};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let below = board
        .nets
        .rows()
        .iter()
        .any(|net| matches!(net.supply, Some(Supply::Rail { volts, .. }) if volts.0 < 0.0));
    for (id, part) in board.parts.iter() {
        if !matches!(part.kind, PartKind::Lamp(_)) {
            continue;
        }
        let [anode, cathode] =
            [&board.nets[board.pins[part.pins[0]].net], &board.nets[board.pins[part.pins[1]].net]];
        let about = Entity::Part(id);
        if anode.supply.is_some() && cathode.supply.is_some() && anode.name != cathode.name {
            let text =
                format!("`{}` lies straight between `{}` and `{}`", part.reference, anode.name, cathode.name);
            let mend = "put a resistor in series: it burns out at once otherwise";
            out.push(Notice::error("lamp-no-resistor", about, text, mend));
            continue;
        }
        let at_ground = anode.supply == Some(Supply::Ground) && !below;
        let at_rail = matches!(cathode.supply, Some(Supply::Rail { volts, .. }) if volts.0 > 0.0);
        if at_ground || at_rail {
            let text = format!("`{}` points the wrong way: it can never light", part.reference);
            let mend = "current flows from `a` to `k`: swap the two nets";
            out.push(Notice::warning("lamp-reversed", about, text, mend));
        }
    }
}
