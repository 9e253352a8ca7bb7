//! Lanes laid out by what is supposed of them, not by what was done: latches that woke up one way.

use super::machine::{Machine, mark};
use super::state::Forced;
use super::word::Planes;
use dryjoint_logic::SignalId;

impl Machine<'_> {
    /// Supposes that signals stand at a value, lane by lane, wherever nothing is known of them, as latches do that woke
    /// up this way. They are held there until all else is at rest, then let go: they stay where the logic holds them.
    /// Settle before.
    pub fn suppose(&mut self, suppositions: &[(SignalId, Planes)]) {
        for &(signal, planes) in suppositions {
            let lanes = self.unknown(signal) & (planes.one | planes.zero);
            let value = Planes { one: planes.one & lanes, zero: planes.zero & lanes };
            self.supposed.push((signal, Forced { lanes, value }));
            mark(&mut self.dirty, self.program, signal);
        }
        self.settle();
        self.supposed.clear();
        self.reconsider();
        self.settle();
    }

    /// Supposes that the bench puts this on signals of which nobody knows what it puts there, lane by lane, as a clock does
    /// that stands. It stays so until the bench puts something else there.
    pub fn stand(&mut self, suppositions: &[(SignalId, Planes)]) {
        for &(signal, planes) in suppositions {
            let own = self.state.stands(signal);
            self.state.stands.retain(|(known, _)| *known != signal);
            let known =
                Planes { one: own.one | planes.one & !own.zero, zero: own.zero | planes.zero & !own.one };
            self.state.stands.push((signal, known));
        }
        self.reconsider();
        self.settle();
    }

    /// What was supposed of what the bench puts on `signal`.
    pub fn stood(&self, signal: SignalId) -> Planes {
        self.state.stands(signal)
    }
}
