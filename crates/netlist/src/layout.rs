//! Bodies to a flat board: every instance laid out, every net under its full name.

use crate::body::{
    Amount, Argument, Body, BodyInstance, BodyPart, Card, Family, Item, Kind, LocalNet, Reach, Written,
};
use crate::cards::Cards;
use crate::door::Door;
use crate::names::Symbol;
use crate::notices::Placed;
use crate::number::Numbers;
use crate::place::within;
use crate::positions::{Placing, Positions};
use crate::rails::Rail;
use crate::size::Loops;
use crate::source::Span;
use crate::value;
use dryjoint_board::{Board, ModelId, NamedModel, Net, NetId, Part, PartId, PartKind, Pin, Place};
use dryjoint_ids::Id;
use dryjoint_units::{Farads, Ohms};
use rustc_hash::FxHashMap;

/// A board with the places of its things, and what the lines for the bench look names up in.
pub(crate) struct Layout<'d, 't> {
    pub door: &'d mut Door<'t>,
    pub cards: &'d mut Cards,
    pub bodies: &'d [Body],
    pub loops: &'d Loops,
    pub rails: &'d FxHashMap<Symbol, Rail>,
    pub board: Board,
    pub positions: Positions,
    pub references: FxHashMap<(Symbol, u32), PartId>,
    /// Nets the board's own body names, with those of rails.
    pub named: FxHashMap<Symbol, NetId>,
    numbers: Numbers,
    models: FxHashMap<Symbol, ModelId>,
    values: FxHashMap<(Symbol, &'static str), Option<f64>>,
    /// The dotted names the board's own body uses, which may be nets within instances.
    dotted: FxHashMap<String, Symbol>,
    /// What parts are called within their cells, for `BIT3.DS1`.
    pub local: Vec<Symbol>,
}

/// Where an instance is laid out.
struct Site {
    /// `BIT3/G1`
    section: String,
    /// `BIT3.G1.`
    prefix: String,
    nets: Vec<Option<NetId>>,
    parameters: Vec<Written>,
    /// Where it sits: nothing when the text does not say.
    place: Option<Place>,
    placing: Option<u32>,
    top: bool,
}

impl Site {
    /// Where something at `inner` comes to lie.
    fn laid(&self, inner: Option<Place>) -> Option<Place> {
        if self.top { inner } else { self.place.zip(inner).map(|(outer, inner)| within(outer, inner)) }
    }
}

impl<'d, 't> Layout<'d, 't> {
    pub fn new(
        door: &'d mut Door<'t>,
        cards: &'d mut Cards,
        bodies: &'d [Body],
        loops: &'d Loops,
        rails: &'d FxHashMap<Symbol, Rail>,
    ) -> Self {
        let mut dotted = FxHashMap::default();
        let mut numbers = Numbers::default();
        if let Some(top) = bodies.last() {
            for net in &top.nets {
                let name = door.names.text(net.name);
                if name.contains('.') {
                    dotted.insert(name.to_owned(), net.name);
                }
            }
            if top.items.iter().any(|item| matches!(item, Item::Instance(_))) {
                numbers.written = top.items.iter().filter_map(Item::reference).collect();
            }
        }
        Self {
            door,
            cards,
            bodies,
            loops,
            rails,
            board: Board::default(),
            positions: Positions::default(),
            references: FxHashMap::default(),
            named: FxHashMap::default(),
            numbers,
            models: FxHashMap::default(),
            values: FxHashMap::default(),
            dotted,
            local: Vec::new(),
        }
    }

    /// Lays out the board's own body, which is the last.
    pub fn lay_out(&mut self) {
        let Some(top) = self.bodies.len().checked_sub(1) else { return };
        let mut site = Site {
            section: String::new(),
            prefix: String::new(),
            nets: vec![None; self.bodies[top].nets.len()],
            parameters: Vec::new(),
            place: None,
            placing: None,
            top: true,
        };
        self.body(top, &mut site);
    }

    /// The recursion is as deep as cells lie within cells, which `size` has bounded.
    fn body(&mut self, index: usize, site: &mut Site) {
        let body = &self.bodies[index];
        for (at, item) in body.items.iter().enumerate() {
            match item {
                Item::Part(part) => self.part(body, part, site),
                Item::Net(net) => {
                    self.net(body, *net, site);
                }
                Item::Section(path) => site.section.clone_from(path),
                Item::Instance(_) if self.loops.contains(&(index, at)) => {}
                Item::Instance(instance) => self.instance(body, instance, site),
            }
        }
    }

    fn instance(&mut self, body: &Body, instance: &BodyInstance, site: &mut Site) {
        if site.top {
            self.numbers.begin(&instance.numbering, instance.span);
        }
        let inner = &self.bodies[instance.cell];
        let name = self.door.names.text(instance.name).to_owned();
        let mut nets = vec![None; inner.nets.len()];
        for (slot, net) in nets.iter_mut().zip(&instance.nets) {
            *slot = Some(self.net(body, *net, site));
        }
        let arguments = instance.arguments.iter().zip(&inner.parameters);
        let parameters = arguments
            .map(|(argument, parameter)| match argument {
                Argument::Default => parameter.default,
                Argument::Given(written) => *written,
                Argument::Outer(outer) => {
                    site.parameters.get(*outer as usize).copied().unwrap_or(parameter.default)
                }
            })
            .collect();
        let placing = self.positions.placings.len() as u32;
        self.positions.placings.push(Placing { span: instance.span, within: site.placing });
        let mut within_it = Site {
            section: if site.section.is_empty() { name.clone() } else { format!("{}/{name}", site.section) },
            prefix: format!("{}{name}.", site.prefix),
            nets,
            parameters,
            place: site.laid(instance.place),
            placing: Some(placing),
            top: false,
        };
        self.body(instance.cell, &mut within_it);
        if site.top && instance.last {
            self.numbers.end(instance.span, self.door);
        }
    }

    fn net(&mut self, body: &Body, local: LocalNet, site: &mut Site) -> NetId {
        if let Some(net) = site.nets[local.0 as usize] {
            return net;
        }
        let named = body.nets[local.0 as usize];
        let net = if site.top || named.reach == Reach::Rail {
            self.named_net(named.name, named.span)
        } else {
            let name = format!("{}{}", site.prefix, self.door.names.text(named.name));
            match self.dotted.get(&name) {
                Some(symbol) => self.named_net(*symbol, named.span),
                None => self.new_net(name, named.span, site.placing),
            }
        };
        site.nets[local.0 as usize] = Some(net);
        net
    }

    /// A net of the board's own body, or a rail.
    fn named_net(&mut self, name: Symbol, span: Span) -> NetId {
        if let Some(net) = self.named.get(&name) {
            return *net;
        }
        let text = self.door.names.text(name).to_owned();
        let net = self.new_net(text, span, None);
        self.board.nets[net].supply = self.rails.get(&name).map(|rail| rail.supply);
        self.named.insert(name, net);
        net
    }

    fn new_net(&mut self, name: String, span: Span, placing: Option<u32>) -> NetId {
        self.positions.nets.push(span);
        self.positions.net_placing.push(placing);
        self.board.nets.push(Net { name, supply: None, pins: Vec::new(), reachable: true })
    }

    fn part(&mut self, body: &Body, part: &BodyPart, site: &mut Site) {
        let Some(kind) = self.kind(part, site) else { return };
        let (reference, number) = if site.top {
            self.numbers.met(part.class, part.number);
            (self.door.names.text(part.reference).to_owned(), part.number)
        } else {
            self.numbers.next(part.class, part.span, self.door)
        };
        let id = self.board.parts.next_id();
        if let Some(first) = self.references.insert((part.class, number), id) {
            self.twice(&reference, part, first, site);
        }
        let place = site.laid(part.place);
        let given = &body.pins[part.pins.0 as usize..part.pins.1 as usize];
        let mut pins = Vec::with_capacity(given.len());
        for (name, pin) in kind.pin_names(given.len()).into_iter().zip(given) {
            let net = match pin.net {
                Some(net) => self.net(body, net, site),
                None => self.own_net(&reference, &name, pin.span, site.placing),
            };
            self.positions.pins.push(pin.span);
            let pin = self.board.pins.push(Pin { part: id, name, net });
            self.board.nets[net].pins.push(pin);
            pins.push(pin);
        }
        let section = site.section.clone();
        self.board.parts.push(Part { reference, kind, pins, place, section });
        self.positions.parts.push(part.span);
        self.positions.part_placing.push(site.placing);
        self.local.push(part.reference);
    }

    /// The net of a pin that nobody connects; the text may name it, `J1.7`.
    fn own_net(&mut self, reference: &str, pin: &str, span: Span, placing: Option<u32>) -> NetId {
        let own = format!("{reference}.{pin}");
        match self.dotted.get(&own) {
            Some(symbol) => self.named_net(*symbol, span),
            None => self.new_net(own, span, placing),
        }
    }

    fn twice(&mut self, reference: &str, part: &BodyPart, first: PartId, site: &Site) {
        let text = if site.section.is_empty() {
            format!("`{reference}` is there already")
        } else {
            format!("`{reference}`, a part of {}, is there already", site.section)
        };
        let mend = if site.top {
            format!(
                "number it otherwise, or keep the instances clear of it with `number`: {reference} is taken"
            )
        } else {
            "give the instance numbers of its own with `number`".to_owned()
        };
        let around = site.placing.map(|at| self.positions.placings[at as usize].span);
        let first = self.positions.parts.get(first.index()).copied();
        let mut notice = Placed::error("reference-twice", part.span, text).mend(mend);
        if let Some(around) = around {
            notice = notice.also(around, "laid out here");
        }
        if let Some(first) = first {
            notice = notice.also(first, "the first is here");
        }
        self.door.notices.push(notice);
    }

    fn kind(&mut self, part: &BodyPart, site: &Site) -> Option<PartKind> {
        Some(match &part.kind {
            Kind::Resistor { ohms, tolerance } => PartKind::Resistor {
                ohms: Ohms(self.amount(*ohms, "R", "resistance", site).unwrap_or(1e3)),
                tolerance: *tolerance,
            },
            Kind::Capacitor { farads, polar } => PartKind::Capacitor {
                farads: Farads(self.amount(*farads, "F", "capacitance", site).unwrap_or(1e-7)),
                polar: *polar,
            },
            Kind::Plain(kind) => kind.clone(),
            Kind::Carded { family, card } => {
                let written = match card {
                    Card::Named(written) => *written,
                    Card::Parameter(at) => *site.parameters.get(*at as usize)?,
                };
                let model = match self.models.get(&written.word) {
                    Some(id) => *id,
                    None => {
                        let model = self.cards.look_up(*family, written, self.door)?;
                        let name = self.door.names.text(written.word).to_owned();
                        let id = self.board.models.push(NamedModel { name, model });
                        self.models.insert(written.word, id);
                        id
                    }
                };
                if !family.fits(&self.board.models[model].model) {
                    self.cards.look_up(*family, written, self.door);
                    return None;
                }
                match family {
                    Family::Bipolar => PartKind::Bipolar(model),
                    Family::Diode => PartKind::Diode(model),
                    Family::Lamp => PartKind::Lamp(model),
                }
            }
        })
    }

    /// A value, read from a parameter where it hangs on one; each word is read once.
    fn amount(&mut self, amount: Amount, symbol: &'static str, what: &str, site: &Site) -> Option<f64> {
        let at = match amount {
            Amount::Known(value) => return Some(value),
            Amount::Parameter(at) => at,
        };
        let written = *site.parameters.get(at as usize)?;
        let known = self.values.get(&(written.word, symbol));
        if let Some(Some(value)) = known {
            return Some(*value);
        }
        let word = self.door.names.text(written.word);
        let read = value::read(word, symbol);
        self.values.insert((written.word, symbol), read.as_ref().ok().copied());
        match read {
            Ok(value) => Some(value),
            Err(why) => {
                let text = format!("`{word}` is no {what}: {why}");
                let mend = format!("a parameter used as a {what} wants one such as `22k` or `100n`");
                self.door.error("value-bad", written.span, text, mend);
                None
            }
        }
    }
}
