//! The proof: the extracted logic against the circuit of the whole board.
//!
//! For a state that the logic calls settled, the whole board is solved near the voltages that this
//! state means, with the same lines tied. Every signal must read what the logic says, every lamp must
//! glow as it says. A stage counts as agreeing when its signal did in every state tried.

use super::{Extracted, Node};
use crate::{Level, SignalId, StageId};
use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::{GROUND, Network, NoSolution, Solution, Solver};
use dryjoint_parts::Glow;
use dryjoint_units::{Amps, Volts};

/// One signal that the circuit sees otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct Disagreement {
    /// The signal.
    pub signal: SignalId,
    /// What the logic says.
    pub logic: Level,
    /// The voltage that the circuit says; for a lamp, its glow.
    pub circuit: Result<Volts, Glow>,
}

/// What the proof found.
#[derive(Clone, Debug, Default)]
pub struct Proof {
    /// States compared.
    pub states: usize,
    /// Signals and lamps compared, over all states.
    pub compared: usize,
    /// Where the two differ, each signal once.
    pub disagreements: Vec<Disagreement>,
    /// The least and the most that all supplies together gave.
    pub supply: Option<(Amps, Amps)>,
    /// States for which the circuit found no solution.
    pub unsolved: Vec<NoSolution>,
}

impl Proof {
    /// Stages whose signal the circuit always saw as the logic does.
    pub fn agreeing(&self, extracted: &Extracted) -> Vec<StageId> {
        let wrong = |signal: SignalId| self.disagreements.iter().any(|d| d.signal == signal);
        let stages = extracted.logic.stages.iter();
        stages.filter(|(_, stage)| !wrong(stage.output)).map(|(id, _)| id).collect()
    }
}

impl Proof {
    fn weigh(&mut self, solution: &Solution) {
        let amps = Amps(solution.deliveries().iter().map(|delivery| delivery.amps.0).sum());
        let (least, most) = self.supply.unwrap_or((amps, amps));
        self.supply = Some((Amps(least.0.min(amps.0)), Amps(most.0.max(amps.0))));
    }
}

/// Compares settled states, one after the other.
pub struct Prover<'e, 'b> {
    extracted: &'e Extracted<'b>,
    board: Network,
    solver: Solver,
    /// What was found so far.
    pub proof: Proof,
}

impl<'e, 'b> Prover<'e, 'b> {
    /// A prover that has compared nothing yet.
    pub fn new(extracted: &'e Extracted<'b>) -> Self {
        let board = Network::of_board(extracted.shape.board);
        Self { extracted, board, solver: Solver::default(), proof: Proof::default() }
    }

    /// Compares one state: what the bench ties, and the level of each signal. Gives back the circuit of
    /// that state with its operating point, where one was found.
    pub fn compare(
        &mut self,
        ties: &[(NetId, bool)],
        level: &dyn Fn(SignalId) -> Level,
    ) -> Option<(Network, Solution)> {
        self.proof.states += 1;
        let network = self.extracted.tied(&self.board, ties);
        let guess: Vec<(NetId, Volts)> = self.guess(level);
        match self.solver.solve_near(&network, &guess) {
            Ok(solution) => {
                self.proof.weigh(&solution);
                self.judge(&network, &solution, level);
                Some((network, solution))
            }
            Err(failure) => {
                self.proof.unsolved.push(failure);
                None
            }
        }
    }

    fn guess(&self, level: &dyn Fn(SignalId) -> Level) -> Vec<(NetId, Volts)> {
        let signals = self.extracted.logic.signals.iter();
        signals
            .filter_map(|(id, signal)| {
                let net = signal.net?;
                Some((net, self.extracted.levels[net].volts(level(id).value()?)))
            })
            .collect()
    }

    fn judge(&mut self, network: &Network, solution: &Solution, level: &dyn Fn(SignalId) -> Level) {
        let extracted = self.extracted;
        for (id, signal) in extracted.logic.signals.iter() {
            let Some(value) = level(id).value() else { continue };
            let disagreement = match signal.net {
                Some(net) => {
                    let Some(volts) = solution.at(network, net) else { continue };
                    (extracted.levels[net].read(volts) != Some(value)).then_some(Ok(volts))
                }
                None => {
                    let lamp = extracted.lamp(id).and_then(|lamp| solution.lamp(network, lamp));
                    let Some((_, glow)) = lamp else { continue };
                    (glow != if value { Glow::Lit } else { Glow::Dark }).then_some(Err(glow))
                }
            };
            self.proof.compared += 1;
            if let Some(circuit) = disagreement
                && self.proof.disagreements.iter().all(|known| known.signal != id)
            {
                self.proof.disagreements.push(Disagreement { signal: id, logic: level(id), circuit });
            }
        }
    }
}

impl Extracted<'_> {
    /// The network of the whole board with some nets tied to the rail (`true`) or to ground. A clock
    /// source is held like a tied line: its oscillator does not run in a network at rest.
    pub fn tied(&self, board: &Network, ties: &[(NetId, bool)]) -> Network {
        let mut network = board.clone();
        for (_, cluster) in self.shape.clusters.rows.iter().filter(|(_, cluster)| cluster.is_source) {
            for &part in &cluster.parts {
                network.remove(part);
            }
        }
        self.tie(&mut network, ties);
        network
    }

    /// Ties some nets to the rail (`true`) or to ground.
    pub fn tie(&self, network: &mut Network, ties: &[(NetId, bool)]) {
        let rail = network.find(self.shape.rail_net());
        for &(net, high) in ties {
            if let Some(to) = if high { rail } else { Some(GROUND) } {
                network.tie(net, to);
            }
        }
    }

    /// The lamp behind a signal.
    pub fn lamp(&self, signal: SignalId) -> Option<PartId> {
        self.lamp_of.iter().find(|(_, known)| **known == Some(signal)).map(|(lamp, _)| lamp)
    }

    /// Whether a net carries a signal.
    pub fn is_signal(&self, net: NetId) -> bool {
        self.shape.nodes.kind(net) == Node::Signal
    }
}
