//! Model cards, parameter by parameter, under the names that cards print.

use super::Named;
use dryjoint_board::NamedModel;
use dryjoint_parts::{Lead, LeadOrder, Model, Polarity};
use schemars::JsonSchema;
use serde::Serialize;

/// A model with its card.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Card {
    /// Its name.
    name: String,
    /// `npn`, `pnp`, `diode`, `lamp`, `n-channel` or `p-channel`.
    kind: &'static str,
    /// Colour of a lamp.
    colour: Option<String>,
    /// Parameters at 27 °C under the names that cards print, in SI units; one the card has none of is
    /// left out.
    parameters: Named<f64>,
    /// Lead order of a bipolar's case, flat face to you, leads down.
    leads: Option<String>,
}

impl Card {
    /// The document's form of a model.
    pub fn of(named: &NamedModel) -> Self {
        let sided = |polarity, npn, pnp| if polarity == Polarity::Npn { npn } else { pnp };
        let (kind, colour, leads) = match &named.model {
            Model::Bipolar(card) => (sided(card.polarity, "npn", "pnp"), None, Some(letters(card.leads))),
            Model::Diode(_) => ("diode", None, None),
            Model::Lamp(card) => ("lamp", Some(card.colour.clone()), None),
            Model::Mosfet(card) => (sided(card.polarity, "n-channel", "p-channel"), None, None),
        };
        // A card marks a parameter it has none of with infinity, which JSON cannot carry.
        let finite = named.model.parameters().into_iter().filter(|(_, value)| value.is_finite());
        let parameters = finite.map(|(name, value)| (name.to_owned(), value)).collect();
        Self { name: named.name.clone(), kind, colour, parameters, leads }
    }
}

fn letters(order: LeadOrder) -> String {
    let letter = |lead| match lead {
        Lead::Emitter => 'E',
        Lead::Base => 'B',
        Lead::Collector => 'C',
    };
    order.leads().into_iter().map(letter).collect()
}
