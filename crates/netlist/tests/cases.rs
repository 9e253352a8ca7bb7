//! The literate cases under `cases/text`: a board's text, and beside it every notice it brings.
//!
//! `BLESS=1 cargo test -p dryjoint-netlist --test cases` writes the notices anew; a person then reads
//! the difference. A fenced block `board` is the board's file, `file NAME` one that it may use,
//! `notices` what is drawn.

use dryjoint_netlist::{Look, read};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../cases/text")
}

/// A stretch of a case file: prose, or a fenced block with what stands behind the fence.
enum Piece {
    Prose(String),
    Block { kind: String, text: String },
}

fn pieces(text: &str) -> Vec<Piece> {
    let mut out = Vec::new();
    let mut prose = String::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        match line.strip_prefix("```") {
            None => writeln!(prose, "{line}").unwrap(),
            Some(kind) => {
                out.push(Piece::Prose(std::mem::take(&mut prose)));
                let mut text = String::new();
                for line in lines.by_ref().take_while(|line| *line != "```") {
                    writeln!(text, "{line}").unwrap();
                }
                out.push(Piece::Block { kind: kind.to_owned(), text });
            }
        }
    }
    out.push(Piece::Prose(prose));
    out
}

/// What the door has to say on a board, drawn.
fn notices(board: &str, files: &BTreeMap<String, String>, codes: &mut BTreeSet<String>) -> String {
    let mut loader = |path: &str| {
        files.get(path).map(|text| text.clone().into_bytes()).ok_or_else(|| "no such file".to_owned())
    };
    let mut reading = read("x.board", board, &mut loader);
    reading.check();
    codes.extend(reading.notices.iter().map(|notice| notice.code.to_owned()));
    let drawn = reading.drawn(Look::default());
    if drawn.is_empty() { "none\n".into() } else { drawn }
}

/// The case file with its notices written anew.
fn anew(text: &str, codes: &mut BTreeSet<String>) -> String {
    let mut out = String::new();
    let mut files = BTreeMap::new();
    let mut board = None;
    for piece in pieces(text) {
        match piece {
            Piece::Prose(text) => out.push_str(&text),
            Piece::Block { kind, text } => {
                let text = match kind.as_str() {
                    "board" => {
                        board = Some(text.clone());
                        text
                    }
                    "notices" => {
                        let board = board.take().expect("a `board` block stands above every `notices`");
                        let drawn = notices(&board, &files, codes);
                        files.clear();
                        drawn
                    }
                    other => {
                        let name = other.strip_prefix("file ").expect("`board`, `file NAME` or `notices`");
                        files.insert(name.to_owned(), text.clone());
                        text
                    }
                };
                write!(out, "```{kind}\n{text}```\n").unwrap();
            }
        }
    }
    assert!(board.is_none(), "a `notices` block is missing at the end");
    out
}

fn case_files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder())
        .expect("cases/text is there")
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "md"))
        .collect();
    files.sort();
    files
}

/// The codes that source files name where notices are made.
fn codes_in(folder: &Path, out: &mut BTreeSet<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            if !path.ends_with("verilog") {
                codes_in(&path, out);
            }
            continue;
        }
        let text = fs::read_to_string(&path).unwrap();
        for call in ["error(", "warning(", "remark(", "new(", "claim(name, span, "] {
            for (at, _) in text.match_indices(call) {
                let word = text[at + call.len()..].trim_start().strip_prefix('"');
                out.extend(word.and_then(|word| word.split('"').next()).map(str::to_owned));
            }
        }
    }
}

#[test]
fn every_case_brings_the_notices_beside_it_and_every_kind_has_a_case() {
    let bless = std::env::var_os("BLESS").is_some();
    let mut differing = Vec::new();
    let mut shown = BTreeSet::new();
    for path in case_files() {
        let text = fs::read_to_string(&path).unwrap();
        let anew = anew(&text, &mut shown);
        if anew != text && bless {
            fs::write(&path, anew).unwrap();
        } else if anew != text {
            let line = anew.lines().zip(text.lines()).position(|(a, b)| a != b).unwrap_or(0);
            differing.push(format!("{}:{}", path.display(), line + 1));
        }
    }
    assert!(differing.is_empty(), "differ (BLESS=1 writes them anew): {differing:#?}");
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut known = BTreeSet::new();
    codes_in(&crates.join("netlist/src"), &mut known);
    codes_in(&crates.join("board/src/check"), &mut known);
    assert!(known.len() > 60, "the sources were searched in vain: {known:?}");
    // What no text of a sensible length brings about, or none at all; each has a test of its own.
    let elsewhere = [
        "cells-too-deep",
        "word-too-long",
        "group-empty",
        "board-broken",
        "card-kind",
        "card-range",
        "reference-class",
        "name-twice",
        "line-contact",
        "group-member",
        "notices-dropped",
        "file-too-big",
        "not-utf8",
        "use-too-many",
        "ranges-too-many",
        "image-record",
        "image-end",
        "image-file",
    ];
    let missing: Vec<_> =
        known.iter().filter(|code| !shown.contains(*code) && !elsewhere.contains(&code.as_str())).collect();
    assert!(missing.is_empty(), "without a case: {missing:#?}");
}
