//! Edits: what a fault, a jumper or a finger on a button does to a network.
//!
//! Each returns whether there was something to change: `false` or `None` means that the network
//! does not hold that part, pin or net.

use crate::network::{Card, ElementId, JUMPER, Kind, Network, NodeId, NodeName, Spot};
use dryjoint_board::{PartId, PinId};
use dryjoint_ids::Id;
use dryjoint_parts::Model;
use dryjoint_units::{Farads, Ohms, Volts};

impl Network {
    /// Opens a joint: the pin gets a node of its own. Returns that node.
    pub fn lift(&mut self, pin: PinId) -> Option<NodeId> {
        let row = self.pins.binary_search_by_key(&pin, |row| row.0).ok()?;
        let node = NodeId::at(self.nodes.len());
        self.nodes.push(NodeName::Lifted(pin));
        self.terminals[self.pins[row].1 as usize] = node;
        Some(node)
    }

    /// Takes a part out. Its pins still name their nodes.
    pub fn remove(&mut self, part: PartId) -> bool {
        self.each_element(part, |kind| {
            *kind = Kind::Open;
            true
        })
    }

    /// Gives a resistor another value.
    pub fn set_ohms(&mut self, part: PartId, value: Ohms) -> bool {
        self.each_element(part, |kind| match kind {
            Kind::Resistor(ohms) => {
                *ohms = value.0;
                true
            }
            _ => false,
        })
    }

    /// Gives a capacitor another value.
    pub fn set_farads(&mut self, part: PartId, value: Farads) -> bool {
        self.each_element(part, |kind| match kind {
            Kind::Capacitor(farads) | Kind::Electrolytic(farads) => {
                *farads = value.0;
                true
            }
            _ => false,
        })
    }

    /// Fits another type of the same kind: a PNP for an NPN, a lamp for a diode.
    pub fn set_model(&mut self, part: PartId, model: &Model) -> bool {
        let card = Card::of(model);
        let cards = self.cards.len() as u32;
        let old = self.elements_of(part).find_map(|element| match self.elements[element.index()].kind {
            Kind::Device(old) => Some(self.cards[old as usize]),
            _ => None,
        });
        let alike =
            old.is_some_and(|old| matches!(old, Card::Diode { .. }) == matches!(card, Card::Diode { .. }));
        if !alike {
            return false;
        }
        self.cards.push(card);
        self.each_element(part, |kind| {
            *kind = Kind::Device(cards);
            true
        })
    }

    /// Fits a part with its leads in other holes: lead `k` of the part goes where lead `order[k]`
    /// belongs. Collector and emitter swapped is `[2, 1, 0]`, a reversed diode `[1, 0]`. False where
    /// `order` is no permutation of the part's pins.
    pub fn permute(&mut self, part: PartId, order: &[usize]) -> bool {
        let Some(fitted) = self.fitted(part).cloned() else { return false };
        let count = fitted.terminals.len();
        let mut seen = vec![false; count];
        for hole in order {
            match seen.get_mut(*hole) {
                Some(taken) if !*taken => *taken = true,
                _ => return false,
            }
        }
        if order.len() != count {
            return false;
        }
        let first = fitted.terminals.start;
        for element in &mut self.elements[fitted.elements.start as usize..fitted.elements.end as usize] {
            for end in &mut element.ends {
                *end = first + order[(*end - first) as usize] as u32;
            }
        }
        !fitted.elements.is_empty()
    }

    /// Joins two spots by a resistance, such as a 0.1 Ω solder bridge.
    pub fn bridge(&mut self, a: impl Into<Spot>, b: impl Into<Spot>, value: Ohms) -> Option<ElementId> {
        let (a, b) = (self.find(a)?, self.find(b)?);
        Some(self.resistor(a, b, value))
    }

    /// Ties a spot to another, as a rule a rail or ground, with a jumper lead.
    pub fn tie(&mut self, spot: impl Into<Spot>, to: impl Into<Spot>) -> Option<ElementId> {
        self.bridge(spot, to, JUMPER)
    }

    /// Takes an element out, such as a jumper set by [`tie`](Self::tie).
    pub fn take_out(&mut self, element: ElementId) -> bool {
        match self.elements.get_mut(element.index()) {
            Some(element) => {
                element.kind = Kind::Open;
                true
            }
            None => false,
        }
    }

    /// Holds a spot at a voltage with an ideal source.
    pub fn force(&mut self, spot: impl Into<Spot>, volts: Volts) -> bool {
        match self.find(spot) {
            Some(node) => {
                self.ideal(node, volts);
                true
            }
            None => false,
        }
    }

    /// Takes the source off a spot: an ideal one, or a supply.
    pub fn let_go(&mut self, spot: impl Into<Spot>) -> bool {
        let Some(node) = self.find(spot) else { return false };
        let before = self.sources.len();
        self.sources.retain(|source| source.node != node);
        self.sources.len() < before
    }

    /// Presses (`true`) or releases a button, or turns a toggle on or off.
    pub fn press(&mut self, part: PartId, closed: bool) -> bool {
        self.each_element(part, |kind| match kind {
            Kind::Contact(now) => {
                *now = closed;
                true
            }
            _ => false,
        })
    }

    /// Turns a selector to a position, the first being 0; past the last all contacts are open.
    pub fn select(&mut self, part: PartId, position: usize) -> bool {
        let mut at = 0;
        self.each_element(part, |kind| match kind {
            Kind::Contact(now) => {
                *now = at == position;
                at += 1;
                true
            }
            _ => false,
        })
    }

    fn each_element(&mut self, part: PartId, mut change: impl FnMut(&mut Kind) -> bool) -> bool {
        let Some(fitted) = self.fitted(part) else { return false };
        let range = fitted.elements.start as usize..fitted.elements.end as usize;
        let mut changed = false;
        for element in &mut self.elements[range] {
            changed |= change(&mut element.kind);
        }
        changed
    }
}
