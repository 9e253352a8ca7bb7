//! A written PDF read back by the poppler tools, which share nothing with the program.

use std::path::{Path, PathBuf};
use std::process::Command;

/// Whether the tools are there. Where they are missing they are installed if this is a machine of
/// continuous integration and the user may; otherwise the checks are skipped, and said to be.
pub fn is_here() -> bool {
    let there = || Command::new("pdftotext").arg("-v").output().is_ok();
    if there() {
        return true;
    }
    if std::env::var("CI").as_deref() != Ok("true") {
        eprintln!("SKIPPED: no pdftotext; install poppler-utils to have the PDF read back");
        return false;
    }
    for arguments in [&["update"][..], &["install", "-y", "--no-install-recommends", "poppler-utils"]] {
        let done = Command::new("apt-get").args(arguments).output();
        assert!(done.is_ok_and(|done| done.status.success()), "poppler-utils could not be installed");
    }
    assert!(there(), "poppler-utils is installed and pdftotext is missing");
    true
}

/// A word on a page, in points from the upper left.
#[derive(Clone, Debug)]
pub struct Word {
    pub text: String,
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

/// A page with its words in the order in which they were written.
pub struct Page {
    pub width: f64,
    pub height: f64,
    pub words: Vec<Word>,
}

/// A file with these bytes that the tools can read.
pub fn file(name: &str, bytes: &[u8]) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, bytes).expect("the test's folder takes files");
    path
}

fn output(tool: &str, arguments: &[&str], path: &Path) -> Vec<u8> {
    let done = Command::new(tool).args(arguments).arg(path).arg("-").output();
    let done = done.unwrap_or_else(|error| panic!("{tool}: {error}"));
    assert!(done.status.success(), "{tool}: {}", String::from_utf8_lossy(&done.stderr));
    done.stdout
}

/// All words with their places.
pub fn pages(path: &Path) -> Vec<Page> {
    let text =
        String::from_utf8(output("pdftotext", &["-raw", "-bbox"], path)).expect("pdftotext writes UTF-8");
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let tree = roxmltree::Document::parse_with_options(&text, options).expect("pdftotext writes XHTML");
    let number = |node: &roxmltree::Node, name: &str| -> f64 {
        node.attribute(name).and_then(|value| value.parse().ok()).expect("a number")
    };
    let word = |node: roxmltree::Node| Word {
        text: node.text().unwrap_or_default().to_owned(),
        left: number(&node, "xMin"),
        top: number(&node, "yMin"),
        right: number(&node, "xMax"),
        bottom: number(&node, "yMax"),
    };
    let pages = tree.descendants().filter(|node| node.has_tag_name("page"));
    pages
        .map(|page| Page {
            width: number(&page, "width"),
            height: number(&page, "height"),
            words: page.children().filter(|node| node.has_tag_name("word")).map(word).collect(),
        })
        .collect()
}

/// Each font's name, and whether it is embedded and cut to the letters in use.
pub fn fonts(path: &Path) -> Vec<(String, bool, bool)> {
    let done = Command::new("pdffonts").arg(path).output().expect("pdffonts runs");
    let text = String::from_utf8(done.stdout).expect("pdffonts writes UTF-8");
    let row = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        // name, type (two words), encoding, emb, sub, uni, object (two words)
        let from_end = |count: usize| words[words.len() - count] == "yes";
        (words[0].to_owned(), from_end(5), from_end(4))
    };
    text.lines().skip(2).map(row).collect()
}

/// A page as a picture in shades of grey.
pub struct Picture {
    pub width: usize,
    pub height: usize,
    pub greys: Vec<u8>,
}

/// A page drawn at this many dots an inch, the first page being 1.
pub fn picture(path: &Path, page: usize, dots: usize) -> Picture {
    let (page, dots) = (page.to_string(), dots.to_string());
    let arguments = ["-gray", "-r", &dots, "-f", &page, "-l", &page, "-singlefile"];
    let done = Command::new("pdftoppm").args(arguments).arg(path).output().expect("pdftoppm runs");
    assert!(done.status.success(), "pdftoppm: {}", String::from_utf8_lossy(&done.stderr));
    // `P5 width height 255`, each ended by one blank, then a byte for every dot.
    let mut head = done.stdout.splitn(4, |byte| byte.is_ascii_whitespace());
    let mut number = || -> usize {
        let word = head.next().expect("a word of the head");
        std::str::from_utf8(word).ok().and_then(|word| word.parse().ok()).unwrap_or(0)
    };
    let (_, width, height) = (number(), number(), number());
    let greys = done.stdout[done.stdout.len() - width * height..].to_vec();
    Picture { width, height, greys }
}
