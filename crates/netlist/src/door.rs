//! What every part of the reading shares: the texts, the names, the notices, the budget.

use crate::collect::LineAt;
use crate::index::{BadIndex, expand};
use crate::limits::{MAX_NAME, MAX_RANGED};
use crate::names::{Names, Symbol, is_path};
use crate::notices::{Notices, Placed};
use crate::scan::{Scanned, Shape};
use crate::source::{FileId, Sources, Span};
use crate::words::{Token, Words};
use rustc_hash::FxHashSet;

/// The state of one reading.
pub(crate) struct Door<'t> {
    pub sources: &'t Sources,
    pub scanned: &'t [Scanned],
    pub names: Names,
    pub notices: Notices,
    /// Used files that were told to hold more than cells.
    pub told_used: FxHashSet<FileId>,
    ranged: u64,
}

impl<'t> Door<'t> {
    pub fn new(sources: &'t Sources, scanned: &'t [Scanned], notices: Notices) -> Self {
        Self {
            sources,
            scanned,
            names: Names::default(),
            notices,
            told_used: FxHashSet::default(),
            ranged: 0,
        }
    }

    /// The words of a line.
    pub fn words(&self, at: LineAt) -> Words<'t> {
        Words::new(at.file, &self.sources.get(at.file).text, &self.scanned[at.file.0 as usize], at.line)
    }

    /// Notes an error.
    pub fn error(&mut self, code: &'static str, span: Span, text: String, mend: impl Into<String>) {
        self.notices.push(Placed::error(code, span, text).mend(mend.into()));
    }

    /// Takes `work` from the budget of what ranges and arrays may make; false when it is used up.
    pub fn charge(&mut self, work: u64, span: Span) -> bool {
        self.ranged += work;
        if self.ranged > MAX_RANGED {
            self.error(
                "ranges-too-many",
                span,
                "the ranges of this text make more than a million words".into(),
                "is a range of an array far too long?",
            );
        }
        !self.is_spent()
    }

    /// Whether the budget of ranges and arrays is used up.
    pub fn is_spent(&self) -> bool {
        self.ranged > MAX_RANGED
    }

    /// Notes what is left over of a line.
    pub fn nothing_left(&mut self, words: &mut Words<'_>) {
        if let Some(extra) = words.next() {
            let text = format!("`{}` is more than this line holds", extra.text);
            self.error("word-extra", extra.span, text, "remove it, or put `#` before a comment");
        }
    }

    /// The net, port or part names `token` stands for, brackets filled in. Whether a range made them.
    pub fn names_of(&mut self, token: Token<'_>, index: Option<u32>, out: &mut Vec<Symbol>) -> bool {
        if token.shape == Shape::Plain {
            out.extend(self.plain_name(token.text, token.span));
            return false;
        }
        if token.shape != Shape::Indexed {
            let text = format!("`{}` is no name", token.text);
            self.error("name-bad", token.span, text, "a name has no quotes or parentheses");
            return false;
        }
        let mut made = Vec::new();
        let names = &mut self.names;
        let result = expand(token.text, index, |name| made.push(is_path(name).then(|| names.of(name))));
        match result {
            Ok(range) => {
                if made.iter().any(Option::is_none) {
                    self.bad_name(token.text, token.span);
                }
                if self.charge(made.len() as u64, token.span) {
                    out.extend(made.into_iter().flatten());
                }
                range
            }
            Err(bad) => {
                self.bad_index(&bad, token.span);
                false
            }
        }
    }

    /// The one name `token` stands for.
    pub fn name_of(&mut self, token: Token<'_>, index: Option<u32>) -> Option<Symbol> {
        if token.shape == Shape::Plain {
            return self.plain_name(token.text, token.span);
        }
        let mut out = Vec::new();
        if self.names_of(token, index, &mut out) {
            self.bad_index(&BadIndex::RangeHere, token.span);
            return None;
        }
        out.first().copied()
    }

    fn plain_name(&mut self, text: &str, span: Span) -> Option<Symbol> {
        if is_path(text) {
            return Some(self.names.of(text));
        }
        self.bad_name(text, span);
        None
    }

    /// Notes brackets that cannot be read.
    pub fn bad_index(&mut self, bad: &BadIndex, span: Span) {
        let (text, mend) = bad.words();
        self.error("index-bad", span, text, mend);
    }

    fn bad_name(&mut self, text: &str, span: Span) {
        let mend = if text.split('.').any(|part| part.len() > MAX_NAME) {
            "a name has at most 64 characters"
        } else if text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-')) {
            "a name begins with a letter, `/` or `_`: write `P5V` for +5V"
        } else {
            "a name is a letter, `/` or `_`, then letters, digits and `/ _ + -`"
        };
        self.error("name-bad", span, format!("`{text}` is no name"), mend);
    }
}
