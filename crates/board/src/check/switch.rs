//! Buttons and toggle switches that no line names: no step can ask for them.

use crate::{Access, Board, Entity, Notice, PartKind};
use dryjoint_ids::Side;

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let mut named = Side::filled(&board.parts, false);
    for line in board.lines.rows() {
        if let Access::Contact(part) = line.access {
            named[part] = true;
        }
    }
    for selector in board.clocks.rows().iter().filter_map(|clock| clock.selector) {
        named[selector] = true;
    }
    for (id, part) in board.parts.iter() {
        if matches!(part.kind, PartKind::Button | PartKind::Toggle) && !named[id] {
            let text = format!("no line names the switch `{}`", part.reference);
            let mend =
                format!("no step can ask for it; write `line NAME {} \"what it does\"`", part.reference);
            out.push(Notice::remark("switch-no-line", Entity::Part(id), text, mend));
        }
    }
}
