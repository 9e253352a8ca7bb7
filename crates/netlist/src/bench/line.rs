//! Lines the bench may set: `line` and `bus`.

use super::{Taken, listed};
use crate::find::{Finder, Found};
use crate::layout::Layout;
use crate::notices::Placed;
use crate::scan::{Shape, unquote};
use crate::source::Span;
use crate::words::{Token, Words};
use dryjoint_board::{Access, Line, NetId, PartId, PartKind, Supply};

/// `line /LD [net] J1.3 [active low|high|either] [tie low|high] ["purpose"]`.
pub(super) fn line(
    head: Token<'_>,
    mut words: Words<'_>,
    layout: &mut Layout<'_, '_>,
    finder: &mut Finder,
    taken: &mut Taken,
) {
    let mend = "write `line /LD J1.3 active low \"load from the bus\"`";
    let (Some(name), Some(target)) = (words.next(), words.next()) else {
        layout.door.error("line-target", head.span, "this line names no pin, net or switch".into(), mend);
        return;
    };
    // `net S1` is the net of that name where a part is called so too.
    let clause = |token: &Token<'_>| !token.is_word() || matches!(token.text, "active" | "tie");
    let only_net = target.text == "net" && words.peek().is_some_and(|next| !clause(&next));
    let target = if only_net { words.next().unwrap_or(target) } else { target };
    let (Some(symbol), Some(target_name)) =
        (layout.door.name_of(name, None), layout.door.name_of(target, None))
    else {
        return;
    };
    let name_text = layout.door.names.text(symbol).to_owned();
    let target_text = layout.door.names.text(target_name).to_owned();
    let found = match only_net {
        true => finder.net(&target_text, layout).map(Found::Net),
        false => finder.any(&target_text, layout),
    };
    let Some(found) = found else {
        finder.unknown(&target_text, target.span, "pin, net or switch", layout);
        return;
    };
    let Says { active, tie, purpose } = says(words, mend, layout);
    let Some((net, contact, contact_active)) = hold(found, target, layout) else { return };
    if contact.is_some() && contact_active.is_none() && active.is_none() {
        let text = format!("neither side of `{target_text}` is a rail");
        let notice = Placed::warning("line-level", target.span, text)
            .mend("say which level it makes: `active low` or `active high`".into());
        layout.door.notices.push(notice);
    }
    // A name with `/` before it acts low, as on every schematic (common practice, no source).
    let by_name = name_text.starts_with('/').then_some(false);
    let active_high = active.unwrap_or(if contact.is_some() { contact_active } else { by_name });
    let access = contact.map(Access::Contact).or(tie).unwrap_or(match active_high {
        Some(true) => Access::TieHigh,
        _ => Access::TieLow,
    });
    push_line(Line { name: name_text, net, access, purpose, active_high }, name.span, layout, taken);
}

/// What a line says of itself behind its target.
#[derive(Default)]
struct Says {
    active: Option<Option<bool>>,
    tie: Option<Access>,
    purpose: String,
}

fn says(mut words: Words<'_>, mend: &str, layout: &mut Layout<'_, '_>) -> Says {
    let mut says = Says::default();
    while let Some(token) = words.next() {
        if token.shape == Shape::Quoted {
            says.purpose = unquote(token.text);
            continue;
        }
        let level = match token.text {
            "active" | "tie" => words.next(),
            _ => None,
        };
        match (token.text, level.map_or("", |level| level.text)) {
            ("active", "low") => says.active = Some(Some(false)),
            ("active", "high") => says.active = Some(Some(true)),
            ("active", "either") => says.active = Some(None),
            ("tie", "low") => says.tie = Some(Access::TieLow),
            ("tie", "high") => says.tie = Some(Access::TieHigh),
            ("active" | "tie", _) => {
                let text = format!("`{}` wants low or high", token.text);
                layout.door.error("level-bad", level.unwrap_or(token).span, text, mend);
            }
            _ => {
                let text = format!("`{}` is more than this line holds", token.text);
                layout.door.error("word-extra", token.span, text, "put the purpose in quotes");
                break;
            }
        }
    }
    says
}

/// The net a line takes hold of; for a switch also the switch, and the level it makes.
fn hold(
    found: Found,
    target: Token<'_>,
    layout: &mut Layout<'_, '_>,
) -> Option<(NetId, Option<PartId>, Option<bool>)> {
    let part = match found {
        Found::Net(net) => return Some((net, None, None)),
        Found::Pin(pin) => return Some((layout.board.pins[pin].net, None, None)),
        Found::Part(part) => part,
    };
    let board = &layout.board;
    let row = &board.parts[part];
    if !matches!(row.kind, PartKind::Button | PartKind::Toggle) {
        let text = format!("`{}` is no button and no toggle switch", row.reference);
        let mend = format!("name a pin of it, such as `{}.1`", row.reference);
        layout.door.error("line-target", target.span, text, mend);
        return None;
    }
    let (net, active_high) = contact(board, part);
    Some((net, Some(part), active_high))
}

/// The net that closing a switch moves, and the level it then has.
pub(crate) fn contact(board: &dryjoint_board::Board, part: PartId) -> (NetId, Option<bool>) {
    let pins = &board.parts[part].pins;
    let sides = [board.pins[pins[0]].net, board.pins[pins[1]].net];
    let level = |net: NetId| board.nets[net].supply.map(|supply| matches!(supply, Supply::Rail { .. }));
    match (level(sides[0]), level(sides[1])) {
        (None, level) => (sides[0], level),
        (level, None) => (sides[1], level),
        _ => (sides[0], None),
    }
}

fn push_line(line: Line, span: Span, layout: &mut Layout<'_, '_>, taken: &mut Taken) {
    if let Some(first) = taken.lines.get(&line.name) {
        let notice = Placed::error("line-twice", span, format!("line `{}` is there already", line.name))
            .mend("give one of them another name".into())
            .also(*first, "the first is here");
        layout.door.notices.push(notice);
        return;
    }
    taken.lines.insert(line.name.clone(), span);
    layout.board.lines.push(line);
    layout.positions.lines.push(span);
}

/// `bus D J1.4 J1.5 … ["data pins"]`.
pub(super) fn bus(
    head: Token<'_>,
    mut words: Words<'_>,
    layout: &mut Layout<'_, '_>,
    finder: &mut Finder,
    taken: &mut Taken,
) {
    let mend = "write `bus D J1.4 J1.5 \"data pins\"`";
    if words.next().filter(Token::is_word).is_none() || words.peek().is_none() {
        layout.door.error("bus-what", head.span, "this bus has no pins".into(), mend);
        return;
    }
    let purpose = words.filter(|word| word.shape == Shape::Quoted).last();
    let purpose = purpose.map_or(String::new(), |token| unquote(token.text));
    for (name, span) in listed(&mut words, layout) {
        let text = layout.door.names.text(name).to_owned();
        let net = match finder.any(&text, layout) {
            Some(Found::Pin(pin)) => layout.board.pins[pin].net,
            Some(Found::Net(net)) => net,
            _ => {
                finder.unknown(&text, span, "pin or net", layout);
                continue;
            }
        };
        let name = layout.board.nets[net].name.clone();
        let line = Line { name, net, access: Access::TieLow, purpose: purpose.clone(), active_high: None };
        push_line(line, span, layout, taken);
    }
}
