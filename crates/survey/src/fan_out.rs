//! Fan-out: how many more loads of the board's usual kind each net could feed.
//!
//! A load is a base resistor into a transistor that is on: it is put to the cut-out around the net as a
//! resistor to 0.7 V, one after the other, until the worst margin is used up.

use crate::levels::Levels;
use crate::margins::NetMargins;
use dryjoint_board::{Board, NetId, PartKind};
use dryjoint_circuit::Solver;
use dryjoint_units::{Ohms, Volts};
use std::collections::BTreeMap;

/// What a net feeds and could feed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FanOut {
    /// The net.
    pub net: NetId,
    /// Stages on it.
    pub feeds: usize,
    /// How many more of the usual kind it could feed.
    pub left: usize,
}

/// A driven base (common practice: 0.6 to 0.7 V).
pub(crate) const BASE: Volts = Volts(0.7);
/// No net of a board feeds more.
const MOST: usize = 40;

/// The loads left on every net that a transistor drives, fewest first; nothing where the board has no
/// usual base resistor.
pub(crate) fn fan_out(
    board: &Board,
    margins: &[NetMargins],
    levels: &mut Levels,
    solver: &mut Solver,
) -> (Option<Ohms>, Vec<FanOut>) {
    let Some(load) = usual_load(board) else { return (None, Vec::new()) };
    let wanted = usual_want(margins);
    let mut found = Vec::new();
    for row in margins.iter().filter(|row| row.driver.is_some()) {
        let Some(high) = row.high else { continue };
        // What leaves the board is read by boards of the same make.
        let leaves = board.nets[row.net]
            .pins
            .iter()
            .any(|pin| board.parts[board.pins[*pin].part].kind == PartKind::Header);
        let wanted = if leaves { high.wanted_worst.0.max(wanted) } else { high.wanted_worst.0 };
        let Some(network) = levels.network(row.net, true) else { continue };
        let mut fall = |count: usize| {
            let mut network = network.clone();
            let clamp = network.node();
            network.ideal(clamp, BASE);
            for _ in 0..count {
                network.bridge(row.net, clamp, load);
            }
            let solution = solver.solve(&network).ok()?;
            solution.at(&network, row.net).map(|volts| volts.0)
        };
        let Some(now) = fall(0) else { continue };
        let bears = |volts: f64| high.level_worst.0 - (now - volts) >= wanted;
        let left = (1..=MOST).take_while(|&count| fall(count).is_some_and(bears)).count();
        found.push(FanOut { net: row.net, feeds: row.receivers, left });
    }
    found.sort_by_key(|row| (row.left, row.net));
    (Some(load), found)
}

/// The commonest resistor that ends at a base.
fn usual_load(board: &Board) -> Option<Ohms> {
    let mut counts: BTreeMap<u64, usize> = BTreeMap::new();
    for part in board.parts.rows() {
        let PartKind::Resistor { ohms, .. } = part.kind else { continue };
        let at_base = part.pins.iter().any(|pin| {
            let net = &board.nets[board.pins[*pin].net];
            let is_base = |pin: &dryjoint_board::PinId| {
                let pin = &board.pins[*pin];
                matches!(board.parts[pin.part].kind, PartKind::Bipolar(_)) && pin.name == "b"
            };
            net.supply.is_none() && net.pins.iter().any(is_base)
        });
        if at_base {
            *counts.entry(ohms.0.to_bits()).or_default() += 1;
        }
    }
    counts.into_iter().max_by_key(|(_, count)| *count).map(|(bits, _)| Ohms(f64::from_bits(bits)))
}

/// What the board's commonest receiver wants at worst.
fn usual_want(margins: &[NetMargins]) -> f64 {
    let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
    for margin in margins.iter().filter_map(|row| row.high) {
        *counts.entry((margin.wanted_worst.0 * 10.0).ceil() as i64).or_default() += 1;
    }
    counts.into_iter().max_by_key(|(_, count)| *count).map_or(0.0, |(tenths, _)| tenths as f64 / 10.0)
}
