//! Notices as a person reads them: each under its line, with what is wrong and how to mend it.

use crate::notices::Placed;
use crate::read::Reading;
use crate::source::{FileId, Sources, Span, floor};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet, renderer::DecorStyle};
use dryjoint_board::Severity;

/// Lines between two marked places of one file that are still drawn as one piece.
const TOGETHER: usize = 200;
/// Bytes of a line that are drawn; a longer one is no board's text.
const LONGEST: usize = 4_000;

/// How notices are drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Look {
    /// With the terminal's colours.
    pub colour: bool,
    /// With lines in Unicode rather than ASCII.
    pub unicode: bool,
}

impl Reading {
    /// All notices of the reading, drawn one after another.
    pub fn drawn(&self, look: Look) -> String {
        draw(&self.sources, &self.notices, look)
    }
}

/// `notices` drawn one after another, a blank line between them.
pub fn draw(sources: &Sources, notices: &[Placed], look: Look) -> String {
    let renderer = if look.colour { Renderer::styled() } else { Renderer::plain() };
    let style = if look.unicode { DecorStyle::Unicode } else { DecorStyle::Ascii };
    let renderer = renderer.decor_style(style).term_width(120);
    let mut out = String::new();
    for notice in notices {
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&renderer.render(&[group(sources, notice)]));
        out.push('\n');
    }
    out
}

fn group<'a>(sources: &'a Sources, notice: &'a Placed) -> Group<'a> {
    let level = match notice.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Remark => Level::NOTE.with_name("remark"),
    };
    let mut group = level.primary_title(&*notice.text).id(notice.code).elements(pieces(sources, notice));
    if !notice.mend.is_empty() {
        group = group.element(Level::HELP.with_name("mend").message(&*notice.mend));
    }
    group
}

/// One marked place.
struct Mark<'a> {
    span: Span,
    words: &'a str,
    primary: bool,
}

/// The pieces of text to draw: the notice's own first, other places joined to it where they are near.
fn pieces<'a>(
    sources: &'a Sources,
    notice: &'a Placed,
) -> Vec<Snippet<'a, annotate_snippets::Annotation<'a>>> {
    let own = notice.place.map(|span| Mark { span, words: "", primary: true });
    let also = notice.also.iter().map(|(span, words)| Mark { span: *span, words, primary: false });
    let mut out: Vec<(FileId, usize, usize, Vec<Mark<'a>>)> = Vec::new();
    for mark in own.into_iter().chain(also) {
        let line = sources.line_at(mark.span.file, mark.span.start);
        let near = out.iter_mut().find(|(file, first, last, _)| {
            *file == mark.span.file && line + TOGETHER > *last && line < *first + TOGETHER
        });
        match near {
            Some((_, first, last, marks)) => {
                *first = line.min(*first);
                *last = line.max(*last);
                marks.push(mark);
            }
            None => out.push((mark.span.file, line, line, vec![mark])),
        }
    }
    out.into_iter().map(|(file, first, last, marks)| piece(sources, file, first, last, marks)).collect()
}

fn piece<'a>(
    sources: &'a Sources,
    file: FileId,
    first: usize,
    last: usize,
    marks: Vec<Mark<'a>>,
) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let (start, text) = sources.lines(file, first, last);
    let text = if first == last { &text[..floor(text, LONGEST)] } else { text };
    let within = |byte: u32| floor(text, (byte as usize).saturating_sub(start));
    let annotations = marks.into_iter().map(|mark| {
        let kind = if mark.primary { AnnotationKind::Primary } else { AnnotationKind::Context };
        let annotation = kind.span(within(mark.span.start)..within(mark.span.end));
        if mark.words.is_empty() { annotation } else { annotation.label(mark.words) }
    });
    Snippet::source(text)
        .path(&*sources.get(file).name)
        .line_start(first + 1)
        .annotations(annotations.collect::<Vec<_>>())
}
