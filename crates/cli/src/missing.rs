//! A file that cannot be read: why, and, where its name is misspelt, the file of that folder that was
//! probably meant.
//!
//! `adress.board: No such file or directory (os error 2); did you mean `address.board`?`

use crate::exit::Failure;
use dryjoint_board::nearest;
use std::io::{Error, ErrorKind};
use std::path::Path;

/// The refusal of a file that cannot be read.
pub fn unreadable(path: &Path, error: &Error) -> Failure {
    Failure::Input(format!("{}: {}", path.display(), told(path, error)))
}

/// Why a file cannot be read, without its name.
pub fn told(path: &Path, error: &Error) -> String {
    let meant = if error.kind() == ErrorKind::NotFound { meant(path) } else { String::new() };
    format!("{error}{meant}")
}

/// `; did you mean …?`, where a file of nearly that name is in the folder.
pub fn meant(path: &Path) -> String {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let wrong = path.file_name().unwrap_or_default().to_string_lossy();
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries
        .filter(|entry| entry.path().is_file())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    // A folder has no order of its own.
    names.sort_unstable();
    match nearest(&wrong, names.iter().map(String::as_str)) {
        Some(name) => format!("; did you mean `{}`?", path.with_file_name(name).display()),
        None => String::new(),
    }
}
