//! Where labels go: near their point, in the frame, clear of each other and of all points marked.

use crate::shape::Point;

/// An upright rectangle by its middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Box {
    pub middle: Point,
    pub width: f64,
    pub height: f64,
}

impl Box {
    fn clear_of(&self, other: &Self, gap: f64) -> bool {
        (self.middle.x - other.middle.x).abs() >= (self.width + other.width) / 2.0 + gap
            || (self.middle.y - other.middle.y).abs() >= (self.height + other.height) / 2.0 + gap
    }

    fn within(&self, width: f64, height: f64) -> bool {
        let (w, h) = (self.width / 2.0, self.height / 2.0);
        self.middle.x >= w && self.middle.y >= h && self.middle.x + w <= width && self.middle.y + h <= height
    }
}

/// Directions tried, in this order: right above first, as on a drawing by hand.
const DIRECTIONS: [(f64, f64); 8] =
    [(0.7, -0.7), (-0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (0.0, -1.0), (0.0, 1.0), (1.0, 0.0), (-1.0, 0.0)];
/// Distances tried, each half a label longer than the one before.
const RINGS: u32 = 24;

/// Places a label of each size for its point, in the order given. One for which no clear place is left
/// stands in the frame all the same, as near as it can.
pub fn place(points: &[(Point, f64, f64)], clear: f64, width: f64, height: f64) -> Vec<Box> {
    let spots: Vec<Box> =
        points.iter().map(|&(middle, ..)| Box { middle, width: 2.0 * clear, height: 2.0 * clear }).collect();
    let mut placed: Vec<Box> = Vec::new();
    for &(point, wide, high) in points {
        let candidates = (0..RINGS).flat_map(|ring| {
            DIRECTIONS.iter().map(move |&(x, y)| {
                let away = clear + f64::from(ring) * high / 2.0;
                let middle = point.by(x * (away + wide / 2.0), y * (away + high / 2.0));
                Box { middle, width: wide, height: high }
            })
        });
        let gap = high * 0.1;
        let fits = |one: &Box| {
            one.within(width, height) && placed.iter().chain(&spots).all(|other| one.clear_of(other, gap))
        };
        placed.push(candidates.into_iter().find(fits).unwrap_or_else(|| {
            let keep = |at: f64, size: f64, room: f64| at.min(room - size / 2.0).max(size / 2.0);
            let middle = Point { x: keep(point.x, wide, width), y: keep(point.y, high, height) };
            Box { middle, width: wide, height: high }
        }));
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_of_one_crowd_keep_clear_of_each_other_and_in_the_frame() {
        let crowd: Vec<(Point, f64, f64)> =
            (0..12).map(|n| (Point { x: 3.0 + f64::from(n) * 2.54, y: 4.0 }, 9.0, 4.0)).collect();
        let placed = place(&crowd, 2.0, 100.0, 80.0);
        for (index, one) in placed.iter().enumerate() {
            assert!(one.within(100.0, 80.0), "{one:?}");
            assert!(placed[index + 1..].iter().all(|other| one.clear_of(other, 0.0)), "{index}: {placed:?}");
        }
    }
}
