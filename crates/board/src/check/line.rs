//! Lines that cannot be tied: on a rail, two on one net, or without a bare joint to clip to.

use crate::{Access, Board, Entity, LineId, Notice};
use dryjoint_ids::Side;

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let mut first: Side<_, Option<LineId>> = Side::filled(&board.nets, None);
    for (id, line) in board.lines.iter() {
        let net = &board.nets[line.net];
        let about = Entity::Line(id);
        if net.supply.is_some() {
            let text = format!("line `{}` is on the supply `{}`", line.name, net.name);
            let mend = "tying it would short the supply; name the pin that is meant";
            out.push(Notice::error("line-on-rail", about, text, mend));
            continue;
        }
        if matches!(line.access, Access::Contact(_)) {
            continue;
        }
        if let Some(other) = first[line.net] {
            let text = format!("lines `{}` and `{}` are on one net", board.lines[other].name, line.name);
            out.push(Notice::warning("line-same-net", about, text, "keep one of them"));
        }
        first[line.net].get_or_insert(id);
        if !net.reachable {
            let text = format!("line `{}` is on `{}`, which nothing reaches", line.name, net.name);
            let mend = "a jumper needs a bare joint: take the net out of `hidden`, or name a connector's pin";
            out.push(Notice::warning("line-no-pin", about, text, mend));
        }
    }
}
