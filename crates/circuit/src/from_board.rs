//! A network from a board, whole or a few of its parts.
//!
//! One node per net, all ground nets being node 0. A wire link and a closed contact are a
//! [`JUMPER`](crate::JUMPER), so that their current can be read and opening them moves no node.
//! Buttons are released, toggles off, selectors at their first position; rails have their supply.

use crate::network::{Card, Fitted, GROUND, JUMPER, Kind, Network, NodeName};
use dryjoint_board::{Board, NetId, Part, PartId, PartKind, Supply};
use dryjoint_ids::Id;

impl Network {
    /// Every part of a board.
    pub fn of_board(board: &Board) -> Self {
        let parts: Vec<PartId> = board.parts.ids().collect();
        Self::of_parts(board, &parts)
    }

    /// Some parts of a board, with the nets they touch and all rails. Parts named twice count once.
    pub fn of_parts(board: &Board, parts: &[PartId]) -> Self {
        let mut parts = parts.to_vec();
        parts.sort_unstable();
        parts.dedup();
        let mut network = Self::new();
        network.cards = board.models.rows().iter().map(|named| Card::of(&named.model)).collect();
        network.add_nets(board, &parts);
        for part in parts {
            network.fit(part, &board.parts[part], board);
        }
        network.pins.sort_unstable_by_key(|row| row.0);
        network
    }

    fn add_nets(&mut self, board: &Board, parts: &[PartId]) {
        let touched = parts.iter().flat_map(|part| &board.parts[*part].pins).map(|pin| board.pins[*pin].net);
        let rails = board.nets.iter().filter(|(_, net)| net.supply.is_some()).map(|(id, _)| id);
        let mut nets: Vec<NetId> = touched.chain(rails).collect();
        nets.sort_unstable();
        nets.dedup();
        for net in nets {
            let node = if board.nets[net].supply == Some(Supply::Ground) {
                GROUND
            } else {
                let node = self.node();
                self.nodes[node.index()] = NodeName::Net(net);
                node
            };
            if let Some(Supply::Rail { volts, limit }) = board.nets[net].supply {
                self.supply(node, volts, limit);
            }
            self.nets.push((net, node));
        }
    }

    fn fit(&mut self, id: PartId, part: &Part, board: &Board) {
        let first = self.terminals.len() as u32;
        let first_element = self.elements.len() as u32;
        for pin in &part.pins {
            // every net a pin is on was added before
            let node = self.find(board.pins[*pin].net).unwrap_or(GROUND);
            self.pins.push((*pin, self.terminals.len() as u32));
            self.terminals.push(node);
        }
        let last = self.terminals.len() as u32;
        let pair = [first, first + 1, first + 1];
        if last - first >= 2 {
            match part.kind {
                PartKind::Resistor { ohms, .. } => {
                    self.join(Kind::Resistor(ohms.0), pair);
                }
                PartKind::Capacitor { farads, polar } => {
                    let kind = if polar { Kind::Electrolytic(farads.0) } else { Kind::Capacitor(farads.0) };
                    self.join(kind, pair);
                }
                PartKind::Diode(model) | PartKind::Lamp(model) => {
                    self.join(Kind::Device(model.index() as u32), pair);
                }
                PartKind::Bipolar(model) if last - first >= 3 => {
                    self.join(Kind::Device(model.index() as u32), [first, first + 1, first + 2]);
                }
                PartKind::Button | PartKind::Toggle => {
                    self.join(Kind::Contact(false), pair);
                }
                PartKind::Selector => {
                    for position in first + 1..last {
                        self.join(Kind::Contact(position == first + 1), [first, position, position]);
                    }
                }
                PartKind::Link => {
                    self.join(Kind::Resistor(JUMPER.0), pair);
                }
                PartKind::Bipolar(_) | PartKind::Header | PartKind::TestPoint => {}
            }
        }
        let elements = first_element..self.elements.len() as u32;
        self.parts.push(Fitted { part: id, terminals: first..last, elements });
    }
}
