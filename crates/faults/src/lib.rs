//! What can be wrong, and which step shows it.
//!
//! A netlist that knows only gates gets single stuck-at faults ([`gates`]). The main verbs are
//! `enumerate` and `grade`.

pub mod apply;
mod fault;
pub mod gates;
pub mod kinds;
pub mod lanes;
mod priors;
pub mod region;

pub use fault::{Fault, FaultId, enumerate};
pub use priors::Priors;
