//! What the bench puts on signals.
//!
//! A hand is as quick as a stage: what it puts on a signal is there with the next tick, and what a fault makes of that comes
//! when it would come of a stage that moved. Otherwise a gate with a fault in it would be a tick quicker than its sound neighbours, and win
//! races that nobody knows the winner of.

use super::machine::{Machine, mark};
use super::word::Word;
use crate::dial::BESIDE;
use dryjoint_logic::{Level, SignalId};

impl Machine<'_> {
    /// What the bench puts on `signal` from now on.
    pub fn bench(&mut self, signal: SignalId, level: Level) {
        self.hands.retain(|(known, _)| *known != signal);
        if self.state.bench[signal] != level {
            self.hands.push((signal, level));
            mark(&mut self.dirty, self.program, signal);
        }
    }

    /// The hands do what they are about to do.
    #[inline(always)]
    pub(super) fn hand_over(&mut self) {
        if self.hands.is_empty() {
            return;
        }
        let mut hands = std::mem::take(&mut self.hands);
        for (signal, level) in hands.drain(..) {
            self.state.bench[signal] = level;
            self.state.stands.retain(|(known, _)| *known != signal);
            self.alert(signal, Word::ALL);
        }
        self.hands = hands;
        if !self.spoilt.blackouts.is_empty() {
            self.supply();
        }
    }

    /// What the bench puts on `signal`, without a thought for what that changes: said of a state in which
    /// nobody knows which it is, and in which all that hangs on it is left open already.
    pub fn doubt(&mut self, signal: SignalId) {
        self.hands.retain(|(known, _)| *known != signal);
        self.state.bench[signal] = Level::Unknown;
        self.state.stands.retain(|(known, _)| *known != signal);
    }

    /// Whether nobody knows what the bench puts on `signal`.
    pub fn is_doubted(&self, signal: SignalId) -> bool {
        self.state.bench[signal] == Level::Unknown
    }

    /// Sees which lanes have their supply shorted: by a jumper, or by a switch that stands there. One that was turned away
    /// shorts nothing.
    pub(super) fn supply(&mut self) {
        let tied = |line: SignalId| !matches!(self.state.bench[line], Level::Floating | BESIDE);
        let shorted = self.spoilt.blackouts.iter().filter(|(line, _)| tied(*line));
        let dark = shorted.fold(Word::NONE, |all, (_, lanes)| all | *lanes);
        if dark != self.dark {
            self.dark = dark;
            self.mark_all();
        }
    }
}
