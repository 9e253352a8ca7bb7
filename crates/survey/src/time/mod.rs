//! A board in time: its clocks, its reset, its gates' delays, and how fast it may be clocked.
//!
//! All of it comes from the transient circuit of pieces that are cut out of the board (see `cut.rs`): a
//! whole board for seconds would take minutes.

pub(crate) mod clocks;
mod cut;
pub(crate) mod wave;
