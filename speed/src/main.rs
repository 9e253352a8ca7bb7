//! How fast the heart is: `cargo run --release -p dryjoint-speed`.
//!
//! Every figure is a ratio of two things measured in the same run on the same machine: our way against
//! a plain way written here, or against what the machine can do at all. Nothing here passes or fails.
#![allow(clippy::print_stdout, reason = "a program for the terminal")]

mod boards;
mod factors;
mod gates;
mod grading;
#[path = "../../crates/verdict/examples/score/hunt.rs"]
mod hunt;
mod klu;
mod load;
mod page;
mod pairs;
mod plain;
#[path = "../../crates/faults/tests/circuits/plain.rs"]
#[allow(dead_code, reason = "its drawn circuits are for tests")]
mod plain_gates;
mod random;
mod scaling;
mod stages;
#[path = "../../crates/verdict/examples/score/unit.rs"]
#[allow(dead_code, reason = "the score has units in the lanes too")]
mod unit;
mod verdicts;

use dryjoint_board::Board;
use std::time::{Duration, Instant};

/// The least of several runs: what the machine does when nobody disturbs it.
fn best_of(runs: usize, mut work: impl FnMut()) -> Duration {
    let times = (0..runs).map(|_| {
        let start = Instant::now();
        work();
        start.elapsed()
    });
    times.min().unwrap_or_default()
}

/// Dunlin's address board.
fn address_board() -> Board {
    own_board(include_str!("../../boards/address.board"))
}

/// Dunlin's clock and phase board.
fn phase_board() -> Board {
    own_board(include_str!("../../boards/phase.board"))
}

fn own_board(text: &str) -> Board {
    let cells = include_bytes!("../../boards/dunlin.cells");
    let reading = dryjoint_netlist::read("own.board", text, &mut |_| Ok(cells.to_vec()));
    reading.board.expect("the repository's own board is sound")
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let first = arguments.next();
    if first.as_deref() == Some(scaling::ONE) {
        let gates = arguments.next().and_then(|count| count.parse().ok());
        return scaling::one(gates.unwrap_or(1_000));
    }
    match first.as_deref() {
        Some("verdicts") => return verdicts::print(),
        Some("pairs") => return pairs::print(),
        _ => {}
    }
    load::print();
    stages::print();
    factors::print();
    boards::print();
    grading::print();
    pairs::print();
    verdicts::print();
    gates::print();
    scaling::print();
    page::print();
}
