//! Vectors for gate netlists: as few as can be found for everything that any vector shows, and a proof
//! for each fault that none shows.
//!
//! The main verb is [`plan()`]; [`explain()`] says why a fault is shown or why not; [`distinguish()`] tells
//! the faults from each other.

mod bound;
mod compact;
mod cover;
mod distinguish;
mod encode;
mod explain;
mod formula;
mod generate;
mod plan;
pub mod proof;
mod sequence;
mod targets;

pub use bound::Bound;
pub use distinguish::{Distinction, distinguish};
pub use explain::{Explanation, Place, explain};
pub(crate) use formula::{Answer, Manner, solve};
pub use formula::{Formula, Literal};
pub use plan::{Options, Phase, Progress, Standing, VectorPlan, plan};
pub use proof::Refuted;
