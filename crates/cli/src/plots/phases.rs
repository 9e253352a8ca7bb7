//! Every group of phases where two of them come closest, with the gap as cursors.

use super::Named;
use super::clocks::panels;
use dryjoint_board::Board;
use dryjoint_picture::{Axis, Cursor, Plot};
use dryjoint_survey::{Survey, Turn};
use dryjoint_units::Seconds;

pub fn plots(board: &Board, survey: &Survey) -> Vec<Named> {
    survey.timing.turns.iter().map(|turn| plot(board, turn)).collect()
}

fn plot(board: &Board, turn: &Turn) -> Named {
    let [ends, begins] = [turn.ends, turn.begins].map(|net| &board.nets[net].name);
    let title = if turn.apart > Seconds(0.0) {
        format!("{ends} and {begins}: never active together, {} apart", turn.apart)
    } else {
        format!("{ends} and {begins}: active together for {}", Seconds(-turn.apart.0))
    };
    let cursor = |at: Seconds, name: &str, does: &str| Cursor { at: at.0, label: format!("{name} {does}") };
    let plot = Plot {
        title,
        x: Axis::of("time", "s", 0.0, turn.wave.until()),
        panels: panels(board, &turn.wave, &[]),
        cursors: vec![
            cursor(turn.at.0, ends, "is plainly inactive"),
            cursor(turn.at.1, begins, "may count as active"),
        ],
    };
    Named::new(&format!("phases-{ends}-{begins}"), plot)
}
