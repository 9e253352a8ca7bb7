//! A line that places a cell: `G1 nor2 A B CARRY`, `BIT[0..5] bit d=D[#] q=A[#] RB=27k at 10 20`.

use crate::body::{Argument, BodyInstance, Item, LocalNet, Numbering, Written};
use crate::compile::{Compiler, Element};
use crate::index::expand;
use crate::names::{CLAUSES, is_name};
use crate::notices::Placed;
use crate::scan::Shape;
use crate::source::Span;
use crate::words::{Token, Words};

/// The nets given so far, port by port.
type Given = Vec<Option<(Option<LocalNet>, Span)>>;

impl<'t> Compiler<'_, 't> {
    /// Reads an instance's line; `words` stand behind its name.
    pub fn instance(&mut self, name: &str, span: Span, cell: usize, mut words: Words<'t>, element: Element) {
        let cell_word = words.next();
        if !is_name(name) {
            let mend = "an instance's name is a letter, `/` or `_`, then letters, digits and `/ _ + -`";
            self.door.error("name-bad", span, format!("`{name}` names no instance"), mend);
            return;
        }
        let symbol = self.door.names.of(name);
        self.claim(symbol, span, "instance-twice");
        let head = &self.heads.cells[cell].head;
        let mut given: Given = vec![None; head.ports.len()];
        let mut arguments = vec![Argument::Default; head.parameters.len()];
        let errors = self.door.notices.errors();
        let mut next = 0;
        let mut nets = Vec::new();
        while let Some(token) = words.peek() {
            if let Some((key, value)) = token.keyed() {
                words.next();
                self.keyed(cell, key, value, element, &mut given, &mut arguments);
                continue;
            }
            if CLAUSES.contains(&token.text) && token.is_word() {
                break;
            }
            words.next();
            nets.clear();
            if token.text == "-" {
                self.give(cell, next, None, token.span, &mut given);
                next += 1;
                continue;
            }
            self.nets_of(token, element, &mut nets);
            if nets.is_empty() {
                self.give(cell, next, None, token.span, &mut given);
                next += 1;
            }
            for net in &nets {
                self.give(cell, next, Some(*net), token.span, &mut given);
                next += 1;
            }
        }
        let slips = self.door.notices.errors() > errors;
        let nets = self.connected(name, span, cell, given, slips);
        let clauses = self.clauses(&mut words, element, true);
        self.body.items.push(Item::Instance(BodyInstance {
            name: symbol,
            span: cell_word.map_or(span, |word| Span { end: word.span.end, ..span }),
            cell,
            nets,
            arguments,
            place: clauses.place,
            numbering: clauses.numbering.unwrap_or(Numbering::CountOn),
            last: element.last,
        }));
    }

    fn give(&mut self, cell: usize, port: usize, net: Option<LocalNet>, span: Span, given: &mut Given) {
        let head = &self.heads.cells[cell].head;
        let Some(slot) = given.get_mut(port) else {
            let name = head.name.map_or("", |name| self.door.names.text(name));
            let text = format!("one net more than cell `{name}` has ports");
            let mend = format!("its ports are {}", self.port_list(cell));
            let notice =
                Placed::error("port-extra", span, text).mend(mend).also(head.span, "the cell is here");
            self.door.notices.push(notice);
            return;
        };
        if let Some((_, first)) = slot.replace((net, span)) {
            let name = self.door.names.text(head.ports[port].0);
            self.door.notices.push(
                Placed::error("pin-twice", span, format!("port `{name}` has a net already"))
                    .mend("name each port once".into())
                    .also(first, "the first is here"),
            );
        }
    }

    fn port_list(&self, cell: usize) -> String {
        let ports = self.heads.cells[cell].head.ports.iter().take(20);
        ports.map(|(port, _)| format!("`{}`", self.door.names.text(*port))).collect::<Vec<_>>().join(" ")
    }

    /// `q=A[#]`, `d[0..3]=D[0..3]`, `RB=27k`.
    fn keyed(
        &mut self,
        cell: usize,
        key: Token<'t>,
        value: Token<'t>,
        element: Element,
        given: &mut Given,
        arguments: &mut [Argument],
    ) {
        let heads = self.heads;
        let head = &heads.cells[cell].head;
        let mut keys: Vec<String> = Vec::new();
        if key.shape == Shape::Plain {
            keys.push(key.text.to_owned());
        } else if let Err(bad) = expand(key.text, element.index, |name| keys.push(name.to_owned())) {
            self.door.bad_index(&bad, key.span);
            return;
        }
        if !self.door.charge(keys.len() as u64, key.span) {
            return;
        }
        let symbol = keys.first().and_then(|key| self.door.names.find(key));
        let parameter = head.parameters.iter().position(|one| Some(one.name) == symbol);
        if let Some(at) = parameter.filter(|_| keys.len() == 1) {
            arguments[at] = self.argument(key, value);
            return;
        }
        let mut ports = Vec::with_capacity(keys.len());
        for key_name in &keys {
            let symbol = self.door.names.find(key_name);
            match head.ports.iter().position(|(port, _)| Some(*port) == symbol) {
                Some(port) => ports.push(port),
                None => return self.no_port(cell, key, key_name),
            }
        }
        if let Some(nets) = self.values_of(keys.len(), key, value, element) {
            for (port, net) in ports.into_iter().zip(nets) {
                self.give(cell, port, net, key.span, given);
            }
        }
    }

    fn no_port(&mut self, cell: usize, key: Token<'t>, name: &str) {
        let head = &self.heads.cells[cell].head;
        let parameters = head.parameters.iter().map(|one| one.name);
        let known: Vec<&str> = head
            .ports
            .iter()
            .map(|(port, _)| *port)
            .chain(parameters)
            .map(|symbol| self.door.names.text(symbol))
            .collect();
        let meant = self.door.notices.meant(name, known.iter().copied());
        let mend = meant.unwrap_or_else(|| {
            let list: Vec<String> = known.iter().take(20).map(|name| format!("`{name}`")).collect();
            format!("its ports and parameters are {}", list.join(" "))
        });
        let cell_name = head.name.map_or("", |name| self.door.names.text(name));
        let text = format!("cell `{cell_name}` has no port or parameter `{name}`");
        let notice =
            Placed::error("port-unknown", key.span, text).mend(mend).also(head.span, "the cell is here");
        self.door.notices.push(notice);
    }

    /// A parameter's value: one of the surrounding cell's own parameters, or a word to be read later.
    fn argument(&mut self, key: Token<'t>, value: Token<'t>) -> Argument {
        if value.text.is_empty() {
            let text = format!("`{}=` has no value", key.text);
            self.door.error("pin-empty", key.span, text, "write the value right behind `=`");
            return Argument::Default;
        }
        let word = self.door.names.of(value.text);
        match self.body.parameters.iter().position(|parameter| parameter.name == word) {
            Some(outer) => Argument::Outer(outer as u32),
            None => Argument::Given(Written { word, span: value.span }),
        }
    }

    /// A net for every port; a port left out gets a net of its own, and is noted unless the line has
    /// other `slips`.
    fn connected(&mut self, name: &str, span: Span, cell: usize, given: Given, slips: bool) -> Vec<LocalNet> {
        let heads = self.heads;
        let head = &heads.cells[cell].head;
        let mut missing = Vec::new();
        let mut nets = Vec::with_capacity(given.len());
        for (slot, (port, _)) in given.into_iter().zip(&head.ports) {
            let port = self.door.names.text(*port);
            let own = match slot {
                Some((Some(net), _)) => {
                    nets.push(net);
                    continue;
                }
                Some((None, span)) => (format!("{name}.{port}"), span),
                None => {
                    missing.push(format!("`{port}`"));
                    (format!("{name}.{port}"), span)
                }
            };
            // Left unconnected: the net is named by the path, as a net within the instance would be.
            let symbol = self.door.names.of(&own.0);
            let net = self.net(symbol, own.1);
            nets.push(net);
        }
        if !missing.is_empty() && !slips {
            missing.truncate(20);
            let text = format!("`{name}` has no net for port {}", missing.join(", "));
            let mend = "name its net, or `-` to leave the port unconnected".to_owned();
            let notice =
                Placed::error("port-missing", span, text).mend(mend).also(head.span, "the cell is here");
            self.door.notices.push(notice);
        }
        nets
    }
}
