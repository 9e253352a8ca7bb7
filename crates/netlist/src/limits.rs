//! How much one reading may ask for, so that no text makes it run away.
//!
//! A big machine of this kind has some ten thousand parts; each limit stands at least ten times
//! above anything a person would build.

/// Bytes in one word; a net's full path through the deepest cells is not longer.
pub(crate) const MAX_WORD: usize = 4_096;
/// Bytes in one name.
pub(crate) const MAX_NAME: usize = 64;
/// Bytes in one file.
pub(crate) const MAX_FILE: usize = 256 << 20;
/// Files in one reading.
pub(crate) const MAX_FILES: usize = 256;
/// Elements of one range `[a..b]`.
pub(crate) const MAX_RANGE: u64 = 10_000;
/// Names and words made by all ranges and arrays of a reading together.
pub(crate) const MAX_RANGED: u64 = 1_000_000;
/// Cells within cells.
pub(crate) const MAX_DEPTH: u32 = 32;
/// Parts, instances and pins of a whole board.
pub(crate) const MAX_ITEMS: u64 = 4_000_000;
/// Bytes of all net names and section names that instances make.
pub(crate) const MAX_NAME_BYTES: u64 = 256 << 20;
/// Pins of one header or selector.
pub(crate) const MAX_PINS: u32 = 1_000;
/// Notices kept; what comes after is only counted.
pub(crate) const MAX_NOTICES: usize = 1_000;
/// Names compared in search of one that was meant, over the whole reading.
pub(crate) const MAX_COMPARED: usize = 2_000_000;
