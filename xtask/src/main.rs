//! The repository's own upkeep, started as `cargo xtask`.
//!
//! `structure` holds ARCHITECTURE.md, the folders and the crate edges together; `schema` writes the
//! published JSON Schemas anew; `score` tells how well the faults of boards are found. None is part of the
//! program.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a tool for a terminal")]

mod schema;
mod score;
mod structure;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

fn main() -> ExitCode {
    let task = std::env::args().nth(1);
    match task.as_deref() {
        Some("structure") => report(&structure::problems(&root())),
        Some("schema") => report(&schema::write(&root())),
        Some("score") => report(&score::run(&root(), std::env::args().skip(2))),
        _ => {
            eprintln!("usage: cargo xtask structure | schema | score BOARD…");
            ExitCode::from(2)
        }
    }
}

/// The repository's top folder.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map(Path::to_path_buf).unwrap_or_default()
}

fn report(problems: &[String]) -> ExitCode {
    for problem in problems {
        eprintln!("{problem}");
    }
    if problems.is_empty() {
        println!("in order");
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
