//! The character of every stage: what it puts on its signals for each combination of its inputs.
//!
//! Levels and functions lean on each other: how high a high is depends on its loads, and what a
//! stage does depends on how high its inputs are. So both are computed in rounds, from ideal inputs
//! on, until the levels stand still.

use super::clusters::ClusterId;
use super::patch::Shape;
use super::respond::Bench;
use super::switching::{Switching, switching};
use super::thresholds::{Thresholds, thresholds};
use crate::Level;
use dryjoint_board::{Entity, NetId, Notice, PartId, Severity};
use dryjoint_ids::Side;
use dryjoint_parts::Glow;
use dryjoint_units::Volts;

/// Inputs a stage may have; its table has two to that power rows.
pub const MOST_INPUTS: usize = 10;

/// A stage contributes nothing when the signal stays this close to where it rests without it.
const STILL: Volts = Volts(0.02);

/// Rounds after which the levels must stand still; each halves what is left many times over.
const ROUNDS: usize = 6;

/// The electrical side of one signal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SignalLevels {
    /// Its lowest high, under load.
    pub high: Volts,
    /// Its highest low.
    pub low: Volts,
    /// How its receivers read it.
    pub thresholds: Thresholds,
    /// What it is when nobody drives it.
    pub rest: Level,
}

impl SignalLevels {
    /// A voltage read as logic by this signal's receivers.
    pub fn read(&self, volts: Volts) -> Option<bool> {
        self.thresholds.read(volts)
    }

    /// The voltage at which it carries a value.
    pub fn volts(&self, value: bool) -> Volts {
        if value { self.high } else { self.low }
    }
}

/// One found function: which cluster puts what where.
#[derive(Clone, Debug, PartialEq)]
pub struct Character {
    /// The cluster.
    pub cluster: ClusterId,
    /// The signals it reads, input 0 the least bit of a row.
    pub inputs: Vec<NetId>,
    /// Where it puts it.
    pub output: Output,
    /// The contribution for each row.
    pub rows: Vec<Level>,
}

/// Where a stage puts what it makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Output {
    /// On a signal.
    Signal(NetId),
    /// Into a lamp.
    Lamp(PartId),
}

/// Everything characterised.
#[derive(Clone, Debug)]
pub struct Characters {
    /// Levels of each signal node; nodes that are no signal have the defaults.
    pub levels: Side<NetId, SignalLevels>,
    /// The found functions, cluster by cluster.
    pub found: Vec<Character>,
    /// Where each input really switches.
    pub switching: Switching,
}

/// Characterises every cluster of the board.
pub fn characterise(bench: &Bench) -> (Characters, Vec<Notice>) {
    let shape = bench.shape;
    let rail = shape.rail;
    let signals: Vec<NetId> = shape
        .board
        .nets
        .ids()
        .filter(|&net| shape.nodes.first(net) == net && shape.nodes.kind(net) == super::nodes::Node::Signal)
        .collect();
    let levels = read_thresholds(bench, &signals, rail);
    let none = Side::filled(&shape.clusters.rows, Vec::new());
    let mut characters = Characters { levels, found: Vec::new(), switching: none };
    let mut notices = Vec::new();
    for round in 0..ROUNDS {
        notices.clear();
        let before = characters.levels.clone();
        rest_levels(bench, &signals, &mut characters.levels);
        characters.found = functions(bench, &characters.levels, &mut notices);
        settle_levels(bench, &signals, &mut characters);
        let moved = signals.iter().map(|&net| {
            let (a, b) = (&before[net], &characters.levels[net]);
            (a.high - b.high).0.abs().max((a.low - b.low).0.abs())
        });
        if round > 0 && moved.fold(0.0, f64::max) < 1e-3 {
            break;
        }
    }
    characters.switching = switching(bench, &characters.levels);
    for net in signals {
        unclear_level(shape, net, &characters.levels[net], &mut notices);
    }
    (characters, notices)
}

fn read_thresholds(bench: &Bench, signals: &[NetId], rail: Volts) -> Side<NetId, SignalLevels> {
    let found: Vec<(NetId, Option<Thresholds>)> =
        signals.iter().map(|&net| (net, thresholds(bench, net, Volts(0.05), rail, rail))).collect();
    // A signal that only leaves the board is read by boards of the same make: the strictest of this
    // one's stands for them; on a board without any receiver, the thirds of the rail.
    let least = found.iter().filter_map(|(_, t)| t.map(|t| t.low.0)).fold(f64::INFINITY, f64::min);
    let most = found.iter().filter_map(|(_, t)| t.map(|t| t.high.0)).fold(0.0, f64::max);
    let usual = if least.is_finite() {
        Thresholds { low: Volts(least), high: Volts(most) }
    } else {
        Thresholds { low: rail / 3.0, high: rail * (2.0 / 3.0) }
    };
    let start = SignalLevels { high: rail, low: Volts(0.05), thresholds: usual, rest: Level::Floating };
    let mut levels = Side::filled(&bench.shape.board.nets, start);
    for (net, thresholds) in found {
        levels[net].thresholds = thresholds.unwrap_or(usual);
    }
    levels
}

fn rest_levels(bench: &Bench, signals: &[NetId], levels: &mut Side<NetId, SignalLevels>) {
    let shape = bench.shape;
    for &net in signals {
        let edge = |net: NetId| Some(levels[net].low);
        let rest = if !shape.nodes.reaches_rail(shape.board, net) {
            Level::Floating
        } else {
            match bench.rest(net, &edge).and_then(|volts| levels[net].read(volts)) {
                Some(true) => Level::WeakOne,
                Some(false) => Level::WeakZero,
                None => Level::WeakUnknown,
            }
        };
        levels[net].rest = rest;
    }
}

fn functions(bench: &Bench, levels: &Side<NetId, SignalLevels>, notices: &mut Vec<Notice>) -> Vec<Character> {
    let shape = bench.shape;
    let mut found = Vec::new();
    for (id, cluster) in shape.clusters.rows.iter() {
        if cluster.is_source {
            continue;
        }
        if cluster.reads.len() > MOST_INPUTS {
            notices.push(too_wide(shape, id));
            continue;
        }
        if !shape.passive(id) || !cluster.lamps.is_empty() {
            answers(bench, levels, id, &mut found, notices);
        }
        if shape.is_join(id) {
            joins(bench, levels, id, &mut found, notices);
        }
    }
    found
}

/// The outputs and lamps of one cluster, row by row.
fn answers(
    bench: &Bench,
    levels: &Side<NetId, SignalLevels>,
    id: ClusterId,
    found: &mut Vec<Character>,
    notices: &mut Vec<Notice>,
) {
    let cluster = &bench.shape.clusters.rows[id];
    let edge = |net: NetId| Some(levels[net].low);
    let rests: Vec<Option<Volts>> = cluster.drives.iter().map(|&net| bench.rest(net, &edge)).collect();
    let mut outputs = vec![Vec::new(); cluster.drives.len()];
    let mut lamps = vec![Vec::new(); cluster.lamps.len()];
    for row in 0..1usize << cluster.reads.len() {
        let inputs: Vec<Volts> = cluster
            .reads
            .iter()
            .enumerate()
            .map(|(bit, &net)| levels[net].volts(row >> bit & 1 != 0))
            .collect();
        let answer = bench.respond(id, &inputs, &edge);
        for (k, &net) in cluster.drives.iter().enumerate() {
            let Some(volts) = answer.volts[k] else {
                notices.push(unsolved(bench.shape, id));
                return;
            };
            let still = rests[k].is_some_and(|rest| (volts - rest).abs() < STILL);
            outputs[k].push(if still {
                Level::Floating
            } else {
                levels[net].read(volts).map_or(Level::Unknown, Level::from)
            });
        }
        for (k, glow) in answer.glow.iter().enumerate() {
            lamps[k].push(match glow {
                Some(Glow::Lit) => Level::One,
                Some(Glow::Dark) => Level::Zero,
                Some(Glow::Dim) | None => Level::Unknown,
            });
        }
    }
    let to = |output, rows| Character { cluster: id, inputs: cluster.reads.clone(), output, rows };
    found.extend(cluster.drives.iter().zip(outputs).map(|(&net, rows)| to(Output::Signal(net), rows)));
    found.extend(cluster.lamps.iter().zip(lamps).map(|(&lamp, rows)| to(Output::Lamp(lamp), rows)));
}

/// A passive cluster between signals carries the driven ones to those that nobody drives.
fn joins(
    bench: &Bench,
    levels: &Side<NetId, SignalLevels>,
    id: ClusterId,
    found: &mut Vec<Character>,
    notices: &mut Vec<Notice>,
) {
    let shape = bench.shape;
    let ends = &shape.clusters.rows[id].reads;
    let (from, to): (Vec<NetId>, Vec<NetId>) = ends.iter().partition(|&&net| shape.is_source(net));
    if to.is_empty() && shape.clusters.rows[id].lamps.is_empty() {
        notices.push(fought(shape, id));
        return;
    }
    let edge = |net: NetId| Some(levels[net].low);
    for net in to {
        let rows = (0..1usize << from.len())
            .map(|row| {
                let inputs: Vec<(NetId, Volts)> = from
                    .iter()
                    .enumerate()
                    .map(|(bit, &net)| (net, levels[net].volts(row >> bit & 1 != 0)))
                    .collect();
                match bench.carry(net, &inputs, &edge).and_then(|volts| levels[net].read(volts)) {
                    Some(true) => Level::WeakOne,
                    Some(false) => Level::WeakZero,
                    None => Level::WeakUnknown,
                }
            })
            .collect();
        found.push(Character { cluster: id, inputs: from.clone(), output: Output::Signal(net), rows });
    }
}

/// The lowest high and the highest low that each signal really has.
fn settle_levels(bench: &Bench, signals: &[NetId], characters: &mut Characters) {
    let shape = bench.shape;
    let levels = &characters.levels;
    let edge = |net: NetId| Some(levels[net].low);
    let mut seen: Vec<(NetId, Volts, bool)> = Vec::new();
    for &net in signals {
        if let (Some(volts), Level::WeakOne | Level::WeakZero) = (bench.rest(net, &edge), levels[net].rest) {
            seen.push((net, volts, levels[net].rest == Level::WeakOne));
        }
        if shape.is_set(net) {
            seen.push((net, Volts(0.0), false));
        }
    }
    for character in &characters.found {
        let Output::Signal(net) = character.output else { continue };
        for (row, &level) in character.rows.iter().enumerate() {
            let Some(value) = level.value() else { continue };
            let held: Vec<(NetId, Volts)> = character
                .inputs
                .iter()
                .enumerate()
                .map(|(bit, &net)| (net, levels[net].volts(row >> bit & 1 != 0)))
                .collect();
            let volts = if shape.is_join(character.cluster) {
                bench.carry(net, &held, &edge)
            } else {
                let inputs: Vec<Volts> = held.iter().map(|&(_, volts)| volts).collect();
                let at = shape.clusters.rows[character.cluster].drives.iter().position(|&d| d == net);
                at.and_then(|at| bench.respond(character.cluster, &inputs, &edge).volts[at])
            };
            seen.extend(volts.map(|volts| (net, volts, value)));
        }
    }
    let mut fresh: Side<NetId, (Option<Volts>, Option<Volts>)> =
        Side::filled(&shape.board.nets, (None, None));
    for (net, volts, high) in seen {
        let slot = if high { &mut fresh[net].0 } else { &mut fresh[net].1 };
        *slot =
            Some(slot.map_or(volts, |known| {
                Volts(if high { known.0.min(volts.0) } else { known.0.max(volts.0) })
            }));
    }
    for &net in signals {
        let (high, low) = fresh[net];
        characters.levels[net].high = high.unwrap_or(shape.rail);
        characters.levels[net].low = low.unwrap_or(Volts(0.0));
    }
}

fn unclear_level(shape: &Shape, net: NetId, levels: &SignalLevels, notices: &mut Vec<Notice>) {
    let name = &shape.board.nets[net].name;
    let mut warn = |what: &str, volts: Volts, bound: Volts, side: &str, mend: &str| {
        notices.push(Notice {
            severity: Severity::Warning,
            code: "level-unclear",
            about: Entity::Net(net),
            text: format!("`{name}` {what} stands at {volts}, {side} the {bound} its receivers want"),
            mend: mend.to_owned(),
        });
    };
    if levels.high < levels.thresholds.high {
        let mend = "give it fewer loads, a stronger pull-up or a buffer";
        warn("when high", levels.high, levels.thresholds.high, "below", mend);
    }
    if levels.low > levels.thresholds.low {
        let mend = "check the base resistor and the load of what pulls it low";
        warn("when low", levels.low, levels.thresholds.low, "above", mend);
    }
}

fn first_reference(shape: &Shape, id: ClusterId) -> (PartId, String) {
    let part = shape.clusters.rows[id].parts[0];
    (part, shape.board.parts[part].reference.clone())
}

fn too_wide(shape: &Shape, id: ClusterId) -> Notice {
    let (part, reference) = first_reference(shape, id);
    Notice {
        severity: Severity::Error,
        code: "stage-too-wide",
        about: Entity::Part(part),
        text: format!(
            "the stage of {reference} reads {} signals; at most {MOST_INPUTS} can be followed",
            shape.clusters.rows[id].reads.len()
        ),
        mend: "split it, or look for a net that should be driven and is not".to_owned(),
    }
}

fn unsolved(shape: &Shape, id: ClusterId) -> Notice {
    let (part, reference) = first_reference(shape, id);
    Notice {
        severity: Severity::Error,
        code: "stage-unsolved",
        about: Entity::Part(part),
        text: format!("the circuit around {reference} has no solution that could be found"),
        mend: "check the values of the parts in this stage".to_owned(),
    }
}

fn fought(shape: &Shape, id: ClusterId) -> Notice {
    let (part, reference) = first_reference(shape, id);
    Notice {
        severity: Severity::Warning,
        code: "drivers-joined",
        about: Entity::Part(part),
        text: format!("{reference} joins signals that are each driven already; its effect is not followed"),
        mend: "let one of them be driven only through it".to_owned(),
    }
}
