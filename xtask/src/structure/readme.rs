//! README's first code block is two commands: the main job, then all tests. `.ci/run` runs both.

use std::path::Path;

/// Commands that are missing, or that `.ci/run` does not run as they stand.
pub fn problems(root: &Path) -> Vec<String> {
    let read = |name: &str| std::fs::read_to_string(root.join(name)).unwrap_or_default();
    compare(&read("README.md"), &read(".ci/run"))
}

fn compare(readme: &str, ci: &str) -> Vec<String> {
    let mut commands = readme.lines().skip_while(|line| !line.starts_with("```")).skip(1);
    let commands: Vec<&str> = commands.by_ref().take_while(|line| !line.starts_with("```")).collect();
    let [main_job, tests] = commands[..] else {
        return vec!["README.md: the first code block is not two commands".to_owned()];
    };
    let bare = |line: &str| line.split('#').next().unwrap_or_default().trim().to_owned();
    [main_job, tests]
        .into_iter()
        .map(bare)
        .filter(|command| !ci.lines().any(|line| line.trim() == command))
        .map(|command| format!(".ci/run does not run `{command}` as README.md gives it"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::compare;

    #[test]
    fn both_commands_stand_in_the_script_as_given() {
        let readme = "x\n```sh\ncargo run   # the job\ncargo test\n```\n```\nother\n```\n";
        assert!(compare(readme, "set -e\ncargo run\n  cargo test\n").is_empty());
        assert_eq!(
            compare(readme, "cargo run\ncargo test --lib\n"),
            [".ci/run does not run `cargo test` as README.md gives it"]
        );
        assert_eq!(compare("", "").len(), 1);
    }
}
