//! Rails and ground: missing, out of the ordinary, joined by a wire, or out of reach of the supply.

use crate::{Access, Board, Entity, Notice, PartKind, Supply};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    if board.parts.is_empty() {
        let mend = "write parts such as `R1 22k a b`, or place a cell";
        out.push(Notice::warning("board-empty", Entity::Board, "the board has no part".into(), mend));
        return;
    }
    let grounds = board.nets.rows().iter().filter(|net| net.supply == Some(Supply::Ground)).count();
    let rails = board.nets.rows().iter().filter(|net| net.supply.is_some()).count() - grounds;
    if grounds == 0 {
        let mend = "write `ground GND`: every voltage is measured against it";
        out.push(Notice::error("no-ground", Entity::Board, "the board has no ground".into(), mend));
    }
    if rails == 0 {
        let mend = "write `rail VCC 5V limit 500mA`";
        out.push(Notice::warning("no-rail", Entity::Board, "the board has no supply rail".into(), mend));
    }
    let header = board.parts.rows().iter().any(|part| part.kind == PartKind::Header);
    for (id, net) in board.nets.iter() {
        let Some(supply) = net.supply else { continue };
        let about = Entity::Net(id);
        if let Supply::Rail { volts, limit } = supply {
            if !(0.5..=30.0).contains(&volts.0.abs()) {
                let text = format!("rail `{}` is {volts}", net.name);
                let mend = "boards of this kind run from 3 to 15 V; write `5V`";
                out.push(Notice::warning("rail-range", about, text, mend));
            }
            if !(0.001..=10.0).contains(&limit.0) {
                let text = format!("the limit of rail `{}` is {limit}", net.name);
                let mend =
                    "the limit to set on the bench supply, a little above what the board draws: `500mA`";
                out.push(Notice::warning("rail-range", about, text, mend));
            }
        }
        if net.pins.is_empty() {
            continue;
        }
        let clip = |kind: &PartKind| matches!(kind, PartKind::Header | PartKind::TestPoint);
        let reached = net.pins.iter().any(|pin| clip(&board.parts[board.pins[*pin].part].kind));
        if header && !reached {
            let text = format!("no connector pin and no test point is on `{}`", net.name);
            let mend = "give the supply a pin: it has to come onto the board somewhere";
            out.push(Notice::remark("rail-no-pin", about, text, mend));
        }
    }
    joined(board, out);
}

/// Links and switches that join two supplies.
fn joined(board: &Board, out: &mut Vec<Notice>) {
    for (id, part) in board.parts.iter() {
        let link = part.kind == PartKind::Link;
        if !link && !matches!(part.kind, PartKind::Button | PartKind::Toggle) {
            continue;
        }
        let [one, other] = [board.pins[part.pins[0]].net, board.pins[part.pins[1]].net];
        let (one_net, other_net) = (&board.nets[one], &board.nets[other]);
        if one == other || one_net.supply.is_none() || other_net.supply.is_none() {
            continue;
        }
        let text = format!("`{}` joins `{}` with `{}`", part.reference, one_net.name, other_net.name);
        let mend = "that is a dead short of the supply; move one end";
        let about = Entity::Part(id);
        // A switch shorts the supply only while it is closed, which a line may well ask for.
        let asked = board.lines.rows().iter().any(|line| line.access == Access::Contact(id));
        out.push(if link || asked {
            Notice::error("supply-short", about, text, mend)
        } else {
            Notice::warning("supply-short", about, text, mend)
        });
    }
}
