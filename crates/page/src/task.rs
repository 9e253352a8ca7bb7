//! What the hands do now.

use crate::weigh::{Advice, Opinion};
use crate::work::Work;
use dryjoint_procedure::StepId;
use dryjoint_verdict::{Deed, End};

/// The next thing for the hands.
#[derive(Clone, Debug, PartialEq)]
pub enum Task {
    /// This.
    Do(Deed),
    /// A verdict on the last reading is being made.
    Weighing,
    /// The suspects are weighed; what to do about them is still being worked out.
    Advising,
    /// Nothing more would tell the suspects apart, and why.
    Told(End),
    /// The whole procedure was as expected.
    Passed,
    /// The practice is over.
    Over,
}

impl Task {
    /// What the hands do now, from where the bench stands and the latest opinion.
    pub fn of(work: &Work, opinion: Option<&Opinion>) -> Self {
        let stand = work.stand();
        if stand.over {
            return Self::Over;
        }
        if stand.passed {
            return Self::Passed;
        }
        if !stand.surprised
            && let Some(step) = work.next_step()
        {
            return Self::step(work, step);
        }
        let Some(opinion) = opinion.filter(|opinion| opinion.basis == work.basis()) else {
            return Self::Weighing;
        };
        match &opinion.advice {
            Advice::Sought => Self::Advising,
            Advice::Found(Ok(next)) => Self::Do(next.deed.clone()),
            Advice::Found(Err(end)) => Self::Told(*end),
        }
    }

    /// A step of the procedure.
    pub fn step(work: &Work, id: StepId) -> Self {
        let step = &work.subject.procedure.steps[id];
        let lead = work.stand().lead.iter().copied();
        let actions = lead.chain(step.actions.iter().copied()).collect();
        Self::Do(Deed::Look { step: Some(id), actions, expect: step.expect.clone() })
    }
}
