//! Lamp groups: lamps that show one value together.

use crate::PartId;
use dryjoint_ids::id;

id!(
    /// A lamp group of a board.
    LampGroupId, "lamps"
);

/// Lamps read as one value.
#[derive(Clone, Debug, PartialEq)]
pub struct LampGroup {
    /// Its name, such as `ADDRESS`.
    pub name: String,
    /// The lamps, most significant at the left.
    pub lamps: Vec<PartId>,
}
