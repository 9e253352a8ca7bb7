//! Noise margins: what every net's levels leave to its actual receivers.
//!
//! The typical margin takes the lowest high (highest low) that any state of the whole board showed
//! against the strictest receiver. The worst margin moves both to their worst corners, each for itself.

use crate::corner::AtCorners;
use crate::levels::Levels;
use crate::receivers::{Receiver, Receivers};
use crate::watch::Watch;
use dryjoint_board::{Entity, NetId, Notice, PartId};
use dryjoint_circuit::Solver;
use dryjoint_logic::{Extracted, Node};
use dryjoint_units::Volts;

/// One level of a net against its strictest receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margin {
    /// The level with typical parts, in the worst of the states seen.
    pub level: Volts,
    /// The same at the worst corner.
    pub level_worst: Volts,
    /// What the strictest receiver wants, typical parts.
    pub wanted: Volts,
    /// The same at its worst corner.
    pub wanted_worst: Volts,
    /// The strictest receiver.
    pub receiver: PartId,
    /// What is left, typical parts.
    pub typical: Volts,
    /// What is left with the worst parts in the worst surroundings.
    pub worst: Volts,
}

/// Both margins of a net.
#[derive(Clone, Debug, PartialEq)]
pub struct NetMargins {
    /// The net.
    pub net: NetId,
    /// What drives it: a transistor, or nothing where only the bench or a resistor does.
    pub driver: Option<PartId>,
    /// How many stages read it.
    pub receivers: usize,
    /// The high level.
    pub high: Option<Margin>,
    /// The low level.
    pub low: Option<Margin>,
}

impl NetMargins {
    /// The smaller of the worst margins.
    pub fn worst(&self) -> Option<Volts> {
        let worst = [self.high, self.low].into_iter().flatten().map(|margin| margin.worst.0);
        worst.reduce(f64::min).map(Volts)
    }
}

/// The margins of every net that a stage reads, smallest worst margin first.
pub(crate) fn margins(
    watch: &Watch,
    receivers: &mut Receivers,
    levels: &mut Levels,
    solver: &mut Solver,
    notices: &mut Vec<Notice>,
) -> Vec<NetMargins> {
    let extracted = watch.extracted;
    let shape = &extracted.shape;
    let mut found = Vec::new();
    for net in shape.board.nets.ids() {
        if shape.nodes.first(net) != net || shape.nodes.kind(net) != Node::Signal {
            continue;
        }
        let on = receivers.on(net, solver);
        let swing = watch.swings[net];
        let mut side = |seen: Option<Volts>, high: bool| {
            let seen = seen?;
            let (typical, worst) = levels.of(net, high, solver).unwrap_or((seen.0, [seen.0; 4]));
            strictest(&on, seen, worst.map(|worst| seen.0 + worst - typical), high)
        };
        let row = NetMargins {
            net,
            driver: driver(extracted, net),
            receivers: on.len(),
            high: side(swing.high, true),
            low: side(swing.low, false),
        };
        notices.extend(told(extracted, &row));
        if row.receivers > 0 {
            found.push(row);
        }
    }
    // To a millivolt: below that the order would be the solver's last digits.
    found.sort_by_key(|row| (row.worst().map_or(i64::MAX, |volts| (volts.0 * 1e3).round() as i64), row.net));
    found
}

/// The transistor that drives a net.
pub(crate) fn driver(extracted: &Extracted, net: NetId) -> Option<PartId> {
    let shape = &extracted.shape;
    shape.drivers(net).find_map(|id| shape.output_transistors(id, net).next())
}

fn strictest(on: &[Receiver], level: Volts, worst: AtCorners, high: bool) -> Option<Margin> {
    let sign = if high { 1.0 } else { -1.0 };
    let margins = on.iter().map(|receiver| {
        let wanted = if high { receiver.high } else { receiver.low };
        let left = |k: &usize| sign * (worst[*k] - wanted.worst[*k]);
        let k = (0..worst.len()).min_by(|a, b| left(a).total_cmp(&left(b))).unwrap_or(0);
        Margin {
            level,
            level_worst: Volts(worst[k]),
            wanted: wanted.typical,
            wanted_worst: Volts(wanted.worst[k]),
            receiver: receiver.part,
            typical: (level - wanted.typical) * sign,
            worst: Volts(left(&k)),
        }
    });
    margins.min_by(|a, b| a.worst.0.total_cmp(&b.worst.0))
}

/// What a margin must keep at the worst corner.
pub(crate) const KEPT: Volts = Volts(0.0);

fn told(extracted: &Extracted, row: &NetMargins) -> Option<Notice> {
    let board = extracted.shape.board;
    let reference = |part: PartId| board.parts[part].reference.as_str();
    let (margin, what) = match (row.high, row.low) {
        (Some(high), _) if high.worst < KEPT => (high, "high"),
        (_, Some(low)) if low.worst < KEPT => (low, "low"),
        _ => return None,
    };
    let name = &board.nets[row.net].name;
    let by = row.driver.map_or(String::new(), |part| format!(" from {}", reference(part)));
    let text = format!(
        "`{name}`{by} feeds {} stages: its {what} is {:.2} V, {:.2} V at worst, and {} wants {:.2} V, {:.2} V at worst",
        row.receivers,
        margin.level.0,
        margin.level_worst.0,
        reference(margin.receiver),
        margin.wanted.0,
        margin.wanted_worst.0,
    );
    let mend = match what {
        "high" => "take loads off it, or put a buffer behind it",
        _ => "lower the base resistor of what pulls it low, or raise its collector resistor",
    };
    let about = row.driver.map_or(Entity::Net(row.net), Entity::Part);
    Some(Notice::warning("margin", about, text, mend))
}
