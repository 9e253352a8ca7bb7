//! What the board does by itself when power comes on: a capacitor against a rail charges, and the stages
//! behind it stand the other way until it has.
//!
//! Found in the parts: a net with a capacitor to one supply and a resistor to the other, slow against any
//! gate. From there the stages that read nothing else are followed; where they feed others, or leave the
//! board, the pulse is measured: how long after power it ends, and whether it ends in one clean edge.

use super::clocks::ends;
use super::cut::{cut, leaves};
use super::wave::Wave;
use dryjoint_board::{Board, Entity, NetId, Notice, PartId, PartKind, Supply};
use dryjoint_circuit::{Action, Event, Network, Pace, Solver};
use dryjoint_logic::{Extracted, Node, SignalId, Stage, StageId};
use dryjoint_units::{Farads, Ohms, Seconds, Volts};

/// A pulse at power-on.
#[derive(Clone, Debug, PartialEq)]
pub struct Reset {
    /// The net that carries it.
    pub net: NetId,
    /// The capacitor that makes it.
    pub capacitor: PartId,
    /// Whether the net is high during the pulse.
    pub high: bool,
    /// From power to its end; nothing where it does not end.
    pub width: Option<Seconds>,
    /// The width of the shortest and the longest copy, by the tolerances of resistors and capacitors.
    pub range: Option<(Seconds, Seconds)>,
    /// How often the net crosses the middle of its receivers' thresholds after power; one is clean.
    pub edges: usize,
    /// How long the edge is between the two thresholds.
    pub slope: Seconds,
    /// The capacitor's net and this one, from power on.
    pub wave: Wave,
    /// Up to where the net's receivers read low, and from where high.
    pub thresholds: (Volts, Volts),
}

/// A rail comes up in this time, seconds (judgement: a bench supply switched on at its output).
const RISE: f64 = 1e-3;
/// A net is slow whose resistor and capacitor make more than this, seconds: a thousand gate delays.
const SLOW: f64 = 200e-6;
/// What is followed, in time constants.
const FOLLOWED: f64 = 6.0;
/// In steps of this share of one at most.
const COARSE: f64 = 1.0 / 300.0;
/// The edge itself is followed from this share of the pulse before its end to as much behind it, in so
/// many steps at least.
const BEFORE: f64 = 0.08;
const FINE: f64 = 1000.0;

/// A slow net.
struct Slow {
    net: NetId,
    capacitor: PartId,
    constant: f64,
    /// Its voltage with the capacitor empty, and where the resistor takes it.
    empty: Volts,
    full: Volts,
}

/// What becomes of a pulse at power-on with something changed.
#[derive(Clone, Debug, PartialEq)]
pub enum Pulse {
    /// It ends after this time.
    Ends(Seconds),
    /// There is none.
    Gone,
    /// It does not end: this is where the capacitor's net stays, and the nets behind it in the order in which they follow each
    /// other.
    Stays(Vec<(NetId, Volts)>),
}

/// The pulse that a capacitor makes, with a change in the board; nothing where it makes none on a good board, or
/// where it cannot be followed.
pub fn pulse_with(
    extracted: &Extracted,
    capacitor: PartId,
    change: &dyn Fn(&mut Network),
    solver: &mut Solver,
) -> Option<Pulse> {
    let slow = slow_nets(extracted).into_iter().find(|slow| slow.capacitor == capacitor)?;
    let chain = chain(extracted, slow.net);
    let nets: Vec<NetId> = chain.iter().filter_map(|&id| extracted.logic.signals[id].net).collect();
    let good = nets.iter().filter(|&&net| ends_chain(extracted, &nets, net)).find_map(|&net| {
        measure(extracted, &slow, &nets, net, solver).filter(|reset| reset.width.is_some())
    })?;
    let mut network = piece(extracted, &slow, &nets);
    change(&mut network);
    let watch: Vec<NetId> = std::iter::once(slow.net).chain(nets.iter().copied()).collect();
    let last = watch.iter().position(|&net| net == good.net)?;
    let wave = power_on(extracted.shape.board, &network, slow.constant * FOLLOWED, &watch, solver)?;
    let middle = extracted.levels[good.net].thresholds.middle().0;
    let end = wave.until();
    if (wave.trace.at(last, end)? > middle) == good.high {
        let stays = watch.iter().enumerate().map(|(at, &net)| Some((net, Volts(wave.trace.at(at, end)?))));
        return Some(Pulse::Stays(stays.collect::<Option<_>>()?));
    }
    let released = wave.crossings(last, middle, !good.high).into_iter().rfind(|at| *at > 2.0 * RISE);
    Some(released.map_or(Pulse::Gone, |at| Pulse::Ends(Seconds(at))))
}

/// The stages on a slow net and behind it.
fn piece(extracted: &Extracted, slow: &Slow, nets: &[NetId]) -> Network {
    let shape = &extracted.shape;
    // What a hand sets is left alone: at power-on nobody touches it.
    let hold = |net: NetId| (!shape.is_set(net)).then(|| extracted.levels[net].low);
    let mut free = nets.to_vec();
    free.push(slow.net);
    cut(extracted, &free, &hold, false)
}

/// Every pulse at power-on, in the order of the capacitors.
pub(crate) fn resets(extracted: &Extracted, solver: &mut Solver, notices: &mut Vec<Notice>) -> Vec<Reset> {
    let mut found = Vec::new();
    for slow in slow_nets(extracted) {
        let chain = chain(extracted, slow.net);
        let nets: Vec<NetId> = chain.iter().filter_map(|&id| extracted.logic.signals[id].net).collect();
        for &net in nets.iter().filter(|&&net| ends_chain(extracted, &nets, net)) {
            let Some(reset) = measure(extracted, &slow, &nets, net, solver) else { continue };
            notices.extend(told(extracted.shape.board, &reset));
            found.push(reset);
        }
    }
    found
}

/// Nets with a capacitor to one supply and a resistor to the other, oscillators left out.
fn slow_nets(extracted: &Extracted) -> Vec<Slow> {
    let shape = &extracted.shape;
    let board = shape.board;
    let sources: Vec<PartId> = super::clocks::source_parts(extracted);
    let mut found = Vec::new();
    for (id, part) in board.parts.iter() {
        let PartKind::Capacitor { farads: Farads(farads), .. } = part.kind else { continue };
        let ends = shape.nodes.ends(board, id);
        let (Some(&supply), Some(&net)) = (
            ends.iter().find(|&&net| shape.nodes.is_supply(net)),
            ends.iter().find(|&&net| !shape.nodes.is_supply(net)),
        ) else {
            continue;
        };
        let on = shape.nodes.pins(board, net).map(|pin| board.pins[pin].part);
        let pull = on.filter(|part| !sources.contains(part)).find_map(|part| match board.parts[part].kind {
            PartKind::Resistor { ohms: Ohms(ohms), .. } => {
                let far = shape.nodes.ends(board, part).into_iter().find(|&far| far != net)?;
                (shape.nodes.is_supply(far) && far != supply).then_some((ohms, far))
            }
            _ => None,
        });
        let Some((ohms, far)) = pull else { continue };
        let constant = ohms * farads;
        let volts = |supply: NetId| match shape.nodes.kind(supply) {
            Node::Rail(volts) => volts,
            _ => Volts(0.0),
        };
        if constant > SLOW {
            found.push(Slow { net, capacitor: id, constant, empty: volts(supply), full: volts(far) });
        }
    }
    found
}

/// The signals that nothing but a slow net moves, in the order in which they follow each other.
fn chain(extracted: &Extracted, slow: NetId) -> Vec<SignalId> {
    let shape = &extracted.shape;
    let logic = &extracted.logic;
    let holds_slow = |stage: &Stage, id: StageId| {
        let inside = extracted.cluster_of[id].is_some_and(|cluster| {
            let parts = &shape.clusters.rows[cluster].parts;
            parts.iter().any(|&part| shape.nodes.ends(shape.board, part).contains(&slow))
        });
        inside && !stage.inputs.is_empty() || stage.inputs.iter().any(|&s| logic.signals[s].net == Some(slow))
    };
    let set = |signal: SignalId| logic.signals[signal].net.is_some_and(|net| shape.is_set(net));
    let mut found: Vec<SignalId> = Vec::new();
    loop {
        let next = logic.stages.iter().find(|(id, stage)| {
            let follows = stage.inputs.iter().all(|&input| found.contains(&input) || set(input));
            let moved = stage.inputs.iter().any(|input| found.contains(input));
            let first = holds_slow(stage, *id) && stage.inputs.iter().all(|&input| set(input));
            let fresh = !found.contains(&stage.output) && logic.signals[stage.output].net.is_some();
            fresh && (first || follows && moved)
        });
        match next {
            Some((_, stage)) => found.push(stage.output),
            None => return found,
        }
    }
}

/// Whether a net of the chain feeds a stage outside it that drives a net, or leaves the board.
fn ends_chain(extracted: &Extracted, nets: &[NetId], net: NetId) -> bool {
    let logic = &extracted.logic;
    let reads = |stage: &Stage| stage.inputs.iter().any(|&input| logic.signals[input].net == Some(net));
    let outside = |stage: &Stage| logic.signals[stage.output].net.is_some_and(|out| !nets.contains(&out));
    leaves(extracted.shape.board, net) || logic.stages.iter().any(|(_, s)| reads(s) && outside(s))
}

fn measure(
    extracted: &Extracted,
    slow: &Slow,
    nets: &[NetId],
    net: NetId,
    solver: &mut Solver,
) -> Option<Reset> {
    let shape = &extracted.shape;
    let board = shape.board;
    let network = piece(extracted, slow, nets);
    let thresholds = extracted.levels[net].thresholds;
    let middle = thresholds.middle().0;
    let watch = [slow.net, net];
    let wave = power_on(board, &network, slow.constant * FOLLOWED, &watch, solver)?;
    // Where it stands as long as the capacitor is empty; with it full it must stand the other way.
    let mut forced = |volts: Volts| {
        let mut network = network.clone();
        network.force(slow.net, volts);
        let solution = solver.solve(&network).ok()?;
        solution.at(&network, net).map(|volts| volts.0 > middle)
    };
    let high = forced(slow.empty)?;
    if forced(slow.full)? == high {
        return None;
    }
    let releases = wave.crossings(1, middle, !high);
    let releases: Vec<f64> = releases.into_iter().filter(|at| *at > RISE).collect();
    let backs = wave.crossings(1, middle, high).into_iter().filter(|at| *at > RISE).count();
    let width = releases.last().map(|at| Seconds(*at));
    let copy = |upper: bool, solver: &mut Solver| {
        let network = network.varied(&ends(board, &network, upper));
        let wave = power_on(board, &network, slow.constant * FOLLOWED * 1.3, &watch, solver)?;
        wave.crossings(1, middle, !high).last().map(|at| Seconds(*at))
    };
    let range = copy(false, solver).zip(copy(true, solver));
    let end = width.map_or(wave.until(), |width| width.0);
    let ends_at =
        if high { (thresholds.high.0, thresholds.low.0) } else { (thresholds.low.0, thresholds.high.0) };
    let slope = width.and_then(|width| slope(&network, &wave, width.0, ends_at, !high, solver));
    Some(Reset {
        net,
        capacitor: slow.capacitor,
        high,
        width,
        range,
        edges: releases.len() + backs,
        slope: slope.unwrap_or_default(),
        wave: wave.between(0.0, (2.0 * end).min(wave.until())),
        thresholds: (thresholds.low, thresholds.high),
    })
}

/// How long the edge is from one threshold to the other: followed once more, finely, from shortly before
/// it, where everything but the slow net is at rest.
fn slope(
    network: &Network,
    wave: &Wave,
    width: f64,
    (from, to): (f64, f64),
    upwards: bool,
    solver: &mut Solver,
) -> Option<Seconds> {
    let start = width * (1.0 - BEFORE);
    let mut held = network.clone();
    let slow = *wave.nets.first()?;
    held.force(slow, Volts(wave.trace.at(0, start)?));
    let before = solver.solve(&held).ok()?;
    let events = [Event { at: Seconds(0.0), action: Action::LetGo(slow.into()) }];
    let until = Seconds(2.0 * BEFORE * width);
    let pace = Pace { longest: until / FINE, ..Pace::default() };
    let spot = [(*wave.nets.last()?).into()];
    let trace = solver.transient(&held, Some(&before), &events, until, &spot, pace).ok()?;
    let ends = trace.crossing(0, to, upwards, 0.0)?;
    // The last time before that it left the other threshold.
    let mut begins = trace.crossing(0, from, upwards, 0.0)?;
    while let Some(again) = trace.crossing(0, from, upwards, begins).filter(|again| *again < ends) {
        begins = again;
    }
    Some(Seconds(ends - begins))
}

/// The rails come up in a straight line, everything empty before.
fn power_on(
    board: &Board,
    network: &Network,
    until: f64,
    nets: &[NetId],
    solver: &mut Solver,
) -> Option<Wave> {
    let rails = board.nets.iter().filter_map(|(net, row)| match row.supply {
        Some(Supply::Rail { volts, .. }) => Some((net, volts)),
        _ => None,
    });
    let events: Vec<Event> = rails
        .map(|(net, to)| Event {
            at: Seconds(0.0),
            action: Action::Drive { spot: net.into(), to, over: Seconds(RISE) },
        })
        .collect();
    let pace = Pace { longest: Seconds(until / FOLLOWED * COARSE), ..Pace::default() };
    Wave::record(network, &events, Seconds(until), nets, pace, solver)
}

fn told(board: &Board, reset: &Reset) -> Option<Notice> {
    let name = &board.nets[reset.net].name;
    let capacitor = &board.parts[reset.capacitor].reference;
    let about = Entity::Part(reset.capacitor);
    let warn = |text: String, mend: &str| Some(Notice::warning("reset", about, text, mend));
    match reset.width {
        None => warn(
            format!("`{name}` is never released after power-on: {capacitor} does not charge far enough"),
            "lower the resistor that charges it, or what drains it",
        ),
        Some(width) if reset.edges > 1 => warn(
            format!("`{name}` is released at power-on in {} edges, the last after {width}", reset.edges),
            "put a crossed pair of gates behind the capacitor",
        ),
        Some(_) => None,
    }
}
