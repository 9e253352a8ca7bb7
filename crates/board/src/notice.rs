//! Notices: remarks on what was read, each pinned to the entity it is about.

use crate::{LampGroupId, LineId, NetId, PartId, PinId};

/// How much a notice matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing; the work goes on.
    Remark,
    /// The work goes on, but a person should decide.
    Warning,
    /// The work cannot go on with this.
    Error,
}

/// What a notice is about. The text door turns it into file, line and column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Entity {
    /// The board as a whole.
    Board,
    /// A part.
    Part(PartId),
    /// A pin of a part.
    Pin(PinId),
    /// A net.
    Net(NetId),
    /// A line.
    Line(LineId),
    /// A lamp group.
    Lamps(LampGroupId),
}

/// A remark on the input: what is wrong, where, and how to mend it.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    /// How much it matters.
    pub severity: Severity,
    /// A stable short name of the kind of notice, such as `net-single-pin`.
    pub code: &'static str,
    /// What it is about.
    pub about: Entity,
    /// What is wrong, in one sentence.
    pub text: String,
    /// How to mend it, in one sentence; empty where only the builder can know.
    pub mend: String,
}

impl Notice {
    /// A notice that stops the work.
    pub fn error(code: &'static str, about: Entity, text: String, mend: impl Into<String>) -> Self {
        Self { severity: Severity::Error, code, about, text, mend: mend.into() }
    }

    /// A notice on which a person should decide.
    pub fn warning(code: &'static str, about: Entity, text: String, mend: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, code, about, text, mend: mend.into() }
    }

    /// A notice worth knowing.
    pub fn remark(code: &'static str, about: Entity, text: String, mend: impl Into<String>) -> Self {
        Self { severity: Severity::Remark, code, about, text, mend: mend.into() }
    }
}
