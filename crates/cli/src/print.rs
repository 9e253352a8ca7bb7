//! The ways out: JSON documents.

use serde::Serialize;
use std::io::{self, Write};

/// Prints a document, indented, with a line end after it.
pub fn json(out: &mut impl Write, document: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, document)?;
    writeln!(out)
}
