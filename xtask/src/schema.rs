//! Writes `docs/schema/*.json` from the program itself.
//!
//! The program knows its own output types and prints their schemas; this only puts them into files.
//! A test beside those types fails when the files are out of date.

use std::path::Path;
use std::process::Command;

/// Writes every schema the program offers; returns what went wrong.
pub fn write(root: &Path) -> Vec<String> {
    let folder = root.join("docs/schema");
    let status = Command::new(std::env::var("CARGO").unwrap_or_else(|_| "cargo".into()))
        .current_dir(root)
        .args(["run", "--quiet", "--package", "dryjoint-cli", "--", "schema"])
        .arg(&folder)
        .status();
    match status {
        Ok(status) if status.success() => Vec::new(),
        Ok(status) => vec![format!("dryjoint schema {}: {status}", folder.display())],
        Err(error) => vec![format!("cargo does not start: {error}")],
    }
}
