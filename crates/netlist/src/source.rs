//! The texts that were read, and places in them.

use std::sync::OnceLock;

/// One file of those read, in the order in which they were first wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub(crate) u32);

/// A stretch of one file, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// The first byte.
    pub start: u32,
    /// The byte after the last.
    pub end: u32,
}

/// A text with the name it was asked for by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// The path as given or as worked out from a `use` line.
    pub name: String,
    /// The whole text.
    pub text: String,
}

/// Line and column as an editor counts them: from one, columns in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// The line.
    pub line: usize,
    /// The column.
    pub column: usize,
}

/// All texts of one reading.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<Source>,
    /// Where each file's lines begin, worked out when first asked for.
    starts: Vec<OnceLock<Vec<u32>>>,
}

impl Sources {
    pub(crate) fn push(&mut self, name: String, text: String) -> FileId {
        let id = FileId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        self.files.push(Source { name, text });
        self.starts.push(OnceLock::new());
        id
    }

    /// The file of `id`.
    pub fn get(&self, id: FileId) -> &Source {
        &self.files[id.0 as usize]
    }

    /// All files, the board's own first.
    pub fn files(&self) -> &[Source] {
        &self.files
    }

    /// The words under `span`.
    pub fn words(&self, span: Span) -> &str {
        let text = &self.get(span.file).text;
        &text[floor(text, span.start as usize)..floor(text, span.end.max(span.start) as usize)]
    }

    /// Where each line of a file begins.
    fn line_starts(&self, file: FileId) -> &[u32] {
        self.starts[file.0 as usize].get_or_init(|| {
            let text = self.get(file).text.as_bytes();
            let ends = text.iter().enumerate().filter(|(_, byte)| **byte == b'\n');
            std::iter::once(0).chain(ends.map(|(at, _)| at as u32 + 1)).collect()
        })
    }

    /// The line on which a byte lies, counted from zero.
    pub(crate) fn line_at(&self, file: FileId, byte: u32) -> usize {
        self.line_starts(file).partition_point(|start| *start <= byte) - 1
    }

    /// The bytes of the lines from `first` to `last`, counted from zero, without the last line's end.
    pub(crate) fn lines(&self, file: FileId, first: usize, last: usize) -> (usize, &str) {
        let text = &self.get(file).text;
        let starts = self.line_starts(file);
        let start = starts.get(first).map_or(text.len(), |start| *start as usize);
        let end = starts.get(last + 1).map_or(text.len(), |start| *start as usize - 1);
        (start, text[start..end.max(start)].trim_end_matches('\r'))
    }

    /// Where `span` begins.
    pub fn position(&self, span: Span) -> Position {
        self.position_of(span.file, span.start)
    }

    /// Where `span` ends: the place behind its last character.
    pub fn end_position(&self, span: Span) -> Position {
        self.position_of(span.file, span.end)
    }

    fn position_of(&self, file: FileId, byte: u32) -> Position {
        let text = &self.get(file).text;
        let byte = floor(text, byte as usize);
        let line = self.line_at(file, byte as u32);
        let start = self.line_starts(file)[line] as usize;
        Position { line: line + 1, column: text[start..byte].chars().count() + 1 }
    }
}

/// The place of a character at or before `at`.
pub(crate) fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_characters_from_one() {
        let mut sources = Sources::default();
        let file = sources.push("a".into(), "R1 22k\nµµ x\n".into());
        let at = |start| sources.position(Span { file, start, end: start + 1 });
        assert_eq!(at(0), Position { line: 1, column: 1 });
        assert_eq!(at(7 + 5), Position { line: 2, column: 4 });
        assert_eq!(at(400), Position { line: 3, column: 1 });
    }
}
