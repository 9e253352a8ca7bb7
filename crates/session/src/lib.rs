//! What the bench showed: the work on one unit of a board, look by look, and every reading taken.
//!
//! The main type is [`Session`]; the main verb is [`Session::observe`]. A [`Unit`] is a unit that
//! exists only in the circuit solver, with a fault hidden in it: practice without hardware, and a
//! witness of the procedure that shares nothing with the lanes.

mod clockwork;
mod near;
mod reading;
mod record;
mod unit;
mod wiring;

pub use reading::{Misreads, Reading, ReadingId, Seen, Sight};
pub use record::{Look, LookId, Session};
pub use unit::Unit;
pub use wiring::{Clocks, Dead, Wiring, between_positions, resistance};
