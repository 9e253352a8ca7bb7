//! Lamp groups: `lamps`.

use super::{Taken, listed};
use crate::find::Finder;
use crate::layout::Layout;
use crate::notices::Placed;
use crate::words::{Token, Words};
use dryjoint_board::{LampGroup, PartKind};

/// `lamps ADDRESS DS6 DS5 DS4 …`, most significant first.
pub(super) fn lamps(
    head: Token<'_>,
    mut words: Words<'_>,
    layout: &mut Layout<'_, '_>,
    finder: &mut Finder,
    taken: &mut Taken,
) {
    let mend = "write `lamps ADDRESS DS6 DS5 DS4`, most significant first";
    let Some(name) = words.next() else {
        layout.door.error("lamps-what", head.span, "this group has no name".into(), mend);
        return;
    };
    let Some(symbol) = layout.door.name_of(name, None) else { return };
    if words.peek().is_none() {
        layout.door.error("lamps-what", name.span, "this group has no lamps".into(), mend);
    }
    let text = layout.door.names.text(symbol).to_owned();
    let mut group = Vec::new();
    for (lamp, span) in listed(&mut words, layout) {
        let lamp = layout.door.names.text(lamp).to_owned();
        let Some(part) = finder.part(&lamp, layout) else {
            finder.unknown(&lamp, span, "lamp", layout);
            continue;
        };
        if !matches!(layout.board.parts[part].kind, PartKind::Lamp(_)) {
            let words = format!("`{lamp}` is no lamp");
            layout.door.error("lamps-what", span, words, "the class letters of a lamp are DS");
            continue;
        }
        if let Some(first) = taken.in_group.insert(part, span) {
            let notice = Placed::error("lamp-twice", span, format!("`{lamp}` is in a group already"))
                .mend("a lamp belongs to one group, once".into())
                .also(first, "the first is here");
            layout.door.notices.push(notice);
            continue;
        }
        group.push(part);
    }
    if let Some(first) = taken.groups.get(&text) {
        let notice = Placed::error("lamps-twice", name.span, format!("group `{text}` is there already"))
            .mend("give one of them another name".into())
            .also(*first, "the first is here");
        layout.door.notices.push(notice);
        return;
    }
    taken.groups.insert(text.clone(), name.span);
    layout.board.lamps.push(LampGroup { name: text, lamps: group });
    layout.positions.lamps.push(name.span);
}
