//! Soups of parts: any pieces between any nodes. Shared by the tests and by the fuzz target.

use dryjoint_circuit::{GROUND, Network, NodeId};
use dryjoint_parts::{Model, library};
use dryjoint_units::{Amps, Farads, Ohms, Volts};

/// One part: what it is, between which nodes, and how large, from 0 to 1.
#[derive(Clone, Debug)]
pub struct Piece {
    pub kind: u8,
    pub ends: [usize; 3],
    pub size: f64,
}

/// Kinds of pieces.
pub const KINDS: u8 = 13;

fn add(network: &mut Network, nodes: &[NodeId], piece: &Piece) {
    let [a, b, c] = piece.ends.map(|end| nodes[end]);
    let card = |name: &str| library(name).unwrap();
    match (piece.kind, card("2N3904"), card("2N3906")) {
        (0, Model::Bipolar(npn), _) | (1, Model::Bipolar(npn), _) => {
            network.bipolar(a, b, c, &npn);
        }
        (2, _, Model::Bipolar(pnp)) => {
            network.bipolar(a, b, c, &pnp);
        }
        (3, ..) => {
            if let Model::Diode(card) = card("1N4148") {
                network.diode(a, b, &card);
            }
        }
        (4, ..) => {
            if let Model::Lamp(card) = card("red") {
                network.lamp(a, b, &card);
            }
        }
        (5, ..) => {
            if let Model::Mosfet(card) = card("2N7000") {
                network.mosfet(a, b, c, &card);
            }
        }
        (6, ..) => {
            network.contact(a, b, piece.size < 0.5);
        }
        (7, ..) => {
            // never into a dead end: a milliamp into nothing is a gigavolt
            network.current(a, b, Amps(piece.size * 1e-3));
            network.resistor(a, b, Ohms(10e3));
        }
        (8, ..) => {
            network.electrolytic(a, b, Farads(10f64.powf(4.0 * piece.size - 7.0)));
        }
        _ => {
            // a tenth of an ohm to ten megohms
            network.resistor(a, b, Ohms(10f64.powf(8.0 * piece.size - 1.0)));
        }
    }
}

/// A network of `count` nodes, at least three, of which two have a supply.
pub fn soup(pieces: &[Piece], count: usize) -> Network {
    let mut network = Network::new();
    let mut nodes = vec![GROUND];
    nodes.extend((1..count).map(|_| network.node()));
    network.supply(nodes[1], Volts(5.0), Amps(0.5));
    network.supply(nodes[2], Volts(12.0), Amps(0.1));
    for piece in pieces {
        add(&mut network, &nodes, piece);
    }
    network
}
