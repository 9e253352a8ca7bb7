//! A part's line: `R1 22k a b 5%`, `Q1 2N3904 c=y b=q e=GND at 5 2 rot 90`.

use crate::body::{Amount, BodyPart, BodyPin, Card, Family, Item, Kind, Written};
use crate::cell::PART_WORDS;
use crate::compile::{Compiler, Element};
use crate::names::reference;
use crate::pins::PinNames;
use crate::source::Span;
use crate::value;
use crate::words::{Token, Words};
use dryjoint_board::PartKind;

/// The tolerance of a resistor whose line names none: the gold band of carbon film, IEC 60062.
const TOLERANCE: f64 = 0.05;

/// The classes of IEEE 315 that a board of this kind has, and what each is.
pub(crate) const CLASSES: [(&str, &str); 11] = [
    ("R", "resistor"),
    ("C", "capacitor"),
    ("D", "diode"),
    ("CR", "diode"),
    ("DS", "lamp"),
    ("Q", "transistor"),
    ("S", "switch"),
    ("W", "wire link"),
    ("TP", "test point"),
    ("J", "connector"),
    ("P", "connector"),
];

impl<'t> Compiler<'_, 't> {
    /// Reads a part's line; `words` stand behind the reference.
    pub fn part(&mut self, name: &str, span: Span, mut words: Words<'t>, element: Element) {
        let Some((class, number)) = self.class_of(name, span, &words) else { return };
        let Some((kind, names)) = self.kind(class, span, &mut words) else { return };
        let symbol = self.door.names.of(name);
        if !self.top {
            self.claim(symbol, span, "reference-twice");
        }
        let (pins, tolerance) = self.pins(name, span, names, &mut words, element);
        let kind = match (kind, tolerance) {
            (Kind::Resistor { ohms, .. }, Some((tolerance, _))) => Kind::Resistor { ohms, tolerance },
            (kind, Some((_, span))) => {
                let text = format!("a {} has no tolerance here", self.class_word(class));
                self.door.error("word-extra", span, text, "remove the percentage");
                kind
            }
            (kind, None) => kind,
        };
        let clauses = self.clauses(&mut words, element, false);
        let first = self.body.pins.len() as u32;
        self.body.pins.extend(pins);
        let part = BodyPart {
            reference: symbol,
            class: self.door.names.of(class),
            number,
            span,
            kind,
            pins: (first, self.body.pins.len() as u32),
            place: clauses.place,
        };
        self.body.items.push(Item::Part(part));
    }

    /// The class letters and number of a reference, or a notice on what the line could be.
    fn class_of(&mut self, name: &str, span: Span, words: &Words<'t>) -> Option<(&'static str, u32)> {
        let known = reference(name).and_then(|(letters, number)| {
            let class = CLASSES.iter().find(|(class, _)| *class == letters)?;
            Some((class.0, number))
        });
        if known.is_some() {
            return known;
        }
        let second = words.peek().filter(Token::is_word).map_or("", |token| token.text);
        let upper = name.to_ascii_uppercase();
        let as_upper =
            reference(&upper).is_some_and(|(letters, _)| CLASSES.iter().any(|(class, _)| *class == letters));
        let cells = self.heads.cell_of.keys();
        let mut cells: Vec<&str> = cells.map(|cell| self.door.names.text(*cell)).collect();
        cells.sort_unstable();
        if upper != name && as_upper {
            let text = format!("`{name}` is no reference");
            self.door.error("reference-bad", span, text, format!("did you mean `{upper}`?"));
        } else if let Some(keyword) =
            self.door.notices.meant(name, crate::collect::KEYWORDS).filter(|_| reference(name).is_none())
        {
            self.door.error("line-what", span, format!("`{name}` is no keyword"), keyword);
        } else if reference(name).is_some() && PART_WORDS.contains(&second) {
            let text = format!("`{name}` has the class letters of no {second}");
            self.door.error("reference-bad", span, text, class_list());
        } else {
            let meant = self.door.notices.meant(second, cells.iter().copied());
            let mend = meant
                .unwrap_or_else(|| format!("an instance names a cell: `G1 nor2 A B Y`; {}", class_list()));
            let at = words.peek().map_or(span, |token| token.span);
            let text = if second.is_empty() {
                format!("`{name}` is no part and has no cell")
            } else {
                format!("there is no cell `{second}` for `{name}`")
            };
            self.door.error("cell-unknown", at, text, mend);
        }
        None
    }

    /// What a class is called.
    fn class_word(&self, class: &str) -> &'static str {
        CLASSES.iter().find(|(letters, _)| *letters == class).map_or("part", |(_, word)| word)
    }

    /// Reads what stands between the reference and the pins.
    fn kind(&mut self, class: &'static str, span: Span, words: &mut Words<'t>) -> Option<(Kind, PinNames)> {
        let Some(second) = words.next().filter(|token| token.is_word() && !token.is_keyed()) else {
            let (what, example) = self.wanted(class);
            self.door.error(
                "part-what",
                span,
                format!("this {} has no {what}", self.class_word(class)),
                example,
            );
            return None;
        };
        Some(match class {
            "R" => {
                let ohms = self.amount(second, "R", "resistance");
                (Kind::Resistor { ohms, tolerance: TOLERANCE }, PinNames::Fixed(&["1", "2"]))
            }
            "C" => {
                let farads = self.amount(second, "F", "capacitance");
                let polar = words.after("polar").is_some();
                let names = if polar { &["+", "-"] } else { &["1", "2"] };
                (Kind::Capacitor { farads, polar }, PinNames::Fixed(names))
            }
            "Q" => self.carded(Family::Bipolar, second, &["c", "b", "e"]),
            "DS" => self.carded(Family::Lamp, second, &["a", "k"]),
            "D" | "CR" => self.carded(Family::Diode, second, &["a", "k"]),
            _ => {
                let (kind, names) = match (class, second.text) {
                    ("S", "button") => (PartKind::Button, PinNames::Fixed(&["1", "2"])),
                    ("S", "toggle") => (PartKind::Toggle, PinNames::Fixed(&["1", "2"])),
                    ("S", "selector") => (PartKind::Selector, PinNames::Selector),
                    ("W", "link") => (PartKind::Link, PinNames::Fixed(&["1", "2"])),
                    ("TP", "testpoint") => (PartKind::TestPoint, PinNames::Fixed(&["1"])),
                    ("J" | "P", "header") => (PartKind::Header, PinNames::Header),
                    _ => return self.wrong_word(class, second),
                };
                (Kind::Plain(kind), names)
            }
        })
    }

    fn carded(&mut self, family: Family, word: Token<'t>, pins: &'static [&'static str]) -> (Kind, PinNames) {
        let name = self.door.names.of(word.text);
        let card = match self.body.parameters.iter().position(|parameter| parameter.name == name) {
            Some(at) => Card::Parameter(at as u32),
            None => {
                let written = Written { word: name, span: word.span };
                self.cards.look_up(family, written, self.door);
                Card::Named(written)
            }
        };
        (Kind::Carded { family, card }, PinNames::Fixed(pins))
    }

    /// A value or the name of a parameter that holds one.
    fn amount(&mut self, word: Token<'t>, symbol: &'static str, what: &str) -> Amount {
        if !self.body.parameters.is_empty()
            && let Some(name) = self.door.names.find(word.text)
            && let Some(at) = self.body.parameters.iter().position(|parameter| parameter.name == name)
        {
            return Amount::Parameter(at as u32);
        }
        match value::read(word.text, symbol) {
            Ok(value) => Amount::Known(value),
            Err(why) => {
                let names: Vec<&str> =
                    self.body.parameters.iter().map(|one| self.door.names.text(one.name)).collect();
                let meant = self.door.notices.meant(word.text, names);
                let example = if symbol == "R" { "`22k`, `4k7`, `0R1`" } else { "`100n`, `10u`, `2n9`" };
                let mend = meant.unwrap_or_else(|| format!("write a {what} such as {example}"));
                let text = format!("`{}` is no {what}: {why}", word.text);
                self.door.error("value-bad", word.span, text, mend);
                // A plausible value keeps the part, so that its nets do not look unused.
                Amount::Known(if symbol == "R" { 1e3 } else { 1e-7 })
            }
        }
    }

    fn wanted(&self, class: &str) -> (&'static str, &'static str) {
        match class {
            "R" => ("value", "write `R1 22k a b`"),
            "C" => ("value", "write `C1 100n a b`, or `C1 10u polar +=a -=b` for an electrolytic"),
            "Q" => ("model", "write `Q1 2N3904 c=y b=q e=GND`"),
            "DS" => ("model", "write `DS1 red a=x k=y`"),
            "D" | "CR" => ("model", "write `D1 1N4148 a=x k=y`"),
            "S" => ("kind", "write `S1 button x GND`, or `toggle`, or `selector`"),
            "W" => ("kind", "write `W1 link a b`"),
            "TP" => ("kind", "write `TP1 testpoint a`"),
            _ => ("kind", "write `J1 header 1=GND 2=VCC`"),
        }
    }

    fn wrong_word<T>(&mut self, class: &str, second: Token<'t>) -> Option<T> {
        let (what, mut mend) = self.wanted(class);
        let mut text = format!("`{}` is no {what} of a {}", second.text, self.class_word(class));
        if PART_WORDS.contains(&second.text) {
            text = format!("a {} is no {}", self.class_word(class), second.text);
            mend = match second.text {
                "button" | "toggle" | "selector" => "the class letter of a switch is S",
                "link" => "the class letter of a wire link is W",
                "testpoint" => "the class letters of a test point are TP",
                _ => "the class letter of a connector is J, or P for the moving half",
            };
        }
        self.door.error("part-what", second.span, text, mend);
        None
    }
}

fn class_list() -> String {
    let letters: Vec<&str> = CLASSES.iter().map(|(class, _)| *class).collect();
    format!("a part's reference begins with {} (IEEE 315)", letters.join(" "))
}

/// A pin that is left unconnected.
pub(crate) fn open_pin(span: Span) -> BodyPin {
    BodyPin { net: None, span }
}
