//! What a meter reads now, on every net, and every lamp.

use super::{Header, Named};
use crate::action::Action;
use crate::readings::Seen;
use schemars::JsonSchema;
use serde::Serialize;

/// The board after some actions. Printed by `dryjoint levels FILE --do ACTIONS --json`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Levels {
    #[serde(flatten)]
    pub header: Header,
    /// What was done since power-on.
    #[serde(rename = "do")]
    pub actions: Vec<Action>,
    /// Volts of every net against ground, without those that run with the clock.
    pub nets: Named<f64>,
    /// Every lamp by reference.
    pub lamps: Named<Seen>,
    /// The current through every lamp, in amperes; negative when it is reversed.
    pub lamp_amps: Named<f64>,
    /// What the supply gives, in amperes.
    pub supply_amps: f64,
    /// The least and the most that it gives, as the board woke up.
    pub supply_range: [f64; 2],
    /// Whether the supply is at its current limit, and so below its voltage.
    pub limited: bool,
    /// Nets and lamps that depend on how the board woke up; one of the two ways is shown.
    pub uncertain: Vec<String>,
    /// Nets that do not settle; their volts are of no account.
    pub unsettled: Vec<String>,
    /// Nets of the clock's own parts: it runs, and a meter shows no steady figure there.
    pub running: Vec<String>,
}
