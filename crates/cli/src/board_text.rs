//! A board from its file: reading it, the files it uses, and telling what is wrong with it.

use crate::exit::Failure;
use crate::missing::{told, unreadable};
use anstream::stream::IsTerminal;
use dryjoint_board::{Board, Notice, Severity};
use dryjoint_netlist::{Look, Placed, PlainNotice, Reading, draw, plain, read};
use std::path::Path;

/// The board of the program's main job, with the cells it uses.
const ADDRESS: &str = include_str!("../../../boards/address.board");
const CELLS: &str = include_str!("../../../boards/dunlin.cells");

/// A board with the text it came from.
pub struct BoardText {
    reading: Reading,
}

impl BoardText {
    /// Reads `path` and what it uses. Warnings go to the terminal; an error is a failure that shows
    /// all of them.
    pub fn open(path: &Path) -> Result<Self, Failure> {
        let text = std::fs::read(path).map_err(|error| unreadable(path, &error))?;
        if is_netlist(path) {
            return Err(Failure::Input(format!(
                "{}: a netlist of gates, of which only `plan` knows anything; give the text of a board",
                path.display()
            )));
        }
        let mut loader = |used: &str| std::fs::read(used).map_err(|error| told(Path::new(used), &error));
        Self::sound(read(&path.to_string_lossy(), text, &mut loader))
    }

    /// The built-in address board.
    pub fn built_in() -> Result<Self, Failure> {
        let mut loader = |used: &str| match used {
            "dunlin.cells" => Ok(CELLS.as_bytes().to_vec()),
            _ => Err("not built in".to_owned()),
        };
        Self::sound(read("address.board", ADDRESS, &mut loader))
    }

    fn sound(mut reading: Reading) -> Result<Self, Failure> {
        reading.check();
        if reading.board.is_none() || reading.has_errors() {
            return Err(Failure::Input(reading.drawn(look()).trim_end().to_owned()));
        }
        Ok(Self { reading })
    }

    /// The board.
    pub fn board(&self) -> &Board {
        self.reading.board.as_ref().expect("a text without errors has a board")
    }

    /// What the text door had to remark.
    pub fn remarks(&self) -> &[Placed] {
        &self.reading.notices
    }

    /// Remarks of any stage drawn under their lines.
    pub fn drawn(&self, notices: &[Placed]) -> String {
        draw(&self.reading.sources, notices, look())
    }

    /// Remarks as plain data.
    pub fn plain(&self, notices: &[Placed]) -> Vec<PlainNotice> {
        plain(&self.reading.sources, notices)
    }

    /// Notices of a later stage with their places in the text.
    pub fn place(&self, notices: &[Notice]) -> Vec<Placed> {
        self.reading.place(notices)
    }

    /// Ends with a failure where a later stage found an error.
    pub fn refuse_errors(&self, notices: &[Notice]) -> Result<(), Failure> {
        let errors: Vec<Notice> =
            notices.iter().filter(|notice| notice.severity == Severity::Error).cloned().collect();
        if errors.is_empty() {
            return Ok(());
        }
        Err(Failure::Input(self.drawn(&self.place(&errors)).trim_end().to_owned()))
    }
}

/// Whether a file is a netlist of gates, by the end of its name.
pub fn is_netlist(path: &Path) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case("v"))
}

/// Notices go to the error output: coloured where that is a terminal.
pub fn look() -> Look {
    let terminal = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    Look { colour: terminal, unicode: terminal }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_board_has_no_error() {
        let text = BoardText::built_in().unwrap();
        assert_eq!(text.board().name, "address");
        assert!(text.board().parts.len() > 300);
    }
}
