//! A unit that exists only in the circuit solver, with its faults built in.
//!
//! Every move of the hands is a network with other leads on it, followed from the point at which the
//! board stood, so that latches keep or lose what they hold as the real ones would. Lamps are read
//! from the current through them, a meter from the nodes.

use crate::clockwork::Clockwork;
use crate::near::{Gates, Near};
use crate::wiring::Clocks;
use crate::{Sight, Wiring, resistance};
use dryjoint_board::{LineId, NetId, PartId};
use dryjoint_circuit::{Method, Network, NoSolution, NodeName, Solution, Solver};
use dryjoint_draws::Draws;
use dryjoint_faults::Fault;
use dryjoint_logic::Extracted;
use dryjoint_parts::Glow;
use dryjoint_procedure::Action;
use dryjoint_survey::keeps;
use dryjoint_units::{Amps, Ohms, Volts};
use std::collections::BTreeSet;

/// Periods for which a clock runs that nobody counts.
const MANY: u32 = 12;

/// A virtual unit at the bench, with power on.
#[derive(Debug)]
pub struct Unit<'b> {
    wiring: Wiring<'b>,
    solver: Solver,
    tied: BTreeSet<LineId>,
    /// Where the switches of all clocks stand, none between two positions, and in which half.
    position: Option<usize>,
    clocks_high: bool,
    /// Clocks that do not run as they should.
    faulty: Vec<Clockwork>,
    /// Clocks that faults touch from outside.
    gates: Vec<Gates>,
    /// The position at which the periods of a clock that they come near are counted.
    slowest: usize,
    network: Network,
    point: Solution,
    /// The same with the clock source in it, where that keeps still: what a lead finds.
    standing: Option<(Network, Solution)>,
    restless: bool,
}

/// Good units that are woken differently: three differ where chance decides (judgement).
const WOKEN: [u64; 3] = [1, 2, 3];

impl<'b> Unit<'b> {
    /// Good units just switched on. How latches wake up is chance, so each is woken in another way: what they agree on
    /// holds for any good unit.
    pub fn good_ones(extracted: &Extracted<'b>) -> Result<Vec<Self>, NoSolution> {
        WOKEN.iter().map(|&seed| Self::new(extracted, &[], seed)).collect()
    }

    /// A unit with these faults, just switched on. Latches wake up as `seed` has it, and so does a clock that a pair of
    /// gates keeps as it stood.
    pub fn new(extracted: &Extracted<'b>, faults: &[Fault], seed: u64) -> Result<Self, NoSolution> {
        let wiring = Wiring::new(extracted, faults);
        let near = Near::new(extracted, faults);
        let mut faulty = Clockwork::all(extracted, &near, faults, seed);
        let gates = Gates::all(extracted, &near, faults);
        let mut ids = extracted.shape.board.clocks.ids();
        let clocks_high = ids.any(|clock| keeps(extracted, clock)) && wakes_high(seed);
        let network = wiring.tied([], &clocks(&mut faulty, &gates, None, clocks_high));
        let mut solver = Solver::default();
        let point = wake(extracted, &mut solver, &network, seed)?;
        let tied = BTreeSet::new();
        let position = None;
        let mut unit = Self {
            wiring,
            solver,
            tied,
            position,
            clocks_high,
            faulty,
            gates,
            slowest: near.slowest(),
            network,
            point,
            standing: None,
            restless: false,
        };
        unit.stand();
        Ok(unit)
    }

    /// The hands do one thing, and the board comes to rest. Where no point is found at all the unit
    /// stays as it was.
    pub fn act(&mut self, action: Action) -> Result<(), NoSolution> {
        let done = self.go(action);
        self.stand();
        done
    }

    fn go(&mut self, action: Action) -> Result<(), NoSolution> {
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
            Action::Wait(periods) => self.run(periods, None),
            // So many periods stand for the thousands that a person lets go by.
            Action::Run(_, position) => self.run(MANY, Some(position.into())),
        }
    }

    /// Turns the switches of all clocks to a position, or each to its slowest, and away again.
    fn run(&mut self, periods: u32, position: Option<usize>) -> Result<(), NoSolution> {
        self.position = Some(position.unwrap_or(self.slowest));
        (0..periods).flat_map(|_| [true, false]).try_for_each(|high| {
            self.clocks_high = high;
            self.settle()
        })?;
        self.position = None;
        if self.faulty.is_empty() && self.gates.is_empty() { Ok(()) } else { self.settle() }
    }

    /// Follows the board from where it stood to where it comes to rest. A board that swings without
    /// end is taken at the balance about which it swings.
    fn settle(&mut self) -> Result<(), NoSolution> {
        let clocks = clocks(&mut self.faulty, &self.gates, self.position, self.clocks_high);
        let network = self.wiring.tied(self.tied.iter().copied(), &clocks);
        let point = match self.solver.resolve(&network, &self.point) {
            Ok(point) => point,
            Err(failure) => {
                let stood = self.stood();
                self.solver.solve_near(&network, &stood).map_err(|_| failure)?
            }
        };
        self.restless = point.method != Method::PseudoTransient;
        self.network = network;
        self.point = point;
        Ok(())
    }

    /// The volts of every net as the board stands.
    fn stood(&self) -> Vec<(NetId, Volts)> {
        let nodes = self.network.nodes().filter_map(|(node, name)| match name {
            NodeName::Net(net) => Some((net, self.point.node(node))),
            _ => None,
        });
        nodes.collect()
    }

    /// Puts the clock source in again where it keeps still: its own gates hold the clock as it stands.
    fn stand(&mut self) {
        // With the gates in the circuit it is the same circuit.
        let rests =
            self.position.is_none() && self.gates.is_empty() && self.faulty.iter().all(Clockwork::rests);
        let network = if rests { self.wiring.standing(self.tied.iter().copied()) } else { None };
        self.standing = network.and_then(|network| {
            let point = self.solver.solve_near(&network, &self.stood()).ok()?;
            Some((network, point))
        });
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
        let (network, point) = self.by_lead();
        point.at(network, net)
    }

    fn by_lead(&self) -> (&Network, &Solution) {
        self.standing.as_ref().map_or((&self.network, &self.point), |(network, point)| (network, point))
    }

    /// The current that all supplies together give.
    pub fn supply(&self) -> Amps {
        Amps(self.by_lead().1.deliveries().iter().map(|delivery| delivery.amps.0).sum())
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

/// What the clocks do now.
fn clocks(faulty: &mut [Clockwork], gates: &[Gates], position: Option<usize>, high: bool) -> Clocks {
    let volts = faulty.iter_mut().map(|clockwork| (clockwork.clock(), clockwork.volts(position, high)));
    let gates = gates.iter().map(|gates| (gates.clock, gates.volts(position, high)));
    Clocks { high, volts: volts.collect(), gates: gates.collect(), position }
}

/// Whether a clock that keeps as it stood wakes up high.
fn wakes_high(seed: u64) -> bool {
    Draws::new(seed ^ 0xc10c).below(2) == 1
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
