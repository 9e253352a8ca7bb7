//! A clock whose switch is turned away while it runs.
//!
//! What the oscillator drives does not fall at once: its capacitors are charged, and its two collectors come to one level for
//! some hundred nanoseconds before both go down. A pair of gates that is to keep the clock as it stood must not take
//! that for an edge. Whether it does comes out of the circuit in time, from the middle of a half on.

use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::{Action, Event, Network, Pace, Solver, Spot, Trace};
use dryjoint_units::{Seconds, Volts};

/// By then the collectors are down, and the gates stand; what still leaks out of the capacitors is less than any gate reads
/// (judgement: ten times what it takes on the phase board).
const FOLLOWED: Seconds = Seconds(20e-6);
/// Steps are this exact, volts.
const ERROR: Volts = Volts(1e-3);
/// What takes more steps swings between two gates for all that time, and falls as luck has it (judgement: of two thousand on the phase
/// board nearly all take less than a hundred).
const MOST_STEPS: usize = 5_000;

/// The voltages of some nets after a switch was turned to a position, from a moment at which other nets stood as said;
/// nothing where it could not be followed.
pub(super) fn turned(
    network: &Network,
    (switch, position): (PartId, usize),
    stood: &[(NetId, Volts)],
    watch: &[NetId],
    solver: &mut Solver,
) -> Option<Vec<Volts>> {
    let mut held = network.clone();
    let mut events = vec![Event { at: Seconds(0.0), action: Action::Select(switch, position) }];
    for &(net, volts) in stood.iter().filter(|(net, _)| network.find(*net).is_some()) {
        held.force(net, volts);
        events.push(Event { at: Seconds(0.0), action: Action::LetGo(net.into()) });
    }
    let before = solver.solve(&held).ok()?;
    let spots: Vec<Spot> = watch.iter().map(|&net| net.into()).collect();
    let pace = Pace { error: ERROR, ..Pace::default() };
    let patient = &mut |trace: &Trace| trace.times.len() < MOST_STEPS;
    let trace =
        solver.transient_while(&held, Some(&before), &events, FOLLOWED, &spots, pace, patient).ok()?;
    let last = |volts: &Vec<f64>| volts.last().map(|&volts| Volts(volts));
    if trace.complete { trace.volts.iter().map(last).collect() } else { None }
}
