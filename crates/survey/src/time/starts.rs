//! Ways to begin following a piece that moves.

use dryjoint_circuit::{Action, Event, Network, NoSolution as Failure, NodeId, Solution, Solver, Trace};
use dryjoint_units::{Seconds, Volts};

/// The rails come up in this time, seconds (judgement: a bench supply switched on at its output), and in no
/// more than this share of a cycle.
const RISE: f64 = 1e-3;
const ROUNDED: f64 = 0.05;

/// Ways to begin, for a piece without names.
pub(super) struct Starts<'a> {
    network: &'a Network,
    /// Its rails, and the voltage of each.
    rails: Vec<(NodeId, Volts)>,
    /// The nodes of what the oscillators drive, and where each stands in one half of a good cycle.
    held: Vec<(NodeId, Volts)>,
    /// In which the rails come up.
    rise: Seconds,
}

/// Follows a network from a point, or from nothing, with events.
type Follow<'f> =
    dyn FnMut(&mut Solver, &Network, Option<&Solution>, &[Event]) -> Result<Trace, Failure> + 'f;

impl<'a> Starts<'a> {
    /// The ways to begin with a network whose cycle is about so long.
    pub(super) fn new(
        network: &'a Network,
        rails: Vec<(NodeId, Volts)>,
        held: Vec<(NodeId, Volts)>,
        period: f64,
    ) -> Self {
        Self { network, rails, held, rise: Seconds(RISE.min(ROUNDED * period)) }
    }

    /// The first way that can be followed; the last failure where none can.
    ///
    /// Turning the switch is a jump for all that hangs on it. Where that is too sudden to be followed, the rails
    /// come up in a moment; where even that is, the circuit begins at rest with the oscillators held, and
    /// they are let go.
    pub(super) fn first_followed(&self, solver: &mut Solver, follow: &mut Follow) -> Result<Trace, Failure> {
        let now = |action: Action| Event { at: Seconds(0.0), action };
        let ramps: Vec<Event> = self
            .rails
            .iter()
            .map(|&(node, to)| now(Action::Drive { spot: node.into(), to, over: self.rise }))
            .collect();
        follow(solver, self.network, None, &[])
            .or_else(|_| follow(solver, self.network, None, &ramps))
            .or_else(|failure| {
                let mut held = self.network.clone();
                self.held.iter().for_each(|&(node, volts)| {
                    held.force(node, volts);
                });
                let Ok(point) = solver.solve(&held) else { return Err(failure) };
                let loose: Vec<Event> =
                    self.held.iter().map(|&(node, _)| now(Action::LetGo(node.into()))).collect();
                follow(solver, &held, Some(&point), &loose)
            })
    }
}
