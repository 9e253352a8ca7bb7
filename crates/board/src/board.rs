//! The board itself.

use crate::{
    Clock, ClockId, LampGroup, LampGroupId, Line, LineId, ModelId, NamedModel, Net, NetId, Part, PartId,
    Phases, Pin, PinId,
};
use dryjoint_ids::Table;

/// A board, flat: every part, pin and net under its own name.
///
/// **Invariant:** a pin names its part and net, and both list it, in the order of pin ids.
/// **Invariant:** references, net names, line names and group names are each unique.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Board {
    /// Short name, such as `address`.
    pub name: String,
    /// What it is, in one line.
    pub title: String,
    /// Model cards in use, in the order in which parts first name them.
    pub models: Table<ModelId, NamedModel>,
    /// Parts in the order of the text.
    pub parts: Table<PartId, Part>,
    /// Pins, part by part.
    pub pins: Table<PinId, Pin>,
    /// Nets in the order in which the text first names them.
    pub nets: Table<NetId, Net>,
    /// Lines the bench may set.
    pub lines: Table<LineId, Line>,
    /// Lamp groups.
    pub lamps: Table<LampGroupId, LampGroup>,
    /// Free-running clock sources.
    pub clocks: Table<ClockId, Clock>,
    /// Groups of nets that take turns.
    pub phases: Vec<Phases>,
}
