//! What would stop a person from building or bench-testing a board, one kind of notice a file.
//!
//! The order is that of the files below; within one kind, that of the board's tables. Where the tables
//! themselves do not hang together nothing else is looked at.

mod broken;
mod card;
mod clock;
mod contact;
mod driven;
mod electrolytic;
mod group;
mod lamp;
mod line;
mod lone;
mod lookalike;
mod names;
mod overlap;
mod reference;
mod shorted;
mod supply;
mod switch;
mod undeclared;
mod value;

use crate::{Board, Notice};

/// Kinds of notice that a line which could not be read can bring about by itself: where a text has
/// errors, they say nothing.
pub const FOLLOW_ON: [&str; 13] = [
    "board-empty",
    "net-single-pin",
    "net-undriven",
    "net-no-pin",
    "lamp-no-group",
    "group-empty",
    "switch-no-line",
    "no-ground",
    "no-rail",
    "rail-no-pin",
    "supply-undeclared",
    "name-twice",
    "part-shorted",
];

impl Board {
    /// Everything there is to remark on the board as such; an empty list is a board fit for the bench.
    pub fn check(&self) -> Vec<Notice> {
        let mut out = Vec::new();
        broken::check(self, &mut out);
        if !out.is_empty() {
            return out;
        }
        names::check(self, &mut out);
        reference::check(self, &mut out);
        lookalike::check(self, &mut out);
        card::check(self, &mut out);
        value::check(self, &mut out);
        supply::check(self, &mut out);
        undeclared::check(self, &mut out);
        let mut meant = lone::Meant::new();
        lone::check(self, &mut meant, &mut out);
        driven::check(self, &mut meant, &mut out);
        shorted::check(self, &mut out);
        electrolytic::check(self, &mut out);
        lamp::check(self, &mut out);
        group::check(self, &mut out);
        line::check(self, &mut out);
        contact::check(self, &mut out);
        switch::check(self, &mut out);
        clock::check(self, &mut out);
        overlap::check(self, &mut out);
        out
    }
}
