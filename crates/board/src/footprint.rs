//! Where the pins of a placed part are, and which of them a blob of solder can reach.
//!
//! A part's place is its middle; before rotation its holes stand in a row from left to right, on the
//! 2.54 mm grid of perforated board. The spans are those that hand-built boards use (common practice, no
//! source): resistors and links 10.16, diodes 7.62, others 5.08, everything in a row 2.54.

use crate::{Board, PartKind, PinId};
use dryjoint_parts::{Lead, Model};
use dryjoint_units::Millimetres;

/// Holes nearer than this can be joined by one careless touch of the iron.
pub const REACH: Millimetres = Millimetres(2.6);

impl Board {
    /// The hole of a pin, in millimetres from the board's corner; nothing when its part has no place.
    pub fn hole(&self, pin: PinId) -> Option<(Millimetres, Millimetres)> {
        let part = &self.parts[self.pins[pin].part];
        let place = part.place?;
        let mut index = part.pins.iter().position(|&known| known == pin)?;
        let pitch = match &part.kind {
            PartKind::Resistor { .. } | PartKind::Link => 10.16,
            PartKind::Diode(_) => 7.62,
            PartKind::Capacitor { polar: true, .. } | PartKind::Lamp(_) | PartKind::Header => 2.54,
            PartKind::Bipolar(model) => {
                let Model::Bipolar(card) = &self.models[*model].model else { return None };
                let lead = [Lead::Collector, Lead::Base, Lead::Emitter][index];
                index = card.leads.leads().iter().position(|&known| known == lead)?;
                2.54
            }
            _ => 5.08,
        };
        let offset = pitch * (index as f64 - (part.pins.len() as f64 - 1.0) / 2.0);
        let (sine, cosine) = place.rotation.to_radians().sin_cos();
        Some((place.x + Millimetres(offset * cosine), place.y + Millimetres(offset * sine)))
    }

    /// Pairs of pins of different parts whose holes lie within [`REACH`], in the order of pin ids.
    pub fn neighbours(&self) -> Vec<(PinId, PinId)> {
        let mut holes: Vec<(f64, f64, PinId)> =
            self.pins.ids().filter_map(|pin| self.hole(pin).map(|(x, y)| (x.0, y.0, pin))).collect();
        holes.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
        let mut pairs = Vec::new();
        for (index, &(x, y, pin)) in holes.iter().enumerate() {
            for &(x2, y2, other) in holes[index + 1..].iter().take_while(|(x2, ..)| x2 - x <= REACH.0) {
                let near = (x2 - x).hypot(y2 - y) <= REACH.0;
                if near && self.pins[pin].part != self.pins[other].part {
                    pairs.push((pin.min(other), pin.max(other)));
                }
            }
        }
        pairs.sort_unstable();
        pairs
    }
}
