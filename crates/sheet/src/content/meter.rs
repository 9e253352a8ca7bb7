//! What a meter reads on a good board once it has been reset.

use super::pin_name;
use super::play::{Played, Readings};
use crate::{Block, Chapter, Column, Layout, Table};
use dryjoint_board::{Board, NetId, Part, PartKind, PinId};
use dryjoint_ids::Id;
use std::collections::BTreeSet;

/// Pins named for a net that has no handier place.
const PINS: usize = 3;

pub fn chapter(board: &Board, played: &Played) -> Option<Chapter> {
    let (step, readings) = played.reset.as_ref()?;
    let number = step.index() + 1;
    let text = format!(
        "Volts against ground on a good board with parts of nominal value, after step {number} of the procedure, \
         with every jumper as step {number} leaves it. A dash: it depends on how the board woke up, or no part \
         holds it. A tenth of a volt more or less is nothing to worry about."
    );
    let mut told: BTreeSet<NetId> = BTreeSet::new();
    let points = points(board, readings, &mut told);
    let transistors = by_part(board, readings, &mut told, "Transistors", &["part", "c", "b", "e"], |part| {
        matches!(part.kind, PartKind::Bipolar(_))
    });
    let diodes = by_part(board, readings, &mut told, "Lamps and diodes", &["part", "a", "k"], |part| {
        matches!(part.kind, PartKind::Lamp(_) | PartKind::Diode(_))
    });
    let others = others(board, readings, &told);
    let mut blocks = vec![Block::Text(text)];
    for table in [points, transistors, diodes, others].into_iter().filter(|table| !table.rows.is_empty()) {
        blocks.push(Block::Heading(table.title.clone()));
        blocks.push(Block::Table(table));
    }
    (blocks.len() > 1).then(|| Chapter { heading: "Meter".to_owned(), layout: Layout::NewPage, blocks })
}

/// Connectors and test points, pin by pin.
fn points(board: &Board, readings: &Readings, told: &mut BTreeSet<NetId>) -> Table {
    let handy = |part: &&Part| matches!(part.kind, PartKind::Header | PartKind::TestPoint);
    let pins = board.parts.rows().iter().filter(handy).flat_map(|part| &part.pins);
    let mut rows = Vec::new();
    for &pin in pins {
        let net = board.pins[pin].net;
        let row = &board.nets[net];
        // An open pin and a net that no lead reaches have nothing to read.
        if row.reachable && row.pins.len() > 1 {
            told.insert(net);
            rows.push(vec![pin_name(board, pin), row.name.clone(), volts(readings, net)]);
        }
    }
    let columns = vec![Column::words("pin"), Column::words("net"), Column::numbers("volts")];
    Table { title: "Connectors and test points".to_owned(), columns, rows, abreast: 3 }
}

/// Parts of one kind, a column for each of their pins.
fn by_part(
    board: &Board,
    readings: &Readings,
    told: &mut BTreeSet<NetId>,
    title: &str,
    head: &[&str],
    wanted: impl Fn(&Part) -> bool,
) -> Table {
    let mut rows = Vec::new();
    for part in board.parts.rows().iter().filter(|part| wanted(part)) {
        let mut cell = |pin: &PinId| {
            let net = board.pins[*pin].net;
            told.insert(net);
            if board.nets[net].reachable { volts(readings, net) } else { "–".to_owned() }
        };
        let cells: Vec<String> = part.pins.iter().map(&mut cell).collect();
        rows.push(std::iter::once(part.reference.clone()).chain(cells).collect());
    }
    let columns = head
        .iter()
        .enumerate()
        .map(|(index, name)| if index == 0 { Column::words(name) } else { Column::numbers(name) })
        .collect();
    Table { title: title.to_owned(), columns, rows, abreast: 5 }
}

/// Nets that were not told yet.
fn others(board: &Board, readings: &Readings, told: &BTreeSet<NetId>) -> Table {
    let left = board.nets.iter().filter(|(id, net)| {
        net.reachable && net.supply.is_none() && net.pins.len() > 1 && !told.contains(id)
    });
    let rows = left.map(|(id, net)| {
        let pins: Vec<String> = net.pins.iter().take(PINS).map(|pin| pin_name(board, *pin)).collect();
        vec![pins.join(" "), net.name.clone(), volts(readings, id)]
    });
    let columns = vec![Column::words("at"), Column::words("net"), Column::numbers("volts")];
    Table { title: "Other nets".to_owned(), columns, rows: rows.collect(), abreast: 2 }
}

fn volts(readings: &Readings, net: NetId) -> String {
    readings[net].map_or("–".to_owned(), |volts| format!("{:.2}", (volts.0 * 100.0).round() / 100.0 + 0.0))
}
