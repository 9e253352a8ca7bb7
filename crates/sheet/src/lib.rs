//! The bench sheet of a board, for a person who works from paper.
//!
//! The main type is [`Sheet`]: chapters of text, tables, drawings and steps, computed from a board, its
//! faults and its procedure by [`Sheet::of`]. The main verb is to write it: [`Sheet::pdf`] lays it out on
//! pages of a [`Paper`], [`Sheet::html`] makes one self-contained page. Neither knows what the board is:
//! both walk the same blocks.

mod content;
mod html;
mod paper;
mod sheet;

pub use content::memory_rows;
pub use paper::{NotWritten, Paper};
pub use sheet::{Block, Chapter, Column, Layout, Sheet, StepBlock, Table};
