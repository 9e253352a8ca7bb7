//! A file is one idea: one of more than 600 lines needs its reason on the list here.

use super::{files, shown};
use std::path::Path;

const MOST: usize = 600;

/// Files that may be longer, with the reason.
const REASONS: [(&str, &str); 0] = [];

/// Files that are too long without a reason, and reasons that no file needs any more.
pub fn problems(root: &Path) -> Vec<String> {
    let lengths = files(root, "rs").into_iter().map(|path| {
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        (shown(root, &path), text.lines().count())
    });
    compare(&lengths.collect::<Vec<_>>(), &REASONS)
}

fn compare(lengths: &[(String, usize)], reasons: &[(&str, &str)]) -> Vec<String> {
    let excused = |name: &str| reasons.iter().any(|(file, reason)| *file == name && !reason.is_empty());
    let long = |name: &str| lengths.iter().any(|(file, lines)| file == name && *lines > MOST);
    let too_long = lengths
        .iter()
        .filter(|(name, lines)| *lines > MOST && !excused(name))
        .map(|(name, lines)| format!("{name}: {lines} lines; split it, or give the reason in xtask"));
    let stale = reasons
        .iter()
        .filter(|(file, _)| !long(file))
        .map(|(file, _)| format!("xtask excuses the length of {file}, which needs no excuse"));
    too_long.chain(stale).collect()
}

#[cfg(test)]
mod tests {
    use super::compare;

    #[test]
    fn a_long_file_needs_a_reason_and_a_reason_a_long_file() {
        let lengths = [("a.rs".to_owned(), 601), ("b.rs".to_owned(), 600)];
        assert_eq!(compare(&lengths, &[]), ["a.rs: 601 lines; split it, or give the reason in xtask"]);
        assert!(compare(&lengths, &[("a.rs", "one table")]).is_empty());
        assert_eq!(compare(&lengths, &[("a.rs", "one table"), ("b.rs", "old")]).len(), 1);
    }
}
