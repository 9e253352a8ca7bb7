//! How likely each kind of fault is taken to be.

use super::Header;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The table. Printed by `dryjoint priors FILE --json`, read by `--priors`.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Priors {
    #[serde(flatten)]
    pub header: Header,
    /// Kind by kind; one that is left out keeps its judgement.
    pub kinds: Vec<Prior>,
}

/// One kind of fault.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Prior {
    /// Its words.
    pub kind: String,
    /// The chance that one place goes wrong in this way, in parts per million: the figure that is used.
    pub ppm: f64,
    /// The judgement that it comes from.
    #[serde(default)]
    pub judgement: f64,
    /// Repairs of it in the records.
    #[serde(default)]
    pub found: usize,
    /// Places of this board where it can be.
    #[serde(default)]
    pub places: usize,
    /// How many of them a copy of the board has on the mean.
    #[serde(default)]
    pub expected: f64,
}
