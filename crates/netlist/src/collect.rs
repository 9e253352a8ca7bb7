//! Sorting the lines: which belong to which cell, which to the board, which name models and rails.

use crate::cell::{CellHead, cell_head};
use crate::door::Door;
use crate::names::Symbol;
use crate::notices::Placed;
use crate::scan::Line;
use crate::source::FileId;
use crate::words::{Token, Words};
use rustc_hash::FxHashMap;

/// A line of one of the files.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LineAt {
    pub file: FileId,
    pub line: Line,
}

/// A cell with its lines.
pub(crate) struct Cell {
    pub head: CellHead,
    pub lines: Vec<LineAt>,
}

/// All lines, sorted.
#[derive(Default)]
pub(crate) struct Collected {
    pub board: Option<LineAt>,
    pub cells: Vec<Cell>,
    pub cell_of: FxHashMap<Symbol, usize>,
    pub models: Vec<LineAt>,
    /// Parts, instances, rails, nets and sections of the board, in order.
    pub top: Vec<LineAt>,
    /// `rail` and `ground` lines.
    pub rails: Vec<LineAt>,
    /// `line`, `bus`, `lamps`, `clock`, `phases`, `hidden`, in order.
    pub bench: Vec<LineAt>,
}

/// First words that are no reference and no instance.
pub(crate) const KEYWORDS: [&str; 15] = [
    "board", "use", "rail", "ground", "net", "section", "model", "cell", "end", "line", "bus", "lamps",
    "clock", "phases", "hidden",
];

/// Sorts the lines of all files.
pub(crate) fn collect(door: &mut Door<'_>) -> Collected {
    let mut out = Collected::default();
    for index in 0..door.scanned.len() {
        let file = FileId(index as u32);
        let mut open: Option<Cell> = None;
        let scanned = door.scanned;
        for line in &scanned[index].lines {
            let at = LineAt { file, line: *line };
            let words = door.words(at);
            let head = words.head();
            match head.text {
                "cell" if head.is_word() => {
                    if let Some(cell) = open.take() {
                        unclosed(door, &cell);
                        keep(cell, &mut out, door);
                    }
                    open = cell_head(words, door).map(|head| Cell { head, lines: Vec::new() });
                    if open.is_none() {
                        // The name is unreadable, but the lines up to `end` are still a cell's.
                        open = Some(Cell { head: CellHead::nameless(head.span), lines: Vec::new() });
                    }
                }
                "end" if head.is_word() => match open.take() {
                    Some(cell) => keep(cell, &mut out, door),
                    None => door.notices.push(
                        Placed::error("end-alone", head.span, "`end` without a `cell` above it".into())
                            .mend("remove it, or begin the cell with `cell NAME (ports)`".into()),
                    ),
                },
                _ => match &mut open {
                    Some(cell) => in_cell(cell, at, head, door),
                    None => outside(&mut out, at, words, index > 0, door),
                },
            }
        }
        if let Some(cell) = open.take() {
            unclosed(door, &cell);
            keep(cell, &mut out, door);
        }
    }
    out
}

fn unclosed(door: &mut Door<'_>, cell: &Cell) {
    door.notices.push(
        Placed::error("cell-open", cell.head.span, "this cell has no `end`".into())
            .mend("write `end` on a line of its own after its last part".into()),
    );
}

fn keep(cell: Cell, out: &mut Collected, door: &mut Door<'_>) {
    if let Some(name) = cell.head.name {
        if let Some(before) = out.cell_of.get(&name) {
            let text = format!("cell `{}` is there already", door.names.text(name));
            door.notices.push(
                Placed::error("cell-twice", cell.head.span, text)
                    .mend("give one of them another name".into())
                    .also(out.cells[*before].head.span, "the first is here"),
            );
        } else {
            out.cell_of.insert(name, out.cells.len());
        }
    }
    out.cells.push(cell);
}

fn in_cell(cell: &mut Cell, at: LineAt, head: Token<'_>, door: &mut Door<'_>) {
    if KEYWORDS.contains(&head.text) && head.is_word() {
        let text = format!("`{}` has no place inside a cell", head.text);
        door.notices.push(
            Placed::error("not-in-cell", head.span, text)
                .mend("move the line out of the cell, or write the missing `end` above it".into())
                .also(cell.head.span, "the cell begins here"),
        );
    } else {
        cell.lines.push(at);
    }
}

fn outside(out: &mut Collected, at: LineAt, words: Words<'_>, used: bool, door: &mut Door<'_>) {
    let head = words.head();
    let keyword = if head.is_word() { head.text } else { "" };
    match keyword {
        "use" => use_line(words, door),
        "model" => out.models.push(at),
        _ if used => {
            let text = "only cells and models are taken from a used file".to_owned();
            // One notice a file is enough: at its first such line.
            let name = door.sources.get(at.file).name.clone();
            if door.told_used.insert(at.file) {
                door.notices.push(
                    Placed::warning("use-ignores", words.span(), text)
                        .mend(format!("leave what belongs to a board out of `{name}`")),
                );
            }
        }
        "board" => match out.board {
            None => out.board = Some(at),
            Some(first) => {
                let first = door.words(first).span();
                door.notices.push(
                    Placed::error("board-twice", head.span, "a second `board` line".into())
                        .mend("a file describes one board".into())
                        .also(first, "the first is here"),
                );
            }
        },
        "rail" | "ground" => {
            out.rails.push(at);
            out.top.push(at);
        }
        "line" | "bus" | "lamps" | "clock" | "phases" | "hidden" => out.bench.push(at),
        _ => out.top.push(at),
    }
}

/// The loader followed the line already; here only its form is looked at.
fn use_line(mut words: Words<'_>, door: &mut Door<'_>) {
    let head = words.head();
    words.next();
    match words.next() {
        None => door.notices.push(
            Placed::error("use-what", head.span, "`use` names no file".into())
                .mend("write `use \"cells.txt\"`".into()),
        ),
        Some(_) => door.nothing_left(&mut words),
    }
}
