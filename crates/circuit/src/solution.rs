//! An operating point: voltages, currents, lamps, and how well Kirchhoff's law holds.

use crate::failure::Method;
use crate::network::{Card, ElementId, Kind, Network, NodeId, Spot};
use crate::system::Regulation;
use dryjoint_board::{NetId, PartId, PinId};
use dryjoint_ids::Id;
use dryjoint_parts::Glow;
use dryjoint_units::{Amps, Volts};

/// What a source does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delivery {
    /// The node it feeds.
    pub node: NodeId,
    /// The voltage there.
    pub volts: Volts,
    /// The current it delivers.
    pub amps: Amps,
    /// Whether it holds its voltage or is at its limit.
    pub regulation: Regulation,
}

/// An operating point of a network.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    pub(crate) volts: Vec<f64>,
    pub(crate) currents: Vec<[f64; 3]>,
    /// Inner voltages of each element that has them.
    pub(crate) inner: Vec<[f64; 2]>,
    pub(crate) deliveries: Vec<Delivery>,
    /// The greatest sum of currents at any node that should be zero.
    pub residual: Amps,
    /// Newton steps spent.
    pub iterations: u32,
    /// The way that led here.
    pub method: Method,
}

impl Solution {
    /// The voltage of a node.
    pub fn node(&self, node: NodeId) -> Volts {
        Volts(self.volts.get(node.index()).copied().unwrap_or(0.0))
    }

    /// The voltage at a net, a pin (the part's side of its joint) or a node; nothing where the
    /// network does not reach.
    pub fn at(&self, network: &Network, spot: impl Into<Spot>) -> Option<Volts> {
        network.find(spot).map(|node| self.node(node))
    }

    /// Voltages of all nodes, ground first.
    pub fn volts(&self) -> &[f64] {
        &self.volts
    }

    /// The currents into an element's ends, in the order of its pins; the third is zero where there
    /// are two.
    pub fn element(&self, element: ElementId) -> [Amps; 3] {
        self.currents.get(element.index()).copied().unwrap_or_default().map(Amps)
    }

    /// The current into a part through one of its pins.
    pub fn pin(&self, network: &Network, pin: PinId) -> Option<Amps> {
        let row = network.pins.binary_search_by_key(&pin, |row| row.0).ok()?;
        let terminal = network.pins[row].1;
        let at = network.parts.partition_point(|fitted| fitted.terminals.end <= terminal);
        let fitted = network.parts.get(at)?;
        let mut sum = 0.0;
        for number in fitted.elements.clone() {
            let element = &network.elements[number as usize];
            let ends = if element.ends[2] == element.ends[1] { 2 } else { 3 };
            for end in 0..ends {
                if element.ends[end] == terminal {
                    sum += self.currents.get(number as usize).map_or(0.0, |row| row[end]);
                }
            }
        }
        Some(Amps(sum))
    }

    /// What every source does, in the order they were added.
    pub fn deliveries(&self) -> &[Delivery] {
        &self.deliveries
    }

    /// What the source of a rail does.
    pub fn supply(&self, network: &Network, rail: NetId) -> Option<Delivery> {
        let node = network.find(rail)?;
        self.deliveries.iter().find(|delivery| delivery.node == node).copied()
    }

    /// A lamp's forward current and how it looks; nothing where the part is no lamp of the network.
    /// A lamp taken out is dark.
    pub fn lamp(&self, network: &Network, part: PartId) -> Option<(Amps, Glow)> {
        let element = network.elements_of(part).next()?;
        let forward = self.element(element)[0];
        match network.elements[element.index()].kind {
            Kind::Device(card) => match network.cards[card as usize] {
                Card::Diode { looks: Some(looks), .. } => Some((forward, looks.glow(forward))),
                _ => None,
            },
            Kind::Open => Some((Amps(0.0), Glow::Dark)),
            _ => None,
        }
    }
}
