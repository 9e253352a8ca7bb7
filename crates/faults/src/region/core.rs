//! Where a fault sits: the clusters it spoils and the signals they touch.

use super::solve::{Regions, Site};
use super::{Effect, Why, clock, clock_joined, whole};
use crate::Fault;
use crate::apply::apply;
use crate::lanes::{Behaviour, Drive, Shown};
use crate::proof;
use dryjoint_board::{Board, NetId, PartId, PartKind, PinId};
use dryjoint_circuit::{Network, Solver};
use dryjoint_logic::{ClusterId, Node, Shape};
use dryjoint_survey::{Pulse, pulse_with};

/// The effect of one fault.
pub(super) fn effect(regions: &Regions, fault: &Fault) -> Effect {
    let board = regions.extracted.shape.board;
    if let Some(effect) = clock::effect(regions, fault) {
        return effect;
    }
    match *fault {
        Fault::Shifted(header, way) => whole::shifted(regions, header, way),
        Fault::JointOpen(pin) => joint(regions, fault, pin),
        Fault::Missing(part) | Fault::Reversed(part) | Fault::Dead(part) => part_fault(regions, fault, part),
        Fault::WrongValue(part, _) | Fault::Leads(part, _) | Fault::WrongType(part) => {
            part_fault(regions, fault, part)
        }
        Fault::Bridge(a, b) => joined(regions, fault, board.pins[a].net, board.pins[b].net),
        Fault::RailShort(net, rail) => joined(regions, fault, net, rail),
    }
}

/// An open joint spoils its part's cluster; on a connector or switch it cuts off the hand.
fn joint(regions: &Regions, fault: &Fault, pin: PinId) -> Effect {
    let board = regions.extracted.shape.board;
    let nodes = &regions.extracted.shape.nodes;
    let part = board.pins[pin].part;
    let net = board.pins[pin].net;
    match board.parts[part].kind {
        PartKind::Header if nodes.is_supply(net) => supply_pin(regions, fault, pin),
        PartKind::Header => cut_off(regions, part, net),
        PartKind::TestPoint => Effect::Nothing(Why::LeavesTheBoard),
        PartKind::Button | PartKind::Toggle | PartKind::Selector => {
            let on_rail = nodes.is_supply(net);
            let pins = board.parts[part].pins.iter().map(|&pin| board.pins[pin].net);
            match pins.clone().find(|&other| nodes.kind(other) == Node::Signal) {
                // An open joint at the rail's side cuts off every contact of the switch.
                Some(other) if on_rail && pins.clone().count() == 2 => cut_off(regions, part, other),
                Some(_) if !on_rail && nodes.kind(net) == Node::Signal => cut_off(regions, part, net),
                _ => part_fault(regions, fault, part),
            }
        }
        _ => part_fault(regions, fault, part),
    }
}

/// The hand no longer reaches a signal.
fn cut_off(regions: &Regions, part: PartId, net: NetId) -> Effect {
    let shape = &regions.extracted.shape;
    let at = shape.nodes.first(net);
    let reaches = shape.board.lines.iter().any(|(_, line)| {
        let by_this = match line.access {
            dryjoint_board::Access::Contact(switch) => switch == part,
            _ => shape.board.parts[part].kind == PartKind::Header,
        };
        by_this && shape.nodes.first(line.net) == at
    });
    if !reaches || shape.nodes.kind(net) != Node::Signal {
        return Effect::Nothing(Why::LeavesTheBoard);
    }
    regions.solve(&Site { fault: None, core: Vec::new(), signals: vec![at], cut_off: Some(at) })
}

fn supply_pin(regions: &Regions, fault: &Fault, pin: PinId) -> Effect {
    let board = regions.extracted.shape.board;
    let supply = board.nets[board.pins[pin].net].supply;
    let twice = board.parts.iter().filter(|(_, part)| part.kind == PartKind::Header).any(|(_, part)| {
        part.pins.iter().any(|&other| other != pin && board.nets[board.pins[other].net].supply == supply)
    });
    if twice { Effect::Nothing(Why::SuppliedTwice) } else { whole::solved(regions, fault) }
}

/// A fault of one part spoils the cluster it is in.
fn part_fault(regions: &Regions, fault: &Fault, part: PartId) -> Effect {
    let shape = &regions.extracted.shape;
    match shape.board.parts[part].kind {
        PartKind::Capacitor { .. } => capacitor(regions, fault, part),
        PartKind::Link => link(regions, fault, part),
        _ => match shape.clusters.of_part[part] {
            Some(cluster) if shape.clusters.rows[cluster].is_source => Effect::Undecided(Why::BehindClock),
            Some(_) if lifts_clock(regions, part) => Effect::Undecided(Why::BehindClock),
            Some(cluster) => regions.solve(&Site::of(shape, fault, vec![cluster], &[])),
            None => Effect::Nothing(Why::LeavesTheBoard),
        },
    }
}

/// Whether a part is the resistor that a clock source pulls against.
fn lifts_clock(regions: &Regions, part: PartId) -> bool {
    let shape = &regions.extracted.shape;
    let ends = shape.nodes.ends(shape.board, part);
    matches!(shape.board.parts[part].kind, PartKind::Resistor { .. })
        && ends.iter().any(|&net| shape.nodes.is_supply(net))
        && ends.iter().any(|&net| regions.is_clocked(shape.nodes.first(net)))
}

/// A capacitor carries no direct current: between rails it smooths, elsewhere it times. An electrolytic the wrong way
/// round does carry some, how much is judgement to a decade, and what lamps show then hangs on what the supply gives.
fn capacitor(regions: &Regions, fault: &Fault, part: PartId) -> Effect {
    let shape = &regions.extracted.shape;
    let ends = shape.nodes.ends(shape.board, part);
    if ends.iter().all(|&net| shape.nodes.is_supply(net)) {
        match fault {
            Fault::Reversed(_) => match proof::only_drains(shape.board, fault) {
                Ok(_) => Effect::Changes(whole::left_open(regions)),
                Err(_) => Effect::Undecided(Why::NotConfirmed),
            },
            _ => Effect::Nothing(Why::OnlySmooths),
        }
    } else {
        pulse(regions, fault, part).unwrap_or(Effect::Undecided(Why::Timing))
    }
}

/// What becomes of the pulse that a capacitor makes when power comes on. A board that wakes up without it does so
/// as its latches fall, and that no step takes for known.
fn pulse(regions: &Regions, fault: &Fault, capacitor: PartId) -> Option<Effect> {
    let extracted = regions.extracted;
    let change = &|network: &mut Network| {
        apply(extracted.shape.board, fault, network);
    };
    let twice = |why: Why, gone: bool| match proof::only_times(extracted, fault, gone) {
        Ok(()) => Effect::Nothing(why),
        Err(_) => Effect::Undecided(Why::NotConfirmed),
    };
    let effect = match pulse_with(extracted, capacitor, change, &mut Solver::default())? {
        Pulse::Gone => twice(Why::NoPulse, true),
        Pulse::Ends(_) => twice(Why::KeepsPulse, false),
        Pulse::Stays(nets) => {
            let first =
                nets.into_iter().find_map(|(net, volts)| Some((net, volts, extracted.signal_of[net]?)));
            let Some((net, volts, signal)) = first else { return Some(Effect::Undecided(Why::PulseStays)) };
            // How an electrolytic conducts the wrong way round is judgement to a decade, and the level hangs on it.
            let read = extracted.levels[net].thresholds.read(volts);
            let shown = match read.filter(|_| !matches!(fault, Fault::Reversed(_))) {
                Some(true) => Shown::One,
                Some(false) => Shown::Zero,
                None => Shown::Unknown,
            };
            Effect::Changes(Behaviour::stuck(signal, shown))
        }
    };
    Some(effect)
}

/// A link holds the two halves of a node together; everything on it is spoilt.
fn link(regions: &Regions, fault: &Fault, part: PartId) -> Effect {
    let shape = &regions.extracted.shape;
    let net = shape.nodes.ends(shape.board, part)[0];
    match shape.nodes.kind(net) {
        Node::Signal => {
            let core = shape.touching[net].clone();
            regions.solve(&Site::of(shape, fault, core, &[net]))
        }
        Node::Inside => match owner(shape.board, regions, net) {
            Some(cluster) => regions.solve(&Site::of(shape, fault, vec![cluster], &[])),
            None => Effect::Nothing(Why::LeavesTheBoard),
        },
        Node::Ground | Node::Rail(_) => whole::solved(regions, fault),
    }
}

/// Two nets joined: inner nodes spoil their clusters, signals only themselves, and a gate that feeds itself by that.
fn joined(regions: &Regions, fault: &Fault, a: NetId, b: NetId) -> Effect {
    let shape = &regions.extracted.shape;
    if shape.nodes.is_supply(a) && shape.nodes.is_supply(b) {
        return whole::solved(regions, fault);
    }
    let mut core = Vec::new();
    let mut signals = Vec::new();
    for net in [a, b] {
        match shape.nodes.kind(net) {
            Node::Signal => signals.push(shape.nodes.first(net)),
            Node::Inside => core.extend(owner(shape.board, regions, net)),
            Node::Ground | Node::Rail(_) => {}
        }
    }
    core.extend(fed_by_itself(shape, &signals));
    core.sort_unstable();
    core.dedup();
    if core.iter().any(|&cluster| shape.clusters.rows[cluster].is_source) {
        return Effect::Undecided(Why::BehindClock);
    }
    // A signal that only the oscillator knows is part of it.
    let hidden = |net: &NetId| {
        let all = &shape.touching[*net];
        !all.is_empty() && all.iter().all(|&id| shape.clusters.rows[id].is_source)
    };
    if signals.iter().any(hidden) {
        return Effect::Undecided(Why::BehindClock);
    }
    // Solder to a pin with nothing behind it leads nowhere.
    let is_bare =
        |net: NetId| shape.nodes.kind(net) == Node::Inside && owner(shape.board, regions, net).is_none();
    if is_bare(a) || is_bare(b) {
        return Effect::Nothing(Why::LeavesTheBoard);
    }
    let site = Site::of(shape, fault, core, &signals);
    let effect = match clock_joined::effect(regions, &site, &signals) {
        // That nothing changes is proven of the region as of any other.
        None | Some(Effect::Nothing(_)) => regions.solve(&site),
        Some(effect) => effect,
    };
    match (signals.as_slice(), [a, b].into_iter().find(|&net| shape.nodes.is_supply(net))) {
        (&[signal], Some(supply)) => with_blackout(regions, fault, signal, supply, effect),
        _ => effect,
    }
}

/// The gates that read one of some joined signals and drive one: each feeds itself and stands wherever its input and its
/// output are the same, which no row of its function has.
fn fed_by_itself(shape: &Shape, joined: &[NetId]) -> Vec<ClusterId> {
    let touching = joined.iter().flat_map(|&net| &shape.touching[net]).copied();
    let is_fed = |id: &ClusterId| {
        let cluster = &shape.clusters.rows[*id];
        let among = |nets: &[NetId]| nets.iter().any(|net| joined.contains(net));
        !cluster.is_source && among(&cluster.reads) && among(&cluster.drives)
    };
    touching.filter(is_fed).collect()
}

/// A line joined with the supply: a jumper to the other lead shorts it.
fn with_blackout(regions: &Regions, fault: &Fault, net: NetId, supply: NetId, effect: Effect) -> Effect {
    let shape = &regions.extracted.shape;
    let on_rail = matches!(shape.nodes.kind(supply), Node::Rail(_));
    let opposite = if on_rail { Drive::Low } else { Drive::High };
    let tied = shape.board.lines.iter().any(|(_, line)| shape.nodes.first(line.net) == net);
    if !tied || !regions.hands(net).contains(&opposite) || !regions.is_blackout(net, fault, !on_rail) {
        return effect;
    }
    let blackout = regions.extracted.signal_of[net];
    match effect {
        Effect::Changes(behaviour) => Effect::Changes(Behaviour { blackout, ..behaviour }),
        Effect::Nothing(Why::LevelsStay) => Effect::Changes(Behaviour { blackout, ..Behaviour::default() }),
        other => other,
    }
}

/// The cluster an inner node belongs to.
fn owner(board: &Board, regions: &Regions, net: NetId) -> Option<ClusterId> {
    let shape = &regions.extracted.shape;
    shape.nodes.pins(board, net).find_map(|pin| shape.clusters.of_part[board.pins[pin].part])
}
