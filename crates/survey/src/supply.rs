//! What the board draws, and the limit to set on the supply.

use crate::watch::Watch;
use dryjoint_board::{Entity, Notice, PartKind, Supply};
use dryjoint_circuit::{Network, NoSolution, Solver, Variable};
use dryjoint_logic::Extracted;
use dryjoint_units::{Amps, Volts};

/// The current that all rails together give.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// Least and most with nothing tied.
    pub idle: Option<(Amps, Amps)>,
    /// The middle one of all states.
    pub typical: Amps,
    /// The most of any state, typical parts.
    pub most: Amps,
    /// The same with every resistor at its low end and the rail 5 % high.
    pub worst: Amps,
    /// The limit to set.
    pub limit: Amps,
    /// The limit that the text gives.
    pub stated: Amps,
}

/// Room above the worst, for charging capacitors and for a second look (judgement).
const ROOM: f64 = 1.15;
/// Supplies are set in steps of this.
const STEP: f64 = 0.05;
/// How far a rail may be above its voltage (common practice for 5 V logic, no source).
const RAIL: f64 = 1.05;

/// What a board draws that is fed by one rail, over all states seen; nothing where there was none, or the board has
/// several rails, each of which wants a limit of its own.
pub fn draw_of(watch: &Watch) -> Option<Draw> {
    let rails = watch.extracted.shape.board.nets.rows().iter();
    let rails = rails.filter(|net| matches!(net.supply, Some(Supply::Rail { .. }))).count();
    draw(watch, &mut Solver::default(), &mut Vec::new()).filter(|_| rails == 1)
}

/// The draw over all states seen; nothing where there was none.
pub(crate) fn draw(watch: &Watch, solver: &mut Solver, notices: &mut Vec<Notice>) -> Option<Draw> {
    let board = watch.extracted.shape.board;
    let mut all: Vec<f64> = watch.supply.iter().map(|(amps, _)| amps.0).collect();
    all.sort_by(f64::total_cmp);
    let (typical, most) = (*all.get(all.len() / 2)?, *all.last()?);
    let idle = watch.supply.iter().filter(|(_, idle)| *idle).map(|(amps, _)| amps.0);
    let idle = idle.fold(None, |known: Option<(f64, f64)>, amps| {
        Some(known.map_or((amps, amps), |(least, most)| (least.min(amps), most.max(amps))))
    });
    let worst = worst(watch, solver).unwrap_or_else(|failure| {
        let tolerances = board.parts.rows().iter().filter_map(|part| match part.kind {
            PartKind::Resistor { tolerance, .. } => Some(tolerance),
            _ => None,
        });
        // No current grows by more than the rail and the worst resistor together, where all else stays as it is.
        let bound = most * RAIL / (1.0 - tolerances.fold(0.0, f64::max));
        let text = format!("what the worst copy draws could not be solved: {}", failure.told(board));
        let mend = format!("the limit rests on {}, the typical draw and the worst part of each", Amps(bound));
        notices.push(Notice::warning("supply-unsolved", Entity::Board, text, mend));
        bound
    });
    let stated = board.nets.rows().iter().filter_map(|net| match net.supply {
        Some(Supply::Rail { limit, .. }) => Some(limit.0),
        _ => None,
    });
    let stated: f64 = stated.sum();
    let limit = (worst * ROOM / STEP).ceil() * STEP;
    if stated < worst {
        let rail = watch.extracted.shape.rail_net();
        let text = format!(
            "the board can draw {} where the text limits the supply to {}",
            Amps(worst),
            Amps(stated)
        );
        let mend = format!("set the limit to {}", Amps(limit));
        notices.push(Notice::warning("supply-limit", Entity::Net(rail), text, mend));
    }
    Some(Draw {
        idle: idle.map(|(least, most)| (Amps(least), Amps(most))),
        typical: Amps(typical),
        most: Amps(most),
        worst: Amps(worst),
        limit: Amps(limit),
        stated: Amps(stated),
    })
}

/// The thirstiest state once more, everything at the end that draws more.
fn worst(watch: &Watch, solver: &mut Solver) -> Result<f64, NoSolution> {
    let extracted = watch.extracted;
    let board = extracted.shape.board;
    let Some((_, state)) = watch.thirstiest.as_ref() else { return Ok(0.0) };
    let mut settings: Vec<(Variable, f64)> = Vec::new();
    for (id, part) in board.parts.iter() {
        if let PartKind::Resistor { tolerance, .. } = part.kind {
            settings.push((Variable::Value(id), 1.0 - tolerance));
        }
    }
    let network = extracted.tied(&Network::of_board(board), &state.ties);
    for (net, row) in board.nets.iter() {
        if let (Some(Supply::Rail { .. }), Some(node)) = (row.supply, network.find(net)) {
            settings.push((Variable::Rail(node), RAIL));
        }
    }
    let mut network = network.varied(&settings);
    let rails: Vec<_> = board.nets.iter().filter(|(_, row)| row.supply.is_some()).collect();
    for (net, row) in rails {
        // What it would draw, whatever the limit.
        if let (Some(Supply::Rail { volts, .. }), Some(node)) = (row.supply, network.find(net)) {
            network.supply(node, volts * RAIL, Amps(1e3));
        }
    }
    let point = solver.solve_near(&network, &guess(extracted, &state.levels))?;
    Ok(point.deliveries().iter().map(|delivery| delivery.amps.0).sum())
}

/// The voltages that the levels of a state mean.
pub(crate) fn guess(
    extracted: &Extracted,
    levels: &dryjoint_ids::Side<dryjoint_logic::SignalId, dryjoint_logic::Level>,
) -> Vec<(dryjoint_board::NetId, Volts)> {
    let signals = extracted.logic.signals.iter();
    signals
        .filter_map(|(id, signal)| {
            let net = signal.net?;
            Some((net, extracted.levels[net].volts(levels[id].value()?)))
        })
        .collect()
}
