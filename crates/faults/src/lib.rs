//! What can be wrong, and which step shows it.
//!
//! A netlist that knows only gates gets single stuck-at faults ([`gates`]). The main verbs are
//! `enumerate` and `grade`.

pub mod apply;
pub mod dial;
mod fault;
pub mod gates;
mod kind;
pub mod kinds;
pub mod lanes;
mod priors;
pub mod proof;
pub mod region;
mod spoken;

pub use fault::{Fault, FaultId, enumerate};
pub use kind::Kind;
pub use priors::Priors;
pub use spoken::{Spoken, spoken};
