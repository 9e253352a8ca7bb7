//! Who could have caused all that was seen, how likely each is, and what to do next.
//!
//! The main type is [`Verdict`]; the main verb is [`weigh`]. An [`Inquiry`] keeps what was played
//! between verdicts, so that one after each reading costs little.

mod around;
mod chance;
mod end;
mod hear;
mod inquiry;
mod kept;
#[cfg(test)]
mod latch;
mod lean;
mod meter;
mod next;
mod pairs;
mod passive;
mod point;
mod points;
mod posterior;
mod reach;
mod standing;
mod suspect;
mod tell;

pub use end::End;
pub use inquiry::{Inquiry, weigh};
pub use next::{Deed, Next, Outcome, Sign, Touch, opened};
pub use pairs::{Pair, Pairs, Triple};
pub use suspect::{Cause, Doubt, Suspect, Verdict};
