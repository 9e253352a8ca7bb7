//! Stuck-at faults of gate netlists: which there are, which are the same, and which vector shows
//! which.
//!
//! [`StuckFaults::of`] lists and groups them, [`Circuit::compile`] lays the gates out for wide words,
//! and a [`Grader`] says which of 512 vectors show a group. For circuits with flip-flops the same
//! layout is the view between two clocks: flip-flop outputs count as inputs, flip-flop inputs as seen.

mod circuit;
mod exposure;
mod grade;
mod grader;
mod machine;
mod pending;
mod region;
mod stuck;
mod vector;

pub use circuit::{Circuit, NodeId, Obstacle, Op};
pub use exposure::Exposure;
pub use grade::{Graded, grade};
pub use grader::Grader;
pub use machine::{Crew, Seen, Span, State};
pub use stuck::{GroupId, Site, StuckAt, StuckFaults, StuckId};
pub use vector::Vector;
