//! A sheet on paper: blocks become pieces, pieces are laid on pages, pages are written as PDF.

mod face;
mod flow;
mod page;
mod piece;
mod table;
mod write;

pub use page::Paper;
pub use write::NotWritten;
