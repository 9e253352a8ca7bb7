//! Notices with their place in the text.

use crate::limits::{MAX_COMPARED, MAX_NOTICES};
use crate::source::{Span, floor};
use dryjoint_board::{Severity, nearest};
use rustc_hash::FxHashSet;

/// A notice with its place in the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed {
    /// How much it matters.
    pub severity: Severity,
    /// A stable short name of the kind of notice.
    pub code: &'static str,
    /// What is wrong, in one sentence.
    pub text: String,
    /// How to mend it; empty where only the builder can know.
    pub mend: String,
    /// Where in the text; nothing where it is about the board as a whole.
    pub place: Option<Span>,
    /// Other places that belong to it, each with a few words.
    pub also: Vec<(Span, String)>,
}

impl Placed {
    pub(crate) fn error(code: &'static str, span: Span, text: String) -> Self {
        Self {
            severity: Severity::Error,
            code,
            text,
            mend: String::new(),
            place: Some(span),
            also: Vec::new(),
        }
    }

    pub(crate) fn warning(code: &'static str, span: Span, text: String) -> Self {
        Self { severity: Severity::Warning, ..Self::error(code, span, text) }
    }

    pub(crate) fn remark(code: &'static str, span: Span, text: String) -> Self {
        Self { severity: Severity::Remark, ..Self::error(code, span, text) }
    }

    pub(crate) fn mend(mut self, mend: String) -> Self {
        self.mend = mend;
        self
    }

    pub(crate) fn also(mut self, span: Span, words: &str) -> Self {
        self.also.push((span, words.to_owned()));
        self
    }
}

/// The notices of a reading as they gather.
#[derive(Default)]
pub(crate) struct Notices {
    list: Vec<Placed>,
    seen: FxHashSet<(&'static str, Option<Span>)>,
    dropped: usize,
    errors: usize,
    compared: usize,
}

impl Notices {
    /// Adds one; a second of the same kind at the same place (an array element, a second instance of
    /// a cell) says nothing new and is left out.
    pub fn push(&mut self, mut notice: Placed) {
        self.errors += usize::from(notice.severity == Severity::Error);
        if self.list.len() >= MAX_NOTICES {
            self.dropped += 1;
        } else if self.seen.insert((notice.code, notice.place)) {
            printable(&mut notice.text);
            printable(&mut notice.mend);
            self.list.push(notice);
        }
    }

    /// How many errors there were.
    pub fn errors(&self) -> usize {
        self.errors
    }

    /// The name among `names` that `wrong` was likely meant to be, as words for a mend.
    pub fn meant<'n>(&mut self, wrong: &str, names: impl IntoIterator<Item = &'n str>) -> Option<String> {
        let left = MAX_COMPARED.saturating_sub(self.compared);
        let compared = &mut self.compared;
        let counted = names.into_iter().take(left).inspect(|_| *compared += 1);
        nearest(wrong, counted).map(|name| format!("did you mean `{name}`?"))
    }

    /// The notices in the order of the text, file by file.
    pub fn finish(mut self) -> Vec<Placed> {
        self.list.sort_by_key(|notice| notice.place);
        if self.dropped > 0 {
            self.list.push(Placed {
                severity: Severity::Remark,
                code: "notices-dropped",
                text: format!("{} more notices are not listed", self.dropped),
                mend: "mend those above first".into(),
                place: None,
                also: Vec::new(),
            });
        }
        self.list
    }
}

/// Cuts a text that quotes an endless word, and takes characters out that would steer a terminal or
/// hide what stands there.
fn printable(text: &mut String) {
    if text.len() > 400 {
        text.truncate(floor(text, 400));
        text.push('…');
    }
    let steers = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
    };
    if text.contains(steers) {
        *text = text.replace(steers, "\u{fffd}");
    }
}
