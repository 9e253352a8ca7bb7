//! Lines said to be a switch that is none.

use crate::{Access, Board, Entity, Notice, PartKind};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    for (id, line) in board.lines.iter() {
        let Access::Contact(part) = line.access else { continue };
        let part = &board.parts[part];
        let switch = matches!(part.kind, PartKind::Button | PartKind::Toggle);
        if !switch || part.pins.iter().all(|pin| board.pins[*pin].net != line.net) {
            let text = format!("line `{}` is no contact of `{}`", line.name, part.reference);
            let mend = "name a button or toggle switch that has a pin on the line's net";
            out.push(Notice::error("line-contact", Entity::Line(id), text, mend));
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::{Access, Board, Line, Net, Part, PartKind};

    #[test]
    fn a_header_is_no_contact() {
        let mut board = Board::default();
        let net = board.nets.push(Net { name: "A".into(), supply: None, pins: vec![], reachable: true });
        let part = board.parts.push(Part {
            reference: "J1".into(),
            kind: PartKind::Header,
            pins: vec![],
            place: None,
            section: String::new(),
        });
        board.lines.push(Line {
            name: "L".into(),
            net,
            access: Access::Contact(part),
            purpose: String::new(),
            active_high: None,
        });
        assert!(board.check().iter().any(|notice| notice.code == "line-contact"));
    }
}
