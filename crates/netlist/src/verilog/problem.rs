//! What stops a netlist from being read.

use super::syntax::At;
use crate::{FileId, Placed, Span};

/// The kinds of problem.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Code {
    /// The text is not Verilog.
    Malformed,
    /// Verilog, but nothing that a netlist of gates can say.
    Unsupported,
    /// A name that nothing declares.
    Unknown,
    /// A name declared twice.
    Twice,
    /// A connection of another width or direction than the port.
    Mismatch,
    /// A net that is read and that nothing drives.
    Undriven,
    /// A net that several gates or inputs drive.
    SeveralDrivers,
    /// A loop of gates without a flip-flop.
    Loop,
    /// A module that contains itself.
    Recursion,
    /// Flip-flops that do not share one clock input.
    Clock,
    /// No outermost module, or several.
    Top,
    /// More than can be meant.
    TooLarge,
}

impl Code {
    /// The stable short name that notices carry.
    pub fn name(self) -> &'static str {
        match self {
            Self::Malformed => "verilog-malformed",
            Self::Unsupported => "verilog-unsupported",
            Self::Unknown => "verilog-unknown-name",
            Self::Twice => "verilog-declared-twice",
            Self::Mismatch => "verilog-port-mismatch",
            Self::Undriven => "verilog-undriven-net",
            Self::SeveralDrivers => "verilog-several-drivers",
            Self::Loop => "verilog-loop",
            Self::Recursion => "verilog-recursion",
            Self::Clock => "verilog-clock",
            Self::Top => "verilog-outermost-module",
            Self::TooLarge => "verilog-too-large",
        }
    }
}

/// A problem, with its place in the text. Each one keeps the netlist from being used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// What kind.
    pub code: Code,
    /// The line, the first being 1.
    pub line: u32,
    /// The column in characters, the first being 1.
    pub column: u32,
    /// The first byte of what it is about.
    pub byte: u32,
    /// What is wrong, in one sentence that names the construct.
    pub text: String,
    /// How to mend it.
    pub mend: String,
}

impl Problem {
    pub(super) fn new(code: Code, at: At, text: impl Into<String>, mend: impl Into<String>) -> Self {
        let At { line, column, byte } = at;
        Self { code, line, column, byte, text: text.into(), mend: mend.into() }
    }

    /// The problem as a notice on the word it is about.
    pub(super) fn placed(self, file: FileId, text: &str) -> Placed {
        let rest = text.get(self.byte as usize..).unwrap_or("");
        let word = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '$' | '\'' | '`' | '\\');
        let length = rest.find(|c| !word(c)).unwrap_or(rest.len());
        let first = rest.chars().next().map_or(0, char::len_utf8);
        let span = Span { file, start: self.byte, end: self.byte + length.max(first) as u32 };
        Placed::error(self.code.name(), span, self.text).mend(self.mend)
    }
}
