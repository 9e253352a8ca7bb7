//! A unit that exists only in the circuit solver, with its faults built in.
//!
//! Every move of the hands is a network with other leads on it, followed from the point at which the
//! board stood, so that latches keep or lose what they hold as the real ones would. Lamps are read
//! from the current through them, a meter from the nodes.

use crate::{Sight, Wiring, resistance};
use dryjoint_board::{LineId, NetId, PartId};
use dryjoint_circuit::{Method, Network, NoSolution, NodeName, Solution, Solver};
use dryjoint_draws::Draws;
use dryjoint_faults::Fault;
use dryjoint_logic::Extracted;
use dryjoint_parts::Glow;
use dryjoint_procedure::Action;
use dryjoint_units::{Amps, Ohms, Volts};
use std::collections::BTreeSet;

/// A virtual unit at the bench, with power on.
#[derive(Debug)]
pub struct Unit<'b> {
    wiring: Wiring<'b>,
    solver: Solver,
    tied: BTreeSet<LineId>,
    clocks_high: bool,
    network: Network,
    point: Solution,
    restless: bool,
}

impl<'b> Unit<'b> {
    /// A unit with these faults, just switched on. Latches wake up as `seed` has it.
    pub fn new(extracted: &Extracted<'b>, faults: &[Fault], seed: u64) -> Result<Self, NoSolution> {
        let wiring = Wiring::new(extracted, faults);
        let network = wiring.tied([], false);
        let mut solver = Solver::default();
        let point = wake(extracted, &mut solver, &network, seed)?;
        let tied = BTreeSet::new();
        Ok(Self { wiring, solver, tied, clocks_high: false, network, point, restless: false })
    }

    /// The hands do one thing, and the board comes to rest. Where no point is found at all the unit
    /// stays as it was.
    pub fn act(&mut self, action: Action) -> Result<(), NoSolution> {
        match action {
            Action::Tie(line) => {
                self.tied.insert(line);
                self.settle()
            }
            Action::Release(line) => {
                self.tied.remove(&line);
                self.settle()
            }
            Action::Pulse(line) => {
                self.tied.insert(line);
                self.settle()?;
                self.tied.remove(&line);
                self.settle()
            }
            Action::Wait(periods) => (0..2 * u64::from(periods)).try_for_each(|_| {
                self.clocks_high = !self.clocks_high;
                self.settle()
            }),
        }
    }

    /// Follows the board from where it stood to where it comes to rest. A board that swings without
    /// end is taken at the balance about which it swings.
    fn settle(&mut self) -> Result<(), NoSolution> {
        let network = self.wiring.tied(self.tied.iter().copied(), self.clocks_high);
        let point = self.solver.resolve(&network, &self.point).or_else(|failure| {
            let nodes = self.network.nodes().filter_map(|(node, name)| match name {
                NodeName::Net(net) => Some((net, self.point.node(node))),
                _ => None,
            });
            let stood: Vec<(NetId, Volts)> = nodes.collect();
            self.solver.solve_near(&network, &stood).map_err(|_| failure)
        })?;
        self.restless = point.method != Method::PseudoTransient;
        self.network = network;
        self.point = point;
        Ok(())
    }

    /// Whether the board did not come to rest after the last move: it oscillates, and what it shows
    /// is only the balance about which it swings.
    pub fn is_restless(&self) -> bool {
        self.restless
    }

    /// How a lamp looks; nothing where the part is no lamp.
    pub fn lamp(&self, lamp: PartId) -> Option<Sight> {
        let (_, glow) = self.point.lamp(&self.network, lamp)?;
        Some(match glow {
            Glow::Lit => Sight::Lit,
            Glow::Dark => Sight::Dark,
            Glow::Dim if self.restless => Sight::Flickering,
            Glow::Dim => Sight::Dim,
        })
    }

    /// A meter's volts between a net and ground.
    pub fn volts(&self, net: NetId) -> Option<Volts> {
        self.point.at(&self.network, net)
    }

    /// The current that all supplies together give.
    pub fn supply(&self) -> Amps {
        Amps(self.point.deliveries().iter().map(|delivery| delivery.amps.0).sum())
    }

    /// A meter's ohms between two nets with power off and every lead taken away; nothing where it
    /// shows no reading.
    pub fn ohms(&mut self, a: NetId, b: NetId) -> Result<Option<Ohms>, NoSolution> {
        resistance(&mut self.solver, &self.wiring, a, b)
    }

    /// The operating point the board rests at.
    pub fn point(&self) -> &Solution {
        &self.point
    }
}

/// The point at which a board comes up. Which way a latch falls is chance: every signal is drawn to
/// one side or the other, then let go.
fn wake(
    extracted: &Extracted,
    solver: &mut Solver,
    network: &Network,
    seed: u64,
) -> Result<Solution, NoSolution> {
    let mut draws = Draws::new(seed);
    let guess: Vec<(NetId, Volts)> = extracted
        .logic
        .signals
        .rows()
        .iter()
        .filter_map(|signal| signal.net)
        .map(|net| (net, extracted.levels[net].volts(draws.unit() < 0.5)))
        .collect();
    let near = solver.solve_near(network, &guess).or_else(|_| solver.solve(network))?;
    // A balance that no board would keep tips over here.
    solver.resolve(network, &near)
}
