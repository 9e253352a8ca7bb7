//! Names that say nothing: a file or folder is named after what it holds.

use super::{entries, shown};
use std::path::Path;

const EMPTY: [&str; 6] = ["util", "utils", "common", "manager", "helper", "helpers"];

/// Files and folders with such a name.
pub fn problems(root: &Path) -> Vec<String> {
    let mut problems = Vec::new();
    for path in entries(root) {
        let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
        if EMPTY.contains(&stem) {
            problems.push(format!("{}: name it after what it holds", shown(root, &path)));
        }
        if path.is_dir() {
            let inner = self::problems(&path);
            problems.extend(inner.into_iter().map(|problem| format!("{}/{problem}", shown(root, &path))));
        }
    }
    problems
}
