//! Steps and procedures.

use crate::sure::Sureness;
use crate::{Action, Study};
use dryjoint_board::PartId;
use dryjoint_faults::FaultId;
use dryjoint_faults::region::Why;
use dryjoint_ids::{Id, Table, id};
use dryjoint_units::Seconds;

id!(
    /// A step of a procedure.
    StepId, "step"
);

/// One stop at the bench: do this, then see that.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The heading it stands under, from the board's own words.
    pub heading: String,
    /// What the hands do, in order.
    pub actions: Vec<Action>,
    /// The lamps afterwards on a good board, in reading order: lit, dark, or either.
    pub expect: Vec<(PartId, Option<bool>)>,
    /// How long it takes.
    pub seconds: Seconds,
}

/// Whether a procedure shows a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Coverage {
    /// This step is the first to show it.
    Shown(StepId),
    /// This step is the first that may show it; for this reason none surely does. Whether any way could is the third.
    Chance(StepId, Why, Sureness),
    /// No lamp can ever show it, for this reason.
    Never(Why),
    /// Its effect could not be computed, for this reason.
    Undecided(Why),
    /// Its effect is known, but no step of this procedure shows it.
    Missed,
}

/// A procedure: steps in order, and what they show.
#[derive(Clone, Debug, PartialEq)]
pub struct Procedure {
    /// The steps.
    pub steps: Table<StepId, Step>,
    /// What becomes of each fault.
    pub coverage: Table<FaultId, Coverage>,
    /// The time at the bench of the list as the search had found it, before it was compacted.
    pub found_seconds: Seconds,
}

impl Procedure {
    /// The time at the bench.
    pub fn bench_seconds(&self) -> Seconds {
        Seconds(self.steps.rows().iter().map(|step| step.seconds.0).sum())
    }

    /// How much of what lamps can surely show each step is the first to show, weighed by how probable each fault
    /// is: a share of one in all when nothing is missed.
    pub fn shares(&self, study: &Study) -> Vec<f64> {
        let mut shares = vec![0.0; self.steps.len()];
        let mut all = 0.0;
        for group in study.groups.rows() {
            match self.coverage[group.faults[0]] {
                Coverage::Shown(step) => shares[step.index()] += group.prior,
                Coverage::Missed => {}
                _ => continue,
            }
            all += group.prior;
        }
        shares.iter_mut().for_each(|share| *share /= f64::max(all, f64::MIN_POSITIVE));
        shares
    }

    /// Faults shown, out of those that lamps can show as far as is known.
    pub fn shown(&self) -> (usize, usize) {
        let count = |wanted: fn(&Coverage) -> bool| self.coverage.rows().iter().filter(|c| wanted(c)).count();
        let shown = count(|c| matches!(c, Coverage::Shown(_)));
        (shown, shown + count(|c| matches!(c, Coverage::Missed)))
    }
}
