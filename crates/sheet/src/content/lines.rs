//! The lines: where they are, what the bench may do with them, and the headers they are on.

use super::pin_name;
use crate::{Block, Chapter, Column, Layout, Table};
use dryjoint_board::{Access, Board, Line, PartKind, PinId};
use dryjoint_picture::{PinPicture, Touch, header};
use dryjoint_procedure::clocks_at_rest;

pub fn chapter(board: &Board) -> Option<Chapter> {
    let headers = board.parts.iter().filter(|(_, part)| part.kind == PartKind::Header);
    let drawings = headers.map(|(_, part)| {
        let pins: Vec<PinPicture> = part.pins.iter().map(|&pin| pin_picture(board, pin)).collect();
        Block::Drawing(header(&part.reference, &pins))
    });
    let rows = rows(board);
    if rows.is_empty() && board.parts.rows().iter().all(|part| part.kind != PartKind::Header) {
        return None;
    }
    let mut blocks = vec![Block::Text(
        "Leave every line open until a step says otherwise. Jumpers go on and off one at a time. Below each \
         pin stands what the bench may do with it."
            .to_owned(),
    )];
    blocks.extend(clocks_at_rest(board).map(Block::Text));
    blocks.extend(drawings);
    if !rows.is_empty() {
        let columns = ["line", "at", "by", "for"].map(Column::words).to_vec();
        blocks.push(Block::Table(Table { title: "Lines".to_owned(), columns, rows, abreast: 1 }));
    }
    Some(Chapter { heading: "What to tie".to_owned(), layout: Layout::Follow, blocks })
}

/// The lines with where and how the hand works them; neighbours of one purpose share a row.
fn rows(board: &Board) -> Vec<Vec<String>> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for line in board.lines.rows() {
        let (at, by) = (place(board, line), by(board, line));
        match rows.last_mut() {
            Some(row) if !line.purpose.is_empty() && row[2] == by && row[3] == line.purpose => {
                row[0] = format!("{} {}", row[0], line.name);
                row[1] = format!("{} {at}", row[1]);
            }
            _ => rows.push(vec![line.name.clone(), at, by.to_owned(), line.purpose.clone()]),
        }
    }
    rows
}

fn pin_picture(board: &Board, pin: PinId) -> PinPicture {
    let row = &board.pins[pin];
    let net = &board.nets[row.net];
    let line = board.lines.rows().iter().find(|line| line.net == row.net);
    let touch = match line.map(|line| line.access) {
        _ if net.supply.is_some() => Touch::Supply,
        Some(Access::TieLow) => Touch::ToGround,
        Some(Access::TieHigh) => Touch::ToRail,
        Some(Access::Contact(_)) => Touch::MeterOnly,
        None if net.pins.len() == 1 => Touch::Nothing,
        None => Touch::MeterOnly,
    };
    let name = if touch == Touch::Nothing { "–".to_owned() } else { net.name.clone() };
    PinPicture { number: row.name.clone(), name, touch }
}

fn by(board: &Board, line: &Line) -> &'static str {
    match line.access {
        Access::TieLow => "jumper to ground",
        Access::TieHigh => "jumper to the rail",
        Access::Contact(part) if board.parts[part].kind == PartKind::Button => "button",
        Access::Contact(_) => "switch",
    }
}

/// The connector pin or the switch of a line.
fn place(board: &Board, line: &Line) -> String {
    if let Access::Contact(part) = line.access {
        return board.parts[part].reference.clone();
    }
    let on_header = |pin: &&PinId| board.parts[board.pins[**pin].part].kind == PartKind::Header;
    board.nets[line.net].pins.iter().find(on_header).map_or(String::new(), |pin| pin_name(board, *pin))
}
