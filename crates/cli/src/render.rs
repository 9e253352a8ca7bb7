//! Text for a person: headings, tables, lamps.

use crate::readings::Seen;
use crate::shape::Named;
use anstyle::Style;
use comfy_table::Table;
use dryjoint_board::{Board, PartId};
use std::fmt::Write as _;

const HEADING: Style = Style::new().bold();

/// A heading with an empty line before it.
pub fn heading(text: &str) -> String {
    format!("\n{HEADING}{text}{HEADING:#}\n")
}

/// `1 step`, `3 steps`.
pub fn counted(count: usize, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

/// A table with a line below its head; columns named in `right` are aligned right.
pub fn table(head: &[&str], right: &[usize], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut table = Table::new();
    table.load_style(comfy_table::presets::NOTHING);
    table.set_header(head.iter().map(|name| (*name).to_owned()));
    table.add_rows(rows);
    for &index in right {
        if let Some(column) = table.column_mut(index) {
            column.set_cell_alignment(comfy_table::CellAlignment::Right);
        }
    }
    let mut text = String::new();
    for line in table.lines() {
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text
}

/// The lamps group by group, most significant at the left: `#` lit, `.` dark, `~` dim, `?` unknown.
pub fn lamps(board: &Board, lamps: &Named<Seen>) -> String {
    let rows = board.lamps.rows().iter().map(|group| {
        let picture: Vec<String> =
            group.lamps.iter().map(|lamp| mark(board, lamps, *lamp).to_string()).collect();
        vec![group.name.clone(), picture.join(" ")]
    });
    table(&["lamps", "# lit  . dark  ~ dim  ? unknown"], &[], rows)
}

/// The lamps in one line: `ADDRESS ...###  CARRY .`; see [`lamps`].
pub fn lamp_line(board: &Board, lamps: &Named<Seen>) -> String {
    let groups = board.lamps.rows().iter().map(|group| {
        let picture: String = group.lamps.iter().map(|lamp| mark(board, lamps, *lamp)).collect();
        format!("{} {picture}", group.name)
    });
    groups.collect::<Vec<_>>().join("   ")
}

fn mark(board: &Board, lamps: &Named<Seen>, part: PartId) -> char {
    let reference = &board.parts[part].reference;
    match lamps.0.iter().find(|(name, _)| name == reference) {
        Some((_, Seen::Lit)) => '#',
        Some((_, Seen::Dark)) => '.',
        Some((_, Seen::Dim | Seen::Flickering)) => '~',
        None => '?',
    }
}

/// `start`, then words with commas, broken before `width` characters and indented below `start`.
pub fn wrapped(start: &str, words: &[String], width: usize) -> String {
    let mut text = start.to_owned();
    let mut column = 0;
    for (index, word) in words.iter().enumerate() {
        let comma = if index + 1 < words.len() { "," } else { "" };
        if column > 0 && start.len() + column + word.len() + 2 > width {
            let _ = write!(text, "\n{:1$}", "", start.len());
            column = 0;
        } else if column > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        text.push_str(comma);
        column += word.len() + comma.len();
    }
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_lines_end_with_their_text() {
        let rows = [vec!["R1".to_owned(), "2k2".to_owned()], vec!["R10".to_owned(), "22k".to_owned()]];
        assert_eq!(table(&["part", "value"], &[1], rows), " part  value\n R1      2k2\n R10     22k\n");
    }

    #[test]
    fn long_lists_are_broken_and_indented() {
        let words = ["R1.1", "R1.2", "R2.1"].map(str::to_owned);
        assert_eq!(wrapped("open: ", &words, 18), "open: R1.1, R1.2,\n      R2.1\n");
    }
}
