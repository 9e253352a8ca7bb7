//! A board's timing as its document: references in place of ids, figures to three digits.

use crate::shape::timing as shape;
use dryjoint_board::{Board, NetId, PartId};
use dryjoint_logic::Extracted;
use dryjoint_survey::{Beat, Edge, Path, Reset, Timing, Turn};
use dryjoint_units::Seconds;

/// The document of a timing.
pub fn document(extracted: &Extracted, timing: &Timing) -> shape::Timing {
    let board = extracted.shape.board;
    shape::Timing {
        clocks: timing.clocks.iter().map(|row| beat(board, row, timing)).collect(),
        phases: timing.turns.iter().map(|row| turn(board, row)).collect(),
        cycles: cycles(board, timing),
        resets: timing.resets.iter().map(|row| reset(board, row)).collect(),
        delays: delays(extracted, timing),
        longest_path: timing.paths.between.as_ref().map(|found| path(board, found)),
        after: after(board, timing),
        states: timing.paths.states,
    }
}

fn net(board: &Board, id: NetId) -> String {
    board.nets[id].name.clone()
}

fn part(board: &Board, id: PartId) -> String {
    board.parts[id].reference.clone()
}

fn beat(board: &Board, row: &Beat, timing: &Timing) -> shape::Beat {
    let found = row.found.as_ref();
    let allowed = found.and_then(|found| timing.paths.allow(row.clock, found.duty));
    shape::Beat {
        clock: net(board, board.clocks[row.clock].net),
        position: row.name.clone(),
        stated_hertz: digits(row.stated.0),
        hertz: found.map(|found| digits(found.rate.0)),
        range_hertz: found
            .and_then(|found| found.range)
            .map(|(slow, fast)| [slow, fast].map(|rate| digits(rate.0))),
        duty: found.map(|found| digits(found.duty)),
        allowed_hertz: allowed.map(|rate| digits(rate.0)),
    }
}

fn turn(board: &Board, row: &Turn) -> shape::Turn {
    shape::Turn {
        ends: net(board, row.ends),
        begins: net(board, row.begins),
        apart_seconds: digits(row.apart.0),
    }
}

fn cycles(board: &Board, timing: &Timing) -> Vec<shape::Cycle> {
    let rows = board.phases.iter().filter_map(|phases| {
        let cycle = timing.paths.cycle(board, phases)?;
        let names = phases.nets.iter().map(|&id| net(board, id)).collect();
        Some(shape::Cycle { phases: names, seconds: digits(cycle.0), hertz: digits(1.0 / cycle.0) })
    });
    rows.collect()
}

fn reset(board: &Board, row: &Reset) -> shape::Reset {
    shape::Reset {
        net: net(board, row.net),
        capacitor: part(board, row.capacitor),
        high: row.high,
        seconds: row.width.map(|width| digits(width.0)),
        range_seconds: row.range.map(|(short, long)| [short, long].map(|width| digits(width.0))),
        edges: row.edges,
        slope_seconds: digits(row.slope.0),
    }
}

fn delays(extracted: &Extracted, timing: &Timing) -> Vec<shape::Delay> {
    let logic = &extracted.logic;
    let mut found = Vec::new();
    for (id, stage) in logic.stages.iter() {
        for (delay, &input) in timing.delays.of(id).iter().zip(&stage.inputs) {
            if delay.rise.is_some() || delay.fall.is_some() {
                let seconds = |found: Option<Seconds>| found.map(|seconds| digits(seconds.0));
                found.push(shape::Delay {
                    part: stage.name.clone(),
                    input: logic.signals[input].name.clone(),
                    output: logic.signals[stage.output].name.clone(),
                    rise_seconds: seconds(delay.rise),
                    fall_seconds: seconds(delay.fall),
                });
            }
        }
    }
    found
}

fn path(board: &Board, found: &Path) -> shape::Path {
    let hops = found.hops.iter().map(|hop| shape::Hop {
        net: net(board, hop.net),
        part: hop.by.map(|by| part(board, by)),
        rises: hop.rises,
        seconds: digits(hop.at.0),
        keeps: hop.keeps,
    });
    shape::Path { seconds: digits(found.takes().0), stages: hops.collect() }
}

fn after(board: &Board, timing: &Timing) -> Vec<shape::After> {
    let rows = timing.paths.after.iter().map(|(&edge, found)| {
        let (edge_of, way) = match edge {
            Edge::Clock(id, rises) => {
                (net(board, board.clocks[id].net), if rises { "rises" } else { "falls" })
            }
            Edge::Line(id, tied) => (board.lines[id].name.clone(), if tied { "tied" } else { "released" }),
        };
        let races = timing.paths.restless.get(&edge).copied().unwrap_or(0);
        shape::After { edge: edge_of, way: way.to_owned(), path: path(board, found), races }
    });
    rows.collect()
}

/// To three digits: parts are not made closer, and a fourth could differ from machine to machine.
fn digits(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value) + 0.0
}
