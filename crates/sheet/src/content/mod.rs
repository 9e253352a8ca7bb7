//! What stands on a sheet, chapter by chapter.

mod cautions;
mod lines;
mod map;
mod memory;
mod meter;
mod play;
mod signs;
mod steps;
mod supply;
mod trouble;

pub use memory::memory_rows;

use crate::Sheet;
use dryjoint_board::{Board, PinId};
use dryjoint_faults::Priors;
use dryjoint_procedure::{Procedure, Study};
use dryjoint_units::Amps;

/// The heading of the chapter for when a lamp is wrong.
const TROUBLE: &str = "A lamp is wrong";

impl Sheet {
    /// The sheet of a board with its procedure. `priors` weigh the faults that a wrong lamp points to; `limit` is the
    /// computed current limit of the supply, where there is one.
    pub fn of(study: &Study, procedure: &Procedure, priors: &Priors, limit: Option<Amps>) -> Self {
        let board = study.extracted.shape.board;
        let played = play::play(study, procedure);
        let chapters = [
            Some(cautions::chapter(study.extracted)),
            Some(supply::chapter(board, &played, limit)),
            lines::chapter(board),
            signs::chapter(study),
            Some(steps::chapter(study, procedure)),
            meter::chapter(board, &played),
            trouble::chapter(study, procedure, priors),
            map::chapter(board),
        ];
        let title = if board.title.is_empty() { board.name.clone() } else { board.title.clone() };
        Self {
            name: board.name.clone(),
            title,
            blanks: ["Unit", "Built by", "Date"].map(str::to_owned).to_vec(),
            chapters: chapters.into_iter().flatten().collect(),
        }
    }
}

/// `Q17.c`: how a pin is spoken of.
fn pin_name(board: &Board, pin: PinId) -> String {
    let pin = &board.pins[pin];
    format!("{}.{}", board.parts[pin.part].reference, pin.name)
}
