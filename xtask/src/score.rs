//! Scores how well the faults of boards are found.
//!
//! The program that does it is an example of the verdict's package, since this one knows nothing of boards.

use std::path::Path;
use std::process::Command;

/// Starts it with these arguments; returns what went wrong.
pub fn run(root: &Path, arguments: impl Iterator<Item = String>) -> Vec<String> {
    let status = Command::new(std::env::var("CARGO").unwrap_or_else(|_| "cargo".into()))
        .current_dir(root)
        .args(["run", "--release", "--quiet", "--package", "dryjoint-verdict", "--example", "score", "--"])
        .args(arguments)
        .status();
    match status {
        Ok(status) if status.success() => Vec::new(),
        Ok(status) => vec![format!("score: {status}")],
        Err(error) => vec![format!("cargo does not start: {error}")],
    }
}
