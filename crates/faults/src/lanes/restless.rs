//! What is known of a board on which stages chase each other.
//!
//! How often they go round before something stops them, and which short pulses a latch takes meanwhile, hangs on
//! delays that nobody knows. So in such a lane whatever has moved is open, not only what still moves; what follows
//! from the rest, from what the bench puts there first of all, is found anew.

use super::machine::Machine;
use super::state::Contribution;
use super::word::{Planes, Word};

impl Machine<'_> {
    /// Leaves open, in some lanes, what is otherwise than it was before the ticks.
    pub(super) fn leave_open(&mut self, lanes: Word) {
        let before = &self.before;
        let open = |now: &mut Planes, was: &Planes| {
            let moved = (now.one ^ was.one | now.zero ^ was.zero) & lanes;
            *now = Planes { one: now.one & !moved, zero: now.zero & !moved };
        };
        for (now, was) in self.state.values.values_mut().zip(before.values.rows()) {
            open(now, was);
        }
        for (now, was) in self.state.contributions.values_mut().zip(before.contributions.rows()) {
            let Contribution { low, high } = now;
            open(low, &was.low);
            open(high, &was.high);
        }
        self.reconsider();
    }
}
