//! `levels FILE --do ACTIONS`: what a meter reads on every net, and every lamp, after the actions.
//!
//! The logic says which state the board is in; the circuit of the whole board, solved in that state
//! with the same jumpers set and switches closed, says the voltages.

use crate::action::{self, Action};
use crate::bench::{Bench, running};
use crate::board_text::BoardText;
use crate::exit::{Exit, Failure};
use crate::readings::Seen;
use crate::shape::{Header, Levels};
use crate::{print, render};
use dryjoint_board::{Board, NetId};
use dryjoint_circuit::{Network, Regulation, Solution, Solver};
use dryjoint_logic::{Extracted, Level, extract};
use dryjoint_parts::Glow;
use dryjoint_units::{Amps, Volts};
use std::io::Write;

/// Computes and prints.
pub fn run(text: &BoardText, actions: &str, json: bool, out: &mut impl Write) -> Result<Exit, Failure> {
    let actions = action::parse(actions).map_err(Failure::Input)?;
    let levels = compute(text, actions)?;
    if json {
        print::json(out, &levels)?;
    } else {
        out.write_all(table(text.board(), &levels).as_bytes())?;
    }
    Ok(Exit::Fine)
}

fn compute(text: &BoardText, actions: Vec<Action>) -> Result<Levels, Failure> {
    let board = text.board();
    let (extracted, notices) = extract(board);
    text.refuse_errors(&notices)?;
    let mut known = Bench::new(&extracted, None);
    let mut woken = Bench::new(&extracted, Some(Level::Zero));
    for action in &actions {
        known.act(action).map_err(Failure::Input)?;
        woken.act(action).map_err(Failure::Input)?;
    }
    let network = network(&extracted, &woken);
    let solution = Solver::default()
        .solve_near(&network, &guess(&extracted, &woken))
        .map_err(|failure| Failure::Computation(format!("{}: {}", board.name, failure.told(board))))?;
    Ok(document(board, &extracted, &known, &network, &solution, actions))
}

/// The whole board with everything set as it is on the bench.
fn network(extracted: &Extracted, bench: &Bench) -> Network {
    let board = extracted.shape.board;
    let mut network = extracted.tied(&Network::of_board(board), &bench.jumpers());
    for part in bench.closed() {
        network.press(part, true);
    }
    for (part, position) in bench.selected() {
        network.select(part, position);
    }
    if !bench.is_powered() {
        for (net, row) in board.nets.iter() {
            if row.supply.is_some() {
                network.supply(network.find(net).unwrap_or(dryjoint_circuit::GROUND), Volts(0.0), Amps(0.0));
            }
        }
    }
    network
}

fn guess(extracted: &Extracted, bench: &Bench) -> Vec<(NetId, Volts)> {
    if !bench.is_powered() {
        return Vec::new();
    }
    let signals = extracted.logic.signals.iter();
    signals
        .filter_map(|(id, signal)| {
            let net = signal.net?;
            Some((net, extracted.levels[net].volts(bench.level(id).value()?)))
        })
        .collect()
}

fn document(
    board: &Board,
    extracted: &Extracted,
    known: &Bench,
    network: &Network,
    solution: &Solution,
    actions: Vec<Action>,
) -> Levels {
    let lamps = || {
        board.parts.iter().filter_map(|(id, part)| {
            let (amps, glow) = solution.lamp(network, id)?;
            Some((part.reference.clone(), amps, glow))
        })
    };
    let nets = board
        .nets
        .iter()
        .filter_map(|(id, net)| Some((net.name.clone(), rounded(solution.at(network, id)?.0, 1e4))));
    let unknown = |level: Level| level.value().is_none() && level != Level::Floating;
    let signals = extracted.logic.signals.iter();
    let running = running(extracted);
    let uncertain =
        signals.filter(|(id, _)| known.is_powered() && !running.contains(id) && unknown(known.level(*id)));
    let name = |id| extracted.logic.signals[id].name.clone();
    Levels {
        header: Header::new("levels", &board.name),
        actions,
        nets: nets.collect(),
        lamps: lamps().map(|(name, _, glow)| (name, seen(glow))).collect(),
        lamp_amps: lamps().map(|(name, amps, _)| (name, rounded(amps.0, 1e7))).collect(),
        supply_amps: rounded(solution.deliveries().iter().map(|delivery| delivery.amps.0).sum(), 1e6),
        limited: solution.deliveries().iter().any(|d| d.regulation == Regulation::Current)
            && known.is_powered(),
        uncertain: uncertain.map(|(id, _)| name(id)).collect(),
        unsettled: known.restless.iter().chain(&running).map(|id| name(*id)).collect(),
    }
}

/// Rounded to one part of `steps` of a unit: a tenth of a millivolt, a microampere; below that the
/// solver's digits mean nothing.
fn rounded(value: f64, steps: f64) -> f64 {
    // The sum takes the sign off a negative zero.
    (value * steps).round() / steps + 0.0
}

fn seen(glow: Glow) -> Seen {
    match glow {
        Glow::Lit => Seen::Lit,
        Glow::Dark => Seen::Dark,
        Glow::Dim => Seen::Dim,
    }
}

fn table(board: &Board, levels: &Levels) -> String {
    let mut text = String::new();
    let uncertain = |name: &String| {
        if levels.unsettled.contains(name) {
            "does not settle"
        } else if levels.uncertain.contains(name) {
            "depends on how the board woke up"
        } else {
            ""
        }
    };
    text.push_str(&render::heading("Nets, against ground"));
    let rows = levels.nets.0.iter().zip(board.nets.rows()).map(|((name, volts), net)| {
        let pins: Vec<String> = net
            .pins
            .iter()
            .take(3)
            .map(|pin| {
                let pin = &board.pins[*pin];
                format!("{}.{}", board.parts[pin.part].reference, pin.name)
            })
            .collect();
        vec![name.clone(), format!("{volts:.2} V"), pins.join(" "), uncertain(name).to_owned()]
    });
    text.push_str(&render::table(&["net", "reads", "at", ""], &[1], rows));
    text.push_str(&render::heading("Lamps"));
    let certain = levels.lamps.0.iter().filter(|(name, _)| uncertain(name).is_empty());
    text.push_str(&render::lamps(board, &certain.cloned().collect()));
    let amps = Amps(levels.supply_amps);
    text.push_str(&render::heading("Supply"));
    let limited = if levels.limited { ", at its current limit" } else { "" };
    text.push_str(&format!("{amps}{limited}\n"));
    text
}
