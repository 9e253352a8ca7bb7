//! The map of folders: each folder of the first two levels is on it, each line of it is a folder.
//!
//! The inside of a package (a folder with a `Cargo.toml`) is its own affair and not mapped.

use super::{block, entries, shown};
use std::collections::BTreeSet;
use std::path::Path;

/// Lines without a folder, folders without a line, lines that say nothing.
pub fn problems(root: &Path, architecture: &str) -> Vec<String> {
    let mut problems = Vec::new();
    let mut mapped = BTreeSet::new();
    for line in block(architecture, "map") {
        let (folder, meaning) = line.trim().split_once(char::is_whitespace).unwrap_or((line.trim(), ""));
        if meaning.trim().is_empty() {
            problems.push(format!("ARCHITECTURE.md: the map does not say what `{folder}` holds"));
        }
        if !mapped.insert(folder.trim_end_matches('/').to_owned()) {
            problems.push(format!("ARCHITECTURE.md: `{folder}` is on the map twice"));
        }
    }
    compare(&mapped, &real(root), &mut problems);
    problems
}

fn compare(mapped: &BTreeSet<String>, real: &BTreeSet<String>, problems: &mut Vec<String>) {
    for folder in mapped.difference(real) {
        problems.push(format!("ARCHITECTURE.md: `{folder}` is on the map but no such folder exists"));
    }
    for folder in real.difference(mapped) {
        problems.push(format!("{folder}: not on the map in ARCHITECTURE.md"));
    }
}

fn real(root: &Path) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for top in entries(root).into_iter().filter(|path| holds_something(path)) {
        found.insert(shown(root, &top));
        if !top.join("Cargo.toml").exists() {
            let inner = entries(&top).into_iter().filter(|path| holds_something(path));
            found.extend(inner.map(|path| shown(root, &path)));
        }
    }
    found
}

/// Whether there is a file in the folder at any depth: version control keeps no empty one.
fn holds_something(path: &Path) -> bool {
    path.is_dir() && entries(path).iter().any(|inner| inner.is_file() || holds_something(inner))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_directions_are_held() {
        let set = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<BTreeSet<_>>();
        let mut problems = Vec::new();
        compare(&set(&["lib", "gone"]), &set(&["lib", "new"]), &mut problems);
        assert_eq!(
            problems,
            [
                "ARCHITECTURE.md: `gone` is on the map but no such folder exists",
                "new: not on the map in ARCHITECTURE.md"
            ]
        );
    }

    #[test]
    fn a_line_says_what_the_folder_holds_and_says_it_once() {
        let problems = problems(Path::new("/nonexistent"), "```map\nlib\n```\n");
        assert!(problems.contains(&"ARCHITECTURE.md: the map does not say what `lib` holds".to_owned()));
        let problems = super::problems(Path::new("/nonexistent"), "```map\nlib a\nlib/ b\n```\n");
        assert!(problems.contains(&"ARCHITECTURE.md: `lib/` is on the map twice".to_owned()));
    }
}
