//! Notices as plain data, for programs that read them.

use crate::notices::Placed;
use crate::source::{Sources, Span};
use dryjoint_board::Severity;
use serde::Serialize;

/// A stretch of a file, lines and columns from one, the end behind the last character.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlainPlace {
    /// The file's path.
    pub file: String,
    /// Line of the first character.
    pub line: usize,
    /// Column of the first character.
    pub column: usize,
    /// Line of the end.
    pub end_line: usize,
    /// Column of the end.
    pub end_column: usize,
    /// What this place has to do with it; empty for the notice's own.
    pub role: String,
}

/// A notice as plain data.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlainNotice {
    /// `error`, `warning` or `remark`.
    pub severity: &'static str,
    /// A stable short name of the kind of notice.
    pub code: &'static str,
    /// What is wrong.
    pub text: String,
    /// How to mend it; empty where only the builder can know.
    pub mend: String,
    /// The notice's own place first, then others that belong to it; empty where it is about the whole.
    pub places: Vec<PlainPlace>,
}

/// `notices` as plain data.
pub fn plain(sources: &Sources, notices: &[Placed]) -> Vec<PlainNotice> {
    let place = |span: Span, role: &str| {
        let (start, end) = (sources.position(span), sources.end_position(span));
        PlainPlace {
            file: sources.get(span.file).name.clone(),
            line: start.line,
            column: start.column,
            end_line: end.line,
            end_column: end.column,
            role: role.to_owned(),
        }
    };
    let of = |notice: &Placed| PlainNotice {
        severity: severity(notice.severity),
        code: notice.code,
        text: notice.text.clone(),
        mend: notice.mend.clone(),
        places: notice
            .place
            .map(|span| place(span, ""))
            .into_iter()
            .chain(notice.also.iter().map(|(span, role)| place(*span, role)))
            .collect(),
    };
    notices.iter().map(of).collect()
}

/// The word for a severity in a document.
pub fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Remark => "remark",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read_alone;

    #[test]
    fn a_notice_names_file_line_and_column() {
        let reading = read_alone("x.board", "ground GND\nR1 22q a GND\n");
        let told = plain(&reading.sources, &reading.notices);
        assert_eq!(told.len(), 1);
        assert_eq!((told[0].code, told[0].severity), ("value-bad", "error"));
        let place = &told[0].places[0];
        assert_eq!((place.file.as_str(), place.line, place.column), ("x.board", 2, 4));
        assert_eq!((place.end_line, place.end_column), (2, 7));
    }
}
