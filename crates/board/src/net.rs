//! Nets: what is soldered together.

use crate::PinId;
use dryjoint_ids::id;
use dryjoint_units::{Amps, Volts};

id!(
    /// A net of a board.
    NetId, "net"
);

/// A net: all pins that copper or wire joins.
#[derive(Clone, Debug, PartialEq)]
pub struct Net {
    /// Its flat name, such as `CARRY` or `BIT3.q`.
    pub name: String,
    /// What feeds it when it is a rail.
    pub supply: Option<Supply>,
    /// The pins on it, in the order of their ids.
    pub pins: Vec<PinId>,
    /// Whether a meter lead reaches it: every net with a bare joint does unless the text says no.
    pub reachable: bool,
}

/// What holds a rail at its voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Supply {
    /// The bench supply's other terminal, 0 V.
    Ground,
    /// A supply of the bench or the backplane.
    Rail {
        /// Its voltage against ground.
        volts: Volts,
        /// The current limit to set.
        limit: Amps,
    },
}
