//! Why there is nothing more to do.
//!
//! An end is no failure: it says what was tried, so that a person knows whether another tool, more patience or the soldering
//! iron comes next.
//!
//! Example: by lamps alone, R5 open and DS3 broken look the same whatever is done. A meter may still tell them apart.

use crate::suspect::Verdict;

/// Why nothing is left to do at the bench that promises anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// All that the first suspect names is one and the same circuit.
    OneCircuit,
    /// With a meter: nothing here, nor after one step, tells the suspects apart.
    NothingClose,
    /// By lamps alone: no steps, however many, surely tell what stands first from any of the others that are at all likely.
    /// That is proven.
    LampsNever,
    /// By lamps alone: so many states were gone through and no more; there may be a way.
    LampsNotFound,
    /// The procedure is at its end, and what was read speaks for a good unit. Whether every step was looked at is not asked.
    Done,
    /// Something was odd, but most likely it was misread.
    NoFault,
    /// Most likely it is nothing that is on the list.
    NoneOfThese,
    /// Nobody is suspected.
    NoSuspect,
}

impl End {
    /// The end of a hunt that came to this; what the verdict itself says comes before it.
    pub(crate) fn of(verdict: &Verdict, otherwise: Self) -> Self {
        match verdict.suspects.first() {
            _ if verdict.none_of_these > 0.5 => Self::NoneOfThese,
            _ if verdict.no_fault > 0.5 && otherwise != Self::Done => Self::NoFault,
            _ if verdict.no_fault > 0.5 => Self::Done,
            Some(first) if first.circuits == 1 => Self::OneCircuit,
            Some(_) if otherwise == Self::Done => Self::NothingClose,
            Some(_) => otherwise,
            None => Self::NoSuspect,
        }
    }

    /// The word for it where a program reads it.
    pub fn word(self) -> &'static str {
        match self {
            Self::OneCircuit => "one-circuit",
            Self::NothingClose => "nothing-close",
            Self::LampsNever => "lamps-never",
            Self::LampsNotFound => "lamps-not-found",
            Self::Done => "done",
            Self::NoFault => "no-fault",
            Self::NoneOfThese => "none-of-these",
            Self::NoSuspect => "no-suspect",
        }
    }

    /// What is said of it.
    pub fn words(self) -> &'static str {
        match self {
            Self::OneCircuit => {
                "What the first suspect names is one and the same circuit: no reading can tell it apart any further. \
                 Touch up all of it."
            }
            Self::NothingClose => {
                "No lamp, voltage, current or resistance close by tells the suspects apart any further: not as the board \
                 stands, nor after one step from here. What lies several steps away was not tried. Touch up the likeliest \
                 first."
            }
            Self::LampsNever => {
                "The lamps can say no more: no steps, however many, surely tell the first suspect from another that is at all \
                 likely, or apart what it names. A meter may. Without one, touch up the likeliest first."
            }
            Self::LampsNotFound => {
                "No steps were found whose lamps tell the first suspect from another; there are too many to try them all. \
                 A meter may tell at once. Without one, touch up the likeliest first."
            }
            Self::Done => {
                "The procedure is at its end, and what was read speaks for a good unit. It passes if every step was looked at."
            }
            Self::NoFault => {
                "Most likely there is no fault, and what was odd was misread. Look at those lamps once more before you mend \
                 anything."
            }
            Self::NoneOfThese => {
                "None of the faults on the list shows all this. Look over what was read, and whether the board is built as its \
                 text says; then touch up what is suspected all the same."
            }
            Self::NoSuspect => "Nothing close by promises to tell more.",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A smell with every lamp as expected: nobody may read of a pass.
    #[test]
    fn the_end_of_the_procedure_is_a_pass_only_where_the_unit_is_likely_good() {
        let of = |no_fault, none_of_these, otherwise| {
            End::of(&Verdict { no_fault, none_of_these, ..Verdict::default() }, otherwise)
        };
        assert_eq!(of(0.9, 0.05, End::Done), End::Done);
        assert_eq!(of(0.1, 0.85, End::Done), End::NoneOfThese);
        assert_eq!(of(0.3, 0.3, End::Done), End::NoSuspect);
        assert_eq!(of(0.9, 0.05, End::LampsNever), End::NoFault);
    }
}
