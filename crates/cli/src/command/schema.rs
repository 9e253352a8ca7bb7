//! `schema FOLDER`: the JSON Schema of every output, one file each.

use crate::exit::{Exit, Failure};
use crate::shape;
use std::path::Path;

/// Writes the files.
pub fn run(folder: &Path) -> Result<Exit, Failure> {
    let refused = |error| Failure::Input(format!("{}: {error}", folder.display()));
    std::fs::create_dir_all(folder).map_err(refused)?;
    for (name, text) in shape::schemas() {
        std::fs::write(folder.join(name), text).map_err(refused)?;
    }
    Ok(Exit::Fine)
}
