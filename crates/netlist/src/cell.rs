//! The head of a cell: `cell nor2 (a b y) RC=2k2 RB=22k`.

use crate::body::{Parameter, Written};
use crate::collect::KEYWORDS;
use crate::door::Door;
use crate::limits::MAX_PINS;
use crate::names::{CLAUSES, Symbol, is_name};
use crate::scan::Shape;
use crate::source::Span;
use crate::words::{Token, Words};

/// Words that say what a part is, and so name no cell.
pub(crate) const PART_WORDS: [&str; 8] =
    ["button", "toggle", "selector", "link", "testpoint", "header", "polar", "like"];

/// A cell's name, ports and parameters.
pub(crate) struct CellHead {
    pub name: Option<Symbol>,
    pub span: Span,
    pub ports: Vec<(Symbol, Span)>,
    pub parameters: Vec<Parameter>,
}

impl CellHead {
    /// A head whose name cannot be read.
    pub fn nameless(span: Span) -> Self {
        Self { name: None, span, ports: Vec::new(), parameters: Vec::new() }
    }
}

/// Reads a `cell` line.
pub(crate) fn cell_head(mut words: Words<'_>, door: &mut Door<'_>) -> Option<CellHead> {
    let keyword = words.next()?;
    let mend = "write `cell NAME (port port …) PARAMETER=default …`";
    let Some(name) = words.next().filter(|token| token.is_word()) else {
        door.error("cell-what", keyword.span, "`cell` has no name".into(), mend);
        return None;
    };
    let taken = KEYWORDS.contains(&name.text) || PART_WORDS.contains(&name.text);
    if taken || !is_name(name.text) {
        let text = format!("`{}` can be no cell's name", name.text);
        door.error("cell-what", name.span, text, "a letter first, and no word of the grammar");
        return None;
    }
    let mut head = CellHead::nameless(name.span);
    head.name = Some(door.names.of(name.text));
    if words.peek().is_some_and(|token| token.shape == Shape::Open) {
        words.next();
        ports(&mut words, &mut head, door);
    } else {
        door.error("cell-what", name.span, "a cell without a list of ports".into(), mend);
    }
    for token in words.by_ref() {
        match token.keyed() {
            Some((key, value)) => parameter(key, value, &mut head, door),
            None => {
                let text = format!("`{}` is no parameter", token.text);
                door.error("cell-what", token.span, text, "a parameter has a default: `RC=2k2`");
            }
        }
    }
    Some(head)
}

fn ports(words: &mut Words<'_>, head: &mut CellHead, door: &mut Door<'_>) {
    let mut made = Vec::new();
    loop {
        let Some(token) = words.next() else {
            let span = words.end();
            door.error("cell-what", span, "the list of ports is never closed".into(), "write `)` behind it");
            return;
        };
        if token.shape == Shape::Close {
            return;
        }
        if token.is_keyed() || CLAUSES.contains(&token.text) {
            let text = format!("`{}` is no port", token.text);
            door.error("cell-what", token.span, text, "ports are plain names; parameters follow the `)`");
            continue;
        }
        made.clear();
        door.names_of(token, None, &mut made);
        for port in &made {
            let name = door.names.text(*port).to_owned();
            if head.ports.iter().any(|(known, _)| known == port) {
                let text = format!("port `{name}` is there already");
                door.error("port-twice", token.span, text, "name each port once");
            } else if name.contains('.') {
                let text = format!("`{name}` is no port");
                door.error("cell-what", token.span, text, "a port's name has no `.`");
            } else if head.ports.len() >= MAX_PINS as usize {
                let text = format!("more than {MAX_PINS} ports");
                door.error("cell-what", head.span, text, "split the cell");
                return;
            } else {
                head.ports.push((*port, token.span));
            }
        }
    }
}

fn parameter(key: Token<'_>, value: Token<'_>, head: &mut CellHead, door: &mut Door<'_>) {
    if !is_name(key.text) || value.text.is_empty() {
        let text = format!("`{}=` is no parameter", key.text);
        door.error("cell-what", key.span, text, "a parameter has a name and a default: `RC=2k2`");
        return;
    }
    if head.parameters.len() >= MAX_PINS as usize {
        let text = format!("more than {MAX_PINS} parameters");
        door.error("cell-what", head.span, text, "split the cell");
        return;
    }
    let name = door.names.of(key.text);
    let taken = head.ports.iter().any(|(port, _)| *port == name)
        || head.parameters.iter().any(|parameter| parameter.name == name);
    if taken {
        let text = format!("`{}` is a port or parameter already", key.text);
        door.error("port-twice", key.span, text, "give it another name");
        return;
    }
    let word = door.names.of(value.text);
    head.parameters.push(Parameter { name, default: Written { word, span: value.span } });
}
