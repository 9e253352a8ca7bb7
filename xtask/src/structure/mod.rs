//! What ARCHITECTURE.md says about folders and edges, held against what is there.

mod core;
mod edges;
mod map;
mod names;
mod readme;
mod size;

use std::path::{Path, PathBuf};

/// Everything that is out of order, one line each.
pub fn problems(root: &Path) -> Vec<String> {
    let text = match std::fs::read_to_string(root.join("ARCHITECTURE.md")) {
        Ok(text) => text,
        Err(error) => return vec![format!("ARCHITECTURE.md: {error}")],
    };
    let mut problems = map::problems(root, &text);
    let edges = edges::Edges::parse(&text);
    problems.extend(edges.problems(root));
    problems.extend(core::problems(root, &edges.core_folders()));
    problems.extend(size::problems(root));
    problems.extend(names::problems(root));
    problems.extend(readme::problems(root));
    problems
}

/// The lines of the fenced block of ARCHITECTURE.md that is marked `kind`.
fn block<'a>(text: &'a str, kind: &str) -> impl Iterator<Item = &'a str> {
    let fence = format!("```{kind}");
    text.lines()
        .skip_while(move |line| line.trim() != fence)
        .skip(1)
        .take_while(|line| !line.trim().starts_with("```"))
        .filter(|line| !line.trim().is_empty())
}

/// Names inside `folder` in order, without hidden ones and build products.
fn entries(folder: &Path) -> Vec<PathBuf> {
    let Ok(read) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut entries: Vec<PathBuf> = read
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| {
            let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
            !name.starts_with('.') && name != "target" && name != "proptest-regressions"
        })
        .collect();
    entries.sort();
    entries
}

/// All files below `folder` whose name ends in `.ending`, in order.
fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for path in entries(folder) {
        if path.is_dir() {
            found.extend(files(&path, ending));
        } else if path.extension().is_some_and(|extension| extension == ending) {
            found.push(path);
        }
    }
    found
}

/// `path` as ARCHITECTURE.md writes it: from the top folder, with forward slashes.
fn shown(root: &Path, path: &Path) -> String {
    let inside = path.strip_prefix(root).unwrap_or(path);
    inside.components().map(|part| part.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
}

#[cfg(test)]
mod tests {
    #[test]
    fn map_folders_and_edges_hold_together() {
        let problems = super::problems(&crate::root());
        assert!(problems.is_empty(), "{}", problems.join("\n"));
    }

    #[test]
    fn a_block_ends_at_its_fence() {
        let text = "a\n```map\nlib  x\n\ncrates  y\n```\nb\n```map\nz\n```\n";
        assert_eq!(super::block(text, "map").collect::<Vec<_>>(), ["lib  x", "crates  y"]);
        assert_eq!(super::block(text, "edges").count(), 0);
    }
}
