//! What a part looks like from above: its body around its holes, and which way round it sits.
//!
//! Bodies are of the usual through-hole sizes (common practice, no source). All is drawn before rotation,
//! x to the right and y away from the front edge, like the place itself.

use dryjoint_board::PartKind;

/// A part from above, in millimetres about its middle.
pub struct Outline {
    /// Closed bodies.
    pub bodies: Vec<Body>,
    /// Filled details that tell which way round it sits.
    pub details: Vec<Body>,
    /// Where its reference may stand, how long it may be there and how high.
    pub name: Field,
}

/// A closed outline.
pub enum Body {
    /// Corner by corner.
    Polygon(Vec<(f64, f64)>),
    /// Middle and radius.
    Circle(f64, f64, f64),
}

/// Room for a name.
#[derive(Clone, Copy)]
pub struct Field {
    /// Its middle.
    pub middle: (f64, f64),
    /// Its length and height.
    pub size: (f64, f64),
}

/// The outline of a part with `pins` pins.
pub fn outline(kind: &PartKind, pins: usize) -> Outline {
    let (bodies, details, size) = match kind {
        PartKind::Resistor { .. } => (vec![rectangle(0.0, 0.0, 6.4, 2.1)], vec![], (6.0, 1.7)),
        PartKind::Capacitor { polar: false, .. } => (vec![rectangle(0.0, 0.0, 4.4, 2.3)], vec![], (4.0, 1.6)),
        PartKind::Capacitor { polar: true, .. } => {
            // The plus sign stands outside the can, beside the first hole.
            let plus = vec![rectangle(-3.3, 0.0, 1.2, 0.3), rectangle(-3.3, 0.0, 0.3, 1.2)];
            (vec![Body::Circle(0.0, 0.0, 2.5)], plus, (3.4, 1.2))
        }
        // The band is the cathode, the second hole.
        PartKind::Diode(_) => {
            (vec![rectangle(0.0, 0.0, 4.2, 2.0)], vec![rectangle(1.5, 0.0, 0.6, 2.0)], (3.0, 1.4))
        }
        // The flat of the rim is the cathode's side.
        PartKind::Lamp(_) => (vec![round_with_flat(2.6, 0.0)], vec![], (3.4, 1.2)),
        PartKind::Bipolar(_) => (vec![round_with_flat(2.4, -90.0)], vec![], (3.4, 1.2)),
        PartKind::Button => {
            (vec![rectangle(0.0, 0.0, 6.2, 6.2), Body::Circle(0.0, 0.0, 1.75)], vec![], (3.2, 1.4))
        }
        PartKind::Toggle => (vec![rectangle(0.0, 0.0, 7.6, 4.6)], vec![], (4.4, 1.6)),
        PartKind::Selector => {
            let long = 5.08 * pins as f64;
            (vec![rectangle(0.0, 0.0, long, 4.6)], vec![], (4.4, 1.6))
        }
        PartKind::Link => (vec![], vec![], (6.0, 1.4)),
        PartKind::Header => {
            let long = 2.54 * pins as f64;
            // The triangle points at pin 1.
            let first = -long / 2.0;
            let triangle = Body::Polygon(vec![(first - 0.4, 0.0), (first - 1.7, 0.8), (first - 1.7, -0.8)]);
            (vec![rectangle(0.0, 0.0, long, 2.54)], vec![triangle], (0.0, 1.8))
        }
        PartKind::TestPoint => (vec![Body::Circle(0.0, 0.0, 1.1)], vec![], (3.6, 1.3)),
    };
    let middle = match kind {
        PartKind::Header => (-1.27 * pins as f64 - 3.6, 0.0),
        PartKind::TestPoint => (0.0, 1.9),
        // Beside the row of holes.
        PartKind::Bipolar(_) | PartKind::Lamp(_) | PartKind::Capacitor { polar: true, .. } => (0.0, 1.25),
        PartKind::Link => (0.0, 0.9),
        PartKind::Diode(_) => (-0.5, 0.0),
        _ => (0.0, 0.0),
    };
    let size = if *kind == PartKind::Header { (3.2, size.1) } else { size };
    Outline { bodies, details, name: Field { middle, size } }
}

fn rectangle(x: f64, y: f64, width: f64, height: f64) -> Body {
    let (w, h) = (width / 2.0, height / 2.0);
    Body::Polygon(vec![(x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h)])
}

/// A circle cut flat on the side that looks in the direction `towards`, in degrees.
fn round_with_flat(radius: f64, towards: f64) -> Body {
    let half = 42.0;
    let corners = 13;
    let corner = |index: i32| {
        let angle = towards + half + (360.0 - 2.0 * half) * f64::from(index) / f64::from(corners - 1);
        let (sine, cosine) = angle.to_radians().sin_cos();
        (radius * cosine, radius * sine)
    };
    Body::Polygon((0..corners).map(corner).collect())
}
