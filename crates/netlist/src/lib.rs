//! The text door: a board read from text, with every notice at its place.
//!
//! The main type is [`Reading`]; the main verb is [`read`]. The grammar is in GRAMMAR.md beside this
//! crate. Reading opens no file (a loader is handed in), never panics, and reports all problems of a
//! text at once.
//!
//! ```
//! let text = "rail VCC 5V limit 500mA\nground GND\nR1 2k2 VCC y\nDS1 red a=y k=GND\n";
//! let reading = dryjoint_netlist::read_alone("lamp.board", text);
//! let board = reading.board.expect("no errors");
//! assert_eq!(board.parts.len(), 2);
//! ```

mod bench;
mod body;
mod cards;
mod cell;
mod clauses;
mod collect;
mod compile;
mod door;
mod draw;
mod explain;
mod find;
pub mod image;
mod index;
mod instance_line;
mod layout;
mod limits;
mod load;
mod names;
mod notices;
mod number;
mod part_line;
mod pins;
mod place;
mod plain;
mod positions;
mod rails;
mod read;
mod scan;
mod size;
mod source;
mod value;
pub mod verilog;
mod words;

pub use draw::{Look, draw};
pub use load::Loader;
pub use notices::Placed;
pub use plain::{PlainNotice, PlainPlace, plain, severity};
pub use positions::Positions;
pub use read::{Reading, read, read_alone};
pub use source::{FileId, Position, Source, Sources, Span};
