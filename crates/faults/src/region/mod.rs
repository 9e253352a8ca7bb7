//! From a fault to its behaviour.
//!
//! The smallest region a fault can spoil is cut out of the board: the clusters it sits in, the
//! signals they touch, and the loads of these. For each way in which the rest of the board can drive
//! the region's signals the circuit is solved with the fault in it, and the voltages are read by the
//! thresholds of whoever reads them. What comes out is a [`Behaviour`].

mod certificate;
mod clock;
mod clock_joined;
mod core;
mod off;
mod reduce;
mod row;
mod solve;
mod whole;

pub use off::Off;

use crate::lanes::Behaviour;
use crate::proof::{self, Certificate};
use crate::{Fault, FaultId};
use dryjoint_board::Board;
use dryjoint_ids::{Id, Table};
use dryjoint_logic::Extracted;
use rayon::prelude::*;
use std::sync::{Mutex, PoisonError};

/// What a fault does, as far as lamps and levels go.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// It changes levels as this table says.
    Changes(Behaviour),
    /// No level and no lamp changes, for the reason given.
    Nothing(Why),
    /// It cannot be computed from levels, for the reason given.
    Undecided(Why),
}

/// Why a fault cannot be shown, or cannot be computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Why {
    /// With the fault in it, the circuit keeps every level in every case.
    LevelsStay,
    /// The states in which it would matter never occur: proven.
    NeverOccurs,
    /// No sequence of actions makes a lamp differ: every state that hands can bring about was tried.
    OutOfReach,
    /// The part only smooths or times.
    OnlySmooths,
    /// Nothing on the board hangs on it; it matters to the next board or to a meter lead.
    LeavesTheBoard,
    /// Another pin carries the same supply.
    SuppliedTwice,
    /// It joins a clock source with something else.
    BehindClock,
    /// The clock runs at another rate, and all else is as it should be.
    Rate(Off),
    /// The clock runs as it should.
    KeepsRate,
    /// The clock runs unevenly, at quite another rate or not against its complement, or may fall over as its switch is turned
    /// away.
    Uneven,
    /// It takes away the pulse with which the board wakes up.
    NoPulse,
    /// The pulse with which the board wakes up is still there.
    KeepsPulse,
    /// The pulse with which the board wakes up does not end.
    PulseStays,
    /// It changes times, which levels do not hold.
    Timing,
    /// More signals meet there than can be tabled.
    TooWide,
    /// The circuit found no solution.
    Unsolved,
    /// It seems never to show, and the second look at that does not agree.
    NotConfirmed,
    /// It upsets the supply without darkening every lamp.
    WholeBoard,
    /// It takes much of what the supply can give.
    Drains,
    /// It leaves a level between the thresholds, so that the next stage may read it either way.
    Marginal,
    /// It only makes a lamp dimmer than its neighbours.
    Dims,
    /// Luck decides: two stages race, or a latch woke up one way or the other.
    Race,
}

impl Why {
    /// The reason in words.
    pub fn words(self, board: &Board) -> String {
        match self {
            Self::Rate(off) => off.words(board),
            other => other.plain().to_owned(),
        }
    }

    fn plain(self) -> &'static str {
        match self {
            Self::LevelsStay => "every level stays on its side of the thresholds",
            Self::NeverOccurs => {
                "the board never comes to rest in a state in which it matters; proven and checked"
            }
            Self::OutOfReach => {
                "in none of the states that hands can bring about does a lamp differ; all were tried"
            }
            Self::OnlySmooths => "it only smooths the supply; look at it, no lamp will tell",
            Self::LeavesTheBoard => "nothing on this board hangs on it; measure at the pin",
            Self::SuppliedTwice => "another pin brings the same supply",
            Self::BehindClock => "it joins a clock source with something else",
            Self::Rate(_) => "the clock runs at another rate",
            Self::KeepsRate => "the clock keeps its levels, and its rate within a tenth",
            Self::Uneven => {
                "at some position of its switch the clock runs unevenly, much too fast or slow, or overlaps its complement, or \
                 may fall over as the switch leaves it"
            }
            Self::NoPulse => {
                "it only takes the pulse at power-on away; the board wakes up as luck has it, which no step relies on"
            }
            Self::KeepsPulse => "the pulse at power-on stays, if perhaps not its length",
            Self::PulseStays => "the pulse at power-on does not end; what lamps then show is not followed",
            Self::Timing => "it changes times, not levels",
            Self::TooWide => "too many signals meet there",
            Self::Unsolved => "the circuit with this fault has no solution that could be found",
            Self::NotConfirmed => {
                "it seems to change nothing, and a second look at that does not agree, or comes to no end"
            }
            Self::WholeBoard => "it upsets the whole board's supply",
            Self::Drains => {
                "it takes so much current that the supply tells at once; what lamps show hangs on the limit that is set"
            }
            Self::Marginal => "it leaves a level that the next stage may read either way",
            Self::Dims => "it only makes a lamp dimmer than its neighbours",
            Self::Race => "luck decides which of two stages is quicker, or how a latch woke up",
        }
    }
}

/// What a reason was held against a second time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Proof {
    /// The currents of every row were added up again from the published laws.
    Currents,
    /// A checker followed the refutation of a formula.
    Formula,
    /// Every state within reach was gone through.
    States,
    /// The contacts of the copper, with the fault and without, are the same.
    Copper,
    /// A plain circuit in time did the same.
    Time,
}

impl Why {
    /// What stands behind it where it is a reason to never show; nothing for any other.
    pub fn proof(self) -> Option<Proof> {
        match self {
            Self::LevelsStay => Some(Proof::Currents),
            Self::NeverOccurs => Some(Proof::Formula),
            Self::OutOfReach => Some(Proof::States),
            Self::OnlySmooths | Self::LeavesTheBoard | Self::SuppliedTwice => Some(Proof::Copper),
            Self::KeepsRate | Self::Rate(_) | Self::NoPulse | Self::KeepsPulse => Some(Proof::Time),
            _ => None,
        }
    }
}

/// The effect of every fault, in order.
pub fn effects(extracted: &Extracted, faults: &[Fault]) -> Table<FaultId, Effect> {
    let regions = solve::Regions::new(extracted);
    let board = extracted.shape.board;
    let looked_at_twice = |fault: &Fault| match core::effect(&regions, fault) {
        Effect::Nothing(Why::OnlySmooths | Why::LeavesTheBoard | Why::SuppliedTwice)
            if proof::stands(board, fault).is_err() =>
        {
            Effect::Undecided(Why::NotConfirmed)
        }
        effect => effect,
    };
    let effects: Vec<Effect> = faults.par_iter().map(looked_at_twice).collect();
    effects.into_iter().collect()
}

/// The certificate of a fault of which every level stays on its side, for whoever wants to hold it against the
/// board; nothing for any other fault.
pub fn certificate(extracted: &Extracted, fault: &Fault) -> Option<Certificate> {
    let mut regions = solve::Regions::new(extracted);
    regions.kept = Some(Mutex::new(None));
    core::effect(&regions, fault);
    regions.kept.and_then(|kept| kept.into_inner().unwrap_or_else(PoisonError::into_inner))
}

/// Faults that do the same, as groups in the order of their first member; a fault that changes
/// nothing is in none.
pub fn groups(effects: &Table<FaultId, Effect>) -> Vec<Vec<FaultId>> {
    let mut first: std::collections::HashMap<&Behaviour, usize> = std::collections::HashMap::new();
    let mut groups: Vec<Vec<FaultId>> = Vec::new();
    for (id, effect) in effects.iter() {
        if let Effect::Changes(behaviour) = effect {
            let group = *first.entry(behaviour).or_insert_with(|| {
                groups.push(Vec::new());
                groups.len() - 1
            });
            groups[group].push(id);
        }
    }
    debug_assert!(groups.iter().all(|group| group.iter().all(|id| id.index() < effects.len())));
    groups
}
