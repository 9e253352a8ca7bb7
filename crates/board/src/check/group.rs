//! Lamps that no group shows, and groups that show no lamps.

use crate::{Board, Entity, Notice, PartKind, nearest};
use dryjoint_ids::Side;

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let mut groups = Side::filled(&board.parts, 0u32);
    for (id, group) in board.lamps.iter() {
        if group.lamps.is_empty() {
            let text = format!("group `{}` has no lamps", group.name);
            out.push(Notice::warning("group-empty", Entity::Lamps(id), text, "name its lamps, or remove it"));
        }
        for lamp in &group.lamps {
            groups[*lamp] += 1;
            let part = &board.parts[*lamp];
            if !matches!(part.kind, PartKind::Lamp(_)) {
                let text = format!("`{}` of group `{}` is no lamp", part.reference, group.name);
                let lamps = board.parts.rows().iter().filter(|part| matches!(part.kind, PartKind::Lamp(_)));
                let mend = nearest(&part.reference, lamps.map(|part| part.reference.as_str()))
                    .map_or("name a lamp".to_owned(), |name| format!("did you mean `{name}`?"));
                out.push(Notice::error("group-member", Entity::Lamps(id), text, mend));
            } else if groups[*lamp] == 2 {
                let text = format!("`{}` is in two groups", part.reference);
                let mend = "a lamp belongs to one group, once";
                out.push(Notice::error("group-member", Entity::Lamps(id), text, mend));
            }
        }
    }
    for (id, part) in board.parts.iter() {
        if matches!(part.kind, PartKind::Lamp(_)) && groups[id] == 0 {
            let text = format!("lamp `{}` is in no group", part.reference);
            let mend = format!("nobody will be asked to look at it; write `lamps NAME {}`", part.reference);
            out.push(Notice::warning("lamp-no-group", Entity::Part(id), text, mend));
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::{Board, LampGroup, ModelId, Part, PartKind};
    use dryjoint_ids::Id;

    #[test]
    fn empty_groups_and_members_that_are_no_lamps_or_come_twice_are_told() {
        let mut board = Board::default();
        let mut part = |reference: &str, kind: PartKind| {
            let row =
                Part { reference: reference.into(), kind, pins: vec![], place: None, section: String::new() };
            board.parts.push(row)
        };
        let lamp = part("DS1", PartKind::Lamp(ModelId::at(0)));
        let header = part("J1", PartKind::Header);
        board.lamps.push(LampGroup { name: "A".into(), lamps: vec![] });
        board.lamps.push(LampGroup { name: "B".into(), lamps: vec![lamp, header, lamp] });
        let mut out = Vec::new();
        super::check(&board, &mut out);
        let codes: Vec<_> = out.iter().map(|notice| notice.code).collect();
        assert_eq!(codes, ["group-empty", "group-member", "group-member"]);
    }
}
