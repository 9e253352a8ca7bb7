//! Where a part sits.

use dryjoint_units::Millimetres;

/// A place on the component side: millimetres from the lower left corner, degrees anticlockwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// To the right.
    pub x: Millimetres,
    /// Away from the front edge.
    pub y: Millimetres,
    /// Rotation in degrees, anticlockwise.
    pub rotation: f64,
}
