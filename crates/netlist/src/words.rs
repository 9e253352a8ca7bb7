//! A walk along the words of one line.

use crate::scan::{Line, NONE, Scanned, Shape, Word};
use crate::source::{FileId, Span};

/// One word with its text.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Token<'t> {
    pub text: &'t str,
    pub span: Span,
    pub shape: Shape,
    /// Where in `text` the first `=` stands.
    equals: Option<u32>,
}

impl<'t> Token<'t> {
    /// Whether it is `key=value`.
    pub fn is_keyed(&self) -> bool {
        self.equals.is_some()
    }

    /// The two sides of `key=value`.
    pub fn keyed(&self) -> Option<(Token<'t>, Token<'t>)> {
        let at = self.equals? as usize;
        Some((self.part(0, at), self.part(at + 1, self.text.len())))
    }

    /// Whether it is a plain word, no text in quotes and no parenthesis.
    pub fn is_word(&self) -> bool {
        matches!(self.shape, Shape::Plain | Shape::Indexed)
    }

    fn part(&self, from: usize, to: usize) -> Token<'t> {
        let text = &self.text[from..to];
        Token {
            text,
            span: Span {
                file: self.span.file,
                start: self.span.start + from as u32,
                end: self.span.start + to as u32,
            },
            shape: if text.contains('[') { Shape::Indexed } else { Shape::Plain },
            equals: None,
        }
    }
}

/// The words of one line, read from left to right.
#[derive(Clone, Copy)]
pub(crate) struct Words<'t> {
    file: FileId,
    text: &'t str,
    words: &'t [Word],
    at: usize,
}

impl<'t> Words<'t> {
    pub fn new(file: FileId, text: &'t str, scanned: &'t Scanned, line: Line) -> Self {
        let words = &scanned.words[line.first as usize..(line.first + line.count) as usize];
        Self { file, text, words, at: 0 }
    }

    fn token(&self, word: &Word) -> Token<'t> {
        Token {
            text: &self.text[word.start as usize..word.end as usize],
            span: Span { file: self.file, start: word.start, end: word.end },
            shape: word.shape,
            equals: (word.equals != NONE).then(|| word.equals - word.start),
        }
    }

    /// The next word without taking it.
    pub fn peek(&self) -> Option<Token<'t>> {
        self.words.get(self.at).map(|word| self.token(word))
    }

    /// The next word if it is `keyword`.
    pub fn after(&mut self, keyword: &str) -> Option<Token<'t>> {
        let token = self.peek().filter(|token| token.is_word() && token.text == keyword)?;
        self.at += 1;
        Some(token)
    }

    /// The next word if it is text in quotes.
    pub fn take_quoted(&mut self) -> Option<Token<'t>> {
        let token = self.peek().filter(|token| token.shape == Shape::Quoted)?;
        self.at += 1;
        Some(token)
    }

    /// How many words the line has.
    pub fn len(&self) -> usize {
        self.words.len()
    }

    /// The whole line.
    pub fn span(&self) -> Span {
        let (first, last) = (self.words[0], self.words[self.words.len() - 1]);
        Span { file: self.file, start: first.start, end: last.end }
    }

    /// The first word.
    pub fn head(&self) -> Token<'t> {
        self.token(&self.words[0])
    }

    /// The blank behind the last word, where something is missing.
    pub fn end(&self) -> Span {
        let last = self.words[self.words.len() - 1];
        Span { file: self.file, start: last.start, end: last.end }
    }
}

impl<'t> Iterator for Words<'t> {
    type Item = Token<'t>;
    fn next(&mut self) -> Option<Token<'t>> {
        let token = self.peek()?;
        self.at += 1;
        Some(token)
    }
}
