//! A board as soldered: parts with their pins, nets that join pins, lamps to look at and lines to
//! tie.
//!
//! The main type is [`Board`]; the main verb is [`Board::check`], which lists whatever would stop a
//! person from building or bench-testing it.

mod board;
mod check;
mod clock;
mod footprint;
mod lamp;
mod line;
mod nearest;
mod net;
mod notice;
mod part;
mod place;
mod print;

pub use board::Board;
pub use check::FOLLOW_ON;
pub use clock::{Clock, ClockId, Phases, Rate};
pub use footprint::REACH;
pub use lamp::{LampGroup, LampGroupId};
pub use line::{Access, Line, LineId};
pub use nearest::nearest;
pub use net::{Net, NetId, Supply};
pub use notice::{Entity, Notice, Severity};
pub use part::{ModelId, NamedModel, Part, PartId, PartKind, Pin, PinId};
pub use place::Place;
