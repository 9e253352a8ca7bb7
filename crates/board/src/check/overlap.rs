//! Two parts in one hole.

use crate::{Board, Entity, Notice};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    // Holes are compared in hundredths of a millimetre, half the play of a lead in its hole.
    let mut holes: BTreeMap<(i64, i64), crate::PinId> = BTreeMap::new();
    let mut told = BTreeSet::new();
    for id in board.pins.ids() {
        let Some((x, y)) = board.hole(id) else { continue };
        let key = ((x.0 * 100.0).round() as i64, (y.0 * 100.0).round() as i64);
        let Some(first) = holes.insert(key, id) else { continue };
        let (one, other) = (&board.pins[first], &board.pins[id]);
        if one.part == other.part || !told.insert((one.part, other.part)) {
            continue;
        }
        let (one_part, other_part) = (&board.parts[one.part], &board.parts[other.part]);
        let text = format!(
            "`{}` pin {} and `{}` pin {} share the hole at {:.2} {:.2}",
            one_part.reference, one.name, other_part.reference, other.name, x.0, y.0
        );
        let mend = "move one of them: a hole takes one lead";
        out.push(Notice::warning("place-taken", Entity::Part(other.part), text, mend));
    }
}
