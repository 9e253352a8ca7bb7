//! Lines to bodies: every cell, and the board itself, is read once here.

use crate::body::{Body, BodyNet, Item, LocalNet, Reach};
use crate::cards::Cards;
use crate::cell::CellHead;
use crate::collect::{Collected, LineAt};
use crate::door::Door;
use crate::index::{range, steps};
use crate::names::{Symbol, is_path, is_section};
use crate::scan::Shape;
use crate::source::Span;
use crate::words::{Token, Words};
use rustc_hash::{FxHashMap, FxHashSet};

/// Where a line stands in an array: the index for `#`, and how many elements came before.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Element {
    pub index: Option<u32>,
    pub before: u32,
    pub last: bool,
}

/// The reading of one body.
pub(crate) struct Compiler<'d, 't> {
    pub door: &'d mut Door<'t>,
    pub heads: &'d Collected,
    pub cards: &'d mut Cards,
    pub rails: &'d FxHashSet<Symbol>,
    pub body: Body,
    /// Whether this is the board's own body.
    pub top: bool,
    locals: FxHashMap<Symbol, LocalNet>,
    /// References and instance names of a cell, each of which may come once.
    taken: FxHashMap<Symbol, Span>,
    /// Scratch for names made by brackets.
    pub made: Vec<Symbol>,
}

/// Reads the lines of a body; `head` is nothing for the board itself.
pub(crate) fn compile<'d, 't>(
    door: &'d mut Door<'t>,
    heads: &'d Collected,
    cards: &'d mut Cards,
    rails: &'d FxHashSet<Symbol>,
    head: Option<&CellHead>,
    lines: &[LineAt],
) -> Body {
    let mut compiler = Compiler {
        door,
        heads,
        cards,
        rails,
        body: Body::default(),
        top: head.is_none(),
        locals: FxHashMap::default(),
        taken: FxHashMap::default(),
        made: Vec::new(),
    };
    if let Some(head) = head {
        compiler.body.parameters.clone_from(&head.parameters);
        for (port, span) in &head.ports {
            compiler.add_net(*port, Reach::Port, *span);
        }
        compiler.body.ports = head.ports.len();
    }
    for line in lines {
        compiler.line(*line);
    }
    compiler.body
}

impl<'t> Compiler<'_, 't> {
    fn line(&mut self, at: LineAt) {
        let mut words = self.door.words(at);
        let Some(head) = words.next() else { return };
        if !head.is_word() || head.is_keyed() {
            let text = format!("`{}` begins no line", head.text);
            let mend = "a line begins with a keyword, a reference such as R1, or an instance's name";
            self.door.error("line-what", head.span, text, mend);
            return;
        }
        match head.text {
            "rail" | "ground" | "net" if self.top => return self.named_nets(head, words),
            "section" if self.top => return self.section(head, words),
            _ => {}
        }
        if head.shape == Shape::Indexed {
            self.array(head, words);
        } else {
            self.element(head.text, head.span, words, Element { last: true, ..Element::default() });
        }
    }

    /// `BIT[0..5] …`: the line once per element.
    fn array(&mut self, head: Token<'t>, words: Words<'t>) {
        let brackets = head.text.find('[').zip(head.text.strip_suffix(']'));
        let Some((open, without)) = brackets else {
            let mend = "the brackets of an array stand at the end of its name: `BIT[0..5]`";
            self.door.error("index-bad", head.span, format!("`{}` is no array", head.text), mend);
            return;
        };
        let stem = &head.text[..open];
        match range(&without[open + 1..], None) {
            Ok(Some((from, to))) => {
                let last = from.abs_diff(to);
                for (before, index) in steps(from, to).enumerate() {
                    if !self.door.charge(words.len() as u64, head.span) {
                        return;
                    }
                    let before = before as u32;
                    let element = Element { index: Some(index), before, last: before == last };
                    self.element(&format!("{stem}{index}"), head.span, words, element);
                }
            }
            Ok(None) => {
                let mend = "write `BIT[0..5]`, or a plain name for a single one";
                let text = format!("`{}` names no range", head.text);
                self.door.error("index-bad", head.span, text, mend);
            }
            Err(bad) => self.door.bad_index(&bad, head.span),
        }
    }

    /// One part or instance.
    fn element(&mut self, name: &str, span: Span, words: Words<'t>, element: Element) {
        let cell = words
            .peek()
            .filter(|token| token.shape == Shape::Plain && !token.is_keyed())
            .and_then(|token| self.door.names.find(token.text))
            .and_then(|symbol| self.heads.cell_of.get(&symbol));
        match cell {
            Some(cell) => self.instance(name, span, *cell, words, element),
            None => self.part(name, span, words, element),
        }
    }

    /// Notes a reference or instance name that comes a second time; the board's own references are
    /// looked after when the parts are laid out, where numbered ones join them.
    pub fn claim(&mut self, name: Symbol, span: Span, code: &'static str) {
        if let Some(first) = self.taken.insert(name, span) {
            let text = format!("`{}` is there already", self.door.names.text(name));
            self.door.notices.push(
                crate::notices::Placed::error(code, span, text)
                    .mend("give one of them another name".into())
                    .also(first, "the first is here"),
            );
        }
    }

    /// `rail`, `ground` and `net` lines name nets, in the order of the board's own text.
    fn named_nets(&mut self, head: Token<'t>, mut words: Words<'t>) {
        if head.text != "net" {
            let token = words.next();
            let name = token.and_then(|token| self.door.names.find(token.text));
            if let Some((token, name)) = token.zip(name.filter(|name| self.rails.contains(name))) {
                let net = self.net(name, token.span);
                self.body.items.push(Item::Net(net));
            }
            return;
        }
        if words.peek().is_none() {
            self.door.error("net-what", head.span, "`net` names no net".into(), "write `net A B …`");
        }
        for token in words {
            let mut made = std::mem::take(&mut self.made);
            made.clear();
            self.door.names_of(token, None, &mut made);
            for name in &made {
                let net = self.net(*name, token.span);
                self.body.items.push(Item::Net(net));
            }
            self.made = made;
        }
    }

    /// `section BIT3/G1`: where the parts that follow came from, in a flat text.
    fn section(&mut self, head: Token<'t>, mut words: Words<'t>) {
        let path = words.next().filter(|token| is_section(token.text));
        match path {
            Some(token) => {
                let path = if token.text == "-" { "" } else { token.text };
                self.body.items.push(Item::Section(path.to_owned()));
                self.door.nothing_left(&mut words);
            }
            None => {
                let mend = "write `section BIT3/G1`, or `section -` for none";
                self.door.error("section-what", head.span, "`section` without a path".into(), mend);
            }
        }
    }

    /// The body's net of that name.
    pub fn net(&mut self, name: Symbol, span: Span) -> LocalNet {
        match self.locals.get(&name) {
            Some(net) => *net,
            None => {
                let rail = self.rails.contains(&name);
                self.add_net(name, if rail { Reach::Rail } else { Reach::Own }, span)
            }
        }
    }

    fn add_net(&mut self, name: Symbol, reach: Reach, span: Span) -> LocalNet {
        let net = LocalNet(self.body.nets.len() as u32);
        self.body.nets.push(BodyNet { name, reach, span });
        self.locals.insert(name, net);
        net
    }

    /// The body's nets that `token` names. Whether a range made them.
    pub fn nets_of(&mut self, token: Token<'t>, element: Element, out: &mut Vec<LocalNet>) -> bool {
        if token.shape == Shape::Plain && is_path(token.text) && (self.top || !token.text.contains('.')) {
            let name = self.door.names.of(token.text);
            out.push(self.net(name, token.span));
            return false;
        }
        let mut made = std::mem::take(&mut self.made);
        made.clear();
        let range = self.door.names_of(token, element.index, &mut made);
        for name in &made {
            if !self.top && self.door.names.text(*name).contains('.') {
                let text = format!("`{}` looks into an instance", self.door.names.text(*name));
                let mend = "inside a cell, give the inner cell a port for that net";
                self.door.error("path-in-cell", token.span, text, mend);
                continue;
            }
            let net = self.net(*name, token.span);
            out.push(net);
        }
        self.made = made;
        range
    }
}
