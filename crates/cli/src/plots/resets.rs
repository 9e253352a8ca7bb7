//! Every pulse at power-on: the capacitor's net and the pulse, with its end as a cursor.

use super::Named;
use super::clocks::panels;
use dryjoint_board::Board;
use dryjoint_picture::{Axis, Cursor, Plot};
use dryjoint_survey::{Reset, Survey};

pub fn plots(board: &Board, survey: &Survey) -> Vec<Named> {
    survey.timing.resets.iter().map(|reset| plot(board, reset)).collect()
}

fn plot(board: &Board, reset: &Reset) -> Named {
    let net = &board.nets[reset.net].name;
    let (low, high) = reset.thresholds;
    let mut panels = panels(board, &reset.wave, &[]);
    if let Some(pulse) = panels.last_mut() {
        pulse.levels = vec![
            Cursor { at: low.0, label: format!("reads low {:.2} V", low.0) },
            Cursor { at: high.0, label: format!("reads high {:.2} V", high.0) },
        ];
    }
    let level = if reset.high { "high" } else { "low" };
    let (title, cursors) = match reset.width {
        Some(width) => (
            format!("{net} after power-on: {level} for {width}"),
            vec![Cursor { at: width.0, label: format!("released after {width}") }],
        ),
        None => (format!("{net} after power-on: {level}, never released"), Vec::new()),
    };
    let x = Axis::of("time", "s", 0.0, reset.wave.until());
    Named::new(&format!("reset-{net}"), Plot { title, x, panels, cursors })
}
