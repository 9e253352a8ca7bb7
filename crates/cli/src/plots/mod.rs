//! The plots of a survey as SVG files: `check FILE --plots FOLDER`.
//!
//! Every kind of plot has a file beside this one that makes [`Named`] plots of a survey; [`all`] lists
//! them. They are for print and for eyes that tell no colours apart: see the crate `picture`.

mod clocks;
mod phases;
mod resets;
mod stages;

use crate::exit::Failure;
use dryjoint_board::Board;
use dryjoint_picture::Plot;
use dryjoint_survey::Survey;
use std::fs;
use std::path::{Path, PathBuf};

/// A plot with the name of its file, without the ending.
pub struct Named {
    name: String,
    plot: Plot,
}

impl Named {
    /// A plot under a name; what a file's name cannot hold everywhere becomes a dash.
    pub fn new(name: &str, plot: Plot) -> Self {
        let plain = |c: char| if c.is_ascii_alphanumeric() || "-_".contains(c) { c } else { '-' };
        Self { name: name.chars().map(plain).collect(), plot }
    }
}

/// Every plot of a survey.
fn all(board: &Board, survey: &Survey) -> Vec<Named> {
    let mut all = clocks::plots(board, survey);
    all.extend(stages::plots(board, survey));
    all.extend(phases::plots(board, survey));
    all.extend(resets::plots(board, survey));
    all
}

/// Writes every plot into a folder, which is made where there is none; gives back the files.
pub fn write(folder: &Path, board: &Board, survey: &Survey) -> Result<Vec<PathBuf>, Failure> {
    let refused = |error: std::io::Error| {
        Failure::Input(format!("{}: {error}; name another folder with --plots", folder.display()))
    };
    fs::create_dir_all(folder).map_err(refused)?;
    let mut files = Vec::new();
    for Named { name, plot } in all(board, survey) {
        let file = folder.join(name).with_extension("svg");
        fs::write(&file, plot.draw()).map_err(refused)?;
        files.push(file);
    }
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::Named;
    use dryjoint_picture::{Axis, Plot};

    #[test]
    fn a_nets_name_makes_a_files_name() {
        let axis = || Axis::of("", "", 0.0, 1.0);
        let named = Named::new("clock-/P1-run", Plot::single("", axis(), axis(), Vec::new()));
        assert_eq!(named.name, "clock--P1-run");
    }
}
