//! Solves that are remembered: a circuit met before, under whatever names, is not solved again.
//!
//! What is solved is the nameless network, so that the answer is the same to the last bit whichever of
//! the equal circuits, and whichever thread, came first.

use crate::anonymous::Anonymous;
use crate::network::{Kind, Network, NodeId};
use crate::solver::Solver;
use dryjoint_board::PartId;
use dryjoint_ids::Id;
use dryjoint_parts::Glow;
use dryjoint_units::Volts;
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

/// What is kept of a solution.
#[derive(Debug)]
struct Kept {
    volts: Vec<f64>,
    inner: Vec<[f64; 2]>,
    glow: Vec<(u32, Glow)>,
}

/// A whole operating point, for whoever wants to add its currents up again.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// The voltage of every node, ground first; zero where nothing touches it.
    pub volts: Vec<f64>,
    /// For each element the voltages behind its series resistances: of a transistor the inner collector and
    /// base, of a diode or lamp the inner anode and a number of no meaning. Nothing for all others, and for those
    /// without such resistances.
    pub inner: Vec<Option<[f64; 2]>>,
}

/// The answers known so far. Shared by threads.
#[derive(Debug, Default)]
pub struct Memory {
    known: Mutex<HashMap<Vec<u64>, Option<Kept>>>,
}

impl Memory {
    /// How many distinct circuits were solved.
    pub fn len(&self) -> usize {
        self.lock().len()
    }

    /// Whether nothing was solved yet.
    pub fn is_empty(&self) -> bool {
        self.lock().is_empty()
    }

    /// The voltages of some nodes and the glow of some lamps, from a cold start; nothing where the
    /// circuit has no solution that could be found. A node that nothing touches is at ground, a lamp
    /// that is not there is dark.
    pub fn ask(
        &self,
        solver: &mut Solver,
        network: &Network,
        nodes: &[NodeId],
        lamps: &[PartId],
    ) -> Option<(Vec<Volts>, Vec<Glow>)> {
        let nameless = network.anonymous();
        self.read(solver, &nameless, |kept| {
            let volts = nodes.iter().map(|&node| {
                let at = nameless.node(node).map(Id::index);
                Volts(at.and_then(|at| kept.volts.get(at)).copied().unwrap_or(0.0))
            });
            let glow = lamps.iter().map(|&lamp| {
                let element = network.elements_of(lamp).next().and_then(|named| nameless.element(named));
                let found = kept.glow.iter().find(|(at, _)| Some(*at as usize) == element.map(Id::index));
                found.map_or(Glow::Dark, |(_, glow)| *glow)
            });
            (volts.collect(), glow.collect())
        })
    }

    /// The whole point of the same solution.
    pub fn point(&self, solver: &mut Solver, network: &Network) -> Option<Point> {
        let nameless = network.anonymous();
        self.read(solver, &nameless, |kept| {
            let volt = |(node, _)| {
                let at = nameless.node(node).map(Id::index);
                at.and_then(|at| kept.volts.get(at)).copied().unwrap_or(0.0)
            };
            let inner = |named: usize| {
                let at = nameless.element(crate::ElementId::at(named))?;
                kept.inner.get(at.index()).copied().filter(|inner| inner[0].is_finite())
            };
            Point {
                volts: network.nodes().map(volt).collect(),
                inner: (0..network.elements.len()).map(inner).collect(),
            }
        })
    }

    /// Something of a solution, which is found where it is not known yet.
    fn read<T>(&self, solver: &mut Solver, nameless: &Anonymous, what: impl Fn(&Kept) -> T) -> Option<T> {
        if let Some(known) = self.lock().get(&nameless.key) {
            return known.as_ref().map(what);
        }
        let kept = solver.solve(&nameless.network).ok().map(|solution| {
            let elements = nameless.network.elements.iter().enumerate();
            let glow = elements.filter_map(|(index, element)| match element.kind {
                Kind::Device(card) => {
                    let forward = solution.element(crate::ElementId::at(index))[0];
                    let looks = nameless.network.cards[card as usize].looks()?;
                    Some((index as u32, looks.glow(forward)))
                }
                _ => None,
            });
            Kept { volts: solution.volts().to_vec(), glow: glow.collect(), inner: solution.inner.clone() }
        });
        let answer = kept.as_ref().map(what);
        self.lock().insert(nameless.key.clone(), kept);
        answer
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<Vec<u64>, Option<Kept>>> {
        // A panic elsewhere leaves whole entries behind: each is inserted at once.
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
