//! A certificate held against the board: is the region whole, is every row there, do the currents add up, and does
//! every level keep its side?

use super::region::Region;
use super::{Certificate, Confirmed, Edge, Objection, Place, Stand};
use crate::Fault;
use crate::lanes::Drive;
use dryjoint_board::{Access, NetId, PartId, PartKind, PinId};
use dryjoint_logic::{ClusterId, Extracted, Function, Level, SignalId, StageId, Thresholds};
use dryjoint_units::{Amps, Volts};
use std::collections::BTreeSet;

/// So far from its threshold a level must lie, volts: far more than the missing currents that are borne can move
/// it.
const CLEAR: f64 = 1e-3;
/// The same for a lamp's current, amps.
const CLEAR_LAMP: f64 = 1e-6;

/// Whether a certificate holds. Errs with the first thing that does not.
pub fn recheck(extracted: &Extracted, certificate: &Certificate) -> Result<Confirmed, Objection> {
    let checker = Checker { extracted, certificate };
    checker.fault_is_inside()?;
    let wanted = checker.all_ways()?;
    checker.region_is_whole()?;
    if certificate.rows.len() != wanted {
        return Err(Objection::Rows(certificate.rows.len(), wanted));
    }
    let lifted = checker.lifted();
    let mut found = Confirmed { rows: wanted, nodes: 0, missing: Amps(0.0), nearest: None, alone: true };
    for row in 0..wanted {
        let good = Region::new(extracted, certificate, &lifted, row, false);
        let bad = Region::new(extracted, certificate, &lifted, row, true);
        for region in [&good, &bad] {
            let (missing, nodes) = region.add_up()?;
            found.missing = Amps(found.missing.0.max(missing));
            found.nodes = found.nodes.max(nodes);
            found.alone &= region.is_alone();
        }
        checker.sides(row, &good, &bad, &mut found)?;
        checker.lamps(row, &good, &bad)?;
    }
    Ok(found)
}

struct Checker<'c, 'e, 'b> {
    extracted: &'e Extracted<'b>,
    certificate: &'c Certificate,
}

impl Checker<'_, '_, '_> {
    fn in_core(&self, part: PartId) -> bool {
        let cluster = self.extracted.shape.clusters.of_part[part];
        cluster.is_some_and(|id| self.certificate.core.contains(&id))
    }

    fn is_outside(&self, stage: StageId) -> Option<ClusterId> {
        self.extracted.cluster_of[stage].filter(|id| !self.certificate.core.contains(id))
    }

    /// What is faulty is among the parts, or joins nets that have voltages.
    fn fault_is_inside(&self) -> Result<(), Objection> {
        let board = self.extracted.shape.board;
        let Some(fault) = self.certificate.fault else {
            // A hand cut off a signal matters to whoever reads it.
            return match self.readers().is_empty() && self.certificate.cut_off.is_some() {
                true => Ok(()),
                false => Err(Objection::NotBuiltIn),
            };
        };
        let part = match fault {
            Fault::Bridge(..) | Fault::RailShort(..) => return Ok(()),
            Fault::JointOpen(pin) => board.pins[pin].part,
            Fault::Missing(part) | Fault::Reversed(part) | Fault::Dead(part) => part,
            Fault::WrongValue(part, _) | Fault::Leads(part, _) | Fault::WrongType(part) => part,
            Fault::Shifted(..) => return Err(Objection::NotBuiltIn),
        };
        if self.certificate.parts.contains(&part) { Ok(()) } else { Err(Objection::NotBuiltIn) }
    }

    /// Whether the edges list every way of driving each signal, each with a stand-in that does it; how many
    /// combinations there are.
    fn all_ways(&self) -> Result<usize, Objection> {
        let mut rows: usize = 1;
        for &net in &self.certificate.signals {
            let signal = self.extracted.signal_of[net].ok_or(Objection::Drives(net))?;
            let edges = || self.certificate.edges.iter().filter(|edge| edge.net == net);
            let listed = |bench: bool| edges().filter(move |edge| edge.bench == bench);
            let hands = if self.certificate.cut_off == Some(net) { Vec::new() } else { self.hands(signal) };
            let stages = self.driven(signal);
            for (bench, wanted) in [(true, hands.len()), (false, stages.len())] {
                // Nobody is a way too: of a hand always, of stages where the list says so.
                let ways = listed(bench).map(|edge| edge.ways.len() - 1).collect::<Vec<_>>();
                if ways.len() > 1 || ways.first().copied().unwrap_or(0) != wanted {
                    return Err(Objection::Drives(net));
                }
            }
            let drive = |edge: &Edge, drive: Drive| edge.ways.iter().any(|(way, _)| *way == drive);
            let hands = hands.iter().all(|&hand| listed(true).any(|edge| drive(edge, hand)));
            let stages = stages.iter().all(|(cluster, row)| {
                let here = |stand: &Stand| matches!(stand, Stand::Copy(id, inputs) if id == cluster && inputs == row);
                listed(false).any(|edge| edge.ways.iter().any(|(_, stand)| here(stand)))
            });
            if !hands || !stages || edges().any(|edge| !drive(edge, Drive::Free)) {
                return Err(Objection::Drives(net));
            }
            for edge in edges() {
                if !edge.ways.iter().all(|(drive, stand)| self.stands_for(signal, edge.bench, stand, *drive))
                {
                    return Err(Objection::StandIn(net));
                }
                rows = rows.saturating_mul(edge.ways.len());
            }
        }
        Ok(rows)
    }

    /// Every row in which a stage outside the core drives a signal: its cluster, and its inputs at their levels.
    fn driven(&self, signal: SignalId) -> Vec<(ClusterId, Vec<(NetId, Volts)>)> {
        let logic = &self.extracted.logic;
        let mut driven = Vec::new();
        for (id, stage) in logic.stages.iter().filter(|(_, stage)| stage.output == signal) {
            let (Some(cluster), Function::Found(rows)) = (self.is_outside(id), &stage.function) else {
                continue;
            };
            for (row, _) in rows.iter().enumerate().filter(|(_, level)| drive_of(**level).is_some()) {
                let nets = stage.inputs.iter().map(|&input| logic.signals[input].net);
                let inputs = nets.enumerate().filter_map(|(bit, net)| {
                    let levels = &self.extracted.levels[net?];
                    Some((net?, if row >> bit & 1 == 1 { levels.high } else { levels.low }))
                });
                driven.push((cluster, inputs.collect()));
            }
        }
        driven
    }

    /// What jumpers, switches and clocks put on a signal.
    fn hands(&self, signal: SignalId) -> Vec<Drive> {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let here = |net: NetId| self.extracted.signal_of[net] == Some(signal);
        let mut hands = BTreeSet::new();
        for (_, line) in board.lines.iter().filter(|(_, line)| here(line.net)) {
            let high = match line.access {
                Access::TieLow => false,
                Access::TieHigh => true,
                Access::Contact(switch) => {
                    let mut nets = board.parts[switch].pins.iter().map(|&pin| board.pins[pin].net);
                    nets.any(|net| {
                        matches!(board.nets[net].supply, Some(dryjoint_board::Supply::Rail { .. }))
                    })
                }
            };
            hands.insert(if high { Drive::High } else { Drive::Low });
        }
        if self.is_clocked(signal) {
            hands = BTreeSet::from([Drive::Low, Drive::High]);
        }
        hands.into_iter().collect()
    }

    fn is_clocked(&self, signal: SignalId) -> bool {
        let clocks = self.extracted.shape.board.clocks.rows().iter();
        let mut nets = clocks.flat_map(|clock| [Some(clock.net), clock.complement]).flatten();
        nets.any(|net| self.extracted.signal_of[net] == Some(signal))
    }

    /// Whether a stand-in does what it stands for: a jumper the right way, or a stage outside the core with inputs
    /// at levels for which its function says so.
    fn stands_for(&self, signal: SignalId, bench: bool, stand: &Stand, drive: Drive) -> bool {
        let high = drive == Drive::High;
        let by_hand = |to: bool| bench && drive != Drive::Free && to == high;
        match stand {
            Stand::Nobody => drive == Drive::Free,
            Stand::Hand(to) => by_hand(*to) && !self.is_clocked(signal),
            Stand::Clock(to) => by_hand(*to) && self.is_clocked(signal),
            Stand::Copy(cluster, inputs) => self.extracted.logic.stages.iter().any(|(id, stage)| {
                let Function::Found(rows) = &stage.function else { return false };
                let row = stage.inputs.iter().enumerate().try_fold(0usize, |row, (bit, &input)| {
                    let net = self.extracted.logic.signals[input].net?;
                    let &(_, volts) = inputs.iter().find(|(at, _)| *at == net)?;
                    let levels = &self.extracted.levels[net];
                    (levels.low == volts || levels.high == volts)
                        .then_some(row | usize::from(levels.high == volts) << bit)
                });
                stage.output == signal
                    && !bench
                    && self.is_outside(id) == Some(*cluster)
                    && row.and_then(|row| drive_of(rows[row])) == Some(drive)
            }),
        }
    }

    /// Whether no part is left out that is soldered to a signal of the region, or hangs on one without another signal
    /// or a rail in between; and whether what is held at the edge stands low there.
    fn region_is_whole(&self) -> Result<(), Objection> {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let signals = |net: NetId| self.extracted.signal_of[net];
        let ours: BTreeSet<SignalId> =
            self.certificate.signals.iter().filter_map(|&net| signals(net)).collect();
        let mut seen: BTreeSet<NetId> =
            board.nets.ids().filter(|&net| signals(net).is_some_and(|at| ours.contains(&at))).collect();
        let core = board.parts.ids().filter(|&part| self.in_core(part));
        let touched = core.flat_map(|part| &board.parts[part].pins).map(|&pin| board.pins[pin].net);
        seen.extend(touched.filter(|&net| signals(net).is_none() && board.nets[net].supply.is_none()));
        let mut open: Vec<NetId> = seen.iter().copied().collect();
        let mut edge = BTreeSet::new();
        while let Some(net) = open.pop() {
            for part in board.nets[net].pins.iter().map(|&pin| board.pins[pin].part) {
                if !self.acts(part) {
                    continue;
                }
                if !self.certificate.parts.contains(&part) {
                    return Err(Objection::LeftOut(part));
                }
                for other in board.parts[part].pins.iter().map(|&pin| board.pins[pin].net) {
                    match signals(other) {
                        _ if board.nets[other].supply.is_some() => {}
                        Some(signal) if !ours.contains(&signal) => {
                            edge.insert(other);
                        }
                        _ if seen.insert(other) => open.push(other),
                        _ => {}
                    }
                }
            }
        }
        // Without it nothing was asked about the fault: an empty region agrees with itself.
        let mut nets = self.certificate.fault.map_or(Vec::new(), |fault| fault.nets(board));
        nets.retain(|&net| board.nets[net].supply.is_none());
        let there = |net: &NetId| seen.contains(net) || edge.contains(net);
        let inside = nets.is_empty() || nets.iter().all(there) && nets.iter().any(|net| seen.contains(net));
        if !inside {
            return Err(Objection::NotBuiltIn);
        }
        edge.into_iter().try_for_each(|net| self.edge_is_held_or_pulled(net))
    }

    /// A signal at the edge is held at its low level, or everything between it and a rail is there.
    fn edge_is_held_or_pulled(&self, net: NetId) -> Result<(), Objection> {
        let board = self.extracted.shape.board;
        let at = self.extracted.shape.nodes.first(net);
        if let Some(&(_, volts)) = self.certificate.held.iter().find(|(held, _)| *held == at) {
            let low = volts == self.extracted.levels[at].low;
            return if low { Ok(()) } else { Err(Objection::Held(Place::Net(at))) };
        }
        for part in board.nets[net].pins.iter().map(|&pin| board.pins[pin].part) {
            let ends = board.parts[part].pins.iter().map(|&pin| board.pins[pin].net);
            let pulls = matches!(board.parts[part].kind, PartKind::Resistor { .. })
                && ends.clone().any(|net| board.nets[net].supply.is_some());
            if pulls && self.acts(part) && !self.certificate.parts.contains(&part) {
                return Err(Objection::LeftOut(part));
            }
        }
        Ok(())
    }

    /// Whether direct current flows through a part that no hand moves, and that is not behind a clock source.
    fn acts(&self, part: PartId) -> bool {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let source = shape.clusters.of_part[part].is_some_and(|id| shape.clusters.rows[id].is_source);
        match board.parts[part].kind {
            PartKind::Header | PartKind::TestPoint | PartKind::Capacitor { .. } => false,
            PartKind::Button | PartKind::Toggle | PartKind::Selector => {
                let nets = board.parts[part].pins.iter().map(|&pin| board.pins[pin].net);
                !source && nets.clone().all(|net| board.nets[net].supply.is_none())
            }
            _ => !source,
        }
    }

    /// The outputs of drivers outside the core: stand-ins speak for them.
    fn lifted(&self) -> BTreeSet<PinId> {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let mut lifted = BTreeSet::new();
        for &part in self.certificate.parts.iter().filter(|&&part| !self.in_core(part)) {
            let Some(cluster) = shape.clusters.of_part[part] else { continue };
            let PartKind::Bipolar(_) = board.parts[part].kind else { continue };
            let pins = &board.parts[part].pins;
            let at = |pin: PinId| shape.nodes.first(board.pins[pin].net);
            let drives = &shape.clusters.rows[cluster].drives;
            let outputs: Vec<NetId> = [pins[0], pins[2]]
                .map(at)
                .into_iter()
                .filter(|net| drives.contains(net) && self.certificate.signals.contains(net))
                .collect();
            lifted.extend(pins.iter().copied().filter(|&pin| outputs.contains(&at(pin))));
        }
        lifted
    }

    /// Every input outside the core that reads a signal of the region, with its thresholds.
    fn readers(&self) -> Vec<(NetId, Thresholds)> {
        let Self { extracted, certificate } = self;
        let mut readers = Vec::new();
        for (id, stage) in extracted.logic.stages.iter() {
            let Some(cluster) = self.is_outside(id) else { continue };
            for &input in &stage.inputs {
                let net = extracted.logic.signals[input].net.filter(|net| certificate.signals.contains(net));
                let Some(net) = net else { continue };
                let reads = &extracted.shape.clusters.rows[cluster].reads;
                let own = reads.iter().position(|&read| read == net);
                let own = own.and_then(|at| extracted.switching[cluster].get(at).copied().flatten());
                // Who has no switching point of his own is taken to want what everyone there wants.
                readers.push((net, own.unwrap_or(extracted.levels[net].thresholds)));
            }
        }
        readers
    }

    /// Whether every reader reads plainly, and the same on both boards.
    fn sides(&self, row: usize, good: &Region, bad: &Region, found: &mut Confirmed) -> Result<(), Objection> {
        for (net, points) in self.readers() {
            let [a, b] = [good.volts(Place::Net(net))?, bad.volts(Place::Net(net))?];
            let side = |volts: f64| match volts {
                _ if volts <= points.low.0 - CLEAR => Some(false),
                _ if volts >= points.high.0 + CLEAR => Some(true),
                _ => None,
            };
            if side(a) != side(b) || side(a).is_none() {
                return Err(Objection::Side(row, net));
            }
            for volts in [a, b] {
                let off = if side(a) == Some(false) { points.low.0 - volts } else { volts - points.high.0 };
                found.nearest = Some(Volts(found.nearest.map_or(off, |least| least.0.min(off))));
            }
        }
        Ok(())
    }

    /// Whether every lamp of the core is lit or dark as on the good board.
    fn lamps(&self, row: usize, good: &Region, bad: &Region) -> Result<(), Objection> {
        for &part in self.certificate.parts.iter().filter(|&&part| self.in_core(part)) {
            let Some(card) = good.looks(part) else { continue };
            let side = |amps: f64| match amps {
                _ if amps >= card.lit_from.0 + CLEAR_LAMP => Some(true),
                _ if amps <= card.dark_below.0 - CLEAR_LAMP => Some(false),
                _ => None,
            };
            let [a, b] = [side(good.lamp(part)?), side(bad.lamp(part)?)];
            if a != b || a.is_none() {
                return Err(Objection::Lamp(row, part));
            }
        }
        Ok(())
    }
}

/// What a stage that puts out a level does to its signal.
fn drive_of(level: Level) -> Option<Drive> {
    match level {
        Level::Zero | Level::WeakZero => Some(Drive::Low),
        Level::One | Level::WeakOne => Some(Drive::High),
        _ => None,
    }
}
