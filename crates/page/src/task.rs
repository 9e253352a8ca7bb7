//! What the hands do now.

use crate::weigh::Opinion;
use crate::work::Work;
use dryjoint_board::{NetId, PartId, PinId};
use dryjoint_procedure::{Action, StepId};
use dryjoint_units::{Amps, Volts};
use dryjoint_verdict::Deed;

/// The next thing for the hands.
#[derive(Clone, Debug, PartialEq)]
pub enum Task {
    /// Do this and look at the lamps.
    Look {
        /// The step of the procedure, where it is one.
        step: Option<StepId>,
        /// What to do.
        actions: Vec<Action>,
        /// What a good board shows then.
        expect: Vec<(PartId, Option<bool>)>,
    },
    /// Hold the meter's lead there.
    Volts {
        /// The net.
        net: NetId,
        /// Its pins, the handiest first.
        pins: Vec<PinId>,
        /// What a good board shows.
        good: Option<Volts>,
    },
    /// Read the supply's current.
    Supply {
        /// What a good board draws.
        good: Option<Amps>,
    },
    /// A verdict on the last reading is being made.
    Weighing,
    /// Nothing more would tell the suspects apart.
    Told,
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
        let Some(opinion) = opinion.filter(|opinion| opinion.weighed == work.weighed()) else {
            return Self::Weighing;
        };
        match opinion.next.as_ref().map(|next| &next.deed) {
            Some(Deed::Look { step, actions, expect }) => {
                Self::Look { step: *step, actions: actions.clone(), expect: expect.clone() }
            }
            Some(Deed::Volts { net, pins, good }) => {
                Self::Volts { net: *net, pins: pins.clone(), good: *good }
            }
            Some(Deed::Supply { good }) => Self::Supply { good: *good },
            None => Self::Told,
        }
    }

    /// A step of the procedure.
    pub fn step(work: &Work, id: StepId) -> Self {
        let step = &work.subject.procedure.steps[id];
        let lead = work.stand().lead.iter().copied();
        let actions = lead.chain(step.actions.iter().copied()).collect();
        Self::Look { step: Some(id), actions, expect: step.expect.clone() }
    }
}
