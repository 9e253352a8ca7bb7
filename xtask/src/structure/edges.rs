//! Which package may depend on which: the `edges` block of ARCHITECTURE.md against the manifests.
//!
//! A line is a package's folder name, a colon, and what it may use. `lib` and `chain` are the two
//! groups; a package of the chain may use `lib` and whatever stands before it in the chain. What
//! stands after `tests:` may be used by the software tests of every package in addition.

use super::block;
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// The allowed edges.
#[derive(Debug, Default)]
pub struct Edges {
    lib: Vec<String>,
    chain: Vec<String>,
    tests: Vec<String>,
    others: Vec<(String, Vec<String>)>,
}

impl Edges {
    /// Reads the block; what is not understood shows as an edge that is not allowed.
    pub fn parse(architecture: &str) -> Self {
        let mut edges = Self::default();
        for line in block(architecture, "edges") {
            let (name, uses) = line.split_once(':').unwrap_or((line, ""));
            let uses = uses.split_whitespace().map(str::to_owned).collect();
            match name.trim() {
                "lib" => edges.lib = uses,
                "chain" => edges.chain = uses,
                "tests" => edges.tests = uses,
                name => edges.others.push((name.to_owned(), uses)),
            }
        }
        edges
    }

    /// The folders of the packages that know no file, clock, network or terminal.
    pub fn core_folders(&self) -> Vec<String> {
        let lib = self.lib.iter().map(|name| format!("lib/{name}"));
        let chain = self.chain.iter().map(|name| format!("crates/{name}"));
        lib.chain(chain).collect()
    }

    fn allowed(&self, from: &str, to: &str, test: bool) -> bool {
        if test && (self.tests.iter().any(|name| name == to) || self.lib.iter().any(|name| name == to)) {
            return true;
        }
        if self.lib.iter().any(|name| name == from) {
            return false;
        }
        let in_lib = self.lib.iter().any(|name| name == to);
        let at = |wanted: &str| self.chain.iter().position(|name| name == wanted);
        if let Some(here) = at(from) {
            return in_lib || at(to).is_some_and(|there| there < here);
        }
        let uses = self.others.iter().find(|(name, _)| name == from);
        uses.is_some_and(|(_, uses)| {
            uses.iter()
                .any(|name| name == to || (name == "lib" && in_lib) || (name == "chain" && at(to).is_some()))
        })
    }

    fn knows(&self, name: &str) -> bool {
        self.lib.iter().chain(&self.chain).any(|known| known == name)
            || self.others.iter().any(|(known, _)| known == name)
    }

    /// Edges in the manifests that are not allowed, and packages the block does not name.
    pub fn problems(&self, root: &Path) -> Vec<String> {
        let output = Command::new(std::env::var("CARGO").unwrap_or_else(|_| "cargo".into()))
            .current_dir(root)
            .args(["metadata", "--format-version", "1", "--no-deps"])
            .output();
        let metadata: Value = match output {
            Ok(output) => serde_json::from_slice(&output.stdout).unwrap_or_default(),
            Err(error) => return vec![format!("cargo metadata does not start: {error}")],
        };
        let Some(packages) = metadata["packages"].as_array() else {
            return vec!["cargo metadata: the workspace's manifests cannot be read".to_owned()];
        };
        let mut problems = Vec::new();
        for package in packages {
            let from = folder_name(package["name"].as_str().unwrap_or_default());
            if !self.knows(from) {
                problems.push(format!("ARCHITECTURE.md: no edges are given for package `{from}`"));
                continue;
            }
            for dependency in package["dependencies"].as_array().into_iter().flatten() {
                let to = folder_name(dependency["name"].as_str().unwrap_or_default());
                let test = dependency["kind"].as_str() == Some("dev");
                if dependency["path"].is_string() && !self.allowed(from, to, test) {
                    let note = if test { " (for its tests)" } else { "" };
                    problems.push(format!("{from} uses {to}{note}: ARCHITECTURE.md allows no such edge"));
                }
            }
        }
        problems
    }
}

fn folder_name(package: &str) -> &str {
    package.strip_prefix("dryjoint-").unwrap_or(package)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "```edges\nlib: ids units\nchain: parts board circuit\nnetlist: lib board\ntests: netlist\ncli: lib chain\n```";

    #[test]
    fn the_chain_goes_one_way() {
        let edges = Edges::parse(TEXT);
        assert!(edges.allowed("circuit", "board", false));
        assert!(edges.allowed("board", "units", false));
        assert!(!edges.allowed("board", "circuit", false));
        assert!(!edges.allowed("circuit", "circuit", false));
        assert!(!edges.allowed("units", "ids", false));
        assert!(!edges.allowed("circuit", "cli", false));
    }

    #[test]
    fn a_door_uses_what_its_line_says_and_tests_may_use_more() {
        let edges = Edges::parse(TEXT);
        assert!(edges.allowed("netlist", "board", false));
        assert!(!edges.allowed("netlist", "circuit", false));
        assert!(!edges.allowed("circuit", "netlist", false));
        assert!(edges.allowed("circuit", "netlist", true));
        assert!(!edges.allowed("board", "cli", true));
        assert!(edges.allowed("cli", "circuit", false));
        assert_eq!(edges.core_folders()[..3], ["lib/ids", "lib/units", "crates/parts"]);
    }
}
