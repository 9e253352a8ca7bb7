//! The core knows no file, clock, network, environment or terminal: a scan of its text.
//!
//! A scan and no proof: it finds the plain ways of naming those things. Tests at the end of a file
//! may use what they like.

use super::{files, shown};
use std::path::Path;

/// Modules of the standard library that reach outside.
const OUTSIDE: [&str; 6] = ["fs", "time", "net", "env", "process", "io"];
/// Macros that print.
const PRINTING: [&str; 5] = ["println!", "eprintln!", "print!", "eprint!", "dbg!"];

/// Uses of the outside in the packages of `folders`.
pub fn problems(root: &Path, folders: &[String]) -> Vec<String> {
    let mut problems = Vec::new();
    for path in folders.iter().flat_map(|folder| files(&root.join(folder).join("src"), "rs")) {
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        for (line, what) in outside(&text) {
            let place = shown(root, &path);
            problems.push(format!("{place}:{line}: the core does not know {what}"));
        }
    }
    problems
}

/// Line numbers with what they reach for.
fn outside(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (index, line) in text.lines().enumerate() {
        if line.trim() == "#[cfg(test)]" {
            break;
        }
        let code = line.split("//").next().unwrap_or_default();
        let group = code.split_once("std::{").map_or("", |(_, names)| names);
        for module in OUTSIDE {
            let grouped = group
                .split([',', '{', '}', ' ', ';'])
                .any(|name| name == module || name.starts_with(&format!("{module}::")));
            let path = format!("std::{module}");
            let plain = code.match_indices(&path).any(|(at, _)| {
                !code[at + path.len()..].starts_with(|c: char| c.is_ascii_alphanumeric() || c == '_')
            });
            if plain || grouped {
                found.push((index + 1, path));
            }
        }
        // `print!` is also the end of `println!`'s relatives, so a name must start where it is found.
        for name in PRINTING {
            let starts = code
                .match_indices(name)
                .any(|(at, _)| !code[..at].ends_with(|c: char| c.is_ascii_alphanumeric() || c == '_'));
            if starts {
                found.push((index + 1, name.to_owned()));
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::outside;

    #[test]
    fn the_plain_ways_out_are_found() {
        for (text, what) in [
            ("use std::fs;", "std::fs"),
            ("let t = std::time::Instant::now();", "std::time"),
            ("use std::{fmt, net::TcpStream};", "std::net"),
            ("use std::{env};", "std::env"),
            ("    println!(\"x\");", "println!"),
        ] {
            assert_eq!(outside(text), [(1, what.to_owned())], "{text}");
        }
    }

    #[test]
    fn remarks_and_tests_and_longer_words_are_left_alone() {
        for text in
            ["// std::fs", "use std::fmt;", "a_println!(x)", "#[cfg(test)]\nuse std::fs;", "std::iota"]
        {
            assert_eq!(outside(text), [], "{text}");
        }
    }
}
