//! What some nets did over a stretch of time.

use dryjoint_board::NetId;
use dryjoint_circuit::{Event, Network, Pace, Solver, Spot, Trace};
use dryjoint_units::Seconds;

/// Voltages of some nets over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Wave {
    /// The nets, in the order of the trace's spots.
    pub nets: Vec<NetId>,
    /// When, and the voltages of all nets then.
    pub trace: Trace,
}

impl Wave {
    /// From the moment at which the rail is there, every capacitor empty; nothing where the circuit has no
    /// solution that could be followed to the end.
    pub(crate) fn from_power_on(
        network: &Network,
        until: Seconds,
        nets: &[NetId],
        solver: &mut Solver,
    ) -> Option<Self> {
        Self::record(network, &[], until, nets, Pace::default(), solver)
    }

    /// From nothing, with events; nothing where the circuit cannot be followed to the end.
    pub(crate) fn record(
        network: &Network,
        events: &[Event],
        until: Seconds,
        nets: &[NetId],
        pace: Pace,
        solver: &mut Solver,
    ) -> Option<Self> {
        let watch: Vec<Spot> = nets.iter().map(|&net| net.into()).collect();
        let trace = solver.transient(network, None, events, until, &watch, pace).ok()?;
        trace.complete.then(|| Self { nets: nets.to_vec(), trace })
    }

    /// When it ends, in seconds.
    pub fn until(&self) -> f64 {
        self.trace.times.last().copied().unwrap_or(0.0)
    }

    /// Every crossing of a level by a spot in one direction, in seconds.
    pub(crate) fn crossings(&self, spot: usize, level: f64, upwards: bool) -> Vec<f64> {
        let mut found = Vec::new();
        let mut after = 0.0;
        while let Some(at) = self.trace.crossing(spot, level, upwards, after) {
            found.push(at);
            after = at;
        }
        found
    }

    /// A stretch of it, its time counted from there.
    pub(crate) fn between(&self, start: f64, end: f64) -> Self {
        let from = self.trace.times.partition_point(|time| *time < start);
        let to = self.trace.times.partition_point(|time| *time <= end);
        let times = self.trace.times[from..to].iter().map(|time| time - start).collect();
        let volts = self.trace.volts.iter().map(|column| column[from..to].to_vec()).collect();
        Self { nets: self.nets.clone(), trace: Trace { times, volts, ..self.trace.clone() } }
    }
}
