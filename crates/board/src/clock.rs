//! Free-running clock sources.

use crate::{NetId, PartId};
use dryjoint_ids::id;
use dryjoint_units::Hertz;

id!(
    /// A clock source of a board.
    ClockId, "clock"
);

/// A net that moves by itself once the board has power.
#[derive(Clone, Debug, PartialEq)]
pub struct Clock {
    /// The net that carries the clock.
    pub net: NetId,
    /// Nets that carry its complement.
    pub complement: Option<NetId>,
    /// The selector switch, where there is one.
    pub selector: Option<PartId>,
    /// The rate at each switch position, in the order of the positions.
    pub rates: Vec<Rate>,
}

/// Nets that take turns: no two of them may act at once.
#[derive(Clone, Debug, PartialEq)]
pub struct Phases {
    /// The nets, at least two. One whose name begins with `/` acts low, as on every schematic (common
    /// practice, no source).
    pub nets: Vec<NetId>,
}

/// One rate of a clock.
#[derive(Clone, Debug, PartialEq)]
pub struct Rate {
    /// The switch position's name.
    pub position: String,
    /// Full cycles a second.
    pub rate: Hertz,
}
