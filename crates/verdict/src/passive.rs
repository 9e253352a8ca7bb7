//! Ohms between two nets with power off, estimated from the resistors and links alone.
//!
//! So little stands across the leads on ohms that no junction wakes, and what is left is linear. One column of
//! the inverse for each net, the volts everywhere for one ampere into it, is solved once for a board. A
//! fault changes one conductance, and what it does to any two nets follows from the columns: J. Sherman and
//! W. J. Morrison, "Adjustment of an inverse matrix", Annals of Mathematical Statistics 21 (1950). Good enough to
//! choose where to measure; what is foretold there comes from the whole circuit.

use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_circuit::{GROUND, JUMPER, Network, NodeId, Solution, Solver};
use dryjoint_faults::Fault;
use dryjoint_faults::apply::BRIDGE;
use dryjoint_ids::Id;
use dryjoint_session::between_positions;
use dryjoint_units::{Amps, Ohms};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What leaks from every net to ground, so that nets on which no resistor hangs have a voltage. It is
/// far above what a meter calls open.
const LEAK: Ohms = Ohms(1e9);

/// What is sent into a net; small, since all of it may have to go through the leak.
const SENT: Amps = Amps(1e-9);

/// A smaller share than this of the current, or of the voltage, changes no figure that anybody reads.
const LEAST: f64 = 2e-3;

/// A conductance that a fault adds between two nets, or takes away.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    pub nets: [NetId; 2],
    siemens: f64,
}

impl Change {
    /// What a fault changes; nothing where a meter on ohms does not see it.
    pub fn of(board: &Board, fault: &Fault) -> Option<Self> {
        let across = |part: PartId, siemens: &dyn Fn(Ohms) -> f64| {
            let row = &board.parts[part];
            let ohms = match row.kind {
                PartKind::Resistor { ohms, .. } => ohms,
                PartKind::Link => JUMPER,
                _ => return None,
            };
            let [one, other] = row.pins[..] else { return None };
            let nets = [board.pins[one].net, board.pins[other].net];
            Some(Self { nets, siemens: siemens(ohms) })
        };
        let gone = |ohms: Ohms| -1.0 / ohms.0;
        let joined = |nets| Some(Self { nets, siemens: 1.0 / BRIDGE.0 });
        match *fault {
            Fault::JointOpen(pin) => across(board.pins[pin].part, &gone),
            Fault::Missing(part) => across(part, &gone),
            Fault::WrongValue(part, fitted) => across(part, &|ohms| 1.0 / fitted.0 - 1.0 / ohms.0),
            Fault::Bridge(a, b) => joined([board.pins[a].net, board.pins[b].net]),
            Fault::RailShort(net, rail) => joined([net, rail]),
            Fault::Reversed(_)
            | Fault::Leads(..)
            | Fault::WrongType(_)
            | Fault::Shifted(..)
            | Fault::Dead(_) => None,
        }
    }
}

/// The resistors and links of a board, with the columns asked for so far.
#[derive(Debug)]
pub struct Passive {
    network: Network,
    at_rest: Option<Solution>,
    /// Per net the volts of every net by its place in the board's table, for one ampere.
    columns: BTreeMap<NetId, Vec<f64>>,
    nets: usize,
}

impl Passive {
    /// Those of a board, unpowered.
    pub fn new(board: &Board) -> Self {
        let carries =
            |kind: &PartKind| matches!(kind, PartKind::Resistor { .. } | PartKind::Link | PartKind::Selector);
        let parts: Vec<PartId> =
            board.parts.iter().filter(|(_, part)| carries(&part.kind)).map(|(id, _)| id).collect();
        let mut network = Network::of_parts(board, &parts).unpowered();
        between_positions(board, &mut network);
        let nodes: Vec<NodeId> =
            network.nodes().map(|(node, _)| node).filter(|node| *node != GROUND).collect();
        for node in nodes {
            network.resistor(node, GROUND, LEAK);
        }
        let at_rest = Solver::default().solve(&network).ok();
        Self { network, at_rest, columns: BTreeMap::new(), nets: board.nets.len() }
    }

    /// Solves the columns of some nets that are not known yet.
    pub fn learn(&mut self, nets: &[NetId]) {
        let mut fresh: Vec<NetId> =
            nets.iter().copied().filter(|net| !self.columns.contains_key(net)).collect();
        fresh.sort_unstable();
        fresh.dedup();
        let all: Vec<Option<NodeId>> = (0..self.nets).map(|at| self.network.find(NetId::at(at))).collect();
        let solved: Vec<Vec<f64>> = fresh
            .par_iter()
            .map_init(Solver::default, |solver, net| self.column(solver, *net, &all))
            .collect();
        self.columns.extend(fresh.into_iter().zip(solved));
    }

    fn column(&self, solver: &mut Solver, net: NetId, all: &[Option<NodeId>]) -> Vec<f64> {
        let mut alone = vec![0.0; all.len()];
        let (Some(node), Some(at_rest)) = (self.network.find(net), &self.at_rest) else {
            alone[net.index()] = LEAK.0;
            return alone;
        };
        let mut network = self.network.clone();
        network.current(GROUND, node, SENT);
        let Ok(solution) = solver.solve_from(&network, at_rest) else {
            alone[net.index()] = LEAK.0;
            return alone;
        };
        all.iter().map(|node| node.map_or(0.0, |node| solution.node(node).0 / SENT.0)).collect()
    }

    /// Whether a change can matter between two nets, which were learnt: whether some of what flows between
    /// them goes through what is taken away, or stands across what is joined.
    pub fn matters(&self, a: NetId, b: NetId, change: &Change) -> bool {
        let (Some(from), Some(to)) = (self.columns.get(&a), self.columns.get(&b)) else { return true };
        let drop = |u: NetId, v: NetId| (from[u.index()] - from[v.index()]) - (to[u.index()] - to[v.index()]);
        let [u, v] = change.nets;
        let across = drop(u, v).abs();
        if change.siemens < 0.0 {
            across * -change.siemens > LEAST
        } else {
            across > LEAST * drop(a, b).abs()
        }
    }

    /// The ohms between two nets, with a change; both nets and those of the change were learnt.
    pub fn between(&self, a: NetId, b: NetId, change: Option<&Change>) -> Option<Ohms> {
        let (from, to) = (self.columns.get(&a)?, self.columns.get(&b)?);
        let drop = |u: NetId, v: NetId| (from[u.index()] - from[v.index()]) - (to[u.index()] - to[v.index()]);
        let plain = drop(a, b);
        let Some(&Change { nets: [u, v], siemens }) = change else { return Some(Ohms(plain)) };
        let (one, other) = (self.columns.get(&u)?, self.columns.get(&v)?);
        let own = (one[u.index()] - one[v.index()]) - (other[u.index()] - other[v.index()]);
        let left = (1.0 + siemens * own).max(f64::EPSILON);
        Some(Ohms(plain - siemens * drop(u, v).powi(2) / left))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_faults::enumerate;
    use dryjoint_logic::extract;
    use dryjoint_session::{Wiring, resistance};

    const BOARD: &str = "board words\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\n\
        R1 22k A b\nR2 22k b GND\nR3 2k2 VCC q\nQ1 2N3904 q b GND\nR4 470 VCC n\nDS1 red n q\nR5 10k q A\n\
        W1 link q q2\nR6 4k7 q2 GND\n";

    /// Every fault of a small board between every two nets, against the whole circuit with the fault in it.
    /// Where junctions wake or leak the two part: there the estimate is the higher.
    #[test]
    fn estimates_are_those_of_the_circuit_but_for_junctions() {
        let board = dryjoint_netlist::read_alone("words.board", BOARD).board.expect("a sound board");
        let (extracted, _) = extract(&board);
        let mut passive = Passive::new(&board);
        let nets: Vec<NetId> = board.nets.ids().collect();
        passive.learn(&nets);
        let mut solver = Solver::default();
        let (mut compared, mut unlike) = (0, Vec::new());
        for fault in enumerate(&board) {
            let Some(change) = Change::of(&board, &fault) else { continue };
            let wiring = Wiring::new(&extracted, &[fault]);
            for (at, &a) in nets.iter().enumerate() {
                for &b in &nets[at + 1..] {
                    let told = passive.between(a, b, Some(&change)).expect("learnt").0;
                    let found = resistance(&mut solver, &wiring, a, b).expect("a point");
                    let found = found.map_or(f64::INFINITY, |ohms| ohms.0);
                    let plain = passive.between(a, b, None).expect("learnt").0;
                    let alike = |a: f64, b: f64| ((a + 0.1) / (b + 0.1)).ln().abs() < 0.03 || a.min(b) > 3e5;
                    compared += 1;
                    if !alike(told, found) {
                        unlike.push(format!("{} {a:?} {b:?}: {told} against {found}", fault.name(&board)));
                    }
                    // What is said not to matter does not.
                    assert!(
                        passive.matters(a, b, &change) || alike(found, plain),
                        "{} {a:?} {b:?}: {plain} became {found}",
                        fault.name(&board)
                    );
                }
            }
        }
        assert!(compared > 500, "{compared}");
        assert!(unlike.is_empty(), "{} of {compared}: {unlike:#?}", unlike.len());
    }
}
