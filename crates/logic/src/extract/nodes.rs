//! Which nets are rails, which carry signals, which are inside a stage.
//!
//! A *node* is a net together with every net a soldered-in link joins to it; it is known by the
//! first of these nets. A *signal* is a node with a driver: a collector that reaches a rail through
//! resistors, diodes or lamps alone, a connector pin, a switch contact, a clock source. The inner
//! node of two transistors in series reaches no rail that way and stays inside its stage.

use dryjoint_board::{Board, NetId, Part, PartId, PartKind, PinId, Supply};
use dryjoint_ids::{Side, Union};
use dryjoint_parts::{Model, Polarity};
use dryjoint_units::Volts;

/// What a node is to the logic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Node {
    /// The supply's 0 V.
    Ground,
    /// A supply rail at this voltage.
    Rail(Volts),
    /// Carries a level.
    Signal,
    /// Inside a stage.
    Inside,
}

/// The nodes of a board.
#[derive(Clone, Debug)]
pub struct Nodes {
    first: Side<NetId, NetId>,
    nets: Side<NetId, Vec<NetId>>,
    kind: Side<NetId, Node>,
}

impl Nodes {
    /// Classifies every net of the board.
    pub fn of(board: &Board) -> Self {
        let mut joined = Union::new(&board.nets);
        for (_, part) in board.parts.iter().filter(|(_, part)| part.kind == PartKind::Link) {
            let [a, b] = [0, 1].map(|k| board.pins[part.pins[k]].net);
            joined.join(a, b);
        }
        let first = joined.settle();
        let mut nets = Side::filled(&board.nets, Vec::new());
        for net in board.nets.ids() {
            nets[first[net]].push(net);
        }
        let mut nodes = Self { first, nets, kind: Side::filled(&board.nets, Node::Inside) };
        nodes.mark_rails(board);
        nodes.mark_edges(board);
        nodes.mark_drivers(board);
        nodes
    }

    /// The net a node is known by.
    pub fn first(&self, net: NetId) -> NetId {
        self.first[net]
    }

    /// What the node of `net` is.
    pub fn kind(&self, net: NetId) -> Node {
        self.kind[self.first[net]]
    }

    /// All pins on the node of `net`.
    pub fn pins<'a>(&'a self, board: &'a Board, net: NetId) -> impl Iterator<Item = PinId> + 'a {
        self.nets[self.first[net]].iter().flat_map(|&net| board.nets[net].pins.iter().copied())
    }

    /// The nodes at a part's pins, in pin order.
    pub fn ends(&self, board: &Board, part: PartId) -> Vec<NetId> {
        board.parts[part].pins.iter().map(|&pin| self.first[board.pins[pin].net]).collect()
    }

    /// Whether the node of `net` is a rail or ground.
    pub fn is_supply(&self, net: NetId) -> bool {
        matches!(self.kind(net), Node::Ground | Node::Rail(_))
    }

    fn mark_rails(&mut self, board: &Board) {
        for (net, row) in board.nets.iter() {
            match row.supply {
                Some(Supply::Ground) => self.kind[self.first[net]] = Node::Ground,
                Some(Supply::Rail { volts, .. }) => self.kind[self.first[net]] = Node::Rail(volts),
                None => {}
            }
        }
    }

    fn mark(&mut self, net: NetId) {
        if !self.is_supply(net) {
            self.kind[self.first[net]] = Node::Signal;
        }
    }

    /// Connector pins, lines, switch contacts against a rail, clock sources.
    fn mark_edges(&mut self, board: &Board) {
        for (_, line) in board.lines.iter() {
            self.mark(line.net);
        }
        for (_, clock) in board.clocks.iter() {
            self.mark(clock.net);
            clock.complement.into_iter().for_each(|net| self.mark(net));
        }
        for (id, part) in board.parts.iter() {
            match part.kind {
                PartKind::Header => {
                    for &pin in &part.pins {
                        let net = &board.nets[board.pins[pin].net];
                        if net.pins.len() > 1 {
                            self.mark(board.pins[pin].net);
                        }
                    }
                }
                PartKind::Button | PartKind::Toggle | PartKind::Selector => {
                    if let Some(contacts) = contacts(board, self, id) {
                        contacts.into_iter().for_each(|net| self.mark(net));
                    }
                }
                _ => {}
            }
        }
    }

    /// Collectors with a way to a rail, and emitters that follow with their collector on a rail.
    fn mark_drivers(&mut self, board: &Board) {
        for (_, part) in board.parts.iter() {
            if !matches!(part.kind, PartKind::Bipolar(_)) {
                continue;
            }
            let [collector, _, emitter] = [0, 1, 2].map(|k| board.pins[part.pins[k]].net);
            if self.kind(collector) == Node::Inside && self.reaches_rail(board, collector) {
                self.mark(collector);
            }
            if self.is_supply(collector)
                && !grounded_emitter(self, board, part, collector)
                && self.kind(emitter) == Node::Inside
                && self.reaches_rail(board, emitter)
            {
                self.mark(emitter);
            }
        }
    }

    /// Whether current gets from a node to a rail through resistors, diodes or lamps alone.
    pub fn reaches_rail(&self, board: &Board, from: NetId) -> bool {
        let mut seen = vec![self.first(from)];
        let mut next = 0;
        while next < seen.len() {
            let here = seen[next];
            next += 1;
            for part in self.pins(board, here).map(|pin| board.pins[pin].part) {
                if !is_passive(&board.parts[part].kind) {
                    continue;
                }
                for there in self.ends(board, part) {
                    if self.is_supply(there) {
                        return true;
                    }
                    if !seen.contains(&there) && self.kind(there) == Node::Inside {
                        seen.push(there);
                    }
                }
            }
        }
        false
    }
}

/// A transistor whose collector sits on the rail its emitter should sit on is fitted as a diode;
/// it follows nothing.
fn grounded_emitter(nodes: &Nodes, board: &Board, part: &Part, collector: NetId) -> bool {
    let PartKind::Bipolar(model) = part.kind else { return false };
    let Model::Bipolar(card) = &board.models[model].model else { return false };
    match card.polarity {
        Polarity::Npn => nodes.kind(collector) == Node::Ground,
        Polarity::Pnp => nodes.kind(collector) != Node::Ground,
    }
}

/// Whether current passes without a base or a hand: resistors, diodes, lamps.
pub fn is_passive(kind: &PartKind) -> bool {
    matches!(kind, PartKind::Resistor { .. } | PartKind::Diode(_) | PartKind::Lamp(_))
}

/// The nets a switch can put on a rail, when one of its pins is on a rail: a hand can set them.
pub fn contacts(board: &Board, nodes: &Nodes, switch: PartId) -> Option<Vec<NetId>> {
    let pins = &board.parts[switch].pins;
    let nets: Vec<NetId> = pins.iter().map(|&pin| board.pins[pin].net).collect();
    let (&common, others) = nets.split_first()?;
    if nodes.is_supply(common) {
        return Some(others.to_vec());
    }
    (others.len() == 1 && nodes.is_supply(others[0])).then(|| vec![common])
}
