//! What nets do when nobody drives them: a line must not act by itself, and what is only ever pulled
//! low needs something that pulls it high.

use crate::margins::driver;
use dryjoint_board::{Access, Board, Entity, LineId, NetId, Notice, PartId, PartKind};
use dryjoint_logic::{ClusterId, Extracted, Function, Level, Node};

/// Tells of lines that act when left open, of inputs that nothing holds, and of nets without a pull-up.
pub(crate) fn rest(extracted: &Extracted, notices: &mut Vec<Notice>) {
    let shape = &extracted.shape;
    let board = shape.board;
    for (id, line) in board.lines.iter() {
        if matches!(line.access, Access::TieLow | Access::TieHigh) {
            notices.extend(line_at_rest(extracted, id, shape.nodes.first(line.net)));
        }
    }
    for net in board.nets.ids() {
        if shape.nodes.first(net) == net && shape.nodes.kind(net) == Node::Signal {
            notices.extend(never_high(extracted, net));
        }
    }
}

fn line_at_rest(extracted: &Extracted, id: LineId, net: NetId) -> Option<Notice> {
    let board = extracted.shape.board;
    let line = &board.lines[id];
    let rail = rail_name(extracted);
    let rest = extracted.levels[net].rest;
    if rest == Level::Floating || rest == Level::WeakUnknown {
        let text =
            format!("nothing holds `{}` when it is left open; what reads it may read anything", line.name);
        let mend = format!("fit a pull-up from {} to {rail}", board.nets[net].name);
        return Some(Notice::warning("input-floats", Entity::Line(id), text, mend));
    }
    let active = line.active_high?;
    if rest.value() != Some(active) {
        return None;
    }
    let (is, to) = if active { ("high", "ground") } else { ("low", rail) };
    let text = format!("`{}` acts when it is left open: it then lies {is}", line.name);
    let mend = format!("fit a resistor from {} to {to}, such as 4k7", board.nets[net].name);
    Some(Notice::warning("line-acts-open", Entity::Line(id), text, mend))
}

/// A net whose drivers only pull it low, and that nothing pulls high.
fn never_high(extracted: &Extracted, net: NetId) -> Option<Notice> {
    let board = extracted.shape.board;
    let part = driver(extracted, net)?;
    match extracted.levels[net].rest {
        Level::WeakOne => return None,
        Level::WeakUnknown => return Some(between(extracted, net, part)),
        _ => {}
    }
    let signal = extracted.signal_of[net]?;
    let gives_high = extracted.logic.stages.rows().iter().any(|stage| {
        stage.output == signal
            && matches!(&stage.function, Function::Found(rows) if rows.iter().any(|row| row.value() == Some(true)))
    });
    if gives_high {
        return None;
    }
    let name = &board.nets[net].name;
    let text = format!(
        "nothing pulls `{name}` high: {} only pulls it low{}",
        board.parts[part].reference,
        if leaves(board, net) { ", and no other board is here to do it" } else { "" }
    );
    let mend = format!("fit a resistor from {name} to {}, such as 2k2", rail_name(extracted));
    Some(Notice::warning("no-pull-up", Entity::Part(part), text, mend))
}

/// A net that its loads draw down so far that they no longer read it as high.
fn between(extracted: &Extracted, net: NetId, part: PartId) -> Notice {
    let shape = &extracted.shape;
    let reads = |&&id: &&ClusterId| !shape.passive(id) && shape.clusters.rows[id].reads.contains(&net);
    let feeds = shape.touching[net].iter().filter(reads).count();
    let (name, reference) = (&shape.board.nets[net].name, &shape.board.parts[part].reference);
    let wanted = extracted.levels[net].thresholds.high;
    let text = format!(
        "`{name}` from {reference} feeds {feeds} stages: its high is less than the {:.2} V they want",
        wanted.0
    );
    let mend = "take loads off it, or put a buffer behind it";
    Notice::warning("margin", Entity::Part(part), text, mend)
}

fn leaves(board: &Board, net: NetId) -> bool {
    board.nets[net].pins.iter().any(|pin| board.parts[board.pins[*pin].part].kind == PartKind::Header)
}

fn rail_name<'b>(extracted: &Extracted<'b>) -> &'b str {
    &extracted.shape.board.nets[extracted.shape.rail_net()].name
}
