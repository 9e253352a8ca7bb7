//! Proof by trying everything: every state that hands can bring about, on the good and on the faulty board side
//! by side, from the moment power comes on.
//!
//! Where no state has a lamp that differs, or may, no procedure of any length shows the fault. The states are
//! three-valued, so that one stands for every way in which the latches may have woken up.

use crate::search::Aim;
use crate::walk::{Limits, Walked, walk};
use crate::{GroupId, Study};

/// States after which it is given up.
const MOST_STATES: usize = 20_000;

/// How many states are within reach, where in none of them a lamp differs, or may differ, with the group in it; nothing
/// where one does, and where there are more states than can be tried.
pub fn reach(study: &Study, group: GroupId) -> Option<usize> {
    let machine = &mut study.pairs(&study.groups[group].behaviour);
    match walk(study, machine, 1, Aim::Chance, &Limits::states(MOST_STATES), &mut |_, _| true) {
        Walked::All(states) => Some(states),
        Walked::Way(_) | Walked::Cut(_) => None,
    }
}
