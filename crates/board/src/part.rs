//! Parts and their pins.

use crate::{NetId, Place};
use dryjoint_ids::id;
use dryjoint_parts::Model;
use dryjoint_units::{Farads, Ohms};

id!(
    /// A part of a board.
    PartId, "part"
);
id!(
    /// A pin of a part, and so the joint that holds it.
    PinId, "pin"
);
id!(
    /// A model card used on a board.
    ModelId, "model"
);

/// A model card with the name the text gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedModel {
    /// Its name, such as `2N3904`.
    pub name: String,
    /// The card.
    pub model: Model,
}

/// A part as soldered.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The reference designator printed on the board, such as `Q17`.
    pub reference: String,
    /// What it is, with its value.
    pub kind: PartKind,
    /// Its pins, in the kind's own order (see [`PartKind::pin_names`]).
    pub pins: Vec<PinId>,
    /// Where it sits, when the text says so.
    pub place: Option<Place>,
    /// The cell instance it came from, such as `BIT3/master`; empty at the top.
    pub section: String,
}

/// A pin of a part: where a joint is.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// The part it belongs to.
    pub part: crate::PartId,
    /// Its name within the part: `1`, `b`, `a` …
    pub name: String,
    /// The net its joint holds it to.
    pub net: NetId,
}

/// What a part is.
#[derive(Clone, Debug, PartialEq)]
pub enum PartKind {
    /// Pins `1 2`.
    Resistor {
        /// Nominal value.
        ohms: Ohms,
        /// Relative tolerance, .05 for five percent.
        tolerance: f64,
    },
    /// Pins `1 2`, or `+ -` when polar.
    Capacitor {
        /// Nominal value.
        farads: Farads,
        /// An electrolytic.
        polar: bool,
    },
    /// Pins `a k`.
    Diode(ModelId),
    /// Pins `a k`; an indicator.
    Lamp(ModelId),
    /// Pins `c b e`.
    Bipolar(ModelId),
    /// Pins `1 2`; joined while pressed.
    Button,
    /// Pins `1 2`; joined while on.
    Toggle,
    /// Pins `c 1 2 3 …`; the common joined to one of the others.
    Selector,
    /// Pins `1 2`; a wire soldered in.
    Link,
    /// Pins `1 2 3 …`, each on its own net.
    Header,
    /// Pin `1`.
    TestPoint,
}

impl PartKind {
    /// The names of a part's pins in order; `count` is how many a header or selector has.
    pub fn pin_names(&self, count: usize) -> Vec<String> {
        let fixed: &[&str] = match self {
            Self::Capacitor { polar: true, .. } => &["+", "-"],
            Self::Diode(_) | Self::Lamp(_) => &["a", "k"],
            Self::Bipolar(_) => &["c", "b", "e"],
            Self::TestPoint => &["1"],
            Self::Header => return (1..=count).map(|n| n.to_string()).collect(),
            Self::Selector => {
                return std::iter::once("c".to_owned()).chain((1..count).map(|n| n.to_string())).collect();
            }
            Self::Resistor { .. }
            | Self::Capacitor { polar: false, .. }
            | Self::Button
            | Self::Toggle
            | Self::Link => &["1", "2"],
        };
        fixed.iter().map(|name| (*name).to_owned()).collect()
    }
}
