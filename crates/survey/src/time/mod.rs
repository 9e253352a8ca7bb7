//! A board in time: its clocks, its reset, its gates' delays, and how fast it may be clocked.
//!
//! All of it comes from the transient circuit of pieces that are cut out of the board (see `cut.rs`): a
//! whole board for seconds would take minutes.

pub(crate) mod apart;
mod beats;
pub(crate) mod clocks;
mod cut;
pub(crate) mod delays;
pub(crate) mod keeps;
pub(crate) mod oscillator;
pub(crate) mod paths;
pub(crate) mod phases;
pub(crate) mod reset;
mod starts;
mod storage;
mod timed;
mod turned;
pub(crate) mod wave;

use crate::watch::Watch;
use clocks::Beat;
use delays::{Delayer, Delays};
use dryjoint_board::Notice;
use dryjoint_circuit::Solver;
use paths::Paths;
use phases::Turn;
use reset::Reset;

/// Everything about a board that belongs to time.
#[derive(Clone, Debug)]
pub struct Timing {
    /// Every clock that stands on the board, at every position of its switch.
    pub clocks: Vec<Beat>,
    /// Every pulse that the board makes by itself when power comes on.
    pub resets: Vec<Reset>,
    /// The delay of every stage.
    pub delays: Delays,
    /// The longest ways through the stages.
    pub paths: Paths,
    /// Every group of phases at its closest.
    pub turns: Vec<Turn>,
}

/// The timing of a board whose states `watch` has seen; clocks, resets and delays need none.
pub fn timing(watch: &Watch) -> (Timing, Vec<Notice>) {
    let mut notices = Vec::new();
    let mut solver = Solver::default();
    let extracted = watch.extracted;
    let clocks = clocks::beats(extracted, &mut solver, &mut notices);
    let resets = reset::resets(extracted, &mut solver, &mut notices);
    let delays = Delayer::new(extracted).all(&mut solver);
    let paths = paths::paths(watch, &delays);
    notices.extend(paths::too_fast(extracted, &clocks, &paths));
    let turns = phases::turns(watch, &clocks, &delays, &paths, &mut solver, &mut notices);
    (Timing { clocks, resets, delays, paths, turns }, notices)
}
