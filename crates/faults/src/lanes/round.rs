//! Ticks that only go round.
//!
//! A lane whose stages chase each other never comes to rest, and there is nearly always one among hundreds: all lanes
//! then tick on until patience ends. Most go round in two or six ticks. So what stands after some tick is kept, and
//! where the same stands again as many whole rounds are left out as fit before patience ends: what comes of it is the
//! same, to the last tick. Looking back at one state in place of all is R. Brent's way ("An improved Monte Carlo
//! factorization algorithm", BIT 20, 1980), with a window that stays as wide as it is.

use super::program::Program;
use super::state::{Contribution, State};
use super::word::Planes;
use dryjoint_ids::Side;
use dryjoint_logic::{SignalId, StageId};

/// Ticks after which another state is kept to look back at: longer rounds are gone through one by one.
const WINDOW: usize = 8;

/// A state that was kept, and how far what stands now is from it.
pub(super) struct Round {
    window: usize,
    /// After which tick it was kept; nothing where none is.
    since: Option<usize>,
    values: Side<SignalId, Planes>,
    contributions: Side<StageId, Contribution>,
    /// What was to be computed in the next tick. What a fault's table said needs no keeping: one that is not up to date
    /// is looked up before it is asked.
    dirty: Vec<u64>,
    /// Signals and stages that are otherwise now.
    apart: usize,
}

impl Round {
    /// Nothing kept.
    pub fn new(program: &Program, state: &State) -> Self {
        let (values, contributions) = (state.values.clone(), state.contributions.clone());
        let dirty = vec![0; program.signal_count().div_ceil(64)];
        Self { window: WINDOW, since: None, values, contributions, dirty, apart: 0 }
    }

    /// Every tick is gone through.
    #[cfg(test)]
    pub fn never(&mut self) {
        self.window = usize::MAX;
    }

    /// Nothing is kept any more.
    #[inline(always)]
    pub fn forget(&mut self) {
        self.since = None;
    }

    /// Hears that a signal moves.
    #[inline(always)]
    pub fn moves(&mut self, signal: SignalId, old: &Planes, new: &Planes) {
        if self.since.is_some() {
            let kept = &self.values[signal];
            self.apart = self.apart + usize::from(new != kept) - usize::from(old != kept);
        }
    }

    /// Hears that a stage puts something else on its signal.
    #[inline(always)]
    pub fn drives(&mut self, stage: StageId, old: &Contribution, new: &Contribution) {
        if self.since.is_some() {
            let kept = &self.contributions[stage];
            self.apart = self.apart + usize::from(new != kept) - usize::from(old != kept);
        }
    }

    /// After a tick: how many ticks can be left out before patience ends, as they only go round.
    #[inline(always)]
    pub fn over(&mut self, state: &State, dirty: &[u64], ticks: usize, patience: usize) -> usize {
        let since = self.since.unwrap_or(0);
        if self.since.is_some() && self.apart == 0 && self.dirty == dirty {
            self.since = None;
            let round = ticks - since;
            return (patience - ticks) / round * round;
        }
        if ticks - since >= self.window {
            self.since = Some(ticks);
            self.values.clone_from(&state.values);
            self.contributions.clone_from(&state.contributions);
            self.dirty.copy_from_slice(dirty);
            self.apart = 0;
        }
        0
    }
}
