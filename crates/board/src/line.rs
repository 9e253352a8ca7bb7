//! Lines: what the bench may tie, release or pulse.

use crate::NetId;
use dryjoint_ids::id;

id!(
    /// A line of a board.
    LineId, "line"
);

/// A control line or data pin that reaches the outside.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its name, such as `/LD` or `D3`.
    pub name: String,
    /// The net it controls.
    pub net: NetId,
    /// How the bench gets at it.
    pub access: Access,
    /// What it does, in the builder's words, such as "load the counter from the bus".
    pub purpose: String,
    /// Whether the level that makes it act is high; nothing for a data pin.
    pub active_high: Option<bool>,
}

/// How the bench sets a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// A jumper from the pin to ground, or the pin left open.
    TieLow,
    /// A jumper from the pin to the rail, or the pin left open.
    TieHigh,
    /// A button or toggle switch on the board; closing it joins the line's net to a rail.
    Contact(crate::PartId),
}
