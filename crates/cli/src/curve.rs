//! How soon a procedure shows what is to be expected, as a drawing.

use crate::shape::Plan;
use dryjoint_board::Board;
use dryjoint_picture::{Axis, Cursor, Curve, Plot, Stroke};

/// The share of the expected faults that have shown, against minutes at the bench. `shares` says for each
/// step how much it is the first to show.
pub fn of_board(board: &Board, plan: &Plan, shares: &[f64]) -> String {
    let mut points = vec![(0.0, 0.0)];
    let (mut seconds, mut share) = (0.0, 0.0);
    for (step, shows) in plan.steps.iter().zip(shares) {
        seconds += step.seconds;
        // What a step shows is seen at its end.
        points.push((seconds / 60.0, 100.0 * share));
        share += shows;
        points.push((seconds / 60.0, 100.0 * share));
    }
    let axis = |label: &str, unit: &str, to: f64| Axis {
        label: label.to_owned(),
        unit: unit.to_owned(),
        from: 0.0,
        to,
    };
    let curve = Curve { name: "shown".to_owned(), points, stroke: Stroke::Solid, marks: false };
    let title = format!("{}: expected faults that have shown", board.name);
    let minutes = axis("at the bench", "min", (seconds / 60.0).max(0.1));
    let mut plot = Plot::single(&title, minutes, axis("of the expected faults", "%", 100.0), vec![curve]);
    plot.cursors = plan
        .milestones
        .iter()
        .map(|mark| Cursor {
            at: mark.seconds / 60.0,
            label: format!("{:.0} % by step {}", 100.0 * mark.share, mark.step),
        })
        .collect();
    plot.draw()
}
