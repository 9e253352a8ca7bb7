//! What differs between two copies of the same board, and between a cold shed and a warm room.
//!
//! A [`Tolerance`] names one thing that varies and its least, typical and greatest setting. The parts'
//! own come from the board: a resistor's tolerance, a card's spread of gain and junction voltage. The
//! rail and the temperature are the [`Conditions`]. [`corners`](crate::corners) puts all of them where
//! they hurt most, [`monte_carlo`](crate::monte_carlo) draws them at random.

pub(crate) mod corners;
pub(crate) mod monte_carlo;

use crate::network::{Card, Kind, Network, NodeId};
use dryjoint_board::{Board, PartId, PartKind};
use dryjoint_ids::Id;
use dryjoint_parts::{CARD_TEMPERATURE, Model};
use dryjoint_units::{Celsius, Spread, Volts};

/// One thing that varies, and what a setting of it means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Variable {
    /// A resistor's or capacitor's value: a factor.
    Value(PartId),
    /// A transistor's current gain: a factor.
    Gain(PartId),
    /// The voltage of a junction, or the threshold of a MOSFET, at the same current: volts more.
    Drop(PartId),
    /// The voltage of the source at a node: a factor.
    Rail(NodeId),
    /// The temperature of all parts: degrees Celsius.
    Temperature,
}

/// One thing that varies, with its range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// What.
    pub of: Variable,
    /// Between which settings.
    pub range: Spread<f64>,
}

/// What surrounds a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// How far a rail may be off, as a share of its voltage.
    pub rail: f64,
    /// The temperature of the parts.
    pub temperature: Spread<Celsius>,
}

impl Default for Conditions {
    /// A rail within 5 % (common practice for 5 V logic, no source), 0 to 50 °C.
    fn default() -> Self {
        Self {
            rail: 0.05,
            temperature: Spread { min: Celsius(0.0), typ: CARD_TEMPERATURE, max: Celsius(50.0) },
        }
    }
}

/// Film and ceramic capacitors: letter K of IEC 60062, ten percent either way.
const FILM: f64 = 0.10;
/// Electrolytics: letter M, twenty percent either way.
const ELECTROLYTIC: f64 = 0.20;

fn either_way(share: f64) -> Spread<f64> {
    Spread { min: 1.0 - share, typ: 1.0, max: 1.0 + share }
}

fn volts(spread: Spread<Volts>) -> Spread<f64> {
    Spread { min: spread.min.0, typ: spread.typ.0, max: spread.max.0 }
}

/// What varies of one part.
fn of_part(board: &Board, id: PartId, found: &mut Vec<Tolerance>) {
    let mut add = |of, range: Spread<f64>| {
        if range.min < range.max {
            found.push(Tolerance { of, range });
        }
    };
    match board.parts[id].kind {
        PartKind::Resistor { tolerance, .. } => add(Variable::Value(id), either_way(tolerance)),
        PartKind::Capacitor { polar, .. } => {
            add(Variable::Value(id), either_way(if polar { ELECTROLYTIC } else { FILM }));
        }
        PartKind::Diode(model) | PartKind::Lamp(model) | PartKind::Bipolar(model) => {
            match &board.models[model].model {
                Model::Bipolar(card) => {
                    add(Variable::Gain(id), card.gain);
                    add(Variable::Drop(id), volts(card.drop));
                }
                Model::Diode(card) => add(Variable::Drop(id), volts(card.drop)),
                Model::Lamp(card) => add(Variable::Drop(id), volts(card.junction.drop)),
                Model::Mosfet(card) => add(Variable::Drop(id), volts(card.threshold)),
            }
        }
        _ => {}
    }
}

impl Network {
    /// Everything that varies in this network of a board: its parts in their order, its rails, the
    /// temperature last.
    pub fn tolerances(&self, board: &Board, conditions: &Conditions) -> Vec<Tolerance> {
        let mut found = Vec::new();
        for fitted in &self.parts {
            of_part(board, fitted.part, &mut found);
        }
        for source in self.sources.iter().filter(|source| source.limit.is_some()) {
            if conditions.rail > 0.0 {
                let range = either_way(conditions.rail);
                found.push(Tolerance { of: Variable::Rail(source.node), range });
            }
        }
        let Spread { min, typ, max } = conditions.temperature;
        if min < max {
            let range = Spread { min: min.0, typ: typ.0, max: max.0 };
            found.push(Tolerance { of: Variable::Temperature, range });
        }
        found
    }

    /// This network with some things set otherwise. Settings are counted from this network; what it
    /// does not hold is passed over.
    pub fn varied(&self, settings: &[(Variable, f64)]) -> Self {
        let mut network = self.clone();
        for (of, setting) in settings {
            if *of == Variable::Temperature {
                network.warm(Celsius(*setting));
            }
        }
        for (of, setting) in settings {
            network.vary(*of, *setting);
        }
        network
    }

    /// Brings all parts to a temperature; a network just made is at 27 °C. What resistors and
    /// capacitors do is left out: it is within their tolerance.
    pub fn warm(&mut self, temperature: Celsius) {
        for card in &mut self.cards {
            match card {
                Card::Diode { law, .. } => *law = law.at(temperature),
                Card::Bipolar { law, .. } => *law = law.at(temperature),
                Card::Mosfet { law, body, .. } => {
                    *law = law.at(temperature);
                    *body = body.at(temperature);
                }
            }
        }
    }

    fn vary(&mut self, of: Variable, setting: f64) {
        match of {
            Variable::Temperature => {}
            Variable::Rail(node) => {
                for source in self.sources.iter_mut().filter(|source| source.node == node) {
                    source.volts *= setting;
                }
            }
            Variable::Value(part) => self.each(part, |kind, _| match kind {
                Kind::Resistor(value) | Kind::Capacitor(value) | Kind::Electrolytic(value) => {
                    *value *= setting
                }
                _ => {}
            }),
            Variable::Gain(part) => self.recard(part, |card| {
                if let Card::Bipolar { law, .. } = card {
                    *law = law.copy(setting, 0.0);
                }
            }),
            Variable::Drop(part) => self.recard(part, |card| match card {
                Card::Bipolar { law, .. } => *law = law.copy(1.0, setting),
                Card::Diode { law, .. } => *law = law.copy(setting),
                Card::Mosfet { law, .. } => *law = law.copy(setting),
            }),
        }
    }

    /// Gives each device of a part a card of its own, changed.
    fn recard(&mut self, part: PartId, change: impl Fn(&mut Card)) {
        self.each(part, |kind, cards| {
            if let Kind::Device(card) = kind {
                let mut own = cards[*card as usize];
                change(&mut own);
                cards.push(own);
                *card = cards.len() as u32 - 1;
            }
        });
    }

    fn each(&mut self, part: PartId, mut change: impl FnMut(&mut Kind, &mut Vec<Card>)) {
        for element in self.elements_of(part) {
            change(&mut self.elements[element.index()].kind, &mut self.cards);
        }
    }
}
