//! Pins: `a b`, `c=y b=q e=GND`, `1=GND 4=D0`, `[4..7]=D[0..3]`.

use crate::body::{BodyPin, LocalNet};
use crate::compile::{Compiler, Element};
use crate::index::expand;
use crate::limits::MAX_PINS;
use crate::names::CLAUSES;
use crate::notices::Placed;
use crate::part_line::open_pin;
use crate::scan::Shape;
use crate::source::Span;
use crate::value;
use crate::words::{Token, Words};

/// What a part's pins are called.
#[derive(Clone, Copy, Debug)]
pub(crate) enum PinNames {
    /// These, each of them needed.
    Fixed(&'static [&'static str]),
    /// `1 2 3 …`.
    Header,
    /// `c 1 2 3 …`.
    Selector,
}

impl PinNames {
    /// Where in the part's pins the pin of that name stands.
    fn position(self, name: &str) -> Option<usize> {
        let number = || {
            let number: u32 = name.parse().ok()?;
            (!name.starts_with(['0', '+']) && number <= MAX_PINS).then_some(number as usize)
        };
        match self {
            Self::Fixed(names) => names.iter().position(|known| *known == name),
            Self::Header => number().map(|number| number - 1),
            Self::Selector if name == "c" => Some(0),
            Self::Selector => number(),
        }
    }

    /// The name of the pin at `position`.
    fn name(self, position: usize) -> String {
        match self {
            Self::Fixed(names) => names.get(position).map_or(String::new(), |name| (*name).to_owned()),
            Self::Header => (position + 1).to_string(),
            Self::Selector if position == 0 => "c".into(),
            Self::Selector => position.to_string(),
        }
    }

    /// How many pins there may be.
    fn most(self) -> usize {
        match self {
            Self::Fixed(names) => names.len(),
            Self::Header => MAX_PINS as usize,
            Self::Selector => MAX_PINS as usize + 1,
        }
    }

    /// How many pins there must be.
    fn least(self) -> usize {
        match self {
            Self::Fixed(names) => names.len(),
            Self::Header => 1,
            Self::Selector => 3,
        }
    }
}

impl<'t> Compiler<'_, 't> {
    /// Reads pins by position and by name, and a percentage among them.
    pub fn pins(
        &mut self,
        part: &str,
        span: Span,
        names: PinNames,
        words: &mut Words<'t>,
        element: Element,
    ) -> (Vec<BodyPin>, Option<(f64, Span)>) {
        let mut given: Vec<Option<BodyPin>> = Vec::with_capacity(names.least());
        let mut tolerance = None;
        let errors = self.door.notices.errors();
        let mut by_name = false;
        let mut full = false;
        let mut nets = Vec::new();
        while let Some(token) = words.peek() {
            if let Some((key, net)) = token.keyed() {
                words.next();
                by_name = true;
                self.named_pins(names, key, net, element, &mut given);
                continue;
            }
            if CLAUSES.contains(&token.text) && token.is_word() {
                break;
            }
            words.next();
            if token.text.ends_with('%') && token.is_word() {
                match value::percent(token.text) {
                    Some(percent) => tolerance = Some((percent, token.span)),
                    None => {
                        let text = format!("`{}` is no percentage", token.text);
                        self.door.error("value-bad", token.span, text, "write a tolerance such as `5%`");
                    }
                }
                continue;
            }
            if full {
                continue;
            }
            if by_name {
                let text = format!("`{}` follows pins given by name", token.text);
                self.door.error("pin-order", token.span, text, "give its pin too, as `c=NET`");
                continue;
            }
            nets.clear();
            if token.text == "-" {
                given.push(Some(open_pin(token.span)));
            } else {
                self.nets_of(token, element, &mut nets);
                given.extend(nets.iter().map(|net| Some(BodyPin { net: Some(*net), span: token.span })));
                if nets.is_empty() {
                    // Unreadable, and noted; the pin is there all the same.
                    given.push(Some(open_pin(token.span)));
                }
            }
            if given.len() > names.most() {
                let text = format!("`{}` is one net more than {part} has pins", token.text);
                let mend = format!("its pins are {}", self.pin_list(names));
                self.door.error("pin-extra", token.span, text, mend);
                given.truncate(names.most());
                full = true;
            }
        }
        let slips = self.door.notices.errors() > errors;
        (self.filled(part, span, names, given, slips), tolerance)
    }

    fn pin_list(&self, names: PinNames) -> String {
        match names {
            PinNames::Fixed(names) => names.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(" "),
            PinNames::Header => format!("`1` to `{MAX_PINS}`"),
            PinNames::Selector => format!("`c` and `1` to `{MAX_PINS}`"),
        }
    }

    /// `c=y`, and `[4..7]=D[0..3]`.
    fn named_pins(
        &mut self,
        names: PinNames,
        key: Token<'t>,
        net: Token<'t>,
        element: Element,
        given: &mut Vec<Option<BodyPin>>,
    ) {
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
        let Some(nets) = self.values_of(keys.len(), key, net, element) else { return };
        for (name, value) in keys.iter().zip(nets) {
            let Some(at) = names.position(name) else {
                let mend = format!("its pins are {}", self.pin_list(names));
                self.door.error("pin-unknown", key.span, format!("there is no pin `{name}`"), mend);
                continue;
            };
            if given.len() <= at {
                given.resize(at + 1, None);
            }
            let pin = BodyPin { net: value, span: key.span };
            if let Some(first) = given[at].replace(pin) {
                self.door.notices.push(
                    Placed::error("pin-twice", key.span, format!("pin `{name}` has a net already"))
                        .mend("name each pin once".into())
                        .also(first.span, "the first is here"),
                );
            }
        }
    }

    /// The nets for `count` keys: one for each, or one for all.
    pub fn values_of(
        &mut self,
        count: usize,
        key: Token<'t>,
        net: Token<'t>,
        element: Element,
    ) -> Option<Vec<Option<LocalNet>>> {
        if net.text == "-" {
            return Some(vec![None; count]);
        }
        if net.text.is_empty() {
            let text = format!("`{}=` has no net", key.text);
            self.door.error("pin-empty", key.span, text, "write the net right behind `=`, or `-` for none");
            return None;
        }
        let mut nets = Vec::new();
        self.nets_of(net, element, &mut nets);
        if nets.len() == 1 {
            return Some(vec![Some(nets[0]); count]);
        }
        if nets.len() != count {
            if !nets.is_empty() {
                let text = format!("{} nets for {count}", nets.len());
                self.door.error("range-unequal", net.span, text, "make both ranges equally long");
            }
            return None;
        }
        Some(nets.into_iter().map(Some).collect())
    }

    /// Every pin with its net, and a notice on those that have none, unless the line has other `slips`.
    fn filled(
        &mut self,
        part: &str,
        span: Span,
        names: PinNames,
        given: Vec<Option<BodyPin>>,
        slips: bool,
    ) -> Vec<BodyPin> {
        let count = given.len().max(names.least());
        let mut missing = Vec::new();
        let mut pins = Vec::with_capacity(count);
        for at in 0..count {
            match given.get(at).copied().flatten() {
                Some(pin) => pins.push(pin),
                None => {
                    pins.push(open_pin(span));
                    // A connector that names any pin may leave the others open.
                    if !matches!(names, PinNames::Header) || given.is_empty() {
                        missing.push(names.name(at));
                    }
                }
            }
        }
        if !missing.is_empty() && !slips {
            let list = missing.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
            let text = format!("{part} has no net for pin {list}");
            let mend = "name its net, or `-` to leave the pin unconnected";
            self.door.error("pin-missing", span, text, mend);
        }
        pins
    }
}
