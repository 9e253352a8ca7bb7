//! The embedded store: units, the stretches of bench work on them, and every reading taken.
//!
//! The main type is [`Store`]; the main verb is [`Store::keep`]. Nothing is ever overwritten: a reading
//! that was wrong is taken back or corrected by a later entry that names it. Whatever `keep` has
//! acknowledged is on the disk.
//!
//! Parts, lamps and lines stand here by the names that are printed on the board, so that a record can
//! be read without the board's text, and after that text was changed.

mod count;
mod entry;
mod exchange;
mod migrate;
mod store;

pub use count::{BoardCount, FaultCount};
pub use entry::{Entry, Kind, Millis, Read, Sort, standing};
pub use exchange::{Form, Imported};
pub use store::{Kept, SessionId, SessionRow, Store, StoreError, UnitId, UnitRow};
