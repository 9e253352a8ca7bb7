//! Lines for the bench: `line`, `bus`, `lamps`, `clock`, `phases`, `hidden`, read once all parts are known.

mod clock;
mod lamps;
mod line;

use crate::collect::LineAt;
use crate::find::Finder;
use crate::layout::Layout;
use crate::names::Symbol;
use crate::scan::Shape;
use crate::source::Span;
use crate::words::{Token, Words};
use dryjoint_board::{NetId, PartId};
use rustc_hash::FxHashMap;

/// What the bench lines have named so far.
#[derive(Default)]
struct Taken {
    lines: FxHashMap<String, Span>,
    groups: FxHashMap<String, Span>,
    in_group: FxHashMap<PartId, Span>,
}

/// Reads the bench lines of a board.
pub(crate) fn bench(lines: &[LineAt], layout: &mut Layout<'_, '_>) {
    let mut finder = Finder::default();
    let mut taken = Taken::default();
    for at in lines {
        let mut words = layout.door.words(*at);
        let Some(head) = words.next() else { continue };
        match head.text {
            "line" => line::line(head, words, layout, &mut finder, &mut taken),
            "bus" => line::bus(head, words, layout, &mut finder, &mut taken),
            "lamps" => lamps::lamps(head, words, layout, &mut finder, &mut taken),
            "clock" => clock::clock(head, words, layout, &mut finder),
            "phases" => clock::phases(head, words, layout, &mut finder),
            _ => hidden(head, words, layout, &mut finder),
        }
    }
}

/// The names of the words that follow, brackets filled in; text in quotes is passed over.
fn listed(words: &mut Words<'_>, layout: &mut Layout<'_, '_>) -> Vec<(Symbol, Span)> {
    let mut out = Vec::new();
    let mut made = Vec::new();
    for token in words {
        if token.shape == Shape::Quoted {
            continue;
        }
        made.clear();
        layout.door.names_of(token, None, &mut made);
        out.extend(made.iter().map(|name| (*name, token.span)));
    }
    out
}

fn net_named(token: Token<'_>, layout: &mut Layout<'_, '_>, finder: &mut Finder) -> Option<NetId> {
    let name = layout.door.name_of(token, None)?;
    let text = layout.door.names.text(name).to_owned();
    let net = finder.net(&text, layout);
    if net.is_none() {
        finder.unknown(&text, token.span, "net", layout);
    }
    net
}

/// `hidden X Y`: nets no meter lead reaches.
fn hidden(head: Token<'_>, mut words: Words<'_>, layout: &mut Layout<'_, '_>, finder: &mut Finder) {
    if words.peek().is_none() {
        let mend = "write `hidden X Y`: nets that no meter lead reaches";
        layout.door.error("net-what", head.span, "`hidden` names no net".into(), mend);
    }
    for (name, span) in listed(&mut words, layout) {
        let text = layout.door.names.text(name).to_owned();
        match finder.net(&text, layout) {
            Some(net) => layout.board.nets[net].reachable = false,
            None => finder.unknown(&text, span, "net", layout),
        }
    }
}
