//! A network without names: equal circuits become equal, wherever on the board they came from.
//!
//! A board repeats the same few stages many times. Stripped of the names of nets, pins and parts, with
//! nodes counted in the order in which the elements meet them, two such stages are the same network to
//! the last bit, and so is their solution: it need be computed once.

use crate::network::{Card, Element, ElementId, GROUND, Kind, Network, NodeId, NodeName};
use dryjoint_ids::Id;

/// A nameless network, and where the nodes of the named one went.
#[derive(Clone, Debug)]
pub struct Anonymous {
    /// The network to solve.
    pub network: Network,
    /// What tells it from others: equal keys mean equal networks.
    pub key: Vec<u64>,
    nodes: Vec<Option<NodeId>>,
    elements: Vec<Option<ElementId>>,
}

impl Anonymous {
    /// The nameless element of a named one; nothing for one taken out.
    pub fn element(&self, named: ElementId) -> Option<ElementId> {
        self.elements.get(named.index()).copied().flatten()
    }

    /// The nameless node of a named one; nothing where no element and no source touches it.
    pub fn node(&self, named: NodeId) -> Option<NodeId> {
        self.nodes.get(named.index()).copied().flatten()
    }
}

impl Network {
    /// This network without names.
    pub fn anonymous(&self) -> Anonymous {
        let mut out = Anonymous {
            network: Self::new(),
            key: Vec::with_capacity(self.elements.len() * 5),
            nodes: vec![None; self.nodes.len()],
            elements: vec![None; self.elements.len()],
        };
        out.nodes[GROUND.index()] = Some(GROUND);
        out.network.cards = self.cards.clone();
        for (index, element) in self.elements.iter().enumerate() {
            if element.kind != Kind::Open {
                out.elements[index] = Some(self.add_element(element, &mut out));
            }
        }
        for source in &self.sources {
            let mut source = *source;
            source.node = self.meet(source.node, &mut out);
            let limit = source.limit.map_or(u64::MAX, f64::to_bits);
            out.key.extend([u64::MAX, source.node.index() as u64, source.volts.to_bits(), limit]);
            out.network.sources.push(source);
        }
        out
    }

    fn add_element(&self, element: &Element, out: &mut Anonymous) -> ElementId {
        let first = out.network.terminals.len() as u32;
        let count = if element.ends[2] == element.ends[1] { 2 } else { 3 };
        for end in 0..count {
            let node = self.meet(self.end(element, end), out);
            out.network.terminals.push(node);
            out.key.push(node.index() as u64);
        }
        out.key.extend(match element.kind {
            Kind::Open => [0, 0],
            Kind::Resistor(ohms) => [1, ohms.to_bits()],
            Kind::Capacitor(farads) => [2, farads.to_bits()],
            Kind::Electrolytic(farads) => [6, farads.to_bits()],
            Kind::Contact(closed) => [3, u64::from(closed)],
            Kind::Device(card) => [4, self.card_key(card)],
            Kind::Current(amps) => [5, amps.to_bits()],
        });
        out.network.join(element.kind, [first, first + 1, first + count as u32 - 1])
    }

    fn meet(&self, node: NodeId, out: &mut Anonymous) -> NodeId {
        if let Some(known) = out.nodes[node.index()] {
            return known;
        }
        let fresh = NodeId::at(out.network.nodes.len());
        out.network.nodes.push(NodeName::Free(fresh));
        out.nodes[node.index()] = Some(fresh);
        fresh
    }

    /// The first card equal to this one, so that a card pushed twice counts as one.
    fn card_key(&self, card: u32) -> u64 {
        let wanted: &Card = &self.cards[card as usize];
        self.cards.iter().position(|known| known == wanted).unwrap_or(card as usize) as u64
    }
}
