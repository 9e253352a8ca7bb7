//! Every kind of stage: its transfer curve with the thresholds, and its high over the loads.

use super::Named;
use dryjoint_board::Board;
use dryjoint_picture::{Axis, Cursor, Curve, Panel, Plot, Stroke};
use dryjoint_survey::{Kind, Survey};
use dryjoint_units::Volts;

pub fn plots(board: &Board, survey: &Survey) -> Vec<Named> {
    let kinds = survey.kinds.iter();
    kinds.flat_map(|kind| [Some(transfer(board, kind)), loads(board, survey, kind)]).flatten().collect()
}

/// `Q17 and 12 alike`.
fn title(board: &Board, kind: &Kind) -> String {
    let first = &board.parts[kind.drivers[0]].reference;
    match kind.drivers.len() - 1 {
        0 => first.clone(),
        more => format!("{first} and {more} alike"),
    }
}

fn name(board: &Board, kind: &Kind) -> String {
    board.parts[kind.drivers[0]].reference.clone()
}

fn curve(name: &str, points: Vec<(f64, f64)>, stroke: Stroke, marks: bool) -> Curve {
    Curve { name: name.to_owned(), points, stroke, marks }
}

fn volts(volts: Volts) -> String {
    format!("{:.2} V", volts.0)
}

fn transfer(board: &Board, kind: &Kind) -> Named {
    let rail = kind.curve.last().map_or(1.0, |point| point.0);
    let (low, high) = kind.reads;
    let cursor = |at: Volts, words: &str| Cursor { at: at.0, label: format!("{words} {}", volts(at)) };
    let others = if kind.inputs > 1 { ", its other inputs low" } else { "" };
    let plot = Plot {
        title: format!("Transfer curve of {}{others}", title(board, kind)),
        x: Axis::of("input", "V", 0.0, rail),
        panels: vec![Panel {
            y: Axis::of("output", "V", 0.0, rail),
            curves: vec![curve("output", kind.curve.clone(), Stroke::Solid, false)],
            levels: Vec::new(),
        }],
        cursors: vec![cursor(low, "reads low up to"), cursor(high, "reads high from")],
    };
    Named::new(&format!("transfer-{}", name(board, kind)), plot)
}

fn loads(board: &Board, survey: &Survey, kind: &Kind) -> Option<Named> {
    let load = survey.usual_load?;
    let rail = kind.curve.last().map_or(1.0, |point| point.0);
    let points: Vec<(f64, f64)> =
        kind.high.iter().enumerate().map(|(count, volts)| (count as f64, volts.0)).collect();
    let most = points.last()?.0;
    let levels = kind.wanted.map_or_else(Vec::new, |(typical, worst)| {
        let level = |at: Volts, words: &str| Cursor { at: at.0, label: format!("{words} {}", volts(at)) };
        vec![level(typical, "wanted"), level(worst, "wanted at worst")]
    });
    let here = Cursor { at: kind.feeds as f64, label: format!("feeds at most {} here", kind.feeds) };
    let plot = Plot {
        title: format!("High of {} over its loads", title(board, kind)),
        x: Axis::of(&format!("loads of {load}"), "", 0.0, most),
        panels: vec![Panel {
            y: Axis::of("high", "V", 0.0, rail),
            curves: vec![curve("high", points, Stroke::Solid, true)],
            levels,
        }],
        cursors: if kind.feeds > 0 { vec![here] } else { Vec::new() },
    };
    Some(Named::new(&format!("high-{}", name(board, kind)), plot))
}
