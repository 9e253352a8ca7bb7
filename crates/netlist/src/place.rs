//! Places add up: a part's place in its cell, the cell's place on the board, rotations included.

use dryjoint_board::Place;
use dryjoint_units::Millimetres;

/// Where something at `inner` comes to lie when what holds it lies at `outer`.
pub(crate) fn within(outer: Place, inner: Place) -> Place {
    // Quarter turns are exact, so that the grid stays the grid.
    let (sine, cosine) = match outer.rotation {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        degrees => degrees.to_radians().sin_cos(),
    };
    let (x, y) = (inner.x.0, inner.y.0);
    Place {
        x: Millimetres(round(outer.x.0 + cosine * x - sine * y)),
        y: Millimetres(round(outer.y.0 + sine * x + cosine * y)),
        rotation: (outer.rotation + inner.rotation).rem_euclid(360.0),
    }
}

/// To the micrometre: sums of decimal places stay decimal places.
fn round(millimetres: f64) -> f64 {
    (millimetres * 1e3).round() / 1e3
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(x: f64, y: f64, rotation: f64) -> Place {
        Place { x: Millimetres(x), y: Millimetres(y), rotation }
    }

    #[test]
    fn a_quarter_turn_carries_the_parts_along() {
        assert_eq!(within(place(10.16, 2.54, 0.0), place(5.08, 0.0, 90.0)), place(15.24, 2.54, 90.0));
        assert_eq!(within(place(10.0, 20.0, 90.0), place(5.0, 2.0, 270.0)), place(8.0, 25.0, 0.0));
        assert_eq!(within(place(0.0, 0.0, 45.0), place(1.0, 1.0, 0.0)), place(0.0, 1.414, 45.0));
    }
}
