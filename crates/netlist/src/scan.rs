//! Characters to words: the only place that knows blanks, comments, quotes and continued lines.
//!
//! A word ends at a blank, a quote or a parenthesis. `#` begins a comment everywhere but behind an open
//! bracket, where it is the index of `D[#]`. The scanner never fails: what it cannot make sense of it
//! notes and goes on at the next line.

use crate::limits::MAX_WORD;
use crate::notices::{Notices, Placed};
use crate::source::{FileId, Span};

/// What a word looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    /// Letters, digits and signs.
    Plain,
    /// The same with a `[` in it.
    Indexed,
    /// Text in quotes; the span leaves the quotes out.
    Quoted,
    /// `(`
    Open,
    /// `)`
    Close,
}

/// No `=` in the word.
pub(crate) const NONE: u32 = u32::MAX;

/// One word of a line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Word {
    /// Its first byte.
    pub start: u32,
    /// The byte after its last.
    pub end: u32,
    /// Where the first `=` stands, or [`NONE`].
    pub equals: u32,
    /// What it looks like.
    pub shape: Shape,
}

/// One line after continued lines were joined: a stretch of the word list.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    /// Index of its first word.
    pub first: u32,
    /// How many words it has; never zero.
    pub count: u32,
}

/// A text as lines of words.
#[derive(Debug, Default)]
pub(crate) struct Scanned {
    pub words: Vec<Word>,
    pub lines: Vec<Line>,
}

/// Cuts `text` into lines of words.
pub(crate) fn scan(file: FileId, text: &str, notices: &mut Notices) -> Scanned {
    let bytes = text.as_bytes();
    let mut out = Scanned {
        words: Vec::with_capacity(bytes.len() / 5 + 8),
        lines: Vec::with_capacity(bytes.len() / 20 + 8),
    };
    let mut first = 0usize;
    let mut at = if text.starts_with('\u{feff}') { 3 } else { 0 };
    while at < bytes.len() {
        match bytes[at] {
            b'\n' => {
                end_line(&mut out, &mut first);
                at += 1;
            }
            byte if byte <= b' ' => at += 1,
            b'#' => at = line_end(bytes, at),
            b'\\' if continues(bytes, at) => at = line_end(bytes, at) + 1,
            b'"' => at = quoted(file, bytes, at, &mut out, notices),
            b'(' => at = single(at, Shape::Open, &mut out),
            b')' => at = single(at, Shape::Close, &mut out),
            _ => at = plain(file, text, at, &mut out, notices),
        }
    }
    end_line(&mut out, &mut first);
    out
}

fn end_line(out: &mut Scanned, first: &mut usize) {
    let end = out.words.len();
    if end > *first {
        out.lines.push(Line { first: *first as u32, count: (end - *first) as u32 });
        *first = end;
    }
}

fn line_end(bytes: &[u8], at: usize) -> usize {
    bytes[at..].iter().position(|byte| *byte == b'\n').map_or(bytes.len(), |length| at + length)
}

/// Whether the `\` at `at` has nothing but blanks and a comment behind it.
fn continues(bytes: &[u8], at: usize) -> bool {
    let rest = bytes[at + 1..].iter().find(|byte| **byte == b'\n' || **byte > b' ');
    matches!(rest, None | Some(b'\n' | b'#'))
}

fn single(at: usize, shape: Shape, out: &mut Scanned) -> usize {
    out.words.push(Word { start: at as u32, end: at as u32 + 1, equals: NONE, shape });
    at + 1
}

fn plain(file: FileId, text: &str, start: usize, out: &mut Scanned, notices: &mut Notices) -> usize {
    let bytes = text.as_bytes();
    let mut equals = NONE;
    let mut shape = Shape::Plain;
    let mut end = start;
    let mut bracket = false;
    while end < bytes.len() {
        match bytes[end] {
            byte if byte <= b' ' => break,
            b'"' | b'(' | b')' => break,
            b'#' if !bracket => break,
            b'=' if equals == NONE => equals = end as u32,
            b'[' => {
                shape = Shape::Indexed;
                bracket = true;
            }
            b']' => bracket = false,
            _ => {}
        }
        end += 1;
    }
    let mut word = Word { start: start as u32, end: end as u32, equals, shape };
    if end - start > MAX_WORD {
        let span = Span { file, start: word.start, end: word.end };
        notices.push(
            Placed::error("word-too-long", span, format!("a word of {} bytes", end - start))
                .mend(format!("no word may be longer than {MAX_WORD} bytes")),
        );
        let mut cut = start + MAX_WORD;
        while !text.is_char_boundary(cut) {
            cut -= 1;
        }
        word.end = cut as u32;
        if word.equals >= word.end {
            word.equals = NONE;
        }
    }
    out.words.push(word);
    end
}

fn quoted(file: FileId, bytes: &[u8], open: usize, out: &mut Scanned, notices: &mut Notices) -> usize {
    let mut end = open + 1;
    while end < bytes.len() && bytes[end] != b'"' && bytes[end] != b'\n' {
        // A backslash takes the next character with it, but never the end of the line.
        end +=
            if bytes[end] == b'\\' && bytes.get(end + 1).is_some_and(|next| *next != b'\n') { 2 } else { 1 };
    }
    let end = end.min(bytes.len());
    let closed = bytes.get(end) == Some(&b'"');
    if !closed {
        let span = Span { file, start: open as u32, end: end as u32 };
        notices.push(
            Placed::error("quote-open", span, "this quote is never closed".into())
                .mend("end the text with `\"` on the same line".into()),
        );
    }
    out.words.push(Word { start: open as u32 + 1, end: end as u32, equals: NONE, shape: Shape::Quoted });
    if closed { end + 1 } else { end }
}

/// The text a quoted word stands for: `\"`, `\\` and `\n` undone.
pub(crate) fn unquote(raw: &str) -> String {
    let mut out = String::with_capacity(raw.len());
    let mut letters = raw.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' => match letters.next() {
                Some('n') => out.push('\n'),
                Some('r') => out.push('\r'),
                Some(other) => out.push(other),
                None => out.push('\\'),
            },
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Sources;

    fn words(text: &str) -> (Vec<Vec<String>>, Vec<&'static str>) {
        let file = Sources::default().push("t".into(), text.into());
        let mut notices = Notices::default();
        let out = scan(file, text, &mut notices);
        let lines = out
            .lines
            .iter()
            .map(|line| {
                let words = &out.words[line.first as usize..(line.first + line.count) as usize];
                words.iter().map(|word| text[word.start as usize..word.end as usize].to_owned()).collect()
            })
            .collect();
        (lines, notices.finish().iter().map(|notice| notice.code).collect())
    }

    #[test]
    fn words_comments_and_continued_lines() {
        let (lines, codes) = words("R1 22k a b # why\nX[0..1] d=D[#] \\ # more\r\n  q=A\n\ncell n(a b)y\n");
        assert_eq!(codes, [] as [&str; 0]);
        assert_eq!(lines[0], ["R1", "22k", "a", "b"]);
        assert_eq!(lines[1], ["X[0..1]", "d=D[#]", "q=A"]);
        assert_eq!(lines[2], ["cell", "n", "(", "a", "b", ")", "y"]);
    }

    #[test]
    fn quotes_hold_blanks_and_marks() {
        let (lines, codes) = words("board a \"one # \\\" two\"\nb \"open");
        assert_eq!(lines[0], ["board", "a", "one # \\\" two"]);
        assert_eq!(unquote(&lines[0][2]), "one # \" two");
        assert_eq!(codes, ["quote-open"]);
    }
}
