//! A board read as logic: signals that carry levels, stages that drive them.
//!
//! The main type is [`Logic`]; the main verb is `extract()`, which finds the stages in the parts and
//! proves them on the circuit. A netlist that only knows gates fills the same form.

mod extract;
mod form;
mod gate;
mod level;
mod simulate;

pub use extract::{
    Answer, Bench, Character, Cluster, ClusterId, Coupling, Disagreement, Extracted, Node, Output, Patch,
    Proof, Prover, Shape, SignalLevels, Switching, Thresholds, extract, is_passive, is_sound,
};
pub use form::{Function, Logic, Pulse, Role, Signal, SignalId, Stage, StageId};
pub use gate::Gate;
pub use level::Level;
pub use simulate::Simulation;
