//! What a stage with a coupling capacitor does on an edge, from the transient circuit.
//!
//! For each combination of its other inputs the signal behind the capacitor is taken up and down, once
//! steeply and once slowly, and the stage's output is watched until the capacitor has settled. Either the
//! output does not leave its level, or it stands at the other one for a while and comes back: a pulse. What is
//! neither, or differs with the steepness, is refused by name. Every edge finds the capacitors at rest: how soon the
//! next may come is not asked here.

use super::characters::SignalLevels;
use super::clusters::ClusterId;
use super::coupling::{Coupling, refused};
use super::patch::{Patch, Shape};
use crate::Level;
use dryjoint_board::{NetId, Notice, PartId, PartKind};
use dryjoint_circuit::{Action, Event, Pace, Solver, Spot};
use dryjoint_ids::Side;
use dryjoint_units::{Farads, Ohms, Seconds, Volts};
use std::collections::BTreeSet;

/// A stage's answer to the edges of one signal.
#[derive(Clone, Debug, PartialEq)]
pub struct Answered {
    /// The stage.
    pub cluster: ClusterId,
    /// The signal whose edges it heeds.
    pub trigger: NetId,
    /// Where the pulse appears.
    pub output: NetId,
    /// What the stage puts there for a while, for each combination of its inputs in the order of its
    /// `reads`: when the trigger falls, and when it rises. Nothing where it stays as it is.
    pub rows: Vec<[Option<Level>; 2]>,
}

/// Edges as steep as a hand's jumper, and as slow as a loaded gate's (docs/outside-values.md: 0.2 µs from
/// middle to middle), seconds.
const SLOPES: [f64; 2] = [20e-9, 500e-9];
/// A pulse lasts at least this long, so that a pair of gates behind it turns over whatever its loads
/// (docs/outside-values.md: a flip-flop is right down to a cycle of 2.5 µs).
const LEAST: f64 = 1.25e-6;
/// The watch goes on for so many time constants.
const CONSTANTS: f64 = 8.0;
/// And never for less than the output's own way back takes, seconds.
const SHORTEST: f64 = 20e-6;

/// The answer of every stage that has a coupling.
pub(super) fn answers(
    shape: &Shape,
    levels: &Side<NetId, SignalLevels>,
    couplings: &[Coupling],
) -> (Vec<Answered>, Vec<Notice>) {
    let (mut found, mut notices) = (Vec::new(), Vec::new());
    let mut solver = Solver::default();
    let pairs: BTreeSet<(ClusterId, NetId)> = couplings.iter().map(|one| (one.cluster, one.from)).collect();
    for (cluster, trigger) in pairs {
        let stage = Stage { shape, levels, couplings, cluster, trigger };
        match stage.answers(&mut solver) {
            Ok(answers) => found.extend(answers),
            Err(why) => {
                let of = |one: &&Coupling| (one.cluster, one.from) == (cluster, trigger);
                let capacitors = couplings.iter().filter(of);
                notices.extend(capacitors.map(|one| refused(shape.board, &shape.nodes, one.capacitor, why)));
            }
        }
    }
    (found, notices)
}

/// One stage and one signal whose edges it heeds.
struct Stage<'a, 'b> {
    shape: &'a Shape<'b>,
    levels: &'a Side<NetId, SignalLevels>,
    couplings: &'a [Coupling],
    cluster: ClusterId,
    trigger: NetId,
}

impl Stage<'_, '_> {
    fn answers(&self, solver: &mut Solver) -> Result<Vec<Answered>, &'static str> {
        let cluster = &self.shape.clusters.rows[self.cluster];
        let mut found: Vec<Answered> = cluster
            .drives
            .iter()
            .map(|&output| Answered {
                cluster: self.cluster,
                trigger: self.trigger,
                output,
                rows: Vec::new(),
            })
            .collect();
        for row in 0..1usize << cluster.reads.len() {
            let mut both = vec![[None; 2]; found.len()];
            for rises in [false, true] {
                let [steep, slow] = SLOPES.map(|slope| self.edge(row, rises, slope, solver));
                let (steep, slow) = (steep?, slow?);
                if steep != slow {
                    return Err("what it does depends on how steep the edge is");
                }
                for (both, level) in both.iter_mut().zip(steep) {
                    both[usize::from(rises)] = level;
                }
            }
            for (one, both) in found.iter_mut().zip(both) {
                one.rows.push(both);
            }
        }
        found.retain(|one| one.rows.iter().flatten().any(Option::is_some));
        if found.is_empty() { Err("no edge of it brings anything about") } else { Ok(found) }
    }

    /// What one edge brings to each output.
    fn edge(
        &self,
        row: usize,
        rises: bool,
        slope: f64,
        solver: &mut Solver,
    ) -> Result<Vec<Option<Level>>, &'static str> {
        let unsolved = "its circuit has no solution in time that could be found";
        let cluster = &self.shape.clusters.rows[self.cluster];
        let hold = |net: NetId| {
            let bit = cluster.reads.iter().position(|&read| read == net);
            Some(self.levels[net].volts(bit.is_some_and(|bit| row >> bit & 1 != 0)))
        };
        let others: Vec<PartId> = cluster
            .drives
            .iter()
            .flat_map(|&net| self.shape.drivers(net).map(move |other| (other, net)))
            .filter(|&(other, _)| other != self.cluster)
            .flat_map(|(other, net)| self.shape.output_transistors(other, net))
            .collect();
        // The stages that the outputs trigger load them too.
        let near = |one: &&Coupling| one.cluster == self.cluster || cluster.drives.contains(&one.from);
        let near: Vec<&Coupling> = self.couplings.iter().filter(near).collect();
        let also: Vec<ClusterId> = near.iter().map(|one| one.cluster).chain([self.cluster]).collect();
        let mut patch = Patch::around(self.shape, &cluster.drives, &also, &hold, &others);
        patch.parts.extend(near.iter().map(|one| one.capacitor));
        patch.parts.sort_unstable();
        patch.parts.dedup();
        let mut network = patch.network(self.shape.board);
        for one in near.iter().filter(|one| !cluster.drives.contains(&one.from)) {
            network.force(one.from, self.levels[one.from].volts(one.from == self.trigger && !rises));
        }
        let before = solver.solve(&network).map_err(|_| unsolved)?;
        let to = self.levels[self.trigger].volts(rises);
        let action = Action::Drive { spot: self.trigger.into(), to, over: Seconds(slope) };
        let events = [Event { at: Seconds(0.0), action }];
        let until = Seconds(slope + (CONSTANTS * self.constant()).max(SHORTEST));
        let watch: Vec<Spot> = cluster.drives.iter().map(|&net| net.into()).collect();
        let pace = Pace { error: Volts(1e-3), ..Pace::default() };
        let trace =
            solver.transient(&network, Some(&before), &events, until, &watch, pace).map_err(|_| unsolved)?;
        if !trace.complete {
            return Err(unsolved);
        }
        let outputs = cluster.drives.iter().zip(&trace.volts);
        outputs.map(|(&net, volts)| self.pulse(net, &trace.times, volts)).collect()
    }

    /// What an output did: nothing, or one pulse.
    fn pulse(&self, net: NetId, times: &[f64], volts: &[f64]) -> Result<Option<Level>, &'static str> {
        let levels = &self.levels[net];
        let read = |volts: &f64| levels.read(Volts(*volts));
        let unclear = "its pulse is no clear level";
        let (Some(first), Some(last)) = (volts.first().and_then(read), volts.last().and_then(read)) else {
            return Err(unclear);
        };
        if first != last {
            return Err("it leaves the stage other than it was");
        }
        let away: Vec<usize> = (0..volts.len()).filter(|&k| read(&volts[k]) != Some(first)).collect();
        let other: Vec<usize> = (0..volts.len()).filter(|&k| read(&volts[k]) == Some(!first)).collect();
        let (Some(&begins), Some(&ends)) = (other.first(), other.last()) else {
            return if away.is_empty() { Ok(None) } else { Err(unclear) };
        };
        if ends - begins + 1 != other.len() {
            return Err("it makes more than one pulse");
        }
        if times[ends] - times[begins] < LEAST {
            return Err("its pulse is too short for the stages behind it");
        }
        // What the net does when the stage lets go of it needs no stage.
        let lets_go = levels.rest.value() == Some(!first);
        Ok(Some(if lets_go { Level::Floating } else { Level::from(!first) }))
    }

    /// The longest time that a capacitor of the stage and all its resistors in series can make, seconds.
    fn constant(&self) -> f64 {
        let board = self.shape.board;
        let cluster = &self.shape.clusters.rows[self.cluster];
        let ohms = cluster.parts.iter().map(|&part| match board.parts[part].kind {
            PartKind::Resistor { ohms: Ohms(ohms), .. } => ohms,
            _ => 0.0,
        });
        let farads = self.couplings.iter().filter(|one| one.cluster == self.cluster).map(|one| {
            match board.parts[one.capacitor].kind {
                PartKind::Capacitor { farads: Farads(farads), .. } => farads,
                _ => 0.0,
            }
        });
        ohms.sum::<f64>() * farads.fold(0.0, f64::max)
    }
}
