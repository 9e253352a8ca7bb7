//! Every clock at every position: two cycles, with the edges of one as cursors.

use super::Named;
use dryjoint_board::{Board, Supply};
use dryjoint_picture::{Axis, Cursor, Curve, Panel, Plot, Stroke};
use dryjoint_survey::{Beat, Running, Survey, Wave};
use dryjoint_units::{Seconds, Volts};

pub fn plots(board: &Board, survey: &Survey) -> Vec<Named> {
    let running = survey.timing.clocks.iter().filter_map(|beat| Some((beat, beat.found.as_ref()?)));
    running.map(|(beat, running)| plot(board, beat, running)).collect()
}

fn plot(board: &Board, beat: &Beat, running: &Running) -> Named {
    let net = &board.nets[board.clocks[beat.clock].net].name;
    let at = if beat.name.is_empty() { String::new() } else { format!(" at {}", beat.name) };
    let title = format!("Clock {net}{at}: {}, high {:.0} % of a cycle", running.rate, running.duty * 100.0);
    let period = 1.0 / running.rate.0;
    let [rise, fall, next] = running.edges();
    let cursor = |at: f64, label: String| Cursor { at, label };
    let plot = Plot {
        title,
        x: Axis::of("time", "s", 0.0, running.wave.until()),
        panels: panels(board, &running.wave, &[]),
        cursors: vec![
            cursor(rise, "rises".to_owned()),
            cursor(fall, format!("falls after {}", Seconds(fall - rise))),
            cursor(next, format!("rises again after {}", Seconds(period))),
        ],
    };
    let end = if beat.name.is_empty() { String::new() } else { format!("-{}", beat.name) };
    Named::new(&format!("clock-{net}{end}"), plot)
}

/// One panel for each net of a wave, all over the rail's span; `levels` are marked in every one.
pub fn panels(board: &Board, wave: &Wave, levels: &[(String, Volts)]) -> Vec<Panel> {
    let rails = board.nets.rows().iter().filter_map(|net| match net.supply {
        Some(Supply::Rail { volts, .. }) => Some(volts.0),
        _ => None,
    });
    let rail = rails.fold(1.0, f64::max);
    let traces = wave.nets.iter().zip(&wave.trace.volts);
    traces
        .map(|(&net, volts)| Panel {
            y: Axis::of("", "V", 0.0, rail),
            curves: vec![Curve {
                name: board.nets[net].name.clone(),
                points: wave.trace.times.iter().copied().zip(volts.iter().copied()).collect(),
                stroke: Stroke::Solid,
                marks: false,
            }],
            levels: levels.iter().map(|(label, at)| Cursor { at: at.0, label: label.clone() }).collect(),
        })
        .collect()
}
