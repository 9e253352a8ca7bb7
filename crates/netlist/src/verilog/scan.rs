//! Text into tokens (IEEE 1364 §3): white space, comments, attributes and compiler directives fall
//! away.

use super::problem::{Code, Problem};
use super::syntax::At;

/// A token's kind and text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Word<'t> {
    /// An identifier or keyword; an escaped identifier comes without its backslash.
    Name(&'t str),
    /// An identifier that was escaped, so that it is never a keyword.
    Escaped(&'t str),
    /// A number as written.
    Number(&'t str),
    /// A string, which no netlist needs.
    Text,
    /// One character of punctuation.
    Mark(char),
}

/// A token where it stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Token<'t> {
    pub word: Word<'t>,
    pub at: At,
}

struct Scanner<'t> {
    text: &'t str,
    place: usize,
    at: At,
}

impl<'t> Scanner<'t> {
    fn peek(&self) -> Option<char> {
        self.text[self.place..].chars().next()
    }

    fn next(&mut self) -> Option<char> {
        let c = self.peek()?;
        self.place += c.len_utf8();
        if c == '\n' {
            self.at = At { line: self.at.line + 1, column: 1, byte: self.at.byte };
        } else {
            self.at.column += 1;
        }
        self.at.byte = u32::try_from(self.place).unwrap_or(u32::MAX);
        Some(c)
    }

    fn starts(&self, with: &str) -> bool {
        self.text[self.place..].starts_with(with)
    }

    /// Everything up to the first character that `keep` refuses.
    fn run(&mut self, keep: impl Fn(char) -> bool) -> &'t str {
        let start = self.place;
        while self.peek().is_some_and(&keep) {
            self.next();
        }
        &self.text[start..self.place]
    }

    /// Skips past `end`; false where the text ends first.
    fn skip_past(&mut self, end: &str) -> bool {
        while !self.starts(end) {
            if self.next().is_none() {
                return false;
            }
        }
        for _ in end.chars() {
            self.next();
        }
        true
    }
}

/// All tokens of the text.
pub(super) fn scan<'t>(text: &'t str, problems: &mut Vec<Problem>) -> Vec<Token<'t>> {
    let mut tokens = Vec::new();
    let mut scanner = Scanner { text, place: 0, at: At::START };
    while let Some(c) = scanner.peek() {
        let at = scanner.at;
        let word = match c {
            _ if c.is_whitespace() => {
                scanner.next();
                continue;
            }
            '/' if scanner.starts("//") => {
                scanner.run(|c| c != '\n');
                continue;
            }
            '/' if scanner.starts("/*") => {
                if !scanner.skip_past("*/") {
                    problems.push(unclosed(at, "comment", "*/"));
                }
                continue;
            }
            '(' if scanner.starts("(*") && !scanner.starts("(*)") => {
                if !scanner.skip_past("*)") {
                    problems.push(unclosed(at, "attribute", "*)"));
                }
                continue;
            }
            '`' => {
                let line = scanner.run(|c| c != '\n');
                if !["`timescale", "`default_nettype", "`celldefine", "`endcelldefine", "`resetall"]
                    .iter()
                    .any(|known| line.starts_with(known))
                {
                    problems.push(Problem::new(
                        Code::Unsupported,
                        at,
                        format!("the compiler directive `{}` is not read", first_word(line)),
                        "write the file out without macros, conditions and includes",
                    ));
                }
                continue;
            }
            '\\' => {
                scanner.next();
                Word::Escaped(scanner.run(|c| !c.is_whitespace()))
            }
            'a'..='z' | 'A'..='Z' | '_' => {
                Word::Name(scanner.run(|c| c.is_ascii_alphanumeric() || c == '_' || c == '$'))
            }
            '0'..='9' | '\'' => Word::Number(number(&mut scanner)),
            '"' => {
                scanner.next();
                scanner.run(|c| c != '"' && c != '\n');
                if scanner.next() != Some('"') {
                    problems.push(unclosed(at, "string", "\""));
                }
                Word::Text
            }
            _ => {
                scanner.next();
                Word::Mark(c)
            }
        };
        tokens.push(Token { word, at });
    }
    tokens
}

/// A number with its size and base, `4'b01_10`, as one token (IEEE 1364 §3.5.1).
fn number<'t>(scanner: &mut Scanner<'t>) -> &'t str {
    let start = scanner.place;
    scanner.run(|c| c.is_ascii_digit() || c == '_');
    if scanner.peek() == Some('\'') {
        scanner.next();
        scanner.run(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '?'));
    }
    &scanner.text[start..scanner.place]
}

fn first_word(line: &str) -> &str {
    line.split_whitespace().next().unwrap_or(line)
}

fn unclosed(at: At, what: &str, end: &str) -> Problem {
    Problem::new(
        Code::Malformed,
        at,
        format!("this {what} is never closed"),
        format!("close it with `{end}`"),
    )
}
