//! The network: nodes, elements between them, and the sources that hold some of them.
//!
//! A network is built element by element, or from a board (see `from_board.rs`), and then edited the
//! way a fault changes a board (see `edit.rs`). Every pin of a part is a *terminal* of its own that
//! names the node it sits on, so that a lifted joint only moves one terminal.

use dryjoint_board::{NetId, PartId, PinId};
use dryjoint_ids::{Id, id};
use dryjoint_parts::{Bipolar, BipolarLaw, Diode, DiodeLaw, Lamp, Looks, Model, Mosfet, MosfetLaw, Polarity};
use dryjoint_units::{Amps, Farads, Ohms, Volts};

id!(
    /// A node of a network: everything at one voltage.
    NodeId, "node"
);
id!(
    /// An element of a network.
    ElementId, "element"
);

/// Ground, the node every voltage is counted from.
pub const GROUND: NodeId = NodeId(0);

/// Resistance of a jumper lead, a wire link or a closed contact (judgement: clean tin plate).
pub const JUMPER: Ohms = Ohms(0.01);

/// Where a meter lead or an edit goes: a net, a pin (its side of the joint), or a node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spot {
    /// The copper of a net.
    Net(NetId),
    /// A part's pin, which a lifted joint separates from its net.
    Pin(PinId),
    /// A node.
    Node(NodeId),
}

impl From<NetId> for Spot {
    fn from(net: NetId) -> Self {
        Self::Net(net)
    }
}
impl From<PinId> for Spot {
    fn from(pin: PinId) -> Self {
        Self::Pin(pin)
    }
}
impl From<NodeId> for Spot {
    fn from(node: NodeId) -> Self {
        Self::Node(node)
    }
}

/// What a node is on the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NodeName {
    /// Ground.
    Ground,
    /// A net.
    Net(NetId),
    /// A pin in the air, its joint open.
    Lifted(PinId),
    /// A node made by hand.
    Free(NodeId),
}

/// A model card made ready to evaluate; a series resistance of zero is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Card {
    Diode { law: DiodeLaw, rs: f64, looks: Option<Looks> },
    Bipolar { law: BipolarLaw, sign: f64, rb: f64, rc: f64 },
    Mosfet { law: MosfetLaw, sign: f64, body: DiodeLaw, cgs: f64, cgd: f64 },
}

impl Card {
    pub(crate) fn of(model: &Model) -> Self {
        match model {
            Model::Diode(diode) => Self::diode(diode),
            Model::Lamp(lamp) => Self::lamp(lamp),
            Model::Bipolar(bipolar) => Self::bipolar(bipolar),
            Model::Mosfet(mosfet) => Self::mosfet(mosfet),
        }
    }

    /// The thresholds of a lamp's card.
    pub(crate) fn looks(&self) -> Option<Looks> {
        match self {
            Self::Diode { looks, .. } => *looks,
            _ => None,
        }
    }

    fn diode(diode: &Diode) -> Self {
        Self::Diode { law: diode.law(), rs: diode.rs.0, looks: None }
    }

    fn lamp(lamp: &Lamp) -> Self {
        let looks = Some(lamp.looks());
        Self::Diode { law: lamp.junction.law(), rs: lamp.junction.rs.0, looks }
    }

    fn bipolar(card: &Bipolar) -> Self {
        Self::Bipolar { law: card.law(), sign: sign(card.polarity), rb: card.rb.0, rc: card.rc.0 }
    }

    fn mosfet(card: &Mosfet) -> Self {
        Self::Mosfet {
            law: card.law(),
            sign: sign(card.polarity),
            body: card.body(),
            cgs: card.cgs.0,
            cgd: card.cgd.0,
        }
    }
}

fn sign(polarity: Polarity) -> f64 {
    match polarity {
        Polarity::Npn => 1.0,
        Polarity::Pnp => -1.0,
    }
}

/// What an element does. Ends are in the order of the part's pins: `1 2`, `a k`, `c b e`, `d g s`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Kind {
    /// Nothing: taken out.
    Open,
    Resistor(f64),
    Capacitor(f64),
    /// A capacitor with a right and a wrong way round: end 0 is plus.
    Electrolytic(f64),
    /// A contact; `true` is closed.
    Contact(bool),
    /// A diode, a lamp, a transistor: index into the cards.
    Device(u32),
    /// A current that flows in at end 0 and out at end 1.
    Current(f64),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Element {
    pub(crate) kind: Kind,
    /// Indices of terminals; the third repeats the second where there are only two.
    pub(crate) ends: [u32; 3],
}

/// What holds a node at a voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Source {
    pub(crate) node: NodeId,
    pub(crate) volts: f64,
    /// What it can deliver; `None` is an ideal source that also takes current back.
    pub(crate) limit: Option<f64>,
}

/// The place of one part in the network.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fitted {
    pub(crate) part: PartId,
    pub(crate) terminals: std::ops::Range<u32>,
    pub(crate) elements: std::ops::Range<u32>,
}

/// Nodes, elements and sources. Cheap to clone, so that each fault can have its own.
///
/// **Invariant:** every terminal names a node below `nodes.len()`, every end a terminal, every
/// device a card of a kind with that many ends; node 0 is ground.
#[derive(Clone, Debug, PartialEq)]
pub struct Network {
    pub(crate) nodes: Vec<NodeName>,
    pub(crate) terminals: Vec<NodeId>,
    pub(crate) elements: Vec<Element>,
    pub(crate) cards: Vec<Card>,
    pub(crate) sources: Vec<Source>,
    /// Sorted by net, pin and part.
    pub(crate) nets: Vec<(NetId, NodeId)>,
    pub(crate) pins: Vec<(PinId, u32)>,
    pub(crate) parts: Vec<Fitted>,
}

impl Default for Network {
    fn default() -> Self {
        Self::new()
    }
}

impl Network {
    /// A network with nothing but ground.
    pub fn new() -> Self {
        Self {
            nodes: vec![NodeName::Ground],
            terminals: Vec::new(),
            elements: Vec::new(),
            cards: Vec::new(),
            sources: Vec::new(),
            nets: Vec::new(),
            pins: Vec::new(),
            parts: Vec::new(),
        }
    }

    /// A fresh node.
    pub fn node(&mut self) -> NodeId {
        let id = NodeId::at(self.nodes.len());
        self.nodes.push(NodeName::Free(id));
        id
    }

    /// How many nodes there are, ground included.
    pub fn node_count(&self) -> usize {
        self.nodes.len()
    }

    /// All nodes with what they are.
    pub fn nodes(&self) -> impl Iterator<Item = (NodeId, NodeName)> {
        self.nodes.iter().enumerate().map(|(index, name)| (NodeId::at(index), *name))
    }

    fn element(&mut self, kind: Kind, nodes: &[NodeId]) -> ElementId {
        let first = self.terminals.len() as u32;
        self.terminals.extend_from_slice(nodes);
        let last = first + nodes.len() as u32 - 1;
        self.join(kind, [first, first + 1, last])
    }

    pub(crate) fn join(&mut self, kind: Kind, ends: [u32; 3]) -> ElementId {
        let id = ElementId::at(self.elements.len());
        self.elements.push(Element { kind, ends });
        id
    }

    pub(crate) fn card(&mut self, card: Card) -> Kind {
        self.cards.push(card);
        Kind::Device(self.cards.len() as u32 - 1)
    }

    /// A resistor; one below a microohm counts as a microohm.
    pub fn resistor(&mut self, a: NodeId, b: NodeId, value: Ohms) -> ElementId {
        self.element(Kind::Resistor(value.0), &[a, b])
    }

    /// A capacitor: open for direct current.
    pub fn capacitor(&mut self, a: NodeId, b: NodeId, value: Farads) -> ElementId {
        self.element(Kind::Capacitor(value.0), &[a, b])
    }

    /// An electrolytic: a capacitor that leaks, and conducts with `plus` below `minus`.
    pub fn electrolytic(&mut self, plus: NodeId, minus: NodeId, value: Farads) -> ElementId {
        self.element(Kind::Electrolytic(value.0), &[plus, minus])
    }

    /// A contact, closed or open.
    pub fn contact(&mut self, a: NodeId, b: NodeId, closed: bool) -> ElementId {
        self.element(Kind::Contact(closed), &[a, b])
    }

    /// A diode from anode to cathode.
    pub fn diode(&mut self, a: NodeId, k: NodeId, card: &Diode) -> ElementId {
        let kind = self.card(Card::diode(card));
        self.element(kind, &[a, k])
    }

    /// A lamp from anode to cathode.
    pub fn lamp(&mut self, a: NodeId, k: NodeId, card: &Lamp) -> ElementId {
        let kind = self.card(Card::lamp(card));
        self.element(kind, &[a, k])
    }

    /// A bipolar transistor.
    pub fn bipolar(&mut self, c: NodeId, b: NodeId, e: NodeId, card: &Bipolar) -> ElementId {
        let kind = self.card(Card::bipolar(card));
        self.element(kind, &[c, b, e])
    }

    /// An enhancement MOSFET.
    pub fn mosfet(&mut self, d: NodeId, g: NodeId, s: NodeId, card: &Mosfet) -> ElementId {
        let kind = self.card(Card::mosfet(card));
        self.element(kind, &[d, g, s])
    }

    /// A current that leaves `from` and enters `to`, whatever the voltages.
    pub fn current(&mut self, from: NodeId, to: NodeId, value: Amps) -> ElementId {
        self.element(Kind::Current(value.0), &[from, to])
    }

    /// A bench supply from ground to `node`: its voltage until the limit, then its limit. It takes no
    /// current back. A node has one source; a second replaces the first, and ground takes none.
    pub fn supply(&mut self, node: NodeId, volts: Volts, limit: Amps) {
        self.hold(Source { node, volts: volts.0, limit: Some(limit.0) });
    }

    /// An ideal source from ground to `node`, replacing any other there.
    pub fn ideal(&mut self, node: NodeId, volts: Volts) {
        self.hold(Source { node, volts: volts.0, limit: None });
    }

    fn hold(&mut self, source: Source) {
        if source.node == GROUND {
            return;
        }
        match self.sources.iter_mut().find(|other| other.node == source.node) {
            Some(other) => *other = source,
            None => self.sources.push(source),
        }
    }

    /// The node of a spot; nothing where the network does not reach it.
    pub fn find(&self, spot: impl Into<Spot>) -> Option<NodeId> {
        match spot.into() {
            Spot::Node(node) => (node.index() < self.nodes.len()).then_some(node),
            Spot::Net(net) => {
                let row = self.nets.binary_search_by_key(&net, |row| row.0).ok()?;
                Some(self.nets[row].1)
            }
            Spot::Pin(pin) => {
                let row = self.pins.binary_search_by_key(&pin, |row| row.0).ok()?;
                Some(self.terminals[self.pins[row].1 as usize])
            }
        }
    }

    pub(crate) fn fitted(&self, part: PartId) -> Option<&Fitted> {
        let row = self.parts.binary_search_by_key(&part, |row| row.part).ok()?;
        Some(&self.parts[row])
    }

    /// The elements a part became, in order: one for most, one per position for a selector, none
    /// for a header.
    pub fn elements_of(&self, part: PartId) -> impl Iterator<Item = ElementId> + use<> {
        let range = self.fitted(part).map_or(0..0, |fitted| fitted.elements.clone());
        range.map(|index| ElementId::at(index as usize))
    }

    /// The node at an end of an element.
    pub(crate) fn end(&self, element: &Element, end: usize) -> NodeId {
        self.terminals[element.ends[end] as usize]
    }

    pub(crate) fn is_mosfet(&self, element: &Element) -> bool {
        matches!(element.kind, Kind::Device(card) if matches!(self.cards[card as usize], Card::Mosfet { .. }))
    }
}
