//! Pages: their size, and what stands on them. All in points, a 72nd of an inch, from the upper left.

use super::face::Weight;
use dryjoint_picture::{Fill, Form, Point};

/// A size of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8½ × 11 inches.
    Letter,
}

/// Points in a millimetre.
pub const MM: f64 = 72.0 / 25.4;
/// What no printer reaches, and room for two holes.
pub const SIDE: f64 = 16.0 * MM;
pub const TOP: f64 = 20.0 * MM;
pub const BOTTOM: f64 = 17.0 * MM;

impl Paper {
    /// Upright width and height.
    pub fn size(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0 * MM, 297.0 * MM),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// A mark on a page.
#[derive(Clone, Debug)]
pub struct Item {
    pub form: Form,
    /// The width of its line; zero for none.
    pub width: f64,
    pub fill: Fill,
    pub weight: Weight,
    /// How dark, 1 for black.
    pub dark: f64,
}

impl Item {
    /// A straight black line.
    pub fn rule(from: Point, to: Point, width: f64, dark: f64) -> Self {
        Self { form: Form::Line(vec![from, to]), width, fill: Fill::None, weight: Weight::Regular, dark }
    }

    /// The item moved.
    pub fn by(&self, x: f64, y: f64) -> Self {
        let moved = |points: &[Point]| points.iter().map(|point| point.by(x, y)).collect();
        let form = match &self.form {
            Form::Line(points) => Form::Line(moved(points)),
            Form::Area(points) => Form::Area(moved(points)),
            Form::Circle { middle, radius } => Form::Circle { middle: middle.by(x, y), radius: *radius },
            Form::Text { at, anchor, size, turn, text } => {
                Form::Text { at: at.by(x, y), anchor: *anchor, size: *size, turn: *turn, text: text.clone() }
            }
        };
        Self { form, ..self.clone() }
    }
}

/// A page.
#[derive(Clone, Debug)]
pub struct Page {
    pub width: f64,
    pub height: f64,
    pub items: Vec<Item>,
}
